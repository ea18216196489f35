#!/bin/sh
# The main job on the demo photos, from a fresh Debian 12: installs what is missing, builds, then
# reads, judges, advises, logs a pass, and reads again. Shows each command before it runs.
set -eu
cd "$(dirname "$0")/.."
tests/install.sh gcc g++ make cmake pkg-config libstb-dev liblcms2-dev libcjson-dev nettle-dev zlib1g-dev
if ! { cmake -S . -B build -DBUILD_TESTING=OFF && cmake --build build -j "$(nproc)"; } > demo-build.log 2>&1; then
    cat demo-build.log >&2
    rm -f demo-build.log
    exit 4
fi
rm -f demo-build.log

workshop=$(mktemp -d)
trap 'rm -rf "$workshop"' EXIT
XDG_DATA_HOME=$workshop/own # the demo does not touch your shelf
export XDG_DATA_HOME
huewright() {
    printf '\n$ huewright'
    for word in "$@"; do
        case $word in
        *[!A-Za-z0-9_./=,:-]* | '') printf " '%s'" "$word" ;;
        *) printf ' %s' "$word" ;;
        esac
    done
    printf '\n\n'
    build/huewright "$@"
}
say() { printf '\n== %s\n' "$1"; }
