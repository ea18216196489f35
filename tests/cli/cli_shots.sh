#!/bin/sh
# Repeat shots read together and kept in a job, and shots from the left and from the right.
. "$(dirname "$0")/shop.inc"
shoot() { "$maker" "$@" || bad "the maker made no $1"; }
marks="--card $card --target left=$left --target right=$right --patch strip=$strip"
shoot a.jpg
shoot b.jpg --exposure 0.93
shoot c.jpg --exposure 1.06 --repair 50.1,9.6,24.4
shoot dark.jpg --repair 46.5,9.4,23
shoot clipped.jpg --exposure 6
shoot moved.jpg --shift 37
shoot wide.jpg --size 700,500
shoot left.jpg --repair 48.5,12,24
shoot right.jpg --repair 41.5,12,24
shoot front.jpg --repair 47.5,12,24
head -c 3000 a.jpg > torn.jpg

# ---- read ---------------------------------------------------------------------------
run 0 read a.jpg b.jpg c.jpg $marks
says out '3 shots agree within 0.2'
run 0 read a.jpg b.jpg c.jpg $marks --json
json 'len(it["shots"]) == 3 and all(s["used"] for s in it["shots"]) and not it["shots_disagree"]'
json '[c["shots"] for c in it["comparisons"]] == [3, 3, 3] and it["comparisons"][2]["shots_apart"] < 0.3'
cp out three.json
run 0 read a.jpg $marks --json
json '"shots" not in it and "shots" not in it["comparisons"][2]'
# The mean of three lies among them, and what they share is not narrowed.
python3 - > report 2>&1 << 'END'
import json
one, three = json.load(open("out")), json.load(open("three.json"))
a, b = one["comparisons"][2], three["comparisons"][2]
assert abs(a["de00"] - b["de00"]) < 0.3, (a["de00"], b["de00"])
width = lambda c: c["de00_high"] - c["de00_low"]
assert 0.8 < width(b) / width(a) < 1.2, (width(a), width(b))
for source in ("light", "tone_curve", "camera_colours", "card", "figure"):
    assert b["doubt"][source] > 0.8 * a["doubt"][source], source
END
[ -s report ] && { cat report; bad 'the mean of three'; } || good
# One that lies off is named, wherever it stands.
run 0 read a.jpg dark.jpg c.jpg $marks
says out 'Shot 2 (dark.jpg) reads 3.5 off the others: left out.'
says out '2 shots agree within'
run 0 read dark.jpg b.jpg c.jpg $marks
says out 'Shot 1 (dark.jpg) reads 3.'
run 0 read a.jpg dark.jpg c.jpg $marks --why
says out 'shot 2, dark.jpg: left out, it reads 3.5 off the others'
# Of two that differ neither can be named.
run 0 read a.jpg dark.jpg $marks
says out 'The two shots do not agree, and neither can be named'
says out 'UNSURE'
says out 'The photos cannot tell these apart'
says_not out 'left out'
# What cannot be read is left out by name while one can be.
run 0 read clipped.jpg a.jpg a.jpg none.jpg moved.jpg $marks
says out 'Shot 1 (clipped.jpg) is left out: the grey card is overexposed'
says out 'Shot 3 (a.jpg) is left out: it is the very same file as shot 2'
says out 'Shot 4 (none.jpg) is left out: there is no such file.'
says out 'Shot 5 (moved.jpg) is left out: the marks of the first photo cannot be carried over surely: '
run 0 read torn.jpg a.jpg b.jpg $marks
says out 'Shot 1 (torn.jpg) is left out'
says out 'Shot 1 cannot be opened, so the marks are taken as drawn on shot 2'
run 3 read clipped.jpg none.jpg $marks
refused 'none of the 2 photos can be read'
run 2 read a.jpg b.jpg c.jpg a.jpg b.jpg c.jpg $marks
refused 'too many to be read together'
# Marks of their own.
cat > a.json << END
{"picture":[640,480],"marks":[{"role":"card","name":"card","polygon":[[40,320],[180,320],[180,440],[40,440]]},
{"role":"target","name":"left","polygon":[[40,40],[220,40],[220,280],[40,280]]},
{"role":"target","name":"right","polygon":[[340,40],[600,40],[600,280],[340,280]]},
{"role":"patch","name":"strip","polygon":[[250,40],[310,40],[310,280],[250,280]]}]}
END
sed 's/250,/253,/g; s/310,/308,/g' a.json > b.json
sed 's/640,480/700,500/' a.json > wide.json
run 0 read a.jpg b.jpg --marks a.json --marks b.json
says out '2 shots agree within'
run 0 read a.jpg wide.jpg --marks a.json --marks wide.json
says out 'Shot 2 (wide.jpg) has 700 x 500 pixels, the first one 640 x 480'
run 2 read a.jpg b.jpg c.jpg --marks a.json --marks b.json
refused 'there are 3 photos and 2 files of marks'
run 2 read a.jpg --marks a.json --marks b.json
refused 'there is one photo'
sed 's/"strip"/"other"/' b.json > other.json
run 0 read a.jpg b.jpg --marks a.json --marks other.json
says out 'Shot 2 (b.jpg) is left out: strip is not marked on it.'

# ---- From left and right ------------------------------------------------------------
grain="the grain's light, not colour: judge it from where it will be seen"
run 0 read left.jpg right.jpg --from left --from right $marks
says out "strip: $grain"
says out 'from the left it is lighter by 3.'
says out 'strip: UNSURE.'
says_not out 'TONE IT'
run 0 read left.jpg right.jpg --from left --from right $marks --json
json 'it["left_and_right"][0]["turned"] == ["L"] and [s["from"] for s in it["sides"]] == ["left", "right"]'
json 'it["left_and_right"][0]["words"] == "'"$grain"'"'
json 'all(c["grain_light"] and c["verdict"] == "unsure" for s in it["sides"] for c in s["comparisons"])'
# Two differences of one sign are colour.
run 0 read left.jpg front.jpg --from left --from right $marks
says_not out "$grain"
says out 'TONE IT'
run 0 read a.jpg --from left $marks --json
json 'it["from"] == "left"'
run 2 read a.jpg b.jpg c.jpg --from left --from right $marks
refused 'there are 3 photos and 2 sides'
run 2 read a.jpg --from above $marks
refused 'no side'

# ---- In a job -----------------------------------------------------------------------
"$program" start bench --quiet
run 0 photo bench clipped.jpg a.jpg dark.jpg b.jpg c.jpg $marks --lamp bench --state strip=sealed --json
json 'it["job"]["photo"] == 2 and [s["used"] for s in it["shots"]] == [False, True, False, True, True]'
cp out photo.json
[ "$(ls bench/photos | wc -l)" -eq 4 ] && good || bad 'not all originals that could be read are kept'
run 0 history bench
says out 'photo 2, front: a.jpg, dark.jpg, b.jpg, c.jpg (4 shots read together)'
run 0 history bench --json
json '[s["original"] for s in it["events"][1]["shots"]] == ["dark.jpg", "b.jpg", "c.jpg"]'
run 0 check bench
says out '4 photos'
# Read again, from the kept originals, it says the same: a correction that reads anew logs the same numbers.
run 0 fix bench 2 --card-lab 49.5,0,0
python3 - "$tree/src/job/log.schema.json" > report 2>&1 << 'END'
import json, sys
import importlib.util
lines = [json.loads(line) for line in open("bench/log.jsonl")]
readings = [line["reading"] for line in lines if line["event"] == "reading"]
assert len(readings) == 2, len(readings)
for one, other in zip(readings[0]["comparisons"], readings[1]["comparisons"]):
    for name in ("de00", "de00_low", "de00_high", "shots", "shot_scatter", "shots_apart"):
        assert abs(one[name] - other[name]) < 0.06 if name.startswith("de00") else abs(one[name] - other[name]) < 2e-3, (name, one[name], other[name])
assert sorted(s["file"] for s in readings[1]["shots"] if s["used"]) == ["a.jpg", "b.jpg", "c.jpg"]
if importlib.util.find_spec("jsonschema"):
    import jsonschema
    schema = json.load(open(sys.argv[1]))
    for line in lines:
        jsonschema.validate(line, schema)
END
[ -s report ] && { cat report; bad 'reading again'; } || good
run 0 advise bench
says out 'Shot 2 (dark.jpg) reads 3.'
# A shot's file that is gone is told; the others are read.
one=$(python3 -c 'import json; print([json.loads(l) for l in open("bench/log.jsonl")][1]["shots"][1]["photo"])')
mv "bench/$one" kept.jpg
run 0 check bench
says out "$one"
run 0 advise bench
says out 'is left out'
mv kept.jpg "bench/$one"
run 0 pack bench bench.zip
says out '4 photos'
run 0 unpack bench.zip copy
run 0 check copy
# The same photo again, among others.
run 0 photo bench b.jpg --lamp bench
says out 'the very same photo as photo 2'
# From the sides: no advice to tone on them; from the front with the word beside it.
"$program" start figured --quiet
run 0 photo figured left.jpg $marks --from left --lamp bench --state strip=sealed
says out 'TONE IT'
run 0 photo figured right.jpg --from right --lamp bench
says out "$grain"
says_not out 'another side'
run 0 advise figured
says out "$grain"
says out 'LAY NOTHING NOW'
says out '--from front'
run 0 advise figured --json
json 'it["patches"][0]["grain_light"] and it["patches"][0]["stop"] and it["patches"][0]["next"] is None'
run 0 history figured
says out 'front, from the left: left.jpg'
says out "$grain"
run 0 photo figured front.jpg --from front --lamp bench
run 0 advise figured
says out "$grain"
says out 'The advice rests on photo'
says_not out 'LAY NOTHING NOW'
# A pass is read between photos of one side, and not across two.
shoot after.jpg --repair 47.8,12,24
run 0 pass figured --patch strip --dye brown=1/4
run 0 photo figured right.jpg --from right --lamp bench
run 0 photo figured after.jpg --from left --lamp bench
run 0 history figured
says out '(photo 2 to photo '
"$program" start across --quiet
run 0 photo across front.jpg $marks --lamp bench --state strip=sealed
run 0 pass across --patch strip --dye brown=1/4
run 0 photo across after.jpg --from left --lamp bench
run 0 history across
says out 'another side: it was taken from the front then, from the left now'
run 2 photo figured a.jpg --from below
refused 'no side'
run 0 fix figured 2 --from right
run 0 history figured
says out 'front, from the right: left.jpg'
done_testing
