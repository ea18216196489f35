#!/bin/sh
# Installs what is missing (Debian 12), builds with warnings as errors and with the address and
# undefined-behaviour sanitizers, and runs all tests. Works as root and with sudo.
#
#   tests/run.sh [CTEST ARGUMENTS]
set -eu
cd "$(dirname "$0")/.."
# What the program needs, then what only the tests need: reference libraries and tools.
tests/install.sh gcc g++ make cmake pkg-config libstb-dev liblcms2-dev libcjson-dev nettle-dev zlib1g-dev libarchive-dev \
    libheif-dev libraw-dev libvlfeat-dev librsvg2-dev libmicrohttpd-dev libqrencode-dev node-d3-zoom fonts-dejavu-core
command -v node > /dev/null || tests/install.sh nodejs
command -v npm > /dev/null || tests/install.sh npm
tests/install.sh liblcms2-utils python3 python3-jsonschema clang-format-14 bsdutils man-db util-linux units \
    libheif-examples dcraw python3-opencv python3-scipy python3-pyzbar ffmpeg python3-html5lib chromium poppler-utils libxml2-utils w3c-sgml-lib

jobs=$(nproc)
echo "== code is formatted"
find include src tests -name node_modules -prune -o -name '*.[ch]' -print | xargs clang-format-14 --dry-run -Werror
echo "== reference library for the colour checks, a browser's remote control for the page"
export PLAYWRIGHT_SKIP_BROWSER_DOWNLOAD=1
(cd tests/outside && npm ci --no-audit --no-fund)
(cd tests/page && npm ci --no-audit --no-fund)
echo "== build with sanitizers"
cmake -S . -B build/sanitize -DHW_SANITIZE=address,undefined -DHW_WERROR=ON -DCMAKE_BUILD_TYPE=Debug \
    -DCMAKE_C_FLAGS_DEBUG='-O1 -g'
cmake --build build/sanitize -j "$jobs"
echo "== tests"
ctest --test-dir build/sanitize --output-on-failure -j "$jobs" "$@"
