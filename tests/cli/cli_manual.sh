#!/bin/sh
# The manual and the option tables say the same, and the manual renders without a warning.
. "$(dirname "$0")/shop.inc"
manual=$tree/src/cli/huewright.1
run 0 help --json
python3 - "$manual" > report << 'END'
import json, re, sys
told = {}
for command in json.load(open("out", encoding="utf-8"))["commands"]:
    told[command["name"]] = {(o["name"], o["value"] or "", o["repeat"]) for o in command["options"]}
    if command["marks"]:
        told["MARKS"] = {(o["name"], o["value"], o["repeat"]) for o in command["marks"]}
    told["Everywhere"] = {(o["name"], "", False) for o in command["everywhere"]}
manual, section, option = {}, None, None
for line in open(sys.argv[1], encoding="utf-8"):
    if head := re.match(r"\.(Ss|Sh) (.*)", line):
        section = head[2]
        if head[1] == "Ss" or section == "MARKS":
            manual.setdefault(section, set())
    elif item := re.match(r"\.It Fl -(\S+)(?: Ar (\S+))?", line):
        option = (item[1], item[2] or "")
        manual[section].add(option + (False,))
    elif line == "May be repeated.\n":
        manual[section].discard(option + (False,))
        manual[section].add(option + (True,))
for name in sorted(set(told) | set(manual)):
    if told.get(name) != manual.get(name):
        print(name, "tables only:", (told.get(name) or set()) - (manual.get(name) or set()),
              "manual only:", (manual.get(name) or set()) - (told.get(name) or set()))
if len(told) < 9: print("too few commands were compared")
END
if [ $? -eq 0 ] && [ ! -s report ]; then good; else cat report; bad 'manual and tables differ'; fi
if command -v man > /dev/null; then
    LC_ALL=C.UTF-8 MANWIDTH=100 man --warnings -E UTF-8 -l "$manual" > out 2> err
    is_empty err
    says out 'EXIT STATUS'
else
    echo 'not tested here: no man(1)'
fi
if command -v mandoc > /dev/null; then
    mandoc -T lint -W warning "$manual" > report 2>&1 && good || { cat report; bad 'mandoc has warnings'; }
fi
done_testing
