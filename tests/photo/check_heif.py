"""HEIC: files made by heif-enc (libx265) from pictures known here, read by huewright (libheif, libde265).

    check_heif.py PHOTO_DUMP TESTDATA FOLDER

Where ffmpeg is installed its own decoder of HEVC reads the same coded pictures.
"""
import os
import random
import shutil
import struct
import subprocess
import sys
import zlib

from photo_files import Check, Photo, add_property, boxes, find, hevc_stream, png

dump, testdata, folder = sys.argv[1:4]
os.makedirs(folder, exist_ok=True)
check = Check()
WIDTH, HEIGHT = 128, 64
LOSSLESS = ['-L', '-p', 'chroma=444', '--matrix_coefficients=0']


def write(name, data):
    path = os.path.join(folder, name)
    with open(path, 'wb') as file:
        file.write(data)
    return path


def read(path):
    with open(path, 'rb') as file:
        return file.read()


def encode(source, name, *options):
    path = os.path.join(folder, name)
    subprocess.run(['heif-enc', source, '-o', path, *options], check=True, capture_output=True)
    return path


def slopes(scale):
    return [scale * v for y in range(HEIGHT) for x in range(WIDTH) for v in (40 + x, 60 + 2 * y, 200 - x)]


def quarters(x, y):
    return ((200, 120, 60), (60, 140, 200), (90, 200, 90), (120, 60, 150))[(x >= WIDTH // 2) + 2 * (y >= HEIGHT // 2)]


rgb = slopes(1)
plain = write('plain.png', png(WIDTH, HEIGHT, 8, rgb))
deep = write('deep.png', png(WIDTH, HEIGHT, 16, slopes(257)))

# ---- Codes -------------------------------------------------------------------------------

# Without loss: what was put in comes out, but for whole numbers of Y'CbCr between the two.
photo = Photo(dump, encode(plain, 'lossless.heic', *LOSSLESS))
check.true((photo.width, photo.height) == (WIDTH, HEIGHT), 'size')
check.true(max(abs(a - b) for a, b in zip(photo.codes, rgb)) <= 1, 'lossless, 8 bits')
f = photo.facts
check.true((f['format'], f['bits'], f['sandboxed'], f['orientation']) == ('HEIC', '8', '1', '1'), 'facts %s' % f)
check.true(f['assumed'] == '1' and 'assumed' in f['colour'] and photo.warnings == [], 'nothing said: sRGB assumed')
photo = Photo(dump, encode(deep, 'deep.heic', '-b', '10', *LOSSLESS))
step = 65535 / 1023
check.true(photo.facts['bits'] == '16', '10 bits come as 16')
check.true(max(abs(a - b) for a, b in zip(photo.codes, slopes(257))) <= 2 * step, 'lossless, 10 bits: two steps of 10')
check.true(all(abs(c / step - round(c / step)) < 0.01 for c in photo.codes), 'codes are steps of 10 bits')
# With loss, chroma halved: means of flat areas stay.
flat = write('flat.png', png(WIDTH, HEIGHT, 8, [v for y in range(HEIGHT) for x in range(WIDTH) for v in quarters(x, y)]))
lossy = encode(flat, 'lossy.heic', '-q', '90')
photo = Photo(dump, lossy)
for x, y in ((16, 10), (100, 10), (16, 50), (100, 50)):
    mean = [sum(photo.code(x + i, y + k)[c] for i in range(8) for k in range(8)) / 64 for c in range(3)]
    check.close(mean, quarters(x, y), 2.0, 'lossy, quarter at %d %d' % (x, y))

# Another decoder, of the same coded picture: Y, Cb, Cr of full range, as ITU-R BT.601 has them (no word of it in
# the stream: ISO/IEC 23008-12 leaves it open, and libheif takes that).
if shutil.which('ffmpeg'):
    stream = write('lossy.hevc', hevc_stream(read(lossy)))
    out = subprocess.run(['ffmpeg', '-v', 'error', '-f', 'hevc', '-i', stream, '-f', 'rawvideo', '-pix_fmt', 'yuvj420p', '-'],
                         capture_output=True, check=True).stdout
    worst, size = 0.0, WIDTH * HEIGHT
    for y in range(HEIGHT):
        for x in range(WIDTH):
            half = (y // 2) * (WIDTH // 2) + x // 2
            Y, cb, cr = out[y * WIDTH + x], out[size + half] - 128, out[size + size // 4 + half] - 128
            want = (Y + 1.402 * cr, Y - 0.344136 * cb - 0.714136 * cr, Y + 1.772 * cb)
            worst = max([worst] + [abs(min(max(w, 0), 255) - c) for w, c in zip(want, photo.code(x, y))])
    check.true(worst <= 1.5, 'ffmpeg reads the same: off by %g' % worst)
else:
    print('no ffmpeg here: not compared with it')

# ---- Colour ------------------------------------------------------------------------------

# A profile (in testdata/outside, not sRGB): as the same codes through the same profile in a PNG.
profile = read(os.path.join(testdata, 'outside', 'matrix-profile.icc'))
chunk = (b'iCCP', b'p\0\0' + zlib.compress(profile))
photo = Photo(dump, encode(write('profile.png', png(WIDTH, HEIGHT, 8, rgb, [chunk])), 'profile.heic', *LOSSLESS))
twin = Photo(dump, write('twin.png', png(WIDTH, HEIGHT, 8, photo.codes, [chunk])))
check.true(photo.facts['colour'] == twin.facts['colour'] and photo.facts['colour'].startswith('profile: '), 'named alike')
check.true(photo.xyz == twin.xyz and photo.facts['assumed'] == '0', 'a profile means the same in both')
untold = Photo(dump, write('untold.png', png(WIDTH, HEIGHT, 8, photo.codes)))
check.true(max(abs(a - b) for a, b in zip(photo.xyz, untold.xyz)) > 0.01, 'and is not sRGB')


def stated(name, primaries, transfer, matrix=6):
    """heif-enc writes no colr box without a profile; so one is put in (ISO/IEC 23008-12, 6.5.5; H.273)."""
    box = struct.pack('>I4s4sHHHB', 19, b'colr', b'nclx', primaries, transfer, matrix, 0x80)
    return write(name, add_property(read(lossy), box))


p3 = Photo(dump, stated('p3.heic', 12, 13))
twin = Photo(dump, write('twin.png', png(WIDTH, HEIGHT, 8, p3.codes, [(b'cICP', bytes([12, 13, 0, 1]))])))
check.true(p3.facts['colour'] == 'P3 primaries (stated by the file)' and p3.xyz == twin.xyz, 'P3 stated: %s' % p3.facts['colour'])
srgb = Photo(dump, stated('srgb.heic', 1, 13))
check.true(srgb.facts['colour'] == 'sRGB (stated by the file)' and srgb.facts['assumed'] == '0', 'sRGB stated')
odd = Photo(dump, stated('odd.heic', 1, 8))
check.true(any('does not know' in w for w in odd.warnings), 'an unknown coding is told of')
open_ = Photo(dump, stated('open.heic', 2, 2))
check.true(open_.warnings == [] and open_.facts['assumed'] == '1', 'not specified: as if nothing were said')
for transfer in (16, 18):
    path = stated('hdr.heic', 9, transfer, 9)
    check.refused(dump, path, read(path), 'high dynamic range', 'transfer %d' % transfer)

# ---- Upright -----------------------------------------------------------------------------

straight = Photo(dump, lossy)
w, h = WIDTH, HEIGHT
# irot turns by so many quarters against the clock, imir 0 mirrors top and bottom, 1 left and right (ISO/IEC
# 23008-12:2022, 6.5.10 and 6.5.12): the stored place of an upright pixel.
TURNS = [(b'irot', 1, lambda x, y: (w - 1 - y, x)), (b'irot', 2, lambda x, y: (w - 1 - x, h - 1 - y)),
         (b'irot', 3, lambda x, y: (y, h - 1 - x)), (b'imir', 1, lambda x, y: (w - 1 - x, y)),
         (b'imir', 0, lambda x, y: (x, h - 1 - y))]
for kind, value, stored in TURNS:
    photo = Photo(dump, write('turned.heic', add_property(read(lossy), struct.pack('>I4sB', 9, kind, value))))
    turned = kind == b'irot' and value % 2 == 1
    check.true((photo.width, photo.height) == ((h, w) if turned else (w, h)), 'size after %s %d' % (kind, value))
    same = all(photo.code(x, y) == straight.code(*stored(x, y)) for y in range(photo.height) for x in range(photo.width))
    check.true(same and photo.facts['orientation'] == '1', 'upright after %s %d' % (kind, value))

# EXIF from a JPEG goes into the HEIC: same words; its orientation holds in the JPEG alone (6.5.10: irot is the rule).
source = os.path.join(testdata, 'photo', 'shot-exif.jpg')
jpeg, heic = Photo(dump, source), Photo(dump, encode(source, 'exif.heic'))
for name in ('camera', 'taken', 'offset', 'exposure_s', 'f_number', 'iso', 'focal_mm', 'flash', 'white_balance',
             'exposure', 'digital_zoom', 'bias_ev', 'processing'):
    check.true(jpeg.facts[name] == heic.facts[name], '%s: %s and %s' % (name, jpeg.facts[name], heic.facts[name]))
check.true(jpeg.facts['camera'] == 'Invented Pro 5' and jpeg.facts['iso'] == '200', 'and they are there')
check.true(jpeg.facts['orientation'] == '6' and heic.facts['orientation'] == '1', 'not turned twice')
check.true((heic.width, heic.height) == (jpeg.height, jpeg.width), 'EXIF does not turn a HEIC')

# A second picture beside the main one, by its kind: that of an alpha channel, called otherwise.
clear = write('alpha.png', png(WIDTH, HEIGHT, 8, [v for y in range(HEIGHT) for x in range(WIDTH)
                                                 for v in quarters(x, y) + (255 - x,)], channels=4))
alpha = read(encode(clear, 'alpha.heic', '-q', '90'))
start = alpha.index(b'auxC') + 8
kind = alpha[start:alpha.index(b'\0', start)]
for name, processing, gain_map, warned in ((kind, '0', '0', None),
                                           (b'urn:made:up:%s:hdrgainmap' % (b'x' * (len(kind) - 23)), '0', '1', '(HDR)'),
                                           (b'urn:made:up:%s:effectsmatte' % (b'x' * (len(kind) - 25)), '2', '0', 'portrait')):
    check.true(len(name) == len(kind), 'the name fits: %s %s' % (name, kind))
    photo = Photo(dump, write('extra.heic', alpha.replace(kind, name)))
    check.true((photo.facts['processing'], photo.facts['gain_map']) == (processing, gain_map), 'kind %s' % name)
    check.true([warned in w for w in photo.warnings] == ([True] if warned else []), 'warned: %s' % photo.warnings)
    check.close(photo.code(16, 10), quarters(16, 10), 3, 'the main picture, alpha left out')

# ---- Names, damage -----------------------------------------------------------------------

photo = Photo(dump, write('named.jpg', read(lossy)))
check.true(photo.facts['format'] == 'HEIC', 'a HEIC that is called .jpg')
photo = Photo(dump, write('named.heic', read(source)))
check.true(photo.facts['format'] == 'JPEG', 'a JPEG that is called .heic')
good, path = read(lossy), os.path.join(folder, 'bad.heic')
for size in list(range(16, len(good), max(1, len(good) // 60))) + [len(good) - 1]:
    check.refused(dump, path, good[:size], 'photo-', 'cut to %d of %d bytes' % (size, len(good)))
check.refused(dump, path, b'\0\0\0\x18ftypqt  \0\0\0\0qt  qt  ' + good[24:], 'a film', 'a film')
ispe = [b for b in boxes(good, *find(good, b'meta', b'iprp', b'ipco')[2:]) if b[0] == b'ispe']
for size in ((0, 64), (128, 0), (0xffffffff, 0xffffffff), (40000, 64), (20000, 20000), (4096, 4096)):
    bad = bytearray(good)
    for _, _, content, _ in ispe:
        struct.pack_into('>II', bad, content + 4, *size)
    check.refused(dump, path, bytes(bad), 'photo-', 'size %d x %d' % size)
chance = random.Random(3)
counts = {'read': 0, 'refused': 0}
for i in range(60):
    bad = bytearray(good)
    for _ in range(chance.randint(1, 8)):
        bad[chance.randrange(24, len(good))] = chance.randrange(256)
    try:
        Photo(dump, write('bad.heic', bytes(bad)))
        counts['read'] += 1
    except Exception as why:
        counts['refused'] += 1
        check.true(str(why).startswith(('photo-', 'memory-out')), 'damaged: %s' % why)
print('damaged files: %s' % counts)
sys.exit(check.done())
