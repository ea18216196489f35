#!/bin/sh
# Installs the Debian packages that are named and not there yet; says what it does. With root's rights,
# else through sudo.
set -eu
missing=
for package in "$@"; do
    if ! dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'install ok installed'; then
        missing="$missing $package"
    fi
done
[ -n "$missing" ] || exit 0
echo "== installing:$missing"
as_root=
if [ "$(id -u)" -ne 0 ]; then
    command -v sudo > /dev/null || {
        echo "Not root and no sudo here. As root: apt-get install$missing" >&2
        exit 4
    }
    as_root=sudo
fi
export DEBIAN_FRONTEND=noninteractive
$as_root apt-get update -q
# shellcheck disable=SC2086 # a list of words
$as_root env DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends $missing
