#!/bin/sh
# The include check must catch each kind of break: a copy of the tree, one break planted at a time.
set -u
root=$1
scratch=$(mktemp -d) || exit 2
trap 'rm -rf "$scratch"' EXIT
cp -r "$root/include" "$root/src" "$scratch"
passed=0 failed=0
expect() { # file, line to add, words of the complaint
    cp "$scratch/$1" "$scratch/kept" 2>/dev/null || : > "$scratch/kept"
    echo "$2" >> "$scratch/$1"
    if sh "$root/tests/check_includes.sh" "$scratch" | grep -qF "$3"; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "not caught: $2 in $1"
    fi
    cp "$scratch/kept" "$scratch/$1"
}
touch "$scratch/src/card/planted.c" "$scratch/src/cli/planted.c"
expect src/card/planted.c '#include "huewright/tone.h"' 'card comes before tone'
expect src/card/planted.c '#include "photo_internal.h"' 'internal to src/photo'
expect src/card/planted.c '#include <lcms2.h>' 'only photo_icc.c'
expect src/card/planted.c '#include <cjson/cJSON.h>' 'only base_json.c'
expect src/card/planted.c '#include <archive.h>' 'only base_pack.c'
expect src/card/planted.c '#include "../tone/x.h"' 'no way up'
expect src/card/planted.c '#include <unistd.h>' 'POSIX lives'
expect src/card/planted.c '#include "huewright/huewright.h"' 'for front ends'
expect src/cli/planted.c '#include "tone_internal.h"' 'internal to src/tone'
expect include/huewright/card.h '#include "base_internal.h"' 'internal to src/base'
expect include/huewright/card.h '#include <unistd.h>' 'standard C only'
if sh "$root/tests/check_includes.sh" "$scratch" > "$scratch/clean"; then
    passed=$((passed + 1))
else
    failed=$((failed + 1)); cat "$scratch/clean"
fi
echo "$passed passed, $failed failed"
[ "$failed" = 0 ]
