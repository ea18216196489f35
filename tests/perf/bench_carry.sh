#!/bin/sh
# Carrying marks to a photo of 12 megapixels: ours, and OpenCV's features, pairs and homography on the same pair in the same
# run. Needs python3-opencv. Build without sanitizers.
#
#   bench_carry.sh BUILD_FOLDER [RUNS]
set -eu
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
"$1/bench_carry" "${2:-7}" "$scratch"
/usr/bin/python3 "$(dirname "$0")/carry_features.py" "${2:-7}" "$scratch"
