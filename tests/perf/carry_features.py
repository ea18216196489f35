#!/usr/bin/python3
"""OpenCV's way to a homography (tests/accuracy/check_carry_opencv.py) on the pair that bench_carry left: processor time in ms.

    carry_features.py RUNS FOLDER
"""
import os
import statistics
import sys
import time

import numpy

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "accuracy"))
from check_carry_opencv import carry, cv2, small  # noqa: E402

cv2.setNumThreads(1)
runs, folder = int(sys.argv[1]), sys.argv[2]
picture = cv2.imread(folder + "/second.png", cv2.IMREAD_GRAYSCALE)
first, scale = small(folder + "/first.png")
corners = numpy.array([[400, 400], [1200, 400], [1200, 1300], [400, 1300]], float)
mask = numpy.full(first.shape, 255, numpy.uint8)
down, rest, error = [], [], numpy.inf
for _ in range(runs):
    start = time.process_time()
    second = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    down.append(1e3 * (time.process_time() - start))
    carried, taken = carry(first, second, [corners * scale], mask)
    rest.append(1e3 * taken)
    if carried is not None:
        error = numpy.abs(carried[0] / scale - corners - [110, -70]).max()
print(f"OpenCV, one thread: bringing down {statistics.median(down):.0f}, features, pairs and homography "
      f"{statistics.median(rest):.0f} ({max(rest):.0f}); off by {error:.1f} pixels of 4000")
