#!/bin/sh
# Is every SVG file in these folders valid by the W3C's DTD of SVG 1.1 (xmllint, package w3c-sgml-lib), well-formed for
# Python's expat, and without anything outside it, scripts, and colours that only a style sheet would set?
set -u
dtd=/usr/share/xml/w3c-sgml-lib/schema/dtd/REC-SVG11-20110816/svg11.dtd
command -v xmllint > /dev/null && [ -f "$dtd" ] || { echo "install libxml2-utils and w3c-sgml-lib"; exit 1; }
find "$@" -name '*.svg' > "${TMPDIR:-/tmp}/check_svg.$$" || exit 1
trap 'rm -f "${TMPDIR:-/tmp}/check_svg.$$"' EXIT
[ -s "${TMPDIR:-/tmp}/check_svg.$$" ] || { echo "no SVG file there"; exit 1; }
xargs -d '\n' xmllint --nonet --noout --huge --dtdvalid "$dtd" < "${TMPDIR:-/tmp}/check_svg.$$" || exit 1
python3 - "${TMPDIR:-/tmp}/check_svg.$$" << 'END'
import sys
from xml.parsers import expat
allowed = {"svg", "title", "desc", "rect", "text", "line", "circle", "ellipse", "path", "polygon", "image"}
bad = 0
for name in open(sys.argv[1]).read().splitlines():
    def start(tag, attributes):
        global bad
        for key, value in attributes.items():
            outside = key == "xlink:href" and not value.startswith("data:image/jpeg;base64,")
            if outside or key.startswith("on") or key in ("style", "id", "href"):
                print(name, tag, key, value[:80]); bad += 1
            if key not in ("xlink:href",) and ("nan" in value or "inf" in value):
                print(name, tag, key, value[:80]); bad += 1
        if tag not in allowed:
            print(name, tag); bad += 1
    parser = expat.ParserCreate()
    parser.StartElementHandler = start
    parser.Parse(open(name, "rb").read(), True)
sys.exit(bad > 0)
END
