"""A photo as from another place of the hand: FROM.jpg seen through a homography, by OpenCV (another implementation
of it than the program's), and the marks of FROM.json where they then lie.

    hand_held.py FROM.jpg FROM-marks.json TO.jpg TO-marks.json [TURN_DEGREES SCALE SHIFT_X SHIFT_Y TILT]
    hand_held.py --twice FROM.jpg X,Y,W,H X,Y TO.jpg     copies a piece of the photo to another place
    hand_held.py --paint FROM.jpg X,Y,W,H FACTOR TO.jpg  makes a piece lighter or darker
    hand_held.py --compare ONE-marks.json OTHER-marks.json    prints the largest distance of corners, pixels
"""
import json, sys
import cv2
import numpy as np


def warp(source, marks, to, to_marks, turn=4.0, scale=0.92, x=40.0, y=-25.0, tilt=4e-5):
    picture = cv2.imread(source)
    height, width = picture.shape[:2]
    centre = np.array([[1, 0, -width / 2], [0, 1, -height / 2], [0, 0, 1]])
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    way = np.array([[scale * c, -scale * s, x], [scale * s, scale * c, y], [tilt, -tilt / 2, 1]])
    h = np.linalg.inv(centre) @ way @ centre
    moved = cv2.warpPerspective(picture, h, (width, height), flags=cv2.INTER_AREA, borderMode=cv2.BORDER_REPLICATE)
    moved = np.clip(moved * np.array([0.93, 0.9, 0.86]), 0, 255).astype(np.uint8)  # less light, of another colour
    cv2.imwrite(to, moved, [cv2.IMWRITE_JPEG_QUALITY, 94])
    read = json.load(open(marks))
    for mark in read["marks"]:
        points = np.array([mark["polygon"]], dtype=float)
        mark["polygon"] = cv2.perspectiveTransform(points, h)[0].round(2).tolist()
    json.dump(read, open(to_marks, "w"))


def twice(source, piece, place, to):
    picture = cv2.imread(source)
    x, y, w, h = map(int, piece.split(","))
    u, v = map(int, place.split(","))
    picture[v : v + h, u : u + w] = picture[y : y + h, x : x + w]
    cv2.imwrite(to, picture, [cv2.IMWRITE_JPEG_QUALITY, 96])


def paint(source, piece, factor, to):
    picture = cv2.imread(source)
    x, y, w, h = map(int, piece.split(","))
    picture[y : y + h, x : x + w] = np.clip(picture[y : y + h, x : x + w] * float(factor), 0, 255)
    cv2.imwrite(to, picture, [cv2.IMWRITE_JPEG_QUALITY, 96])


def compare(one, other):
    by_name = {(m["role"], m["name"]): m["polygon"] for m in json.load(open(other))["marks"]}
    far = 0.0
    for mark in json.load(open(one))["marks"]:
        there = by_name.get((mark["role"], mark["name"]))
        if there and mark["role"] in ("target", "patch"):
            far = max(far, np.abs(np.array(mark["polygon"]) - np.array(there)).max())
    print(round(float(far), 2))


if sys.argv[1] == "--twice":
    twice(*sys.argv[2:])
elif sys.argv[1] == "--paint":
    paint(*sys.argv[2:])
elif sys.argv[1] == "--compare":
    compare(*sys.argv[2:])
else:
    warp(*sys.argv[1:5], *map(float, sys.argv[5:]))
