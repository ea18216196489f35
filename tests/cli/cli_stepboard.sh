#!/bin/sh
# A photo of a step board (the demo's, rendered: its truth lies beside it) teaches the shelf; and what is refused.
. "$(dirname "$0")/shop.inc"
board=$tree/demo/stepboard.jpg marks=$tree/demo/stepboard-marks.json
new='--dye walnut=brown --dye cherry=red'

# shellcheck disable=SC2086 # the dyes are words on purpose
run 0 stepboard "$board" --marks "$marks" $new --tool spray --shelf own.json
says out 'walnut (brown): added to the shelf; strength known within about '
says out 'cherry (red): added to the shelf'
says out '    no toner: L* '
says out '    4 passes: L* '
says out 'in line'
says out 'passes add'
says out 'one pass at full strength on this wood: darker by '
says out 'next: use it with huewright advise'
says_not out 'OUT OF LINE'
run 0 shelf show --shelf own.json
says out 'learned on a board of 4 passes'
says out 'laid by spray'

# How full strength was made: of which of two dyes is not said.
run 2 stepboard "$board" --marks "$marks" --shelf own.json --made '5 ml in 100 ml'
refused 'this board shows 2 dyes'
# Against the truth of the rendering: density by the law, least squares over the true strips; each band within
# its own 90 % range, and the colour of each strip within 1.5 CIE76 (chosen: camera 1 is no eye).
run 0 stepboard "$board" --marks "$marks" --shelf own.json --json # both are on the shelf now
json 'all(b["change"] == "replaced" and b["tool"] == "spray" for b in it["boards"])'
python3 - "$tree/demo/stepboard-truth.json" > told << 'PYTHON'
import json, math, sys
truth = {r["name"]: r["lab"] for r in json.load(open(sys.argv[1]))["regions"]}
M = ((0.8951, 0.2664, -0.1614), (-0.7502, 1.7135, 0.0367), (0.0389, -0.0685, 1.0296))
def bands(lab):
    y = (lab[0] + 16) / 116
    f = (y + lab[1] / 500, y, y - lab[2] / 200)
    xyz = [w * (t ** 3 if t > 6 / 29 else (t - 4 / 29) * 108 / 841) for w, t in zip((0.9642, 1, 0.8249), f)]
    return [sum(a * b for a, b in zip(row, xyz)) for row in M]
for board in json.load(open("out"))["boards"]:
    s = [bands(truth[f"{board['dye']} {n}"]) for n in range(5)]
    for band in range(3):
        y = [math.log(s[0][band] / s[n][band]) for n in range(5)]
        d = sum(n * y[n] for n in range(5)) / 30
        half = 1.645 * math.sqrt(board["covariance"][(0, 3, 5)[band]])
        seen = board["density"][band]
        print("inside" if abs(seen - d) < half else "outside", board["dye"], band, seen, d, half)
    for strip in board["strips"]:
        off = math.dist(strip["lab"], truth[f"{board['dye']} {strip['passes']:.0f}"])
        print("near" if off < 1.5 else "far", board["dye"], strip["passes"], off)
PYTHON
[ "$(grep -c inside told)" -eq 6 ] && good || { cat told; bad 'a true density lies outside its range'; }
[ "$(grep -c near told)" -eq 10 ] && good || { cat told; bad 'a strip is read far from the truth'; }

# ---- Strips by options; one dye; under a clear coat (here: the same strips again)
card='--card 604,864,192,132'
w() { printf '%s=%s,74,212,312' "walnut $1" "$((114 + 240 * $1))"; }
run 0 stepboard "$board" $card --strip "$(w 0)" --strip "$(w 1)" --strip "$(w 2)" --dye walnut=brown --note 'sealed oak' \
    --strip 'walnut 0 coated=114,80,212,300' --strip 'walnut 2 coated=594,80,212,300' --shelf one.json --json
json 'len(it["boards"]) == 1 and it["boards"][0]["note"] == "sealed oak"'
json '[(s["passes"], s["coated"]) for s in it["boards"][0]["strips"]] == [(0, False), (1, False), (2, False), (0, True), (2, True)]'
json 'abs(it["boards"][0]["under_coat"]["strength"] - 1) < 0.25 and len(it["boards"][0]["coat_shift"]) == 3'
# A family's name is a dye of its own.
run 0 stepboard "$board" $card --strip 'brown 0=114,74,212,312' --strip 'brown 2=594,74,212,312' --shelf fam.json
says out 'brown (brown): added'
# Wood that is marked as well is left aside, and said.
run 0 stepboard "$board" $card --target 'old=354,74,212,312' --strip 'brown 0=114,74,212,312' \
    --strip 'brown 2=594,74,212,312' --shelf fam.json
says out 'left aside'
# read keeps strips and does not use them.
run 0 read "$board" --marks "$marks" --json
json 'any("board_strip" in w for w in it["warnings"]) and it["samples"] == []'
run 2 read "$board" $card --strip 'brown 0=114,74,212,312'
refused '--strip'

# ---- Refused: nothing goes on the shelf
rm -f no.json
run 2 stepboard "$board" $card --shelf no.json
refused 'no strip of a step board'
run 2 stepboard "$board" $card --strip 'walnut=1,1,50,50' --shelf no.json
refused 'walnut 2'
run 2 stepboard "$board" $card --strip 'walnut 99=1,1,50,50' --shelf no.json
refused '0 to 50'
run 2 stepboard "$board" --marks "$marks" --shelf no.json
refused '--dye'
run 2 stepboard "$board" --marks "$marks" --dye walnut=puce --dye cherry=red --shelf no.json
refused 'family'
run 2 stepboard "$board" --marks "$marks" $new --dye walnut=brown --shelf no.json
refused 'twice'
run 2 stepboard "$board" --marks "$marks" $new --dye birch=amber --shelf no.json
refused 'birch'
run 2 stepboard "$board" $card --strip "$(w 1)" --strip "$(w 2)" --dye walnut=brown --shelf no.json
refused 'without toner'
run 2 stepboard "$board" $card --strip "$(w 0)" --dye walnut=brown --shelf no.json
refused 'no strip with toner'
run 2 stepboard "$board" $card --strip "$(w 0)" --strip 'walnut 1=354,74,9,9' --dye walnut=brown --shelf no.json
refused 'pixels'
run 2 stepboard "$board" $card --strip "$(w 0)" --strip 'walnut 1=600,860,100,100' --dye walnut=brown --shelf no.json
refused 'card'
run 3 stepboard "$board" $card --strip 'walnut 1=114,74,212,312' --strip 'walnut 0=1074,74,212,312' \
    --dye walnut=brown --shelf no.json
refused 'no dye does that'
run 3 stepboard "$board" $card --strip "$(w 0)" --strip 'walnut 1=114,80,212,300' --dye walnut=brown --shelf no.json --json
json 'it["error"]["code"] == "board-nothing"'
run 3 stepboard none.jpg $card --strip "$(w 0)" --strip "$(w 1)" --dye walnut=brown --shelf no.json
refused 'none.jpg'
run 3 stepboard "$board" --strip "$(w 0)" --strip "$(w 1)" --dye walnut=brown --shelf no.json
refused 'card'
run 2 stepboard "$board" --marks "$marks" --strip "$(w 0)" $new --shelf no.json
refused '--strip cannot stand beside --marks'
[ -e no.json ] && bad 'a refused board wrote a shelf' || good
done_testing
