#!/bin/sh
# Sizes of quantities by the tone stage, against GNU units (Debian units): alike within 1 in a billion.
#
#   check_units.sh QUANTITY_SIZES
set -eu
sizes=$1
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
command -v units > /dev/null || { echo "units is missing (Debian package units)"; exit 1; }
# In what | as it is typed | the same in the words of GNU units.
cat > "$scratch/list" << 'END'
ml|3 tsp|3 usteaspoon
ml|2 tbsp|2 ustablespoon
ml|1 fl oz|usfluidounce
ml|1/4 fl oz|0.25 usfluidounce
ml|1 cup|uscup
ml|1 pint|uspint
ml|1 1/2 qt|1.5 usquart
ml|1 gal|231 inch^3
ml|2.5 cl|2.5 centiliter
ml|3 dl|3 deciliter
ml|0.7 l|0.7 liter
g|1 oz|ounce
g|2 lb|2 pound
mm|3 1/2 in|3.5 inch
mm|6 ft|6 foot
cm2|2 sqft|2 foot^2
cm2|1 sq in|inch^2
cm2|4x30in|4 inch 30 inch
cm2|12x90cm|12 cm 90 cm
cm2|0.3 m2|0.3 m^2
min|45|45 minute
min|1 1/2 h|1.5 hour
g/l|1 lb cut|pound / usgallon
g/l|2 lb cut|2 pound / usgallon
g/l|1 oz in 1 qt|ounce / usquart
g/l|1 oz in 4 fl oz|ounce / 4 usfluidounce
END
cut -d'|' -f1,2 "$scratch/list" | tr '|' ' ' | "$sizes" > "$scratch/ours"
while IFS='|' read -r in typed theirs; do
    units --terse --output-format '%.15g' "$theirs" "$(echo "$in" | sed 's/cm2/cm^2/')"
done < "$scratch/list" > "$scratch/theirs"
paste "$scratch/ours" "$scratch/theirs" | awk '
    NF != 2 || $2 <= 0 { bad++; print "line " NR ": " $0; next }
    { d = $1 / $2 - 1; if (d < 0) d = -d; if (d > most) most = d; n++ }
    !(d <= 1e-9) { bad++; print "line " NR ": " $0 }
    END { printf "%d quantities, largest difference %.1e, %d failed\n", n, most, bad; exit !(n == 26 && bad == 0) }'
