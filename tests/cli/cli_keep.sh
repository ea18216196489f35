#!/bin/sh
# check, pack and unpack from outside; python3's zipfile and Info-ZIP's zip, where they are, stand on the
# other side of a pack.
. "$(dirname "$0")/shop.inc"
"$maker" one.jpg && "$maker" two.jpg --repair 47,11,24.3 || exit 2

run 0 start 'Büro 1' --title 'Hall bench "oak"'
run 0 photo 'Büro 1' one.jpg --card "$card" --target "left=$left" --patch "strip=$strip"
run 0 pass 'Büro 1' --patch strip --dye red=1/4
run 0 photo 'Büro 1' two.jpg
run 0 check 'Büro 1'
says out 'All that was saved in Büro 1 is there: '
says out '2 photos.'
events=$(wc -l < 'Büro 1/log.jsonl')
run 0 check 'Büro 1' --json --exit-status
json "it['all_there'] and it['lines'] == {'whole': $events, 'bad': 0, 'torn': 0} and it['findings'] == []"
json 'it["photos"] == {"whole": 2, "missing": 0, "changed": 0, "unknown": 0} and it["title"] == "Hall bench \"oak\""'

# ---- A pack, as others see it
run 0 pack 'Büro 1' bench.zip
says out "Packed and read back: bench.zip, $events events, 2 photos"
python3 - > report 2>&1 << 'END'
import hashlib, os, zipfile
pack = zipfile.ZipFile("bench.zip")
assert pack.testzip() is None
names = pack.namelist()
wanted = {"Büro 1/", "Büro 1/photos/"}
for folder, _, files in os.walk("Büro 1"):
    wanted |= {folder + "/" + name for name in files if not name.startswith("look-")} # made again where missing
assert set(names) == wanted and len(names) == len(set(names)), names
for info in pack.infolist():
    if not info.is_dir():
        assert pack.read(info) == open(info.filename, "rb").read(), info.filename
    # photos are stored, texts deflated; nobody's user number, nothing but what all may read
    photo = info.filename.startswith("Büro 1/photos/")
    assert info.compress_type == (zipfile.ZIP_STORED if photo or info.is_dir() else zipfile.ZIP_DEFLATED)
    assert info.external_attr >> 16 == (0o40755 if info.is_dir() else 0o100644), info
END
if [ $? -eq 0 ]; then good; else cat report; bad 'python3 does not read the pack'; fi
sleep 2 # zip's times are even seconds
run 0 pack 'Büro 1' again.zip --json
json 'it["file"] == "again.zip" and it["name"] == "Büro 1" and it["photos"] == 2 and it["findings"] == []'
cmp -s bench.zip again.zip && good || bad 'the same job gives other bytes'
(cd 'Büro 1' && "$program" pack . ../third.zip > /dev/null) && cmp -s bench.zip third.zip && good ||
    bad 'a job named . gives other bytes'
run 2 pack 'Büro 1' bench.zip
refused 'bench.zip'
run 3 pack nowhere x.zip
refused 'nowhere'
[ ! -e x.zip ] && good || bad 'a refused pack leaves no file'

# ---- Unpacked: the very same files
run 2 unpack bench.zip
refused 'huewright unpack FILE FOLDER'
run 0 unpack bench.zip back
says out 'Unpacked bench.zip into back: '
says out 'All that was saved in back is there: '
diff -r -x 'look-*' 'Büro 1' back > report && good || { cat report; bad 'unpacked files differ'; }
run 0 history back
mv 'Büro 1' moved
run 0 unpack bench.zip --json
json 'it["folder"] == "Büro 1" and it["check"]["all_there"] and it["left_aside"] == 0 and it["findings"] == []'
diff -r -x 'look-*' moved 'Büro 1' > report && good || { cat report; bad 'unpacked files differ'; }

# ---- Packs by other programs: stored and deflated, with and without the folder, as a stream
python3 - << 'END' || exit 2
import io, os, zipfile
files = []
for folder, _, names in os.walk("moved"):
    files += [os.path.join(folder, name) for name in names]
for way, method in (("stored", zipfile.ZIP_STORED), ("deflated", zipfile.ZIP_DEFLATED)):
    with zipfile.ZipFile(way + "-in.zip", "w", method) as pack:
        for name in files: pack.write(name)
    with zipfile.ZipFile(way + "-bare.zip", "w", method) as pack:
        for name in files: pack.write(name, os.path.relpath(name, "moved"))
        pack.writestr("notes.txt", "read me")
class Stream(io.RawIOBase):
    def __init__(self): self.bytes = b""
    def writable(self): return True
    def write(self, data): self.bytes += bytes(data); return len(data)
stream = Stream()
with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as pack:
    for name in files: pack.write(name)
open("stream.zip", "wb").write(stream.bytes)
with zipfile.ZipFile("bzip2.zip", "w", zipfile.ZIP_BZIP2) as pack:
    for name in files: pack.write(name)
with zipfile.ZipFile("evil.zip", "w") as pack:
    for name in files: pack.write(name)
    pack.writestr("moved/../../evil.txt", "x")
damaged = bytearray(open("stored-in.zip", "rb").read())
at = damaged.index(b"\xff\xd8\xff") + 1000 # inside a JPEG
damaged[at] ^= 1
open("damaged.zip", "wb").write(damaged)
END
for pack in stored-in deflated-in stored-bare deflated-bare stream; do
    run 0 unpack $pack.zip from-$pack --exit-status
    diff -r -x "look-*" moved from-$pack > report && good || { cat report; bad "$pack: unpacked files differ"; }
done
run 0 unpack stored-bare.zip
says out 'into stored-bare: '
says out 'note: notes.txt: Left in the pack: it is no file of a job.'
run 3 unpack bzip2.zip from-bzip2
refused 'does not read'
run 3 unpack evil.zip from-evil
refused 'leads out of the folder'
[ ! -e from-evil ] && [ ! -e ../evil.txt ] && [ ! -e evil.txt ] && good || bad 'something was made of an evil pack'
run 0 unpack damaged.zip from-damaged
says out 'LOST: photos/'
says out 'Not all that was saved in from-damaged is there: 1 photo is missing. Whole: '
rm -rf from-damaged
run 1 unpack damaged.zip from-damaged --exit-status
head -c 2000 bench.zip > cut.zip
run 3 unpack cut.zip from-cut
refused 'cut short'
run 3 unpack one.jpg from-photo
refused 'kind of file'
run 3 unpack one.jpg from-photo --json
json 'it["error"]["code"] == "pack-unknown"'
run 3 unpack gone.zip
refused 'gone.zip'
if command -v zip > /dev/null; then # edited by another program: a file more, one less
    cp bench.zip edited.zip
    mkdir -p x && echo hello > x/hello.txt
    zip -q edited.zip x/hello.txt && zip -q -d edited.zip '*.jpg'
    run 1 unpack edited.zip from-edited --exit-status
    says out 'Left in the pack'
    says out '2 photos are missing'
else
    echo 'not tested here: no zip(1)'
fi

# ---- A folder that suffered
cp -R moved hurt
printf '{"event":"pa' >> hurt/log.jsonl
run 0 check hurt --exit-status
says out 'All that was saved in hurt is there'
says out 'mended: log.jsonl: '
cmp -s moved/log.jsonl hurt/log.jsonl && [ -s hurt/log.jsonl.torn-* ] && good || bad 'the tail was not moved aside'
run 0 check hurt
says_not out 'mended'
sed -i '2s/photo/phoho/' hurt/log.jsonl
photo=$(ls hurt/photos | head -n 1)
echo x >> "hurt/photos/$photo"
run 1 check hurt --exit-status
says out '1 line of the log is damaged, '
says out 'LOST: log.jsonl, line 2: '
run 0 check hurt --quiet
[ "$(wc -l < out)" -eq 1 ] && good || bad 'quiet is one line'
run 0 pack hurt hurt.zip
says out 'NOT ALL of the job is whole in it.'
run 1 pack hurt hurt2.zip --exit-status
rm hurt/job.json
run 1 check hurt --exit-status
says out 'job.json is missing'
run 3 check nowhere
refused 'nowhere'
run 3 check .
refused 'no job in this folder'

# ---- A folder that may only be read is packed; one that may not be written is refused
if [ "$(id -u)" -eq 0 ] && command -v setpriv > /dev/null; then
    place_of_all=$(mktemp -d) && cp "$program" "$place_of_all/huewright" && cp -R moved bench.zip "$place_of_all/"
    mkdir "$place_of_all/own" && chmod -R a+rX,go-w "$place_of_all" && chmod 777 "$place_of_all/own"
    ordinary() {
        wanted=$1; shift
        (cd "$place_of_all" && setpriv --reuid=65534 --regid=65534 --clear-groups -- ./huewright "$@") > out 2> err < /dev/null
        code=$?
        [ "$code" -eq "$wanted" ] && good || bad "exit $code instead of $wanted: huewright $*"
    }
    ordinary 0 pack moved own/moved.zip
    ordinary 0 check moved
    ordinary 4 pack moved moved.zip
    refused 'may not write'
    ordinary 4 unpack bench.zip here
    refused 'may not write'
    rm -rf "$place_of_all"
else
    echo 'not tested here: not root, or no setpriv(1)'
fi
ls -A | grep -qE '\.new-' && bad 'half a file lies about' || good
done_testing
