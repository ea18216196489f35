#!/bin/sh
# Colours of a photo with an embedded profile, by the photo stage, against LittleCMS' own transicc (Debian
# liblcms2-utils) on the same code values through the same profile, cut out of the photo by embedded_profile.py:
# within 0.02 CIE76. The same for 10,000 colours of plain sRGB, against the profile transicc has built in.
#
#   check_transicc.sh PHOTO_TO_LAB SRGB_TO_LAB PHOTO ...
set -eu
photo_to_lab=$1
srgb_to_lab=$2
shift 2
here=$(dirname "$0")
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
command -v transicc > /dev/null || { echo "transicc is missing (liblcms2-utils)"; exit 1; }
command -v python3 > /dev/null || { echo "python3 is missing"; exit 1; }
passed=0
failed=0

# compare NAME PROFILE LEAST: the lines R G B L* a* b* of $scratch/ours, LEAST of them or more.
compare() {
    cut -d' ' -f1-3 "$scratch/ours" > "$scratch/codes"
    # -t1 relative colorimetric, -n terse; *Lab is L*a*b* D50.
    transicc -t1 -i"$2" -o'*Lab' -n < "$scratch/codes" > "$scratch/theirs" 2> "$scratch/said" \
        || cat "$scratch/said"
    paste -d' ' "$scratch/ours" "$scratch/theirs" > "$scratch/both"
    if awk -v least="$3" '
        NF != 9 { bad++; next }
        { d = sqrt(($4-$7)^2 + ($5-$8)^2 + ($6-$9)^2); if (d > most) most = d; n++; if (!(d <= 0.02)) bad++ }
        END { printf "%d colours, largest difference %.5f: ", n, most; exit !(n >= least && bad == 0) }' "$scratch/both"
    then passed=$((passed + 1)); echo "$1"
    else failed=$((failed + 1)); echo "failed: $1"
    fi
}

for photo in "$@"; do
    python3 "$here/embedded_profile.py" "$photo" > "$scratch/profile.icc"
    "$photo_to_lab" "$photo" > "$scratch/ours"
    compare "$photo" "$scratch/profile.icc" 64
done
"$srgb_to_lab" > "$scratch/ours"
compare "plain sRGB" '*sRGB' 10000

echo "$passed passed, $failed failed"
[ "$failed" = 0 ] && [ "$passed" -gt 1 ]
