#!/bin/sh
# The shelf: a dye added as a guess, taught by typed readings, shown, taken off; and every call that is wrong.
. "$(dirname "$0")/shop.inc"
# The worked example of tests/tone/test_tone_board.c: one pass from L* 62 a* 12 b* 28, and what the law makes of
# 2, 3, 4 passes.
steps='62,12,28 59.6,12.9,29.0 57.2785,13.7395,29.8852 55.0328,14.5201,30.6630 52.8602,15.2434,31.3407'
shelf=$XDG_DATA_HOME/huewright/shelf.json

# ---- None of your own
run 0 shelf show
says out 'GUESS'
says out 'huewright stepboard'
run 0 shelf show --json
json 'len(it["shelf"]["dyes"]) == 9 and all(d["guess"] and d["wood"] is None for d in it["shelf"]["dyes"])'
run 3 shelf show --shelf none.json
refused 'no such shelf file'

# ---- A guess of one's own; the folder is made
run 0 shelf add 'my walnut' --family brown --tool spray --note 'a third of "dark"'
says out 'my walnut: added to the shelf.'
says out 'GUESS'
says out 'laid by spray'
[ -s "$shelf" ] && good || bad 'the shelf file is made'
run 0 shelf show --json
json 'it["shelf"]["path"].endswith("huewright/shelf.json") and len(it["shelf"]["dyes"]) == 1'
json 'it["shelf"]["dyes"][0]["tool"] == "spray" and it["shelf"]["dyes"][0]["note"] == "a third of \"dark\""'
json 'it["shelf"]["dyes"][0]["seen"] == 0 and it["shelf"]["seen"] == 0'

# ---- Taught by readings; the density of the worked example
run 0 shelf add 'my walnut' --steps "$steps" --json
json 'it["boards"][0]["change"] == "changed" and not it["boards"][0]["guess"] and it["warnings"] == []'
json 'all(abs(a - b) < 1e-4 for a, b in zip(it["boards"][0]["density"], (0.081436, 0.104518, 0.150918)))'
json 'abs(it["boards"][0]["exponent"] - 1) < 0.001 and it["boards"][0]["board_passes"] == 4'
json 'len(it["boards"][0]["strips"]) == 5 and all(s["in_line"] for s in it["boards"][0]["strips"])'
json 'it["boards"][0]["tool"] == "spray" and it["boards"][0]["coat_shift"] is None and it["boards"][0]["family"] == "brown"'
json 'len(it["boards"][0]["covariance"]) == 6 and it["boards"][0]["u_strength"] < 0.2'
run 0 shelf show
says out 'learned on a board of 4 passes on wood of L* 62 a* 12 b* 28, '
says out 'strength known within about '
says out 'passes add'
says out 'on a mid-brown (L* 50 a* 12 b* 25): darker by '
says out 'of the blue light'
says_not out 'GUESS'
# Added again without readings: what was learned stays. With readings, or as another family: replaced.
run 0 shelf add 'my walnut' --tool brush --json
json 'it["change"] == "changed" and it["tool"] == "brush" and not it["guess"] and it["board_passes"] == 4'
run 0 shelf add 'my walnut' --steps '62,12,28 59,13,29'
says out 'was on the shelf: what was known of it is replaced'
says out '1 pass: L* 59.0, fit 59.0, in line'
says out 'one strip cannot show whether passes add'
run 0 shelf add 'my walnut' --family red-brown --json
json 'it["change"] == "replaced" and it["guess"]'
# How full strength was made: kept, told, and what an amount in a volume means; a board read anew keeps it.
run 0 shelf add oak --family amber --shelf made.json --made '15 drops in 4 fl oz'
says out 'full strength is made as 15 drops in 4 fl oz: 0.63 % of the finished liquid is concentrate, by volume'
run 0 shelf add oak --shelf made.json --steps "$steps" --json
json 'it["boards"][0]["made"]["words"] == "15 drops in 4 fl oz" and abs(it["boards"][0]["made"]["share"] - 0.00634) < 1e-5 and it["boards"][0]["made"]["g_l"] is None'
run 0 shelf add oak --shelf made.json --made '1 oz in 1 qt'
says out '30 g of powder to a litre (1 oz to a US quart)'
run 0 shelf show --shelf made.json --json
json 'it["shelf"]["dyes"][0]["made"]["share"] is None and abs(it["shelf"]["dyes"][0]["made"]["g_l"] - 29.957) < 0.001'
run 2 shelf add oak --shelf made.json --made '15 drops in 4 oz'
refused 'oz alone is a weight'
run 2 shelf add oak --shelf made.json --made '0,5 %'
refused 'a comma may mean a point or thousands'
run 2 shelf add oak --shelf made.json --made 'a bit of it'
refused 'there is no number in it'
# A strip out of line is named: 3 passes on the strip of 2.
run 0 shelf add odd --family brown --shelf odd.json \
    --steps '62,12,28 59.6,12.9,29 55.0328,14.5201,30.6630 55.0328,14.5201,30.6630 52.8602,15.2434,31.3407'
says out 'OUT OF LINE, not used'
says out 'darker than the other strips say'
says out 'next: look at what is out of line'
run 0 shelf add odd --steps "$steps" --shelf odd.json --quiet
[ "$(wc -l < out)" -eq 1 ] && good || bad 'quiet is one line a dye'

# ---- Taken off
run 0 shelf remove 'my walnut'
says out 'my walnut: taken off the shelf.'
run 2 shelf remove 'my walnut'
refused 'no dye of this name'
run 3 shelf remove red --shelf none.json
refused 'no such shelf file'
cat > seen.json << 'END'
{"format":1,"dyes":[{"name":"red","family":"red"}],"seen":[
 {"job":"a","event":3,"patch":"p","photo_before":1,"photo_after":4,"at":"2026-05-03T10:27:36Z","wood":[50,12,25],
  "laid":[{"dye":"red","before":0,"amount":1,"squares":1}],"density":[0.01,0.1,0.08],"covariance":[1e-4,0,0,1e-4,0,1e-4]},
 {"job":"b","event":3,"patch":"p","photo_before":1,"photo_after":4,"at":"2026-05-03T10:27:36Z","wood":[50,12,25],
  "laid":[{"dye":"red","before":0,"amount":1,"squares":1}],"density":[0.01,0.1,0.08],"covariance":[1e-4,0,0,1e-4,0,1e-4]}]}
END
run 0 shelf show --shelf seen.json
says out 'seen 2 times in 2 jobs'
run 0 shelf remove red --shelf seen.json --json
json 'it == {"removed": "red", "seen_gone": 2}'
run 0 shelf show --shelf seen.json # none left: the guesses again
says out 'amber: amber'

# ---- Wrong calls
run 2 shelf add
refused 'DYE'
run 2 shelf add walnut
refused 'family'
run 2 shelf add walnut --family puce
refused 'red-brown'
run 2 shelf add red --family brown
refused 'another family'
run 2 shelf add 'a=b' --family brown
refused 'without ='
run 2 shelf add walnut --family brown --tool spoon
refused 'spray'
run 2 shelf add walnut --family brown --steps '62,12 50'
refused 'reading 1'
run 2 shelf add walnut --family brown --steps '62,12,28'
refused 'no strip with toner'
run 2 shelf add walnut --family brown --steps ''
refused 'without toner'
run 3 shelf add walnut --family brown --steps '62,12,28 65,12,28' --json
json 'it["error"]["code"] == "board-impossible"'
run 3 shelf add walnut --family brown --steps '62,12,28 35,15,20'
refused 'no toner'
run 3 shelf add walnut --family brown --steps '62,12,28 62,12,28.1'
refused 'no strip differs'
run 2 shelf add walnut --family brown --note "$(printf 'n%.0s' $(seq 300))"
refused 'note'
echo '{"format":2,"dyes":[]}' > newer.json
run 3 shelf add walnut --family brown --shelf newer.json
refused 'a newer huewright wrote this'
run 3 shelf show --shelf newer.json
refused 'newer'
echo '{' > broken.json
run 3 shelf add walnut --family brown --shelf broken.json
refused 'broken.json'
[ "$(cat broken.json)" = '{' ] && good || bad 'a broken shelf stays as it is'
run 4 shelf add walnut --family brown --shelf /dev/null/shelf.json
says err '  next: '
env -u HOME -u XDG_DATA_HOME "$program" shelf add walnut --family brown > out 2> err < /dev/null
[ $? -eq 2 ] && good || bad 'without a home there is no shelf of your own'
says err 'Name a file with --shelf FILE'
done_testing
