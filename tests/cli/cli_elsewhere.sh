#!/bin/sh
# A repair and its old wood in two photos of one session.
. "$(dirname "$0")/shop.inc"
"$maker" one.jpg && "$maker" two.jpg --repair 47,11,24.3 || exit 2

run 2 read two.jpg --card "$card" --patch "strip=$strip"
refused 'no old wood to compare'
run 0 start bench
run 2 photo bench two.jpg --card "$card" --patch "strip=$strip"
refused 'no earlier photo of the job shows old wood'
run 0 photo bench one.jpg --card "$card" --target "left=$left" --target "right=$right" --lamp 'bench lamp'
run 2 photo bench two.jpg --card "$card" --patch "strip=$strip" --lamp window --json
json 'it["error"]["code"] == "target-missing" and "another lamp" in it["error"]["what"] and "Prop it" in it["error"]["next"]'
run 0 photo bench two.jpg --card "$card" --patch "strip=$strip" --beside strip=left --lamp 'Bench lamp'
says out 'its old wood is only in photo 2. Prop the two side by side in one photo'
says out 'gap to the old wood'
run 0 advise bench --patch strip --json
json 'it["patch"] == "strip" and it["verdict"] in ("leave", "tone", "too_dark", "unsure") and any("only in photo 2" in w for w in it["warnings"])'
python3 - > told << 'END'
import json
log = [json.loads(line) for line in open("bench/log.jsonl", encoding="utf-8")]
apart = [c for e in log if e["event"] == "reading" for c in e["reading"]["comparisons"]]
assert [c["target"] for c in apart] == ["left", "beside"] and all(c["elsewhere"] == 2 for c in apart), apart
assert apart[1]["doubt"]["other_photo"] > 0.5 and apart[1]["de00_high"] > apart[1]["de00"] + 1, apart[1]
print("good")
END
says told good
if python3 -c 'import jsonschema' 2> /dev/null; then
    python3 -c '
import json, jsonschema, sys
schema = json.load(open(sys.argv[1]))
for line in open("bench/log.jsonl"): jsonschema.validate(json.loads(line), schema)' "$tree/src/job/log.schema.json" > report 2>&1 && good || { cat report; bad 'the schema does not take the log'; }
fi
# Together in one photo the range is narrower.
run 0 photo bench two.jpg --card "$card" --target "left=$left" --patch "strip=$strip" --beside strip=left --lamp 'bench lamp' --json
json '"elsewhere" not in it["comparisons"][0] and it["comparisons"][1]["doubt"]["other_photo"] == 0'
# The old wood is coated: what was read of it no longer counts.
run 0 coat bench clear --part left
run 2 photo bench one.jpg --card "$card" --patch "strip=$strip" --beside strip=left --lamp 'bench lamp'
refused 'something was laid on left'
run 0 history bench
run 0 check bench --exit-status
done_testing
