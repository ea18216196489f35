#!/bin/sh
# A day's work on a piece with five repairs, rendered from spectra (tests/scene): what holds for the job, the sheet of
# jars, amounts, hours, and a photo that comes too soon.
. "$(dirname "$0")/shop.inc"
scene=$(dirname "$maker")/hw_scene
"$scene" front . --name front > /dev/null || exit 2
run 0 start cabinet --title 'Walnut gramophone cabinet'
run 0 photo cabinet front.jpg --marks front-marks.json --view front --lamp 'shop lamp'

# ---- Nothing said of the job yet
run 0 advise cabinet
says out 'TODAY: '
says out 'JAR A (to be mixed): '
says out '    1. '
says out 'Not said of this job yet (once: huewright set JOB ...):'
says out '--coats N --over all | repairs'
says out 'All choices for one repair: huewright advise JOB --patch NAME'
[ "$(grep -c ': LAY ' out)" -ge 4 ] && good || bad 'four repairs are to be toned'
run 0 advise cabinet --quiet
says_not out TODAY
run 0 advise cabinet --json
json 'it["not_said"] == ["coats", "card_size", "recoat"] and len(it["patches"]) == 5'
json 'len(it["jars"]) <= 3 and all(j["jar"] is None and j["mix"]["volume_ml"] == 100 for j in it["jars"] if j["repairs"])'
# Each repair is laid out of a jar of the sheet, in its order; what is left alone is not in it.
json '{o["patch"] for o in it["order"]} == {p["patch"] for p in it["patches"] if p["next"]}'
json 'all(p["next"]["liquid"] == it["jars"][o["of_jars"]]["liquid"] for o in it["order"] for p in it["patches"] if p["patch"] == o["patch"])'
json 'all(o["passes"] == p["next"]["passes"] for o in it["order"] for p in it["patches"] if p["patch"] == o["patch"])'
json 'it["first_something_else"] == [] and it["lay_nothing_on"] == [p["patch"] for p in it["patches"] if not p["next"]]'
json '[o["of_jars"] for o in it["order"]] == sorted(o["of_jars"] for o in it["order"])'
json 'all(p["sheet_cost"] <= 0.3 for p in it["patches"] if p["by_sheet"])'
# Each mix adds up to its volume (ml of dyes and thinner).
json 'all(abs(sum(p["ml"] for p in m["parts"]) + m["thinner_ml"] - j["mix"]["volume_ml"]) < 0.006 for j in it["jars"] if j["mix"] for m in [j["mix"]["from_board"]])'

# ---- What holds for the job
run 2 set cabinet
refused 'says nothing that could hold'
run 2 set cabinet --coats two --over all
refused 'no number of coats'
run 2 set cabinet --coats 2
refused '--over all'
run 2 set cabinet --coats 2 --over everything
refused 'everything'
run 2 set cabinet --over all
refused '--coats N'
run 2 set cabinet --recoat 0
refused 'cannot be a recoat time'
run 2 set cabinet --recoat soon
refused 'cannot be a recoat time'
run 2 set cabinet --recoat 10000h
refused 'at most 10080'
run 0 set cabinet --recoat 2h
says out 'recoat after 120 minutes'
run 2 set cabinet --card-size 86
refused '86'
run 2 set cabinet --area 'stile patch=big'
refused 'big'
run 2 set cabinet --area 'stile patch=10cm2' --area 'stile patch=12cm2'
refused 'two areas'
run 0 set cabinet --coats 2 --over all --recoat 30 --card-size 11x8cm --area 'stile patch=20x15cm'
says out 'for the whole job: 2 clear coats to come, over repairs and old wood; recoat after 30 minutes; the card is 110 x 80 mm; area of stile patch: 300 cm2'
run 0 set cabinet --area 'stile ptch=1 sq ft'
says out 'stile ptch: 929 cm2'
says out 'No photo of this job has marked stile ptch'
run 0 fix cabinet --rename 'stile ptch=elsewhere'
run 0 advise cabinet --json
json 'it["not_said"] == []'
json '{p["patch"]: p["need"]["area_cm2"] for p in it["patches"]}["stile patch"] == 300'
# By hand: the front is rendered with a card of 220 x 160 pixels, marked a little inside its edges (192 x 132), and a
# panel inlay marked 232 x 242: areas go as pixels do.
json 'abs({p["patch"]: p["need"]["area_cm2"] for p in it["patches"]}["panel inlay"] - 88.0 * 232 * 242 / (192 * 132)) < 0.1'
json 'all(p["coats"]["guess"] and p["coats"]["on_patch"] == 2 == p["coats"]["on_target"] and not p["coats"]["held"] for p in it["patches"] if p["next"])'
json 'all(p["need"]["minutes"] == 30 * p["next"]["passes"] for p in it["patches"] if p["next"])'
run 0 advise cabinet
says out 'Amounts: '
says out '      then: huewright jar JOB --dye "'
says out 'Recoat times alone take '
says out 'Under the 2 clear coats to come over repair and old wood'
says out 'GUESS: photograph it before and after a coat'
run 0 advise cabinet --volume 8floz --json
json 'all(j["mix"]["volume_ml"] == 236.6 for j in it["jars"])'
run 2 advise cabinet --volume 8
refused 'no unit'

# ---- A jar, a pass with its hours, a photo too soon
run 0 jar cabinet --dye red-brown=1/4 --dye black=1/2 --volume '1/2 pint' --json
json 'it["events"][0]["jar"] == 1'
run 0 pass cabinet --patch 'cornice piece' --patch 'stile patch' --jar 1 --hours 0.5
says out '0.5 hours of work'
run 2 pass cabinet --patch 'cornice piece' --jar 1 --hours -1
refused 'hours cannot be meant'
run 0 photo cabinet front.jpg --view front --lamp 'shop lamp'
says out 'cornice piece, stile patch: 0 of 30 minutes: it will look darker than it is.'
run 0 photo cabinet front.jpg --view front --lamp 'shop lamp' --dry
says_not out 'of 30 minutes'
run 0 history cabinet
says out 'stile patch: surface not said, 1 pass of toner on it, about'
says out '15 minutes of work'
says out 'Work so far: 0.5 hours as entered'
says out 'jar 1: red-brown at a quarter strength with black at half strength'
run 0 history cabinet --json
json 'it["work"]["hours"] == 0.5 and sum(p["hours"] for p in it["parts"]) == 0.5'
json '[e["areas"] for e in it["events"] if e["kind"] == "setting" and e["areas"]][0] == [{"part": "stile patch", "cm2": 300}]'
json '[p["state"] for p in it["parts"] if p["part"] == "stile patch"] == ["unknown"]'

# ---- Asked once, at a terminal
cat > terminal.py << 'END'
# Runs a program at a terminal of its own and types the answers, each once something is asked.
import os, pty, sys
answers, command = sys.argv[1].split("|"), sys.argv[2:]
child, terminal = pty.fork()
if child == 0:
    os.environ["TERM"] = "dumb"
    os.execvp(command[0], command)
told = b""
while True:
    try:
        more = os.read(terminal, 4096)
    except OSError:
        break
    if not more:
        break
    told += more
    while answers and told.count(b"[Enter: ") > len(sys.argv[1].split("|")) - len(answers):
        os.write(terminal, answers.pop(0).encode() + b"\n")
sys.stdout.buffer.write(told)
sys.exit(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))
END
run 0 start bench
run 0 photo bench front.jpg --marks front-marks.json
python3 terminal.py 'some|2|repairs|11x8cm' "$program" advise bench > out 2> err && good || bad 'asked at a terminal'
says out 'how many clear coats still come'
says out 'Not understood.'
says out "the grey card's sides"
says out 'Under the 2 clear coats to come over the repair only'
python3 terminal.py '' "$program" advise bench > out 2> err && good || bad 'asked again'
says_not out 'how many clear coats still come'
says_not out "the grey card's sides"
run 0 start stool
run 0 photo stool front.jpg --marks front-marks.json
python3 terminal.py 'repairs|both||' "$program" advise stool > out 2> err && good || bad 'not understood'
says out 'Not understood: nothing noted.'
python3 terminal.py '2|all' "$program" advise stool > out 2> err && good || bad 'asked again'
says out 'how many clear coats still come'
says out 'Under the 2 clear coats to come over repair and old wood'
run 0 start table
run 0 photo table front.jpg --marks front-marks.json
python3 terminal.py '|' "$program" advise table > out 2> err && good || bad 'skipped'
run 0 history table
says out 'clear coats to come: not known'
says out "the card's size is not known"
python3 terminal.py '' "$program" advise table > out 2> err && good || bad 'asked again after it was skipped'
says_not out 'how many clear coats still come'
done_testing
