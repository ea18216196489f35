#!/bin/sh
# How long the reports of a job of many photos take: 200 of 12 megapixels, told apart by a comment in the file, with a pass
# after every tenth. To reach: under 10 seconds each. Needs cjpeg (libjpeg-turbo-progs) and GNU time; build without
# sanitizers. Making the job takes some minutes.
#
#   bench_report.sh BUILD_FOLDER [PHOTOS]
set -eu
build=$(cd "$1" && pwd)
photos=${2:-200}
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
export XDG_DATA_HOME="$scratch/own"
cd "$scratch"
"$build/make_photo" | cjpeg -quality 92 -sample 2x2 -outfile one.jpg
"$build/huewright" start job --title "Many photos" > /dev/null
marks="--card 200,200,400,300 --target a=1000,300,400,300 --target b=1000,1200,400,300 --target c=1000,2200,400,300
    --target d=2000,300,400,300 --patch new=2600,1200,400,300"
for i in $(seq "$photos"); do
    # A comment (marker FFFE, two bytes of length, six of text) right behind the start of the picture.
    { head -c 2 one.jpg; printf '\377\376\000\010%06d' "$i"; tail -c +3 one.jpg; } > next.jpg
    # shellcheck disable=SC2086 # words
    "$build/huewright" photo job next.jpg $marks --view front --quiet > /dev/null
    if [ $((i % 10)) -eq 0 ]; then
        "$build/huewright" pass job --patch new --dye brown=1/4 --passes 1 --quiet > /dev/null
    fi
done
for reader in customer shop spray-room; do
    /usr/bin/time -f "$reader: %e s, %M KiB" "$build/huewright" report job --for $reader --quiet
done
/usr/bin/time -f "opening and telling the history: %e s, %M KiB" "$build/huewright" history job > /dev/null
