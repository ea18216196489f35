#!/bin/sh
# A whole `huewright read` of a 12-megapixel JPEG with six regions of 1 % each, side by side with a bare
# stb_image decode of the same file; baseline 4:2:0 and progressive, with the card alone and with two steps
# beside it, so that a tone curve is taken out. To reach: ratio at most 1.5, largest
# process at most 150 MiB (baseline) and 200 MiB (progressive). Needs cjpeg (libjpeg-turbo-progs).
#
#   bench_read.sh BUILD_FOLDER [RUNS]
set -eu
build=$1
runs=${2:-11}
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
"$build/make_photo" > "$scratch/photo.ppm"
cjpeg -quality 92 -sample 2x2 -outfile "$scratch/baseline.jpg" "$scratch/photo.ppm"
cjpeg -quality 92 -sample 2x2 -progressive -outfile "$scratch/progressive.jpg" "$scratch/photo.ppm"
regions="--card 200,200,400,300 --target a=1000,300,400,300 --target b=1000,1200,400,300 \
    --target c=1000,2200,400,300 --target d=2000,300,400,300 --patch new=2600,1200,400,300"
steps="--neutral white=200,500,190,200 --neutral black=410,500,190,200"
for kind in baseline progressive; do
    for more in "" "$steps"; do
        printf '%s, %s bytes%s: ' "$kind" "$(wc -c < "$scratch/$kind.jpg")" "${more:+, with steps}"
        "$build/side_by_side" "$runs" \
            "exec $build/huewright read $scratch/$kind.jpg $regions $more" \
            "exec $build/bare_decode $scratch/$kind.jpg"
    done
done
