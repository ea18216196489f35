#!/bin/sh
# The demo's story on the demo's photos: what demo/run.sh tells must be what the program says, and
# the sample in the README what it prints. (The true colours lie beside each photo.)
. "$(dirname "$0")/shop.inc"
demo=$tree/demo

run 0 start cabinet --title 'Walnut gramophone cabinet'
run 0 photo cabinet "$demo/cabinet-lid-1.jpg" --marks "$demo/cabinet-lid-1-marks.json" --view lid --lamp 'shop lamp'
says out 'lid strip: TONE IT. Clear difference: too light, a touch green.'
# The README shows these lines, each with four more blanks in front.
grep -E 'TONE IT|gap to the old wood|lighter by' out | while IFS= read -r line; do
    grep -qF -- "    $line" "$tree/README.md" || echo "$line"
done > missing
is_empty missing

run 0 advise cabinet --patch 'lid strip'
says out 'lid strip: LAY 1 PASS of red at a quarter strength with black at half strength'
says out 'GUESS'
grep 'LAY' out | while IFS= read -r line; do
    grep -qF -- "    $line" "$tree/README.md" || echo "$line"
done > missing
is_empty missing
says out 'Solvent vapour'
run 0 pass cabinet --patch 'lid strip' --dye red=1/4 --dye black=1/2 --passes 1
run 0 photo cabinet "$demo/cabinet-lid-2.jpg" --view lid --lamp 'shop lamp'
says out 'with the marks of the last photo of this view'
run 0 history cabinet --json
# The gaps read, against the truth of the two renderings (their NAME.json): inside the range told, and within half a
# CIEDE2000 for the first; the second, of the same camera in less light, is off by 0.7, within the fifth that the README
# owns to with a grey card alone.
python3 - "$demo" > told << 'PYTHON'
import json, sys
log = [json.loads(line) for line in open("cabinet/log.jsonl", encoding="utf-8")]
read = [next(c for c in e["reading"]["comparisons"] if c["target"] == "beside")
        for e in log if e["event"] == "reading"]
for number, gap in zip((1, 2), read):
    truth = json.load(open(f"{sys.argv[1]}/cabinet-lid-{number}.json"))["patches"][0]["de00"]
    near = gap["de00_low"] <= truth <= gap["de00_high"] and abs(gap["de00"] - truth) < (0.5 if number == 1 else truth / 5)
    print("near" if near else "far", gap["de00"], truth)
PYTHON
says told 'near'
says_not told 'far'

run 0 read "$demo/cabinet-doors.jpg" --marks "$demo/cabinet-doors-marks.json" --exit-status
says out 'left door: LEAVE IT.'
says out 'right door: LEAVE IT.'
run 0 read "$demo/hall-bench.jpg" --marks "$demo/hall-bench-marks.json"
says out 'seat patch: TOO DARK FOR DYE.'
says out 'back board 2: TONE IT.'
# The sheet, as the README has it, on a shelf that knows no dye yet.
(
    XDG_DATA_HOME=$own/fresh
    "$program" start front
    "$program" photo front "$demo/cabinet-front.jpg" --marks "$demo/cabinet-front-marks.json" --view front
) > out 2> err && good || bad 'the front'
XDG_DATA_HOME=$own/fresh "$program" advise front > out 2> err && good || bad 'the sheet'
sed -n '/^    TODAY/,/^$/s/^    //p' "$tree/README.md" > sample
[ "$(wc -l < sample)" -eq 5 ] && good || bad 'the sample in the README'
while IFS= read -r line; do
    grep -qF -- "$line" out || echo "$line"
done < sample > missing
is_empty missing
run 0 start front-2
run 0 photo front-2 "$demo/cabinet-front.jpg" --marks "$demo/cabinet-front-marks.json" --view front --lamp 'shop lamp'
run 0 set front-2 --coats 2 --over all --recoat 30 --card-size 11x8cm
run 0 advise front-2
says out 'TODAY: '

# Under the customer's lamp the strip is read near its truth again, and set beside the other.
run 0 photo cabinet "$demo/cabinet-lid-3.jpg" --view lid --lamp "customer's lamp"
run 0 lamps cabinet
says out "under customer's lamp (photo"
done_testing
