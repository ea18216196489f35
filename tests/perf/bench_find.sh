#!/bin/sh
# Finding the card in photos of 12 megapixels: ours, and a textbook search by OpenCV over the same files in the same run. Needs
# python3-opencv. Build without sanitizers.
#
#   bench_find.sh BUILD_FOLDER [RUNS] [SCENES]
set -eu
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
"$1/bench_find" "$scratch" "${2:-11}" "${3:-4}"
/usr/bin/python3 "$(dirname "$0")/find_quads.py" "${2:-11}" "$scratch"
