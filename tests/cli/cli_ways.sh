#!/bin/sh
# The ways in from a phone and a camera, through the whole program: a HEIC says what its JPEG says, a DNG of
# known colours is read as those, and a job keeps, packs and checks both.
. "$(dirname "$0")/shop.inc"
"$maker" one.jpg || exit 2
marks="--card $card --target left=$left --patch strip=$strip"

# reads FILE: the program was built with what this kind of file needs.
reads() { ! "$program" read "$1" 2>&1 | grep -q 'built without'; }

if command -v heif-enc > /dev/null && reads "$tree/testdata/photo/quarters.heic"; then
    heif-enc -q 95 one.jpg -o one.heic > /dev/null 2>&1 || bad 'heif-enc'
    # shellcheck disable=SC2086 # a list of words
    run 0 read one.jpg $marks --json
    cp out jpeg.json
    # shellcheck disable=SC2086
    run 0 read one.heic $marks --json
    json 'it["photo"]["format"] == "HEIC" and it["photo"]["sandboxed"] and it["photo"]["width"] == 640'
    # What coding it once more moves: less than the smallest gap that matters (chosen: 0.5).
    json 'all(abs(a["de00"] - b["de00"]) < 0.5 and a["verdict"] == b["verdict"] for a, b in
        zip(it["comparisons"], json.load(open("jpeg.json"))["comparisons"]))'
fi

if ! reads "$tree/testdata/photo/mosaic.dng"; then
    echo 'built without LibRaw'
    done_testing
fi
# A mosaic of the shop: card, old wood, and a repair that is lighter by 6 and more yellow by 4.
python3 -B - "$tree" > report 2>&1 << 'END'
import random, sys
sys.path.insert(0, sys.argv[1] + "/tests/photo")
from dng_colour import camera_to_xyz, inverse, on
from photo_files import EXIF, MATRIX_D65, RATIONAL, SHORT, dng
D50 = (0.9642, 1.0, 0.8249)
def xyz(L, a, b):
    f = lambda t: t ** 3 if t > 6 / 29 else 3 * (6 / 29) ** 2 * (t - 4 / 29)
    y = (L + 16) / 116
    return [w * f(t) for w, t in zip(D50, (y + a / 500, y, y - b / 200))]
neutral = (0.5, 1.0, 0.65)
to_camera = inverse(camera_to_xyz([(21, MATRIX_D65)], neutral))
ground, areas = xyz(35, 2, 5), [((40, 320, 140, 120), xyz(49.5, 0, 0)), ((40, 40, 180, 240), xyz(45, 12, 26)),
                                ((250, 40, 60, 240), xyz(51, 12, 30))]
chance = random.Random(4)
noise = [chance.gauss(0, 1) for _ in range(4096)]
values = []
for y in range(960):
    row = [ground] * 640
    for (x0, y0, w, h), colour in areas:
        if y0 <= y // 2 < y0 + h:
            row[x0:x0 + w] = [colour] * w
    camera = {id(c): on(to_camera, c) for c in row}
    start = chance.randrange(4096)
    for x in range(1280):
        level = camera[id(row[x // 2])][(0, 1, 1, 2)[2 * (y % 2) + x % 2]] * 16127
        values.append(max(0, round(256 + level + noise[(start + x) % 4096] * (4 + level) ** 0.5)))
more = dict(black=(256,), white=16383, neutral=neutral)
open("one.dng", "wb").write(dng(values, 1280, 960, **more))
flash = [e for e in EXIF if e[0] != 0x9209] + [(0x9209, SHORT, [1])]
slower = [e for e in EXIF if e[0] not in (0x829a, 0xa403)] + [(0x829a, RATIONAL, [(1, 15)]), (0xa403, SHORT, [1])]
open("slower.dng", "wb").write(dng(values, 1280, 960, exif=slower, **more))
open("flash.nef", "wb").write(dng(values, 1280, 960, exif=flash, **more))
END
[ $? -eq 0 ] && good || { cat report; bad 'a DNG could not be made'; }
# shellcheck disable=SC2086
run 0 read one.dng $marks --json
json 'it["photo"]["format"] == "DNG" and it["photo"]["linear"] and it["photo"]["photosites"] == 2'
json 'it["photo"]["width"] == 640 and it["photo"]["camera"] == "Invented Pro 5 (raw)" and it["photo"]["shot"]["iso"] == 200'
json 'it["photo"]["shot"]["exposure"] == "manual" and it["photo"]["shot"]["flash"] is False'
json 'it["light"]["tone"]["contrast"]["u"] < 0.01 and it["light"]["tone"]["contrast"]["value"] == 0' # a sensor has no curve
# Noise of so many pixels says nothing here; the card's place in the light does not either: it is even.
json 'all(abs(c["delta"]["L"] - 6) < 0.3 and abs(c["delta"]["a"]) < 0.3 and abs(c["delta"]["b"] - 4) < 0.3
    for c in it["comparisons"])'
# shellcheck disable=SC2086
run 0 read flash.nef $marks
says out 'The flash fired'

# ---- A job keeps them as they came
run 0 start job --title 'Bench'
# shellcheck disable=SC2086
run 0 photo job one.dng $marks --view front
says_not out 'exposed'
# shellcheck disable=SC2086
run 0 photo job slower.dng $marks --view front # what was set otherwise is said, once each
says out 'The camera exposed 2.0 stops more than for photo 2. Lock the exposure'
says out "The camera's white balance was automatic for photo 2 and is fixed here."
# shellcheck disable=SC2086
[ -f one.heic ] && run 0 photo job one.heic $marks --view back
for kept in job/photos/*.dng job/photos/*.heic; do
    case $kept in
    *.heic) [ ! -f one.heic ] || { cmp -s "$kept" one.heic && good || bad "$kept is another file"; } ;;
    *) { cmp -s "$kept" one.dng || cmp -s "$kept" slower.dng; } && good || bad "$kept is another file" ;;
    esac
done
run 0 check job --exit-status
run 0 pack job job.zip
run 0 unpack job.zip again
run 0 check again --exit-status
cmp -s job/log.jsonl again/log.jsonl && good || bad 'unpacked it is another job'
done_testing
