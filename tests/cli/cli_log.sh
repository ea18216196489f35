#!/bin/sh
# Every event of the trade: logged, shown, corrected, withdrawn; the state of the parts; the log as others read it.
. "$(dirname "$0")/shop.inc"
"$maker" one.jpg && "$maker" two.jpg --repair 47,11,24.3 && "$maker" sheet.png --sheet 85 || exit 2
state() { # PART STATE PASSES: as history says
    run 0 history cabinet --json
    json "[(p['state'], p['passes']) for p in it['parts'] if p['part'] == '$1'] == [('$2', $3)]"
}

run 0 start cabinet --title 'Hall bench'
run 0 coat cabinet sealer --note 'two thin ones'
says out 'Saved: sealer coat laid on the whole piece; note: two thin ones (event 2)'
says out 'Reminder only'
run 0 photo cabinet one.jpg --lamp 'north window' --card "$card" --target "left=$left" --target "right=$right" \
    --patch "strip=$strip" --sheet sheet.png --state left=finished
says out 'Saved as photo 3.'
state strip sealed 0
state left finished 0

# ---- Jars
run 0 jar cabinet --dye red=1/4 --dye black=1/2
says out 'Write 1 on the jar.'
run 0 jar cabinet --dye brown=1/8 --quiet
says out 'jar 2 mixed'
says out 'Write 2 on the jar.'
# A volume: how it is mixed; of dyes of which nobody said how they were made, from their liquids alone.
run 0 jar cabinet --dye red=1/4 --dye black=1/4 --volume '200 ml' --json
json 'it["events"][0]["volume_ml"] == 200 and it["mix"]["from_concentrate"] is None and it["mix"]["from_board"]["thinner_ml"] == 100'
json '[p["ml"] for p in it["mix"]["from_board"]["parts"]] == [50, 50]'
run 0 jar cabinet --dye red=1/4 --volume '8 fl oz'
says out '236.6 ml (8.0 fl oz; US measures): 1 part red, 3 parts thinner, the dye at full strength: 59 ml (2.0 fl oz) red, 177.6 ml (6.0 fl oz) thinner.'
says out 'Write 4 on the jar.'
run 0 jar cabinet --dye red=2 --volume '1/2 l'
says out 'stronger than full strength, so it cannot be thinned from its liquid; it needs concentrate'
run 2 jar cabinet --dye red=1 --volume '200'
refused 'the number has no unit'
run 2 jar cabinet --dye red=1 --volume '0,2 l'
refused 'a comma may mean a point or thousands'
run 2 jar cabinet --dye red=1 --volume '50 l'
refused 'cannot be mixed here'
run 0 history cabinet
says out 'jar 4 mixed: red at a quarter strength, 236.6 ml (8.0 fl oz)'
says out '    jar 1: red at a quarter strength with black at half strength; how strong it really is, is not known yet'
run 0 history cabinet --json
json '[j["jar"] for j in it["jars"]] == [1, 2, 3, 4, 5] and all(j["strength"] is None for j in it["jars"])'
run 3 history cabinet --shelf none.json
refused 'no such shelf file'
# The next job goes on with the jars; the earlier one is only read.
cp -r cabinet before
run 0 start next --from cabinet --title 'Hall bench'
says out 'Started the job in next, from cabinet'
says out 'jar 1 carried over: red at a quarter strength with black at half strength; it was jar 1 of an earlier job ('
! grep -q 'What its passes showed' out && good || bad 'no pass showed anything yet'
diff -r cabinet before && good || bad 'the earlier job is as it was'
rm -rf before
run 0 check next
run 0 history next --json
json 'it["job"]["title"] == "Hall bench" and len(it["jars"]) == 5 and it["jars"][3]["from_jar"] == 4 and it["jars"][3]["volume_ml"] is not None'
run 0 pass next --patch strip --jar 5
run 0 start third --from next --json
json 'it["from"] == "next" and len(it["events"]) == 6 and it["dyes"] == [] and it["events"][5]["from_jar"] == 5'
run 0 start sixth --from next
says out "What its passes showed of their dyes is on your shelf."
run 0 start fourth --from next --quiet
is_empty out
run 2 start next --from cabinet
refused 'there already is a job in this folder'
run 2 start cabinet --from cabinet/
refused 'a job cannot be started from itself'
run 3 start fifth --from nowhere
refused 'there is no job in this folder'
[ ! -e fifth ] && good || bad 'nothing is made where there is nothing to take over'
run 2 jar cabinet
refused 'what is in it'
run 2 jar cabinet --dye rde=1/4
refused 'red-brown'
run 0 pass cabinet --patch strip --jar 1 --passes 2
says out '(jar 1) laid on strip'
pass=$(sed -n 's/.*{"event":"pass_laid","number":\([0-9]*\),.*/\1/p' cabinet/log.jsonl)
run 2 pass cabinet --patch strip --jar 7
refused 'no jar of that number'
run 2 pass cabinet --patch strip --jar 1 --dye red=1/4
refused 'the jar says what is in it'
run 2 pass cabinet --patch strip
refused 'what was laid'
state strip sealed 2

# ---- Corrections: the line stays, history shows both
before=$(head -n "$(wc -l < cabinet/log.jsonl)" cabinet/log.jsonl)
run 0 fix cabinet "$pass" --passes 3 --note 'counted again'
says out "event $pass corrected: passes 3, was 2; note counted again, was not said"
[ "$(head -n "$(echo "$before" | wc -l)" cabinet/log.jsonl)" = "$before" ] && good || bad 'a line changed'
state strip sealed 3
run 0 history cabinet
says out '3 passes of red at a quarter strength with black at half strength (jar 1) laid on strip; note: counted again [as corrected by event'
run 0 history cabinet --json
json '[(e["passes"], e["corrected_by"] > 0) for e in it["events"] if e["kind"] == "pass_laid"] == [(3, True)]'
json '[(e["change"], e["was"]) for e in it["events"] if e["kind"] == "correction"][0][0]["passes"] == 3'
run 0 fix cabinet "$pass" --passes 3
says out 'nothing was logged'
run 0 fix cabinet "$pass" --withdraw
state strip sealed 0
run 0 history cabinet
says out 'WITHDRAWN'
gone=$(sed -n 's/.*{"event":"correction","number":\([0-9]*\),.*withdraw.*/\1/p' cabinet/log.jsonl)
run 0 fix cabinet "$gone" --withdraw
state strip sealed 3
run 0 fix cabinet 1 --title 'Oak hall bench'
run 0 history cabinet
says out 'Oak hall bench'
run 0 fix cabinet 3 --lamp 'south window' --state strip=bare
state strip bare 3
run 2 fix cabinet 3 --state stirp=bare
refused 'strip'
run 2 fix cabinet 3 --passes 2
refused 'it is a photo, which has no passes'
run 2 fix cabinet "$pass" --passes 0
refused '0 passes'
run 2 fix cabinet "$pass" --dye rde=1
refused 'red-brown'
run 2 fix cabinet "$pass"
refused 'nothing is said to be other'
run 2 fix cabinet 999 --withdraw
refused 'no event of that number'
run 2 fix cabinet
refused 'which event'
run 2 fix cabinet soon --withdraw
refused 'soon'
run 2 fix cabinet 4 --withdraw
refused 'not withdrawn by itself'

run 2 fix cabinet --rename 'left=right'
says err 'they are two parts'

# ---- Marks that were wrong: the photo is read again, and the new reading counts
cat > marks.json << END
{"picture":[640,480],"marks":[{"role":"card","name":"card","polygon":[[40,320],[180,320],[180,440],[40,440]]},
 {"role":"target","name":"left","polygon":[[40,40],[220,40],[220,280],[40,280]]},
 {"role":"patch","name":"strip","polygon":[[255,60],[305,60],[305,270],[255,270]],"beside":["left"]}]}
END
readings=$(grep -c '"event":"reading"' cabinet/log.jsonl)
run 0 fix cabinet 3 --marks marks.json
says out 'other marks; read again'
[ "$(grep -c '"event":"reading"' cabinet/log.jsonl)" -eq $((readings + 1)) ] && good || bad 'no new reading'
run 0 advise cabinet --json --patch strip

# ---- Names
run 0 fix cabinet --rename 'strip=seat strip'
says out 'strip is called seat strip from now on'
state 'seat strip' bare 3
run 2 fix cabinet --rename 'strip=other'
refused 'seat strip'
run 2 fix cabinet 3 --rename 'left=rear'
refused 'alone'

# ---- Coats and taking off; advice waits for a photo
run 0 coat cabinet barrier --part 'seat strip'
run 0 pass cabinet --patch 'seat strip' --dye brown=1/4 --passes 1
state 'seat strip' sealed 4
run 0 takeoff cabinet --part 'seat strip' --wiped
says out 'wiped back to the last coat'
says out 'solvents and strippers can burn'
state 'seat strip' sealed 3
run 0 advise cabinet --json --patch 'seat strip'
json '"Photograph it first: a barrier coat was laid on it since" in it["why"]'
run 0 takeoff cabinet --part 'seat strip' --stripped --note 'all of it'
state 'seat strip' bare 0
run 0 takeoff cabinet --part 'seat strip' --wiped
says out 'No toner is logged on seat strip'
run 0 coat cabinet clear --part attic
says out 'No photo of this job has marked attic'
state attic finished 0
run 2 takeoff cabinet --part 'seat strip'
refused 'how much'
run 2 takeoff cabinet --part 'seat strip' --wiped --stripped
refused 'not both'
run 2 takeoff cabinet --wiped
refused 'names no part'
run 2 coat cabinet varnish
refused 'sealer'
run 2 coat cabinet clear --part a --part a
refused 'twice'
run 2 coat cabinet clear --before-photo 77
refused 'no photo of that number'

# ---- Notes and approval
run 0 note cabinet 'hinge side first' --part left
says out 'Saved: note on left: hinge side first'
run 2 note cabinet ' '
refused 'nothing in it'
run 0 set cabinet --coats 2 --over repairs --recoat 30 --card-size 86x54mm --per-pass 80ml --area strip=120cm2
run 0 set cabinet --recoat 300
slip=$(sed -n 's/.*{"event":"setting","number":\([0-9]*\),.*"recoat_minutes":300,.*/\1/p' cabinet/log.jsonl)
run 0 fix cabinet "$slip" --withdraw
run 0 history cabinet
says out '[WITHDRAWN by event'
run 0 history cabinet --json
json '[e["recoat_minutes"] for e in it["events"] if e["kind"] == "setting" and "withdrawn_by" in e] == [300]'
run 0 note cabinet 'waxed the hinges' --hours 3
slip=$(sed -n 's/.*{"event":"note","number":\([0-9]*\),.*"hours":3,.*/\1/p' cabinet/log.jsonl)
run 0 fix cabinet "$slip" --hours 0
run 0 history cabinet --json
json 'it["work"]["hours"] == 0'
run 0 approve cabinet --by customer --lamp 'hall lamp'
run 0 history cabinet
says out 'The job is approved by customer under the lamp hall lamp.'
run 0 advise cabinet
says out 'approved by customer'
run 0 pass cabinet --patch 'seat strip' --dye brown=1/4
run 0 history cabinet --json
json 'it["approved_by_event"] is None'
run 2 approve cabinet --by customer
refused 'lamp'

# ---- What an instrument measured
printf 'name,L*,a*,b*\r\ncard,50.1,0.1,-0.2\r\nleft,50.2,11.9,25.1\r\nseat strip,55.3,9.6,25.8\r\n7,60,5,20\r\n' > spots.csv
run 0 import cabinet spots.csv --note 'window of 8 mm'
says out "The card's own colour is L* 50.1"
says out 'Left aside, since no part of this job has such a name: 7.'
says out 'seat strip: TONE IT.'
run 0 import cabinet spots.csv --state 'seat strip=sealed' --json
json '{p["part"] for p in it["job"]["photos_off"]} == {"left"}' # on the strip much was done since the photo
json '[c["patch"] for c in it["comparisons"] if c["target"] == "beside"] == ["seat strip"]'
run 0 advise cabinet --patch 'seat strip'
says out 'LAY '
run 0 photo cabinet two.jpg --card "$card" --target "left=$left" --patch "seat strip=$strip"
says out "The card's own colour is as it was measured (event"
printf 'name,L*,a*,b*\n1,50.2,11.9,25.1\n2,50.4,12.1,25.3\n3,46,11.6,24\n' > spots.csv
run 0 import cabinet spots.csv --target left=1,2 --patch 'seat strip=3' --json
json '[s["lab"] for s in it["samples"] if s["name"] == "left"][0][0] > 50.2'
json '{p["part"]: p.get("agree") for p in it["job"]["photos_off"]}["seat strip"] is True'
run 2 import cabinet spots.csv --patch 'seat strip=9'
refused 'The file has: 1, 2, 3.'
run 2 import cabinet spots.csv
refused 'none of its samples'
run 3 import cabinet one.jpg --patch strip=1
refused 'one.jpg'
run 3 import cabinet gone.csv --patch strip=1
refused 'gone.csv'

# ---- What the shelf learned follows: withdrawn, back again, under another name
seen() { # TIMES
    run 0 shelf show --json
    json "[d['seen'] for d in it['shelf']['dyes'] if d['name'] == 'red'] == [$1]"
}
XDG_DATA_HOME=$own/other-data
run 0 start taught
run 0 photo taught one.jpg --card "$card" --target "left=$left" --target "right=$right" --patch "strip=$strip"
run 0 pass taught --patch strip --dye red=1 --passes 2
pass=$(sed -n 's/.*{"event":"pass_laid","number":\([0-9]*\),.*/\1/p' taught/log.jsonl)
run 0 photo taught two.jpg --card "$card" --target "left=$left" --target "right=$right" --patch "strip=$strip"
seen 1
run 0 fix taught "$pass" --withdraw
seen 0
gone=$(sed -n 's/.*{"event":"correction","number":\([0-9]*\),.*/\1/p' taught/log.jsonl)
run 0 fix taught "$gone" --withdraw
seen 1
run 0 fix taught --rename 'strip=arm'
run 0 advise taught
seen 1
run 0 fix taught "$pass" --part seat
run 0 advise taught
seen 0

# ---- Corrections among themselves
XDG_DATA_HOME=$own/third-data
number() { sed -n "s/.*{\"event\":\"$1\",\"number\":\([0-9]*\),.*/\1/p" mend/log.jsonl | tail -1; }
marks() { # FILE PATCH
    cat > "$1" << END
{"picture":[640,480],"marks":[{"role":"card","name":"card","polygon":[[40,320],[180,320],[180,440],[40,440]]},
 {"role":"target","name":"left","polygon":[[40,40],[220,40],[220,280],[40,280]]},
 {"role":"patch","name":"strip","polygon":$2}]}
END
}
marks wrong.json '[[345,60],[550,60],[550,270],[345,270]]' # on old wood
marks right.json '[[255,60],[305,60],[305,270],[255,270]]'
run 0 start mend --title 'Cab'
run 0 photo mend one.jpg --marks wrong.json
run 0 pass mend --patch strip --dye red=1/4 --dye black=1/2 --passes 2
pass=$(number pass_laid)
run 0 photo mend two.jpg --marks wrong.json --state strip=sealed
second=$(number photo_added)
run 0 fix mend 2 --marks right.json
run 0 fix mend "$second" --marks right.json
# Read again: the last reading counts, alone.
run 0 export mend --csv
[ "$(grep -c '^reading,.*,strip,patch' out)" -eq 2 ] && good || bad 'old readings are exported'
run 0 history mend --json
json '[e["effects"][0]["after"]["de00"] for e in it["events"] if e["kind"] == "pass_laid"] == [e["gaps"][0]["de00"] for e in it["events"] if e["kind"] == "reading" and "withdrawn_by" not in e][-1:]'
json 'sum("withdrawn_by" in e for e in it["events"] if e["kind"] == "reading") == 2'
# A note on a pass leaves its forecast as it was; another liquid brings another one, without hindsight.
forecast() { python3 -c 'import json
print([e["effects"][0]["forecast"]["change"] for e in json.load(open("out"))["events"] if e["kind"] == "pass_laid"])'; }
before=$(forecast)
run 0 fix mend "$pass" --note 'sprayed twice'
says_not out 'No toner'
run 0 history mend --json
[ "$(forecast)" = "$before" ] && good || bad 'a note changed the forecast'
run 0 fix mend "$pass" --passes 3
run 0 fix mend "$pass" --passes 2
run 0 history mend --json
[ "$(forecast)" = "$before" ] && good || { forecast; echo "$before"; bad 'there and back: another forecast'; }
# A correction says the names of its own time.
run 0 coat mend sealer --part strip
coat=$(number coat_laid)
run 0 fix mend --rename 'strip=left strip'
run 0 pass mend --patch strip --dye red=1/8
run 0 fix mend "$coat" --part strip
run 0 history mend --json
json '{p["part"]: p["coat"] for p in it["parts"]} == {"left": None, "left strip": None, "strip": "sealer"}'
# Two names become one part only where that can be.
run 2 fix mend --rename 'strip=left'
says err 'old wood'
run 0 pass mend --patch strip --patch 'left strip' --dye red=1/8
run 0 fix mend --rename 'strip=left strip'
says out 'from now on both are one part'
run 0 fix mend "$(number pass_laid)" --note 'on both'
run 2 fix mend "$pass" --withdraw --passes 3
refused 'not both'
run 2 fix mend "$pass" --jar 1 --dye red=1
refused 'the jar says'
run 2 fix mend 1 --withdraw
says_not err 'photo'
run 2 coat mend clear --part beside
refused 'beside'
# A jar's liquid: the passes from it are named.
run 0 jar mend --dye red=1/4
jar=$(number jar_mixed)
run 0 pass mend --patch 'left strip' --jar 1
run 0 fix mend "$jar" --dye red=1/8
says out "What was laid from jar 1 stays as it was logged (event $(number pass_laid))"
run 0 fix mend "$jar" --volume '250 ml'
says out 'volume ml 250, was not said'
says_not out 'stays as it was logged'
run 2 fix mend "$jar" --volume '250 mm'
refused 'no unit of this'
run 2 fix mend "$(number pass_laid)" --volume '250 ml'
refused 'volume'
run 0 fix mend "$(number pass_laid)" --jar 1
says out 'red at an eighth strength, was red at a quarter strength'
# A wipe corrected is no second wipe; a part dropped from the marks takes its state along.
run 0 takeoff mend --part 'left strip' --wiped
run 0 fix mend "$(number taken_off)" --note 'with alcohol'
says_not out 'No toner'
sed 's/"strip"/"arm"/' right.json > other.json
run 0 fix mend "$second" --marks other.json
says out 'so its state is taken out'
# The card's own colour, known later.
run 0 fix mend 2 --card-lab 52,0,0
says out 'card lab'
run 0 history mend --json
json 'max(e["gaps"][0]["de00"] for e in it["events"] if e["kind"] == "reading") > 0'
run 2 fix mend "$pass" --card-lab 52,0,0
refused 'colour of the card'
# What was approved, and toner that takes its place behind that.
run 0 approve mend --by me --lamp hall
run 0 photo mend two.jpg --marks right.json --view back
run 0 pass mend --patch strip --dye red=1/8 --before-photo "$(number photo_added)"
run 0 history mend --json
json 'it["approved_by_event"] is None'
# A title that is taken back.
run 0 fix mend 1 --title 'B'
run 0 fix mend "$(number correction)" --withdraw --json
json 'it["job"]["title"] == "Cab"'
run 0 fix mend "$pass" --note 'sprayed twice' --json
json 'it["events"] == [] and it["job"]["title"] == "Cab"'
# Samples of an instrument's file: each once, none that is not there.
printf 'name,L*,a*,b*\n1,50.2,11.9,25.1\n2,50.4,12.1,25.3\n3,46,11.6,24\n' > spots.csv
run 2 import mend spots.csv --target 'left=1,2,nonsense' --patch strip=3
refused 'nonsense'
run 2 import mend spots.csv --target left=1,2 --patch strip=2
refused 'named twice'
run 0 import mend spots.csv --target 'left=1, 2' --patch strip=3 --json
json '[s["lab"][0] for s in it["samples"]] == [50.3, 46.0]'

# ---- The log as other people's programs read it
run 0 history cabinet
says_not out 'damaged'
validated=no
for python in python3 /usr/bin/python3; do
    if [ $validated = no ] && "$python" -c 'import jsonschema' 2> /dev/null; then
        validated=yes
        "$python" "$tree/tests/cli/check_log.py" "$tree/src/job/log.schema.json" cabinet job_started photo_added measured \
            part_named reading plan_shown pass_laid coat_laid taken_off jar_mixed correction note approval setting > out 2>&1 &&
            good || bad 'the log does not fit its schema'
    fi
done
[ $validated = yes ] && good || bad 'no python3-jsonschema'
# Every event and member of the schema stands in the format's own page.
python3 - "$tree/src/job/log.schema.json" "$tree/src/job/FORMAT.md" "$tree/include/huewright/job.h" \
    "$tree/include/huewright/tone.h" > report << 'END'
import json, re, sys
schema, page = json.load(open(sys.argv[1])), open(sys.argv[2]).read()
for rule in schema["allOf"]:
    event = rule["if"]["properties"]["event"]["const"]
    rows = [line for line in page.splitlines() if line.startswith("| `%s` |" % event)]
    if len(rows) != 1: print("no row for", event)
    for member in rule["then"]["properties"]:
        if rows and "`%s`" % member not in rows[0]: print(event, "lacks", member)
    if event == "reading":
        for member in schema["$defs"]["comparison"]["properties"]:
            if rows and "`%s`" % member not in rows[0]: print("comparison lacks", member)
        for name, part in rule["then"]["properties"]["reading"]["properties"].items():
            for member in [name, *part.get("properties", {})]:
                if rows and "`%s`" % member not in rows[0]: print("reading lacks", member)
# The schema takes no number that the program leaves aside.
defined = dict(re.findall(r"#define (HW_\w+)\s+([0-9.e]+)", open(sys.argv[3]).read() + open(sys.argv[4]).read()))
of = {rule["if"]["properties"]["event"]["const"]: rule["then"]["properties"] for rule in schema["allOf"]}
for bounded, most in ((of["setting"]["coats"], "HW_COATS_MOST"), (of["setting"]["recoat_minutes"], "HW_RECOAT_MOST_MINUTES"),
                      (of["setting"]["card_mm"]["items"], "HW_LENGTH_MOST_MM"), (of["setting"]["ml_m2"], "HW_ML_M2_MOST"),
                      (of["setting"]["areas_cm2"]["additionalProperties"], "HW_AREA_MOST_CM2"),
                      (of["jar_mixed"]["volume_ml"], "HW_MIX_MOST_ML"), (schema["$defs"]["hours"], "HW_HOURS_MOST")):
    if bounded.get("maximum") != float(defined[most]): print(most, "is", defined[most], "not", bounded.get("maximum"))
END
[ $? -eq 0 ] && [ ! -s report ] && good || { cat report; bad 'FORMAT.md and the schema differ'; }
done_testing
