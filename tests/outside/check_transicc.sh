#!/bin/sh
# Colours of a photo with an embedded profile, by the photo stage, against LittleCMS' own transicc (Debian
# liblcms2-utils) on the same code values through the same profile: within 0.02 CIE76.
#
#   check_transicc.sh PHOTO_TO_LAB FOLDER      for every NAME.png with its NAME.icc in FOLDER
set -eu
program=$1
folder=$2
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
command -v transicc > /dev/null || { echo "transicc is missing (liblcms2-utils)"; exit 1; }
passed=0
failed=0
for photo in "$folder"/*.png; do
    "$program" "$photo" > "$scratch/ours"
    cut -d' ' -f1-3 "$scratch/ours" > "$scratch/codes"
    # -t1 relative colorimetric, -n terse; *Lab is L*a*b* D50.
    transicc -t1 -i"${photo%.png}.icc" -o'*Lab' -n < "$scratch/codes" > "$scratch/theirs"
    paste -d' ' "$scratch/ours" "$scratch/theirs" > "$scratch/both"
    awk '{ d = sqrt(($4-$7)^2 + ($5-$8)^2 + ($6-$9)^2); if (d > most) most = d; n++; if (!(d <= 0.02)) bad++ }
         END { printf "%d colours, largest difference %.5f\n", n, most; exit !(n > 100 && bad == 0) }' "$scratch/both" \
        && passed=$((passed + 1)) || { failed=$((failed + 1)); echo "failed: $photo"; }
done
echo "$passed passed, $failed failed"
[ "$failed" = 0 ] && [ "$passed" -gt 0 ]
