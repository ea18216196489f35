#!/bin/sh
# Pictures and reports of a job: each of them is made, is what its name says, and each refusal says what to do.
. "$(dirname "$0")/shop.inc"
maker_photo() { "$maker" "$@" || exit 2; }
maker_photo one.jpg
maker_photo two.jpg --repair 47,9,25 --exposure 0.93
dtd=/usr/share/xml/w3c-sgml-lib/schema/dtd/REC-SVG11-20110816/svg11.dtd

run 0 start cabinet --title 'Walnut <script>document.title="ran"</script> & "cabinet"'
run 2 picture cabinet rulers
refused 'this job has no photo yet'
run 0 report cabinet --output empty.html
run 0 photo cabinet one.jpg --card $card --target left=$left --target right=$right --patch strip=$strip --lamp bench
lines() { wc -l < cabinet/log.jsonl; }
before=$(lines)

# ---- On the terminal
for what in swatches rulers path; do
    run 0 picture cabinet $what
    says out strip
done
run 0 picture cabinet rulers
for word in darker lighter greener redder bluer yellower; do says out $word; done

# ---- As files
png=yes
run 0 version
"$program" picture cabinet rulers --output probe.png > out 2> err || png=no
[ $png = yes ] || says err 'built without the library that draws PNG'
for what in corrected swatches rulers seam path looks piece map; do
    run 0 picture cabinet $what --output $what.svg
    says out "Written: $what.svg"
    python3 -c 'import sys, xml.dom.minidom; xml.dom.minidom.parse(sys.argv[1])' $what.svg && good || bad "$what.svg is no XML"
    [ ! -e $dtd ] || { xmllint --nonet --noout --dtdvalid $dtd $what.svg && good || bad "$what.svg is no SVG 1.1"; }
    grep -q '<script' $what.svg && bad "$what.svg holds a script" || good
    [ $png = yes ] || continue
    run 0 picture cabinet $what --output $what.png --width 500
    python3 - $what.png << 'END' && good || bad "$what.png is no PNG of that width"
import struct, sys
head = open(sys.argv[1], "rb").read(24)
sys.exit(0 if head[:8] == b"\x89PNG\r\n\x1a\n" and struct.unpack(">I", head[16:20])[0] == 500 else 1)
END
done
form=png
[ $png = yes ] || form=svg
run 0 picture cabinet looks
[ -s cabinet-looks.$form ] && good || bad 'no file under its own name'
run 2 picture cabinet looks
refused 'a file of this name is there already'
says err '--replace'
run 0 picture cabinet looks --replace --json
json 'it["picture"]["kind"] == "looks" and it["picture"]["file"].startswith("cabinet-looks.") and it["picture"]["patch"] == "strip"'
run 0 picture cabinet rulers --json --output r.svg
json 'it["picture"]["photo"] == 2'
run 0 picture cabinet looks --dye brown=1/2 --passes 2 --output mine.svg
run 0 picture cabinet path --dye brown=1/2 --passes 3
says out brown
[ "$(lines)" -eq "$before" ] && good || bad 'a picture was logged'

# ---- Refusals
run 2 picture cabinet portrait
refused 'there is no such picture'
says err 'before-after'
run 2 picture cabinet looks --output looks.gif
refused '.png'
run 2 picture cabinet looks --patch door --output x.svg
refused door
run 2 picture cabinet map --view back
refused back
run 2 picture cabinet rulers --photo 99
refused '99'
run 2 picture cabinet map --distance far --output x.svg
refused far
run 2 picture cabinet map --width 5 --output x.svg
refused '100 to 10000'
run 2 picture cabinet map --distance 1mm --output x.svg
refused 'is not between'
run 0 picture cabinet map --distance 20m --output far.svg
run 2 picture cabinet rulers --dye red=1/4
refused 'no meaning for this picture'
run 2 picture cabinet piece --patch strip --output x.svg
refused 'one repair has no meaning'
run 2 picture cabinet map --replace --output cabinet/log.jsonl.svg
refused 'a job'
run 2 report cabinet --replace --output cabinet/log.jsonl
refused '.html'
run 2 report cabinet --replace --output cabinet/photos/x.html
refused 'holds the job and nothing else'
run 2 picture cabinet looks --passes 2 --output x.svg
refused 'Name the liquid'
run 2 picture cabinet looks --dye nosuch=1 --output x.svg
refused nosuch
run 2 picture cabinet before-after --output x.svg
refused 'no earlier photo'
run 4 picture cabinet rulers --output no/such/folder/x.svg
run 2 report cabinet --for neighbour
refused 'spray-room'
[ ! -e x.svg ] && good || bad 'a refused picture left a file'

# ---- Before and after
run 0 pass cabinet --patch strip --dye brown=1/2 --passes 1
run 0 picture cabinet path
says out 'Photograph it first'
says out 'the way so far'
run 2 picture cabinet looks --output x.svg
refused 'Photograph it first'
run 0 photo cabinet two.jpg --lamp bench --dry
run 0 picture cabinet before-after --output both.svg
says both.svg 'put right by'
run 0 picture cabinet rulers
says out '◇ in photo 2'
run 0 picture cabinet path --dye brown=1/2 --passes 2
says out 'Photo 2, nothing laid'
says out 'Now, 1 pass laid'
run 2 picture cabinet path --photo 2
refused 'rests on photo'
# Another lamp does not stand beside this one; a reading of an instrument has rulers, and no picture.
"$maker" three.jpg --repair 47,9,26 --exposure 0.9 || exit 2
run 0 photo cabinet three.jpg --lamp home --dry
run 0 picture cabinet rulers
says_not out home
number=$(python3 -c 'import json
print(max(e["number"] for e in map(json.loads, open("cabinet/log.jsonl")) if e["event"] == "photo_added"))')
run 0 picture cabinet rulers --photo "$number"
says out home
says_not out '◇'
printf 'name,L*,a*,b*\nleft,44,10,24\nright,45,10,24\nstrip,50,8,25\n' > spots.csv
run 0 import cabinet spots.csv
run 0 picture cabinet rulers
run 0 picture cabinet corrected --output after-import.svg
run 0 picture cabinet looks --output after-import.svg --replace
run 0 report cabinet --for shop --output after-import.html
# A folder's name cannot move the cursor.
odd=$(printf 'e\033[31mv')
cp -r cabinet "$odd"
run 0 report "$odd" --for spray-room
grep -q "$(printf '\033')" out && bad 'a raw escape went to the terminal' || good

# ---- Reports
for whom in customer shop spray-room; do
    run 0 report cabinet --for $whom
    says out "Written: cabinet-$whom.html"
    grep -q '<script' cabinet-$whom.html && bad "$whom: a name became a script" || good
    grep -Eo '(src|href)="[^"#]{0,12}' cabinet-$whom.html | grep -v -e '="data:' -e '="$' > outside
    is_empty outside
done
run 2 report cabinet
refused 'a file of this name is there already'
run 0 report cabinet --replace --json
json 'it["report"]["for"] == "customer"'
# A photo that is gone is told of; the rest is there.
chmod u+w cabinet/photos/* && rm -f cabinet/photos/*
run 0 report cabinet --for shop --replace
says err 'is left out'
run 3 picture cabinet corrected --output x.svg

# ---- Killed on the way, the old file stays whole.
cp cabinet-shop.html kept.html
for after in 0.02 0.05 0.1 0.2 0.4 0.8; do
    timeout -s KILL $after "$program" report cabinet --for shop --replace > out 2> err
    tail -c 8 cabinet-shop.html | grep -q '</html>' && good || bad 'a killed report left half a file'
done
done_testing
