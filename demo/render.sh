#!/bin/sh
# Makes the demo photos anew, with their truth (NAME.json) and marks (NAME-marks.json) beside them. Needs the
# tests' build (tests/run.sh installs what that takes).
set -eu
cd "$(dirname "$0")/.."
cmake -S . -B build/render > /dev/null
cmake --build build/render -j "$(nproc)" --target hw_scene > /dev/null
scene=build/render/hw_scene
$scene lid demo --name cabinet-lid-1
# The same lid after one pass, in a shop whose passes are a little stronger than the guess; exposure and noise
# are those of another shot. Then once more under a warm lamp.
$scene lid demo --name cabinet-lid-2 --dye red=0.25x1 --dye black=0.5x1 --shop-strength 1.15 --exposure 0.94 --noise-seed 2
$scene lid demo --name cabinet-lid-3 --dye red=0.25x1 --dye black=0.5x1 --shop-strength 1.15 --exposure 0.94 --noise-seed 3 --lamp 2856
# The second once more, held by hand elsewhere: the photo alone, its marks are carried there.
$scene lid demo --name cabinet-lid-2-hand --dye red=0.25x1 --dye black=0.5x1 --shop-strength 1.15 --exposure 0.92 --noise-seed 4 --held 4,0.95,25,-15
$scene doors demo --name cabinet-doors
$scene front demo --name cabinet-front
$scene bench demo --name hall-bench
$scene board demo --name stepboard
mv demo/stepboard.json demo/stepboard-truth.json # no repair on it: nothing for the accuracy run
ls -l demo/*.jpg
