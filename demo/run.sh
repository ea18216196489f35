#!/bin/sh
# The main job on the demo photos, from a fresh Debian 12: installs what is missing, builds, then
# reads, judges, advises, logs a pass, and reads again. Shows each command before it runs. Works as root
# and with sudo.
set -eu
cd "$(dirname "$0")/.."
tests/install.sh gcc g++ make cmake pkg-config libstb-dev liblcms2-dev libcjson-dev nettle-dev zlib1g-dev libarchive-dev \
    libheif-dev libraw-dev libvlfeat-dev librsvg2-dev libmicrohttpd-dev libqrencode-dev node-d3-zoom fonts-dejavu-core
echo "== building huewright"
log=$(mktemp)
workshop=$(mktemp -d)
trap 'rm -rf "$log" "$workshop"' EXIT
if ! { cmake -S . -B build -DBUILD_TESTING=OFF && cmake --build build -j "$(nproc)"; } > "$log" 2>&1; then
    cat "$log" >&2
    exit 4
fi

XDG_DATA_HOME=$workshop/own # the demo does not touch your own shelf
export XDG_DATA_HOME
program=$PWD/build/huewright
cp demo/*.jpg demo/*-marks.json "$workshop"
cd "$workshop"

huewright() {
    printf '\n$ huewright'
    for word in "$@"; do
        case $word in
        *[!A-Za-z0-9_./=,:-]* | '') printf " '%s'" "$word" ;;
        *) printf ' %s' "$word" ;;
        esac
    done
    printf '\n\n'
    "$program" "$@"
}
say() {
    printf '\n\n== %s\n' "$1"
}

say "A walnut gramophone cabinet. The lid has a strip let in; after the sealer it shows."
huewright start cabinet --title "Walnut gramophone cabinet"
huewright photo cabinet cabinet-lid-1.jpg --marks cabinet-lid-1-marks.json --view lid \
    --lamp "shop lamp" --state "lid strip=sealed"

say "What to lay next? No dye was seen on this finisher's work yet, so all is a guess, and one weak pass is all that may be laid before the next look."
huewright advise cabinet --patch "lid strip"

say "Laid, dried, logged."
huewright pass cabinet --patch "lid strip" --dye red=1/4 --dye black=1/2 --passes 1 --note "sprayed, dried an hour"

say "Photographed again from the same place: the marks are where they were."
huewright photo cabinet cabinet-lid-2.jpg --view lid --lamp "shop lamp" --state "lid strip=sealed"
huewright advise cabinet --patch "lid strip"
huewright note cabinet "customer comes on Friday"
huewright history cabinet

say "The lid once more, from the hand and from elsewhere: the marks are carried to where the wood lies now, the card is found, and the two photos are read together."
huewright read cabinet-lid-2.jpg cabinet-lid-2-hand.jpg --marks cabinet-lid-2-marks.json

say "The same under the customer's lamp: does the match hold there? Two photos tell, one would not."
huewright photo cabinet cabinet-lid-3.jpg --view lid --lamp "customer's lamp"
huewright lamps cabinet

say "What the next pass will look like, where the repair stands, and the report for the customer: pictures and one file for a browser."
huewright picture cabinet rulers
huewright picture cabinet path
huewright picture cabinet looks --dye red=1/4 --passes 2
huewright picture cabinet before-after
huewright set cabinet --card-size 11x8cm
huewright picture cabinet map --distance 1.5m
huewright report cabinet
huewright report cabinet --for shop
huewright report cabinet --for spray-room

say "Is all there that was saved? And the job in one file, for keeping or sending."
huewright check cabinet
huewright pack cabinet cabinet.zip

say "The two doors differ as the boards of this piece do. Nothing to do."
huewright read cabinet-doors.jpg --marks cabinet-doors-marks.json

say "An oak hall bench: one repair too pale, one already darker than the old wood."
huewright read hall-bench.jpg --marks hall-bench-marks.json

say "The front of the cabinet has five repairs. What holds for the job is said once; then few jars do for all of them."
huewright start front --title "Walnut gramophone cabinet, front"
huewright photo front cabinet-front.jpg --marks cabinet-front-marks.json --view front --lamp "shop lamp" --quiet
huewright set front --coats 2 --over all --recoat 30 --card-size 11x8cm
huewright advise front
huewright advise front --json > sheet.json
huewright jar front --dye red=1/4 --dye black=1/2 --volume "4 fl oz"
huewright pass front --patch "cornice piece" --jar 1 --passes 1 --hours 0.5

say "The next job starts from the jars of this one."
huewright start next --from front

say "A step board teaches the shelf two dyes: strips with 0 to 4 passes, photographed with the card."
huewright stepboard stepboard.jpg --marks stepboard-marks.json --dye walnut=brown --dye cherry=red --tool spray
huewright shelf show

mkdir -p "$OLDPWD/build/demo"
cp ./*.png ./*.html "$OLDPWD/build/demo"
say "The pictures and reports of this run are in build/demo: open them in a browser."
rm -rf "$OLDPWD/build/demo/jobs"
mkdir "$OLDPWD/build/demo/jobs"
cp -R cabinet front "$OLDPWD/build/demo/jobs"
say "The same jobs as a page, for the browser here or (with --lan) for the phone in your hand:
   build/huewright page build/demo/jobs"
