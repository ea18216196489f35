#!/usr/bin/python3
"""The same pairs with OpenCV: SIFT, brute-force matcher, ratio test 0.8, findHomography (RANSAC, 3 pixels).

    build/carry_marks --pairs N --others 0 --write FOLDER
    /usr/bin/python3 tests/accuracy/check_carry_opencv.py FOLDER

Both are given what is known: the repair and the card of the first photo are masked. One homography carries all
marks; OpenCV has no test of whether to believe it, so its errors are told for all pairs, and for those where we are sure.
Needs Debian's python3-opencv.
"""
import glob
import json
import sys
import time

import cv2
import numpy as np

LONGER = 1000  # pixels, as we do


def small(path):
    grey = cv2.imread(path, cv2.IMREAD_GRAYSCALE)
    scale = min(1.0, LONGER / max(grey.shape))
    return cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), scale


def carry(first, second, marks, mask):
    """Corners of the marks in pixels of the small second picture, and the time of what is done for a new photo."""
    sift = cv2.SIFT_create(nfeatures=2800, contrastThreshold=0.005)  # wood is low in contrast: the default finds too little
    points_a, words_a = sift.detectAndCompute(first, mask)
    start = time.process_time()
    points_b, words_b = sift.detectAndCompute(second, None)
    if words_a is None or words_b is None or len(words_b) < 2:
        return None, time.process_time() - start
    good = []
    for pair in cv2.BFMatcher(cv2.NORM_L2).knnMatch(words_a, words_b, k=2):
        if len(pair) == 2 and pair[0].distance < 0.8 * pair[1].distance:
            good.append(pair[0])
    h = None
    if len(good) >= 4:
        a = np.float64([points_a[m.queryIdx].pt for m in good])
        b = np.float64([points_b[m.trainIdx].pt for m in good])
        h, _ = cv2.findHomography(a, b, cv2.RANSAC, 3.0)
    taken = time.process_time() - start
    if h is None:
        return None, taken
    return [cv2.perspectiveTransform(m.reshape(1, -1, 2), h)[0] for m in marks], taken


def measure(truth, folder):
    name = truth[:-5]
    with open(truth, encoding="utf-8") as file:
        pair = json.load(file)
    first, scale_a = small(name + "-a.jpg")
    second, scale_b = small(name + "-b.jpg")
    mask = np.full(first.shape, 255, np.uint8)
    wood = []
    for mark in pair["marks"]:
        corners = np.array(mark["from"]) * scale_a
        if mark["role"] != 1:
            cv2.fillPoly(mask, [corners.astype(np.int32)], 0)
        if mark["role"] != 0 and mark["inside"]:
            wood.append((corners - 0.5, np.array(mark["to"]) * scale_b - 0.5))
    carried, taken = carry(first, second, [w[0] for w in wood], mask)
    error = np.inf
    if carried is not None and wood:
        error = max(np.linalg.norm(c - w[1], axis=1).max() for c, w in zip(carried, wood)) / max(second.shape)
    return error, taken, pair["ours"]


def tell(name, errors):
    errors = np.array(errors)
    if len(errors) == 0:
        return
    print(f"  {name}: median {np.median(errors):.5f}, 95 of 100 {np.quantile(errors, 0.95, method='higher'):.5f}, "
          f"over 1 %: {np.sum(errors > 0.01)}, over 3 %: {np.sum(errors > 0.03)} of {len(errors)}")


def main():
    rows = []
    for path in sorted(glob.glob(sys.argv[1] + "/*.json")):
        with open(path, encoding="utf-8") as file:
            if not json.load(file)["same_piece"]:
                continue
        rows.append(measure(path, sys.argv[1]))
    if not rows:
        sys.exit("no pairs in that folder")
    sure = [r for r in rows if r[2]["sure"]]
    print(f"{len(rows)} pairs; corner errors in widths of the second photo")
    print(f"where we are sure ({len(sure)}):")
    tell("ours  ", [r[2]["error"] for r in sure])
    tell("OpenCV", [r[0] for r in sure])
    print("all pairs:")
    tell("OpenCV", [r[0] for r in rows])
    print(f"processor time, features of the second photo, pairs, homography: OpenCV median {1e3 * np.median([r[1] for r in rows]):.0f} ms;")
    print(f"  ours with alignment and tests, and bringing the photo down: {np.median([r[2]['ms'] for r in rows]):.0f} ms")
    return 0


if __name__ == "__main__":
    sys.exit(main())
