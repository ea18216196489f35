#!/bin/sh
# One piece under two lamps, rendered from spectra (tests/scene): the two photos side by side.
. "$(dirname "$0")/shop.inc"
scene=$(dirname "$maker")/hw_scene
for lamp in 5200 2856; do
    "$scene" lid . --name lid-$lamp --lamp $lamp --noise-seed $lamp --dye green=0.5x1 --dye red=0.5x2 > /dev/null || exit 2
done
run 0 start cabinet
run 0 lamps cabinet
says out 'No photo of this job shows a repair yet.'
run 0 photo cabinet lid-5200.jpg --marks lid-5200-marks.json --view lid
run 0 lamps cabinet
says out 'No photo of it says which lamp it was taken under.'
run 0 fix cabinet 2 --lamp 'Shop lamp'
run 0 lamps cabinet
says out 'lid strip, judged by Shop lamp'
says out 'huewright photo JOB FILE --lamp "customer'"'"'s lamp"'
says_not out 'under Shop lamp (photo'

# ---- The second lamp
run 0 photo cabinet lid-2856.jpg --view lid --lamp "customer's lamp"
says out 'with the marks of the last photo of this view'
run 0 lamps cabinet --patch 'lid strip'
says out 'under Shop lamp (photo 2): '
says out "under customer's lamp (photo "
says out 'the change of lamp alone makes'
says out 'Strong red, green and blue part most'
run 0 lamps cabinet --json
python3 - > told << 'END'
import json
it = json.load(open("out", encoding="utf-8"))
patch, = it["patches"]
pair, = patch["pairs"]
assert patch["main_lamp"] == "Shop lamp" and patch["main_photo"] == 2, patch
assert pair["known"] and pair["present"] and pair["verdict"] in ("holds", "parts", "untold"), pair
assert pair["main"]["photo"] == 2 and pair["other"]["lamp"] == "customer's lamp", pair
log = [json.loads(line) for line in open("cabinet/log.jsonl", encoding="utf-8")]
read = {e["photo_event"]: next(c for c in e["reading"]["comparisons"] if c["target"] == "beside")
        for e in log if e["event"] == "reading"}
# The index once more, from the colours in the log (CIE 15:2018, 9.2): L*, a*, b* of patch minus target.
def f(t): return t ** 3 if t > 6 / 29 else 3 * (6 / 29) ** 2 * (t - 4 / 29)
def xyz(lab):
    y = (lab[0] + 16) / 116
    return [f(y + lab[1] / 500), f(y), f(y - lab[2] / 200)] # over the white
def lab(c):
    x, y, z = [v ** (1 / 3) for v in c]
    return [116 * y - 16, 500 * (x - y), 200 * (y - z)]
main, other = read[2], read[pair["other"]["photo"]]
equal = [p * a / b for p, a, b in zip(xyz(other["patch_lab"]), xyz(main["target_lab"]), xyz(main["patch_lab"]))]
index = [p - t for p, t in zip(lab(equal), other["target_lab"])]
assert all(abs(a - b) < 0.03 for a, b in zip(index, pair["index"]["delta"])), (index, pair["index"])
assert pair["index"]["de00_low"] <= pair["index"]["de00"] <= pair["index"]["de00_high"]
assert pair["main"]["de00"] == main["de00"] and pair["other"]["words"] == other["words"]
print("good")
END
says told good
# Advice rests on the photo under the first lamp, the last one of it not being that.
run 0 advise cabinet --json
python3 -c 'import json
it = json.load(open("out", encoding="utf-8"))["patches"][0]
log = [json.loads(line) for line in open("cabinet/log.jsonl", encoding="utf-8")]
gap = {e["photo_event"]: next(c for c in e["reading"]["comparisons"] if c["target"] == "beside")
       for e in log if e["event"] == "reading"}
print("by the shop lamp" if all(abs(a - b) < 0.01 for a, b in zip(it["aim"], gap[2]["target_lab"])) else it["aim"])' > told
says told 'by the shop lamp'

# ---- Another state
run 0 pass cabinet --patch 'lid strip' --dye black=1/4
run 0 lamps cabinet
says out 'it says nothing of today'
"$scene" lid . --name later --noise-seed 7 --dye green=0.5x1 --dye red=0.5x2 --dye black=0.25x1 > /dev/null || exit 2
run 0 photo cabinet later.jpg --view lid --lamp 'living room'
run 0 lamps cabinet
says out 'living room (photo '
says out 'a pass was laid on it between photos'
run 0 lamps cabinet --quiet
says_not out 'Strong red'
run 2 lamps cabinet --patch strap
refused 'no repair of this name'
run 3 lamps nowhere
refused 'nowhere'
done_testing
