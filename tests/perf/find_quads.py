#!/usr/bin/python3
"""A plain search for the card by OpenCV, to measure ours against: the textbook way.

Brought down to 1000 pixels, blurred, edges by Canny at three thresholds, contours, Douglas-Peucker to four corners,
convex, 0.3 to 30 % of the picture; of these the one whose inside is the most even and the least coloured.

    find_quads.py RUNS FOLDER       scene-N.jpg with true corners in scene-N.txt, as bench_find leaves them
"""
import glob
import sys
import time

import cv2
import numpy


def quads_of(small):
    grey = cv2.GaussianBlur(cv2.cvtColor(small, cv2.COLOR_BGR2GRAY), (5, 5), 0)
    for low in (15, 40, 80):
        edges = cv2.dilate(cv2.Canny(grey, low, 3 * low), numpy.ones((3, 3), numpy.uint8))
        contours, _ = cv2.findContours(edges, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
        for contour in contours:
            quad = cv2.approxPolyDP(contour, 0.03 * cv2.arcLength(contour, True), True)
            share = cv2.contourArea(quad) / (small.shape[0] * small.shape[1])
            if len(quad) == 4 and cv2.isContourConvex(quad) and 0.003 < share < 0.30:
                yield quad.reshape(4, 2)


def unlike_a_card(small, lab, quad):
    """Spread of lightness inside and distance from grey: small for a card."""
    inside = numpy.zeros(small.shape[:2], numpy.uint8)
    middle = quad.mean(axis=0)
    cv2.fillConvexPoly(inside, numpy.int32(middle + 0.8 * (quad - middle)), 255)
    mean, spread = cv2.meanStdDev(lab, mask=inside)
    return float(spread[0, 0] + numpy.hypot(mean[1, 0] - 128, mean[2, 0] - 128))


def find(picture):
    scale = max(picture.shape) / 1000.0
    small = cv2.resize(picture, None, fx=1 / scale, fy=1 / scale, interpolation=cv2.INTER_AREA)
    lab = cv2.cvtColor(small, cv2.COLOR_BGR2LAB)
    quads = list(quads_of(small))
    if not quads:
        return None
    return scale * min(quads, key=lambda quad: unlike_a_card(small, lab, quad)).astype(float)


def overlap(one, other):
    both, _ = cv2.intersectConvexConvex(numpy.float32(one), numpy.float32(other))
    return both / (abs(cv2.contourArea(numpy.float32(one))) + abs(cv2.contourArea(numpy.float32(other))) - both)


def main():
    cv2.setNumThreads(1)
    runs = int(sys.argv[1])
    for path in sorted(glob.glob(sys.argv[2] + "/scene-*.jpg")):
        truth = numpy.loadtxt(path[:-4] + ".txt")
        finding, decoding = [], []
        for _ in range(runs):
            start = time.process_time()
            picture = cv2.imread(path)
            decoded = time.process_time()
            quad = find(picture)
            finding.append(1e3 * (time.process_time() - decoded))
            decoding.append(1e3 * (decoded - start))
        finding.sort()
        decoding.sort()
        seen = 0.0 if quad is None else overlap(quad, truth)
        print(f"{path}: OpenCV, overlap {seen:.3f}  find ms {finding[runs // 2]:7.1f} ({finding[-1]:.1f})"
              f"  decode ms {decoding[runs // 2]:7.1f} ({decoding[-1]:.1f})")


main()
