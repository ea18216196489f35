#!/usr/bin/env python3
"""The QR code of the terminal, drawn as pixels and read by ZBar: it must give back the words.

Quiet zone of 4 modules: ISO/IEC 18004, 6.3.8 (2015)."""
import subprocess
import sys

import numpy
from pyzbar.pyzbar import decode

BLOCKS = {" ": (0, 0), "\u2580": (1, 0), "\u2584": (0, 1), "\u2588": (1, 1)}
INK, PAPER = "\033[30;107m", "\033[0m"
PIXELS = 8  # a module


def modules(text, coloured):
    rows = []
    for line in text.split("\n")[:-1]:
        if coloured:
            assert line.startswith(INK) and line.endswith(PAPER), repr(line)
            line = line[len(INK):-len(PAPER)]
        assert set(line) <= set(BLOCKS), repr(line)
        rows.append([BLOCKS[c][0] for c in line])
        rows.append([BLOCKS[c][1] for c in line])
    return numpy.array(rows, dtype=numpy.uint8)


failed = 0
for words in ("http://192.168.1.5:8474/#pair=KUW777ZF", "http://10.123.234.210:65535/#pair=ZZZZ9999"):
    for coloured in (False, True):
        out = subprocess.run([sys.argv[1], words] + ["coloured"] * coloured, capture_output=True, check=True)
        dark = modules(out.stdout.decode("utf-8"), coloured)
        quiet = dark[:4].any() or dark[-4:].any() or dark[:, :4].any() or dark[:, -4:].any()
        picture = numpy.kron(1 - dark, numpy.ones((PIXELS, PIXELS), dtype=numpy.uint8)) * 255
        read = [found.data.decode() for found in decode((picture.astype(numpy.uint8).tobytes(), picture.shape[1], picture.shape[0]))]
        if read != [words] or quiet:
            failed += 1
            print("failed:", repr(words), "was read as", repr(read), "quiet zone" if quiet else "")
print("4 codes,", failed, "failed")
sys.exit(failed != 0)
