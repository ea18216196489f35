# A job's folder read by other people's programs alone: Python's zlib, hashlib and json, and the validator of Debian's
# python3-jsonschema (JSON Schema 2020-12) against src/job/log.schema.json.
#
#   check_log.py SCHEMA JOB [EVENT ...]     the EVENTs must all be there
import copy, hashlib, json, pathlib, sys, zlib
import jsonschema

schema = json.load(open(sys.argv[1], encoding="utf-8"))
folder, wanted = pathlib.Path(sys.argv[2]), set(sys.argv[3:])
validator_of = jsonschema.Draft202012Validator
validator_of.check_schema(schema)
validator = validator_of(schema)
faults, seen, mutants, caught, stored = 0, set(), 0, 0, set()


def fault(*words):
    global faults
    faults += 1
    print("fault:", *words)


job = json.load(open(folder / "job.json", encoding="utf-8"))
if job.get("format") != 1 or "title" not in job:
    fault("job.json", job)
for number, line in enumerate(open(folder / "log.jsonl", "rb"), 1):
    if not line.endswith(b"\n"):
        fault(number, "no end of line")
    head, comma, tail = line[:-1].rpartition(b',"crc32":"')
    if not comma or tail != b'%08x"}' % zlib.crc32(head):
        fault(number, "sum")
    event = json.loads(line)
    if list(event)[0] != "event" or list(event)[-1] != "crc32":
        fault(number, "first or last member")
    if event["number"] != number:
        fault(number, "number", event["number"])
    seen.add(event["event"])
    stored |= {event[member] for member in ("photo", "sheet") if member in event}
    stored |= {shot["photo"] for shot in event.get("shots", [])}
    for error in validator.iter_errors(event):
        fault(number, event["event"], "/".join(map(str, error.absolute_path)), error.message[:200])
    # The schema notices what is missing or of another type.
    for member in ("number", "at", "crc32", "patches", "liquid", "passes", "coat", "how", "jar", "part", "text",
                   "by", "photo_event", "of", "marks", "parts", "reading", "patch"):
        if member in event:
            for broken in (None, {"nonsense": []}):
                mutant = copy.deepcopy(event)
                if broken is None:
                    del mutant[member]
                else:
                    mutant[member] = broken
                mutants += 1
                may_lack = broken is None and (event["event"], member) in {
                    ("note", "part"), ("pass_laid", "jar")}
                caught += may_lack or not validator.is_valid(mutant)
for name in stored:
    if hashlib.sha256((folder / name).read_bytes()).hexdigest() != pathlib.Path(name).stem:
        fault(name, "is not what its name says")
if wanted - seen:
    fault("not in this log:", sorted(wanted - seen))
if caught < mutants or mutants == 0:
    fault(mutants - caught, "of", mutants, "broken events pass the schema")
print(f"{number} lines, {len(seen)} kinds of events, {len(stored)} files, {mutants} broken events: {faults} faults")
sys.exit(1 if faults else 0)
