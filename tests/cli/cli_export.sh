#!/bin/sh
# A job given to other programs: CSV, JSON, CGATS; files that are never written over.
. "$(dirname "$0")/shop.inc"
"$maker" one.jpg && "$maker" two.jpg --repair 47,11,24.3 || exit 2

run 0 start cabinet --title 'Gramophone "cabinet" ŵ'
run 3 export cabinet --cgats
refused 'holds no reading yet'
run 0 export cabinet --csv
[ "$(wc -l < out)" -eq 1 ] && good || bad 'an empty job is a header alone'
run 0 photo cabinet one.jpg --view lid --lamp 'north window' --note '=1+1, "before"' --card "$card" \
    --target "left=$left" --target "right=$right" --patch "strip=$strip"
run 0 pass cabinet --patch strip --dye red=1/4 --dye brown=1/2 --minutes 20 --note '@home'
run 0 photo cabinet two.jpg --view lid
lines=$(wc -l < cabinet/log.jsonl) sum=$(cksum < cabinet/log.jsonl)

# ---- CSV, read by python's own reader of RFC 4180
run 0 export cabinet --csv
is_empty err
python3 - > report << 'END'
import csv
raw = open("out", "rb").read()
assert raw.endswith(b"\r\n") and raw.count(b"\n") == raw.count(b"\r\n"), "line ends"
rows = list(csv.DictReader(open("out", encoding="utf-8", newline="")))
names = "kind,event,at,photo,view,lamp,part,role,L,a,b,se_L,se_a,se_b,de00,de00_low,de00_high,dL,da,db,verdict,dye_1,strength_1,dye_2,strength_2,passes,minutes,note,hours,from,shots"
assert list(rows[0]) == names.split(","), list(rows[0])
assert [r["kind"] for r in rows] == ["reading"] * 3 + ["pass"] + ["reading"] * 3, [r["kind"] for r in rows]
strip = [r for r in rows if r["part"] == "strip"]
assert strip[0]["verdict"] == "tone" and strip[0]["role"] == "patch" and strip[0]["view"] == "lid"
assert strip[0]["lamp"] == "north window" and strip[0]["note"] == "'=1+1, \"before\"", strip[0]["note"]
assert abs(float(strip[0]["L"]) - 50) < 1 and float(strip[0]["de00_low"]) < float(strip[0]["de00"]) < float(strip[0]["de00_high"])
assert strip[1]["dye_1"] == "red" and strip[1]["strength_2"] == "0.5" and strip[1]["minutes"] == "20" and strip[1]["note"] == "'@home"
assert strip[1]["L"] == "" and strip[0]["dye_1"] == "" and rows[0]["verdict"] == ""
END
[ $? -eq 0 ] && good || { cat report; bad 'the CSV is not as it should be'; }

# ---- JSON: the log's own lines without their sums
run 0 export cabinet --json
python3 - << 'END'
import json
it = json.load(open("out", encoding="utf-8"))
log = [json.loads(line) for line in open("cabinet/log.jsonl", encoding="utf-8")]
for event in log: del event["crc32"]
assert it["events"] == log, "events"
assert set(it) == {"job", "events", "readings", "passes", "warnings"} and it["warnings"] == []
assert it["job"]["title"] == 'Gramophone "cabinet" ŵ' and it["job"]["folder"] == "cabinet" and len(it["job"]["id"]) == 16
assert len(it["readings"]) == 6 and len(it["passes"]) == 1
assert it["passes"][0]["strength_1"] == 0.25 and it["passes"][0]["L"] is None and it["passes"][0]["note"] == "@home"
logged = [s for e in log if e["event"] == "reading" for s in e["reading"]["samples"]]
assert [[r["L"], r["a"], r["b"]] for r in it["readings"]] == [s["lab"] for s in logged]
END
[ $? -eq 0 ] && good || bad 'the JSON is not as it should be'

# ---- CGATS
run 0 export cabinet --cgats
says out 'CGATS.17'
says out 'KEYWORD	"SE_L"'
says out 'ILLUMINANT, D50; OBSERVER, 2 degree'
says out 'NUMBER_OF_SETS	6'
says out 'SAMPLE_ID	SAMPLE_NAME	EVENT	ROLE	LAB_L	LAB_A	LAB_B	SE_L	SE_A	SE_B'

# ---- To a file: whole, and never over another
run 0 export cabinet --csv --output table.csv
is_empty out
says err 'Written: table.csv'
run 0 export cabinet --csv
cmp -s out table.csv && good || bad 'the file differs from the output'
run 2 export cabinet --json --output table.csv
says err 'there already is something of this name'
says err '  next: '
cmp -s table.csv out && bad 'the error is not the file' || good
run 0 export cabinet --csv
cmp -s out table.csv && good || bad 'a file that was there was written over'
run 0 export cabinet --cgats --output "a b.txt" --quiet
is_empty err
ln -s nowhere.csv link.csv
run 2 export cabinet --csv --output link.csv
refused 'there already is'
[ -L link.csv ] && [ ! -e nowhere.csv ] && good || bad 'a link stays a link'
run 4 export cabinet --csv --output no/such/folder.csv
refused 'folder'
ls | grep -q '\.new-' && bad 'something is left behind' || good

# ---- Wrong calls
run 2 export cabinet
refused 'none was given'
run 2 export cabinet --csv --cgats
refused 'more than one'
run 2 export cabinet --csv --json
says err 'more than one'
run 2 export
refused 'JOB'
run 3 export nowhere --csv
refused 'nowhere'
run 3 export nowhere --json
json 'it["error"]["code"] == "job-missing"'

# ---- CGATS as LittleCMS' own program reads it (transicc of Debian's liblcms2-utils): its X, Y, Z of our L*, a*, b*
# are those of ISO/CIE 11664-4 under D50 (ICC.1:2022, 6.3.4.3: 96.42, 100, 82.49).
if command -v transicc > /dev/null; then
    transicc -v0 -i'*Lab4' -o'*XYZ' -t3 'a b.txt' theirs.txt > report 2>&1 && good || { cat report; bad 'transicc refuses it'; }
    python3 - 'a b.txt' theirs.txt > report << 'END'
import sys
def table(path):
    lines = open(path).read().splitlines()
    names = lines[lines.index("BEGIN_DATA_FORMAT") + 1].split()
    rows = lines[lines.index("BEGIN_DATA") + 1:lines.index("END_DATA")]
    return [dict(zip(names, row.strip().split("\t"))) for row in rows]
def xyz(L, a, b):
    y = (L + 16) / 116
    cube = lambda f: f ** 3 if f > 6 / 29 else (f - 4 / 29) * 3 * (6 / 29) ** 2
    return [w * cube(f) for w, f in zip((96.42, 100, 82.49), (y + a / 500, y, y - b / 200))]
ours, theirs = table(sys.argv[1]), table(sys.argv[2])
if not ours or len(ours) != len(theirs): print("rows", len(ours), len(theirs))
for one, other in zip(ours, theirs):
    want = xyz(*(float(one[k]) for k in ("LAB_L", "LAB_A", "LAB_B")))
    got = [float(other[k]) for k in ("XYZ_X", "XYZ_Y", "XYZ_Z")]
    if max(abs(w - g) for w, g in zip(want, got)) > 0.02: print(one, want, got)
END
    is_empty report
else
    bad 'transicc is missing (liblcms2-utils)'
fi

# ---- A damaged line is left out and named; nothing was changed by any of this
[ "$(cksum < cabinet/log.jsonl)" = "$sum" ] && [ "$(wc -l < cabinet/log.jsonl)" -eq "$lines" ] && good || bad 'the log changed'
sed -i '2s/lid/lie/' cabinet/log.jsonl
run 0 export cabinet --csv
says err 'Line 2'
run 0 export cabinet --json --quiet
is_empty err
json 'any("Line 2" in w for w in it["warnings"])'
done_testing
