#!/bin/sh
# read: what a finisher sees, what a program reads, and every photo and mark that cannot be used.
. "$(dirname "$0")/shop.inc"
"$maker" lid.jpg && "$maker" lid.png && "$maker" bright.jpg --exposure 6 &&
    "$maker" dark.jpg --exposure 0.01 && "$maker" same.jpg --repair 45.25,12.1,24.15 && "$maker" tiny.jpg --size 1,1 || exit 2

marks="--card $card --target left=$left --target right=$right --patch strip=$strip"

# ---- Words
# shellcheck disable=SC2086 # the marks are words on purpose
run 0 read lid.jpg $marks
says out 'strip: TONE IT. '
says out 'too light'
says out 'green'
says out 'gap to the old wood '
says out 'one by one: left '
is_empty err
run 0 read lid.jpg $marks --quiet
[ "$(wc -l < out)" -eq 1 ] && good || bad 'quiet is one line a repair'
run 0 read lid.jpg $marks --why
says out 'never decides'
run 1 read lid.jpg $marks --exit-status
run 0 read same.jpg $marks --exit-status
says out 'strip: LEAVE IT.'

# ---- JSON: the members that others rely on
run 0 read lid.png $marks --json
json 'it["photo"]["width"] == 640 and it["photo"]["height"] == 480 and it["photo"]["file"] == "lid.png"'
json 'it["photo"]["warnings"] == [] and len(it["light"]["gain"]) == 3 and "uneven" in it["light"]'
json '[s["name"] for s in it["samples"]] == ["left", "right", "strip"]'
json 'all(len(s[k]) == 3 for s in it["samples"] for k in ("lab", "standard_error", "spread"))'
json 'all(s["pixels"] > 400 and s["left_out"] >= 0 and len(s["polygon"]) == 4 for s in it["samples"])'
json '[c["target"] for c in it["comparisons"]] == ["left", "right", "beside"]'
json 'all(c["de00_low"] <= c["de00"] <= c["de00_high"] for c in it["comparisons"])'
json 'all(set(c[k]) >= {"L","a","b","C","H"} for c in it["comparisons"] for k in ("delta","delta_low","delta_high"))'
json 'it["comparisons"][2]["verdict"] == "tone" and "too light" in it["comparisons"][2]["words"]'
json 'it["comparisons"][2]["spread_ratio"] > 0 and it["comparisons"][2]["why"] != ""'
# The picture was painted with these L*a*b* (16 bit, no camera): read back within 0.3.
json 'abs(it["comparisons"][2]["delta"]["L"] - 4.75) < 0.3 and abs(it["comparisons"][2]["delta"]["a"] + 2.5) < 0.3'

# ---- From a distance, beside the verdict: the card is 140 x 120 pixels, so a pixel is a millimetre
# shellcheck disable=SC2086
run 0 read lid.jpg $marks --distance 1.5m --card-size 14x12cm
says out 'strip: TONE IT. '
says out '    from 1.5 m: shows: 95 % of it lies within '
run 0 read same.jpg $marks --distance '5 ft' --card-size 14x12cm
says out '    from 1.52 m: '
run 0 read lid.png $marks --distance 1.5m --card-size 14x12cm --json
json '[(s["patch"], s["distance_mm"], s["verdict"]) for s in it["sights"]] == [("strip", 1500, "shows")]'
json 'all(s["patch_low"] <= s["patch_off"] <= s["patch_high"] and s["wood_off"] > 0 for s in it["sights"])'
json '0 <= it["sights"][0]["beyond"] <= 1 and "why_not" not in it["sights"][0]'
run 0 read lid.png $marks --distance 1.5m
says out '    from 1.5 m: not told, '
says out "say the grey card's sides"
run 0 read lid.png $marks --distance 1.5m --card-size 86x54mm --json
json '"sides that were said" in it["sights"][0]["why_not"] and "verdict" not in it["sights"][0]'
run 0 read lid.png $marks --json
json '"sights" not in it'
run 2 read lid.png $marks --distance 1.5
says err 'the number has no unit'
run 2 read lid.png $marks --card-size 14x12cm
refused 'none was given'
run 0 read lid.png $marks --distance 1.5m --card-size 14x12cm --quiet
says out 'from 1.5 m: '
run 2 read lid.png $marks --distance 50m --card-size 14x12cm
says err 'is not between 0.1 and 20 m'

# ---- Marks as file and as options say the same
cat > lid.json << 'END'
{"picture":[640,480],"marks":[
 {"role":"card","name":"card","polygon":[[40,320],[180,320],[180,440],[40,440]]},
 {"role":"target","name":"left","polygon":[[40,40],[220,40],[220,280],[40,280]]},
 {"role":"target","name":"right","polygon":[[340,40],[600,40],[600,280],[340,280]]},
 {"role":"patch","name":"strip","polygon":[[250,40],[310,40],[310,280],[250,280]]},
 {"role":"board_strip","name":"red 2","polygon":[[400,320],[500,320],[500,420],[400,420]]}]}
END
run 0 read lid.png $marks --json
mv out by_options
run 0 read lid.png --marks lid.json --json
json 'it["comparisons"] == json.load(open("by_options"))["comparisons"]'
json 'any("board_strip" in w for w in it["warnings"])'
run 0 read --json --marks=lid.json -- lid.png
run 0 read lid.png $marks --beside strip=left --kind strip=board --json
json '[c["target"] for c in it["comparisons"]] == ["left", "beside"] and it["comparisons"][0]["kind"] == "board"'
run 0 read lid.png $marks --card-lab 49.5,0.4,-0.3 --json
json 'it["light"]["card_measured"] and it["light"]["card_lab"] == [49.5, 0.4, -0.3]'
run 0 read lid.png --card "$card" --target "left=$left" # no repair is an answer
says out 'nothing to compare'

# ---- Further references: each option makes its marks, what they show is told
refs="--card 480,330,60,60 --neutral white=560,330,40,60 --neutral 22=600,330,30,60 --field board=300,320,60,100"
# shellcheck disable=SC2086
run 0 read lid.png $marks $refs --json
json 'it["light"]["field"]["places"] >= 2 and it["light"]["tone"]["steps"] >= 1'
json '{w["trouble"] for w in it["check"]} >= {"reference"}' # painted without steps: none fits
json 'all(a["at_stake"] >= b["at_stake"] for a, b in zip(it["check"], it["check"][1:]))'
"$maker" sheet.png --sheet 85 && "$maker" dim.png --sheet 85 --exposure 0.006 || exit 2
run 0 read lid.png $marks --sheet sheet.png --json
json 'it["light"]["field"]["from_sheet"] and it["light"]["uneven"] == 0'
run 0 read lid.png $marks --sheet lid.png # left aside, and said
says out 'note: The photo of the sheet was left aside: what this photo shows is no plain sheet'
run 0 read lid.png $marks --sheet dim.png
says out 'too dark'
run 2 read lid.png --card "$card" --target "beside=$left" --patch "strip=$strip"
refused 'stands for all the old wood'
run 2 read lid.png $marks --neutral "38=$left"
refused 'overlaps 38'
run 0 read lid.png $marks --chart '400,330 600,330 600,460 400,460' --json
json 'it["light"]["chart"]["used"] == False'
run 2 read lid.png $marks --chart '400,330 600,330 600,460'
refused 'four corners of a colour chart'
run 0 read lid.png $marks --sheet tiny.jpg
says out '1 x 1'
run 3 read lid.png $marks --sheet gone.jpg
refused 'gone.jpg'
run 0 read lid.png --marks lid.json --neutral "white=40,330,40,60" --json # card and steps may stand beside a file
json '[r["name"] for r in it["references"] if r["role"] != "board_strip"] == ["white", "card"]'

# ---- One small piece of old wood: six spots around are looked at, those that look alike are proposed
run 0 read lid.png --card "$card" --target 'small=350,60,40,40' --patch 'inlay=430,120,70,70' --json
json '"proposed" in it and all(m["role"] == "target" and len(m["polygon"]) == 4 for m in it["proposed"])'
run 0 read lid.png --card "$card" --target 'small=350,60,40,40' --patch 'inlay=430,120,70,70'
says out "    --target 'around 1="

# ---- Names with spaces, quotes and other alphabets
mkdir "a folder 'of' \"mine\" ŵ門" && cp lid.png "a folder 'of' \"mine\" ŵ門/ein Bild \"1\".png"
run 0 read "a folder 'of' \"mine\" ŵ門/ein Bild \"1\".png" --card "$card" --target "l'œuvre \"gauche\"=$left" \
    --patch "Türe 門=$strip" --json
json 'it["samples"][0]["name"] == "l\u0027œuvre \"gauche\"" and it["samples"][1]["name"] == "Türe 門"'
json 'it["photo"]["file"].endswith("ein Bild \"1\".png")'
name=$(printf 'bad\033[2J\377.png') && cp lid.png "$name"
run 0 read "$name" $marks --json # neither a control character nor a broken byte gets out
json '"?[2J" in it["photo"]["file"]'
run 2 read lid.png --card "$card" --target "=$left" --patch "strip=$strip"
refused 'the name before ='

# ---- Photos that cannot be used
cannot() { # FILE CODE WORDS
    run 3 read "$1" $marks
    refused "$3"
    run 3 read "$1" $marks --json
    json "it['error']['code'] == '$2' and it['error']['what'] and it['error']['next'] and it['error']['subject']"
    says err 'huewright: '
}
: > empty.jpg
echo 'Dear customer, here is the lid.' > letter.jpg
head -c 5000 lid.jpg > cut.jpg
# SOI, SOF0 with 40000 x 40000 and three components, SOS, EOI (ITU-T T.81, B.2.2 and B.2.3).
{
    printf '\377\330\377\300\000\021\010\234\100\234\100\003\001\021\000\002\021\001\003\021\001'
    printf '\377\332\000\014\003\001\000\002\021\003\021\000\077\000\000\377\331'
} > huge.jpg
cannot empty.jpg photo-empty 'empty'
cannot letter.jpg photo-unknown-format 'letter.jpg'
cannot cut.jpg photo-cut-short 'cut.jpg'
cannot huge.jpg photo-too-large '40000'
cannot gone.jpg file-missing 'gone.jpg'
cannot . file-folder 'folder'
cannot bright.jpg card-overexposed 'bright.jpg'
cannot dark.jpg card-underexposed 'dark.jpg'
run 2 read tiny.jpg $marks # 1 x 1 is a picture; the marks are off it
refused 'card'
"$maker" small.png --size 500,400 || exit 2 # smaller, the shop is empty
run 3 read small.png --target "left=$left" --patch "strip=$strip"
refused 'card'

# ---- Marks that cannot be meant
run 2 read lid.png --card "$card" --target "left=600,40,180,240" --patch "strip=$strip"
refused 'left'
run 2 read lid.png --card "$card" --target "left=$left" --patch 'strip=250,40,6,6'
refused 'strip'
run 2 read lid.png --card "$card" --target "left=$left" --patch 'strip=250,40 310,280 250,280 310,40'
refused 'strip'
run 2 read lid.png --card "$card" --target "left=$left" --patch 'strip=somewhere'
refused 'strip'
run 2 read lid.png --card "$card" --target "left=$left" --patch "strip=$strip" --beside strip=attic
refused 'attic'
run 2 read lid.png --card "$card" --patch "strip=$strip"
says err '  next: '
run 2 read lid.png --marks lid.json --target "left=$left"
refused '--target'
run 2 read lid.png $marks --card-lab 49.5,0
refused 'grey card'
run 2 read lid.png $marks --kind strip=shelf
refused 'kind'
run 3 read lid.png --marks gone.json
refused 'gone.json'
echo '{"marks":[' > torn.json
run 3 read lid.png --marks torn.json
refused 'torn.json'
sed 's/640,480/1280,960/' lid.json > other.json
run 2 read lid.png --marks other.json
refused '1280 x 960'
done_testing
