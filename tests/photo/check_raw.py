"""Raw files: DNG made here, read by huewright, against the specification computed here (DNG 1.4, chapters 5
and 6) and against dcraw's own reading of the sensor.

    check_raw.py PHOTO_DUMP FOLDER
"""
import math
import os
import random
import shutil
import struct
import subprocess
import sys

from dng_colour import BRADFORD, camera_to_xyz, inverse, lab, on, square, srgb_linear, times
from photo_files import (Check, LONG, MATRIX_A, MATRIX_D65, Photo, RATIONAL, SHORT, SRATIONAL, UNDEFINED, dng, tiff)

dump, folder = sys.argv[1], sys.argv[2]
os.makedirs(folder, exist_ok=True)
check = Check()


def write(name, data):
    path = os.path.join(folder, name)
    with open(path, 'wb') as file:
        file.write(data)
    return path


# ---- A mosaic of patches -----------------------------------------------------------------

# X, Y, Z relative to white, as woods and greys: made up.
PATCHES = [(0.17, 0.18, 0.15), (0.30, 0.28, 0.12), (0.09, 0.08, 0.03), (0.62, 0.64, 0.45), (0.05, 0.04, 0.012),
           (0.45, 0.40, 0.15)]
STEP = 0.01  # L*, a*, b*: a step of 16 bits on the sRGB curve is far less, also in the darkest patch
SIDE, ROWS = 8, 24  # photosites; LibRaw takes nothing with fewer than 22 rows


def mosaic(matrices, neutral, black, white, pattern=(0, 1, 1, 2)):
    """Sensor values of the patches side by side, under the light that the neutral belongs to. A file holds
    whole numbers: the patches are then changed to what those numbers say."""
    to_xyz = camera_to_xyz(matrices, neutral)
    to_camera, rounded = inverse(to_xyz), []
    for patch in PATCHES:
        levels = on(to_camera, patch)
        assert all(0 < level < 0.95 for level in levels)
        rounded.append([round(black + level * (white - black)) for level in levels])
    width, height = SIDE * len(PATCHES), ROWS
    values = [rounded[x // SIDE][pattern[2 * (y % 2) + x % 2]] for y in range(height) for x in range(width)]
    want = [on(to_xyz, [(v - black) / (white - black) for v in one]) for one in rounded]
    return values, width, height, want


def check_patches(photo, wanted, what, within):
    for i, want in enumerate(wanted):
        check.close(lab(photo.xyz_at(i * SIDE // 2 + 1, 1)), lab(want), within, '%s, patch %d' % (what, i + 1))


one = [(21, MATRIX_D65)]
two = [(17, MATRIX_A), (21, MATRIX_D65)]
for what, matrices, neutral, within in (('one matrix', one, (0.5, 1.0, 0.65), STEP),
                                        ('two, warm light', two, (0.78, 1.0, 0.34), 0.05),
                                        ('two, cold light', two, (0.45, 1.0, 0.7), 0.05)):
    for order in '<>':
        for pattern in ((0, 1, 1, 2), (2, 1, 1, 0), (1, 0, 2, 1), (1, 2, 0, 1)):
            values, width, height, want = mosaic(matrices, neutral, 256, 16383, pattern)
            path = write('colour.dng', dng(values, width, height, order, black=(256,), white=16383, matrices=matrices,
                                           neutral=neutral, pattern=pattern))
            photo = Photo(dump, path)
            check_patches(photo, want, what + str(pattern) + order, within)
            check.true((photo.width, photo.height) == (width // 2, height // 2), 'half the size')
check.true(photo.facts['format'] == 'DNG' and photo.facts['bits'] == '16' and photo.facts['photosites'] == '2' and
           photo.facts['linear'] == '1' and photo.facts['sandboxed'] == '1', 'facts of a DNG')
check.true(photo.facts['colour'] == "camera raw: the file's own matrix" and photo.facts['assumed'] == '0', 'colour')
check.true(photo.warnings == [], 'a plain DNG gives no warning: %s' % photo.warnings)

# What the camera thought of the light falls out again where there is one matrix: it is one factor for each
# sharpened band, which the card takes back.
values, width, height, _ = mosaic(one, (0.5, 1.0, 0.65), 64, 4095)
bands = []
for neutral in ((0.5, 1.0, 0.65), (0.8, 1.0, 0.4)):
    photo = Photo(dump, write('white.dng', dng(values, width, height, matrices=one, neutral=neutral)))
    seen = [on(BRADFORD, photo.xyz_at(i * SIDE // 2 + 1, 1)) for i in range(len(PATCHES))]
    bands.append([[a / b for a, b in zip(band, seen[0])] for band in seen])
for i in range(len(PATCHES)):
    check.close(bands[0][i], bands[1][i], 1e-9, 'white balance of the shot, patch %d' % (i + 1))

# AnalogBalance and CameraCalibration stand before the matrix (DNG 1.4, chapter 6).
balance, calibration = (1.1, 1.0, 0.9), [1.02, 0, 0, 0, 0.99, 0, 0, 0, 1.01]
full = times([[balance[r] if r == c else 0 for c in range(3)] for r in range(3)],
             times(square(calibration), square(MATRIX_D65)))
flat = [v for row in full for v in row]
values, width, height, want = mosaic([(21, flat)], (0.5, 1.0, 0.65), 64, 4095)
path = write('balance.dng', dng(values, width, height, more=[(50727, RATIONAL, balance), (50723, SRATIONAL, calibration)]))
check_patches(Photo(dump, path), want, 'analogue balance and calibration', STEP)

# ---- Levels, means, clipping -------------------------------------------------------------

chance = random.Random(5)
width, height, black, white = 40, 24, (60.0, 66.0, 62.0, 64.0), 4095
values = [chance.randint(0, white) if chance.random() < 0.98 else white for _ in range(width * height)]
path = write('levels.dng', dng(values, width, height, black=black, black_dim=(2, 2), white=white))
photo = Photo(dump, path)
clipped = low = 0
for y in range(height // 2):
    for x in range(width // 2):
        sums, counts, full = [0.0] * 3, [0] * 3, [False] * 3
        for i in range(4):
            value = values[(2 * y + i // 2) * width + 2 * x + i % 2]
            channel = (0, 1, 1, 2)[i]
            sums[channel] += value - black[i]
            counts[channel] += 1
            full[channel] |= value >= white
        for channel in range(3):
            code = photo.code(x, y)[channel]
            # White less the largest black of the channel (DNG 1.4, chapter 5); LibRaw keeps black in whole steps.
            largest = max(black[i] for i in range(4) if (0, 1, 1, 2)[i] == channel)
            share = sums[channel] / counts[channel] / (white - largest)
            if full[channel]:
                clipped += 1
                check.true(code >= int(photo.facts['clip_high']), 'full at %d %d' % (x, y))
            elif share <= 0:
                low += 1
                check.true(code <= int(photo.facts['clip_low']), 'black at %d %d' % (x, y))
            elif share < 0.98 and code < 65535:
                check.true(abs(srgb_linear(code) - share) < 1.5e-3 / 3, 'level at %d %d: %g not %g' %
                           (x, y, srgb_linear(code), share))
            else:
                check.true(share > 0.5, 'no clipping in the middle at %d %d' % (x, y))
check.true(clipped > 10 and low > 3, 'there were full and black photosites: %d, %d' % (clipped, low))

# The sensor's values, as dcraw reads them (document mode, 16 bits): the same file, another reader.
if shutil.which('dcraw'):
    text = subprocess.run(['dcraw', '-D', '-4', '-c', path], capture_output=True).stdout
    head = text.split(b'\n', 3)
    body = head[3]
    theirs = [body[2 * i] << 8 | body[2 * i + 1] for i in range(len(body) // 2)]
    check.true(theirs == values, 'dcraw reads the values that were written')

# ---- A pattern of six a side -------------------------------------------------------------

SIX = (1, 2, 1, 1, 0, 1, 0, 1, 0, 2, 1, 2, 1, 2, 1, 1, 0, 1, 1, 0, 1, 1, 2, 1, 2, 1, 2, 0, 1, 0, 1, 0, 1, 1, 2, 1)
square_values, _, _, want = mosaic(one, (0.5, 1.0, 0.65), 64, 4095)
places = (0, 1, SIDE * len(PATCHES) + 1)  # of red, green and blue in the mosaic's first square
width, height = 12 * len(PATCHES), 24
values = [square_values[x // 12 * SIDE + places[SIX[6 * (y % 6) + x % 6]]] for y in range(height) for x in range(width)]
photo = Photo(dump, write('six.dng', dng(values, width, height, pattern=SIX)))
check.true((photo.width, photo.height, photo.facts['photosites']) == (width // 3, height // 3, '3'), 'six a side: size')
for i in range(len(PATCHES)):
    for x in range(4):
        check.close(lab(photo.xyz_at(4 * i + x, 2)), lab(want[i]), STEP, 'six a side, patch %d' % (i + 1))

# ---- Three values a pixel ----------------------------------------------------------------

mosaic_values, _, _, want = mosaic(one, (0.5, 1.0, 0.65), 64, 4095)
values = [mosaic_values[x * SIDE + place] for _ in range(ROWS) for x in range(len(PATCHES)) for _ in range(4)
          for place in places]
photo = Photo(dump, write('linear.dng', dng(values, 4 * len(PATCHES), ROWS, samples=3, black=(64.0,) * 3)))
check.true(photo.width == 4 * len(PATCHES) and photo.facts['photosites'] == '1', 'three values a pixel: size')
for i in range(len(PATCHES)):
    check.close(lab(photo.xyz_at(4 * i + 1, 2)), lab(want[i]), STEP, 'three values, patch %d' % (i + 1))

# ---- Upright, and the shot ---------------------------------------------------------------

values, width, height, _ = mosaic(one, (0.5, 1.0, 0.65), 64, 4095)
straight = Photo(dump, write('turn.dng', dng(values, width, height)))
w, h = straight.width, straight.height
WAY = {1: lambda x, y: (x, y), 2: lambda x, y: (w - 1 - x, y), 3: lambda x, y: (w - 1 - x, h - 1 - y),
       4: lambda x, y: (x, h - 1 - y), 5: lambda x, y: (y, x), 6: lambda x, y: (y, h - 1 - x),
       7: lambda x, y: (w - 1 - y, h - 1 - x), 8: lambda x, y: (w - 1 - y, x)}  # CIPA DC-008: stored place of upright
for orientation, stored in WAY.items():
    photo = Photo(dump, write('turn.dng', dng(values, width, height, orientation=orientation)))
    check.true(photo.facts['orientation'] == str(orientation), 'orientation %d' % orientation)
    same = all(photo.code(x, y) == straight.code(*stored(x, y)) for y in range(photo.height) for x in range(photo.width))
    check.true(same and (photo.width, photo.height) == ((w, h) if orientation < 5 else (h, w)),
               'upright by orientation %d' % orientation)
f = straight.facts
check.true(f['camera'] == 'Invented Pro 5 (raw)' and f['taken'] == '2026:05:03 10:11:12' and f['offset'] == '+02:00', 'EXIF')
check.close([float(f[n]) for n in ('exposure_s', 'f_number', 'iso', 'focal_mm', 'bias_ev', 'digital_zoom')],
            [1 / 60, 2.8, 200, 50, -1 / 3, 1], 1e-9, 'settings')
check.close([float(f['log_exposure'])], [math.log(200 / 100 / 60 / 2.8 ** 2)], 1e-9, 'exposure')
check.true((f['flash'], f['white_balance'], f['exposure'], f['processing']) == ('1', '1', '2', '0'), 'choices')
gain_map = struct.pack('>IIIIII', 2, 1, 0x01030000, 0, 0, 9) + struct.pack('>III', 0x01030000, 0, 0)  # two: 1, then 9
shaded = Photo(dump, write('shade.dng', dng(values, width, height, more=[(51009, UNDEFINED, gain_map)])))
check.true(any('corners' in w for w in shaded.warnings), 'a list of corrections is told of: %s' % shaded.warnings)

# ---- Refusals ----------------------------------------------------------------------------

good = dng(values, width, height)
path = os.path.join(folder, 'bad.dng')
for size in range(16, len(good), max(1, len(good) // 40)):
    try:
        photo = Photo(dump, write('bad.dng', good[:size]))
        check.true(False, 'cut to %d of %d bytes: was read' % (size, len(good)))
    except Exception as why:
        check.true(str(why).startswith(('photo-', 'memory-out')), 'cut to %d bytes: %s' % (size, why))
for width_told, height_told in ((0, 24), (48, 0), (65535, 65535), (0xffffffff, 0xffffffff), (60000, 20)):
    bad = dng(values, width, height).replace(
        b'\x00\x01\x04\x00\x01\x00\x00\x00' + width.to_bytes(4, 'little'),
        b'\x00\x01\x04\x00\x01\x00\x00\x00' + width_told.to_bytes(4, 'little')).replace(
        b'\x01\x01\x04\x00\x01\x00\x00\x00' + height.to_bytes(4, 'little'),
        b'\x01\x01\x04\x00\x01\x00\x00\x00' + height_told.to_bytes(4, 'little'))
    check.true(bad != good, 'sizes were changed')
    check.refused(dump, path, bad, '', 'size %d x %d' % (width_told, height_told))
check.refused(dump, path, dng(values, width, height, matrices=()), "does not tell its camera's colours", 'no matrix')
check.refused(dump, path, dng(values, width, height, matrices=[(21, [1, 2, 3, 2, 4, 6, 3, 6, 9])]), 'matrix cannot be used',
              'a matrix that cannot be turned round')
check.refused(dump, path, dng(values, width, height, white=60), 'levels do not fit', 'white below black')
for bits, kind in ((8, 'B'), (16, 'H')):
    body = struct.pack('<%d%s' % (48 * 24 * 3, kind), *[100] * (48 * 24 * 3))
    plain = tiff([(256, LONG, [48]), (257, LONG, [24]), (258, SHORT, [bits] * 3), (259, SHORT, [1]), (262, SHORT, [2]),
                  (273, LONG, None), (277, SHORT, [3]), (278, LONG, [24]), (279, LONG, [len(body)])], [], '<', body)
    check.refused(dump, path, plain, 'photo-unsupported', 'a TIFF that is no raw file')
check.refused(dump, path, good[:8] + b'\xff' * (len(good) - 8), 'photo-', 'rubbish')
chance = random.Random(7)
read = refused = 0
for _ in range(40):
    bad = bytearray(good)
    for _ in range(chance.randint(1, 8)):
        bad[chance.randrange(8, len(good) - len(values) * 2)] = chance.randrange(256)
    try:
        Photo(dump, write('bad.dng', bytes(bad)))
        read += 1
    except Exception as why:
        refused += 1
        check.true(str(why).startswith(('photo-', 'memory-out')), 'damaged: %s' % why)
print('%d damaged files read, %d refused' % (read, refused))
sys.exit(check.done())
