#!/bin/sh
# A job from the first photo to the photo after a pass, and what can go wrong in it.
. "$(dirname "$0")/shop.inc"
"$maker" one.jpg && "$maker" two.jpg --repair 47,11,24.3 && "$maker" moved.jpg --shift 90 --repair 47,11,24.3 || exit 2

run 0 start cabinet --title 'Gramophone "cabinet" ŵ'
says out 'cabinet'
run 2 start cabinet
refused 'cabinet'
run 2 advise cabinet
refused 'no photo of this job shows a repair yet'
run 2 photo cabinet one.jpg --view lid
refused 'has no marks'
run 0 photo cabinet one.jpg --view lid --lamp 'north window' --note 'before' --card "$card" \
    --target "left=$left" --target "right=$right" --patch "strip=$strip"
says out 'Saved as photo 2.'
says out 'strip: TONE IT.'

# ---- Advice, cautions in full once, then in one line
run 0 advise cabinet --patch strip --json
json 'it["patch"] == "strip" and it["verdict"] == "tone" and it["stop"] is False and it["why"]'
json 'it["next"]["passes"] >= 1 and it["next"]["jar"] is None'
json 'all(0 < d["strength"] <= 1 and d["dye"] for d in it["next"]["liquid"])'
json 'all({"layers","after","overshoot_risk","mix","guess"} <= set(o) for o in it["options"])'
json 'all({"passes","lab","de00","de00_low","de00_high"} <= set(a) for o in it["options"] for a in o["after"])'
json 'all(o["after"][0]["lab"][0] >= a["lab"][0] for o in it["options"] for a in o["after"])' # dye never lightens
json 'it["options"][0]["guess"] is True and len(it["cautions"]) > 3'
run 0 advise cabinet
says out 'strip: LAY '
says out 'GUESS'
[ "$(grep -c 'Reminder only' out)" -eq 1 ] && good || bad 'one line of caution'
says_not out '  - '
run 0 advise cabinet --json
json '[p["patch"] for p in it["patches"]] == ["strip"] and [j["jar"] for j in it["jars"]] == [None]'
json 'it["jars"][0]["liquid"] == it["patches"][0]["next"]["liquid"] and [(o["patch"], o["of_jars"]) for o in it["order"]] == [("strip", 0)]'
run 0 advise cabinet --exit-status
run 2 advise cabinet --patch stirp
refused 'Name one of: strip.'

# ---- Passes
run 0 pass cabinet --patch strip --dye red=1/4 --minutes 20 --note 'a "thin" one'
says out 'Saved: 1 pass of red at a quarter strength laid on strip'
run 0 advise cabinet --json --patch strip
json 'it["stop"] and it["next"] is None and "1 pass laid since" in it["why"] and it["cautions"] == []'
run 1 advise cabinet --exit-status
says out 'Photograph it first: 1 pass laid since'
run 0 history cabinet
says out 'not photographed since'
run 0 pass cabinet --patch strip --patch 'left door' --dye red=0.25 --dye brown=0.5 --passes 2 --json
json 'it["events"][0]["patches"] == ["strip", "left door"] and it["events"][0]["passes"] == 2'
json '[d["strength"] for d in it["events"][0]["liquid"]] == [0.25, 0.5] and it["events"][0]["minutes"] is None'
json 'any("left door" in w for w in it["warnings"])' # no photo has marked it
run 2 pass cabinet --patch strip --dye rde=1/4
refused 'red-brown'
run 2 pass cabinet --patch strip --dye red=40
refused '40'
run 2 pass cabinet --patch strip --dye red=weak
refused 'red=weak'
run 2 pass cabinet --patch strip --dye red
refused '='
run 2 pass cabinet --patch strip
refused 'what was laid'
run 2 pass cabinet --dye red=1
refused 'no repair'
run 2 pass cabinet --patch strip --dye red=1 --passes 1.5
refused '1.5'
run 2 pass cabinet --patch strip --dye red=1 --passes 0
refused '0 passes'
run 2 pass cabinet --patch strip --dye red=1 --minutes soon
refused 'soon'
run 2 pass cabinet --patch strip --dye red=1 --dye brown=1 --dye blue=1
refused 'third'
run 2 pass cabinet --patch strip --patch strip --dye red=1
refused 'twice'
lines=$(wc -l < cabinet/log.jsonl)

# ---- The next photo: marks as they lie, or the file to edit
run 2 photo cabinet moved.jpg --view lid
refused 'marks-to-edit.json'
[ -s cabinet/marks-to-edit.json ] && good || bad 'the marks are written for editing'
[ "$(wc -l < cabinet/log.jsonl)" -eq "$lines" ] && good || bad 'a refused photo leaves no line'
echo edited > cabinet/marks-to-edit.json
run 2 photo cabinet moved.jpg --view lid
says err 'marks-to-edit-2.json'
[ "$(cat cabinet/marks-to-edit.json)" = edited ] && good || bad 'an edited file stays'
run 0 photo cabinet moved.jpg --view lid-moved --marks cabinet/marks-to-edit-2.json --json
json 'it["job"]["marks_reused"] is False'
run 0 photo cabinet two.jpg --view lid --json
json 'it["job"]["marks_reused"] and it["job"]["correlation"] >= 0.65 and it["comparisons"][-1]["target"] == "beside"'
run 0 photo cabinet two.jpg --view lid
says out 'the very same photo'
run 0 history cabinet
says out 'Gramophone "cabinet" ŵ'
says out 'what it did: gap '
says out 'did: L* -'
says out ': darker'
says out 'read against the old wood in both photos (2 places'
says out 'together with the other passes'
says out 'lamp: north window'
run 0 history cabinet --json
json 'it["job"]["title"] == "Gramophone \"cabinet\" ŵ" and it["warnings"] == []'
json '[e["kind"] for e in it["events"]].count("pass_laid") == 2'
json '[x["change"]["L"] < 0 for e in it["events"] if e["kind"] == "pass_laid" for x in e["effects"] if x["known"]] == [True, True]'

json 'all(x["standing"]["status"] == "comparable" and x["standing"]["targets"] == 2 and x["standing"]["high"]["L"] < 0 for e in it["events"] if e["kind"] == "pass_laid" for x in e["effects"] if x["known"])'

# ---- Another lamp than in the photo before
run 0 photo cabinet two.jpg --view lid --lamp 'bench lamp' --json
json 'not any("cannot be set beside" in w for w in it["job"]["warnings"])' # the one before named none
run 0 photo cabinet two.jpg --view lid --lamp 'south window'
says out 'It is under another lamp than photo'
says out 'huewright lamps sets the two side by side'

# ---- States
run 0 photo cabinet two.jpg --view lid --state strip=bare --state left=finished --json
json 'any("cannot be compared" in w for w in it["job"]["warnings"])'
run 0 advise cabinet --patch strip --json
json 'it["stop"] and "Seal it or damp it" in it["why"]'
run 0 photo cabinet two.jpg --view lid --state strip=damp --json
json 'not any("cannot be compared" in w for w in it["job"]["warnings"])'
run 0 photo cabinet two.jpg --view lid --state strip=not_dry
says out 'looks darker than it will be'
run 2 photo cabinet two.jpg --view lid --state strip=moist
refused 'not_dry'
run 2 photo cabinet two.jpg --view lid --state stirp=bare
refused 'strip'

# ---- A photo that cannot be read is not kept
before=$(ls cabinet/photos | wc -l) lines=$(wc -l < cabinet/log.jsonl)
: > empty.jpg
run 3 photo cabinet empty.jpg --view lid
refused 'empty'
run 3 photo cabinet gone.jpg --view lid
refused 'gone.jpg'
[ "$(ls cabinet/photos | wc -l)" -eq "$before" ] && [ "$(wc -l < cabinet/log.jsonl)" -eq "$lines" ] && good ||
    bad 'a photo that cannot be read is not kept'

# ---- Jobs that are none
run 3 history nowhere
refused 'nowhere'
run 3 advise nowhere --json
json 'it["error"]["code"] == "job-missing"'
run 3 pass nowhere --patch strip --dye red=1
refused 'nowhere'
run 4 start no/such/folder
refused 'no/such'

# ---- The shelf
run 0 shelf show
says out 'red-brown: red-brown'
says out 'GUESS of its family, not yet seen on your work'
says out 'GUESS of its family; seen 1 time in 1 job'
run 0 shelf show --json
json 'len(it["shelf"]["dyes"]) == 9 and all(d["guess"] and len(d["density"]) == 3 for d in it["shelf"]["dyes"])'
run 3 shelf show --shelf gone.json
refused 'gone.json'
run 3 advise cabinet --shelf gone.json
refused 'gone.json'
echo '{"dyes":7}' > odd.json
run 3 shelf show --shelf odd.json
refused 'odd.json'

# ---- Folders that may not be written: as an ordinary person (root may write anywhere)
ordinary() {
    if [ "$(id -u)" -ne 0 ]; then
        "$@"
    else
        setpriv --reuid=65534 --regid=65534 --clear-groups -- "$@"
    fi
}
if [ "$(id -u)" -ne 0 ] || command -v setpriv > /dev/null; then
    # A copy in a place that everybody may enter.
    place=$(mktemp -d) && cp "$program" "$place/huewright" && cp -R cabinet one.jpg "$place/" && chmod -R a+rX,go-w "$place"
    # As root the tree belongs to root; as an ordinary person the right to write is taken away.
    [ "$(id -u)" -eq 0 ] || chmod -R u-w "$place/cabinet"
    cannot_write() { # ARGUMENTS...
        (cd "$place" && ordinary ./huewright "$@") > out 2> err < /dev/null
        code=$?
        [ "$code" -eq 4 ] && good || bad "exit $code instead of 4: huewright $*"
        says err 'may not write'
        says err '  next: '
    }
    lines=$(wc -l < "$place/cabinet/log.jsonl")
    cannot_write pass cabinet --patch strip --dye red=1
    cannot_write photo cabinet one.jpg --card "$card" --target "left=$left" --patch "strip=$strip"
    cannot_write start cabinet/inside
    [ "$(wc -l < "$place/cabinet/log.jsonl")" -eq "$lines" ] && good || bad 'nothing was written'
    (cd "$place" && ordinary ./huewright history cabinet) > out 2> err
    [ $? -eq 0 ] && good || bad 'a job that may only be read can be read'
    chmod -R u+w "$place" && rm -rf "$place"
else
    echo 'not tested here: no setpriv(1)'
fi

# ---- One question a photo at a terminal: what is on the repairs; Enter keeps the last answer
if command -v script > /dev/null; then
    run 0 start asked
    answer() { # TEXT COMMAND...
        text=$1; shift
        printf '%s\n' "$text" | script -qec "$*" /dev/null > out 2> err
        [ $? -eq 0 ] && good || bad "not done: $*"
    }
    answer sealed "'$program' photo asked one.jpg --card $card --target left=$left --patch strip=$strip"
    says out 'What is on strip now'
    grep -q '"states":{"strip":"sealed"}' asked/log.jsonl && good || bad 'the answer is not logged'
    answer '' "'$program' photo asked one.jpg"
    says_not out 'What is on' # known, and nothing was laid since
    run 0 pass asked --patch strip --dye red=1/4
    answer '' "'$program' photo asked one.jpg"
    says out 'Dye was laid since the last photo.'
    says out 'as before, sealed'
    run 0 photo asked one.jpg # nobody to ask
    says_not out 'What is on'
else
    echo 'not tested here: no script(1)'
fi

# ---- A photo of a plain sheet is kept with the photo, and read again for advice
run 0 start lit
"$maker" sheet.png --sheet 85 || exit 2
run 0 photo lit one.jpg --card "$card" --target "left=$left" --patch "strip=$strip" --sheet sheet.png
grep -q '"sheet":"' lit/log.jsonl && good || bad 'the sheet is not logged'
run 0 advise lit
run 0 photo lit two.jpg # the same marks, the same lamp: the same sheet
says out 'The photo of the sheet is taken over from photo'
[ "$(grep -c '"sheet":"' lit/log.jsonl)" -eq 2 ] && good || bad 'the sheet is not taken over'
done_testing
