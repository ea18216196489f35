#!/bin/sh
# Pictures of a whole photo of 12 megapixels, and the difference map beside scikit-image on the same pixels in the same run. To
# reach: all of it under a second on two cores and 200 MiB, the map 20 times as fast. Needs cjpeg (libjpeg-turbo-progs)
# and python3-skimage; build without sanitizers.
#
#   bench_picture.sh BUILD_FOLDER [RUNS]
set -eu
build=$1
runs=${2:-7}
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
"$build/make_photo" | cjpeg -quality 92 -sample 2x2 -outfile "$scratch/photo.jpg"
for steps in "" steps; do
    for kind in looks every; do
        echo "$kind${steps:+ with steps}:"
        "$build/bench_picture" "$kind" "$scratch/photo.jpg" "$runs" $steps
    done
done
"$build/bench_picture" pixels "$scratch/photo.jpg" "$scratch/xyz"
/usr/bin/python3 "$(dirname "$0")/map_skimage.py" "$scratch/xyz" 3
