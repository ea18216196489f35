#!/usr/bin/python3
"""Phrases that name options or commands, in the stages' sentences and in the table that words them for the page.

    check_words.py SOURCE-FOLDER

Every phrase of src/server/server_words.c must stand in the sources, and every sentence of a stage that names an option or
a command must be worded by the table, or be listed below as one that no request of the page can meet, with the reason.
"""
import pathlib
import re
import sys

root = pathlib.Path(sys.argv[1])
STAGES = "base colour measure photo mark card sample compare tone picture job report steps".split()

# Parts of sentences that are not reached by way of the page, by file.
APART = {
    "steps_camera.c": "cameras are learned on the command line",
    "card_learn.c": "cameras are learned on the command line",
    "job_camera.c": "cameras are learned on the command line",
    "steps_import.c": "instruments are read in on the command line",
    "report_import.c": "instruments are read in on the command line",
    "base_pack.c": "packs are taken out on the command line",
    "job_unpack.c": "packs are taken out on the command line",
    "job_check.c": "folders are checked on the command line",
    "report_export.c": "exports are made on the command line",
    "report_camera.c": "text for a terminal",
    "report_board.c": "text for a terminal",
    "report_day.c": "text for a terminal",
    "report_advice.c": "text for a terminal",
    "report_shelf.c": "text for a terminal",
    "report_reading.c": "text for a terminal",
}
APART_PHRASES = {
    "steps_follow.c": ["marks of its own: --marks", "with --marks and that"],  # the page always sends marks
    "steps_fix.c": ["huewright note.", "--jar %ld, or with --dye", "--card-lab"],  # the page withdraws, and changes nothing else
    "steps_picture.c": ["--passes", "--dye red=1/4, or --jar", "help picture"],  # it never asks for such a picture
    "steps_shelf.c": ["--shelf FILE"],  # said before the page is served
    "steps_place.c": ["--card 590", "--%s", "--neutral", "--chart"],  # the option itself
}


def literals(text):
    """String literals of a C file, those that follow each other joined."""
    text = re.sub(r"/\*.*?\*/", "", text, flags=re.S)
    text = "\n".join(line for line in text.split("\n") if not re.match(r"\s*(//|#\s*include)", line))
    parts = re.findall(r'"(?:[^"\\\n]|\\.)*"(?:\s*"(?:[^"\\\n]|\\.)*")*', text)
    return ["".join(re.findall(r'"((?:[^"\\\n]|\\.)*)"', part)) for part in parts]


table = (root / "src/server/server_words.c").read_text()
table = table[table.index("static const phrase phrases[]"):table.index("};", table.index("static const phrase phrases[]"))]
entries = re.findall(r'\{((?:\s*"(?:[^"\\\n]|\\.)*")+),((?:\s*"(?:[^"\\\n]|\\.)*")+)\}', table)
join = lambda part: "".join(re.findall(r'"((?:[^"\\\n]|\\.)*)"', part))
phrases = [join(here).replace('\\\\\\"', '\\"') for here, _ in entries]  # one level of backslashes less: as in the sources
page = [join(words) for _, words in entries]

sentences = {}
for stage in STAGES:
    for path in sorted((root / "src" / stage).glob("*.c")):
        for literal in literals(path.read_text()):
            sentences.setdefault(path.name, []).append(literal)
everything = "\0".join(s for all_of in sentences.values() for s in all_of)

bad = 0
if len(phrases) < 20 or len(sentences) < 50:
    print("too little was found to check:", len(phrases), "phrases,", len(sentences), "files")
    bad += 1
for phrase in phrases:
    if phrase not in everything:
        print("no sentence holds this phrase any more:", phrase)
        bad += 1
COMMANDS = "read start photo advise pass coat takeoff jar set fix note approve history lamps report picture export import pack unpack check camera shelf stepboard page help"
names_terminal = re.compile(r"huewright (?:" + "|".join(COMMANDS.split()) + r")\b|(?<![-\w])--[a-z]")
for words in page:
    if names_terminal.search(words):
        print("this is meant for the page and names the command line:", words)
        bad += 1
for name, all_of in sentences.items():
    if name in APART:
        continue
    for sentence in all_of:
        rest = sentence
        for phrase in phrases:
            rest = rest.replace(phrase, "")
        for apart in APART_PHRASES.get(name, []):
            rest = rest.replace(apart, "")
        found = names_terminal.search(rest)
        if found and "JOB" != rest:
            print(f"{name}: a page would show: {rest!r}")
            bad += 1
print(f"{len(phrases)} phrases, {bad} faults")
sys.exit(1 if bad else 0)
