"""Photo files written and taken apart from their specifications alone, for the tests of HEIC and raw.

TIFF 6.0, DNG 1.4, EXIF (CIPA DC-008), ISO/IEC 14496-12 and 23008-12, PNG. Standard library only.
"""
import array
import struct
import subprocess
import zlib

# ---- TIFF and DNG ------------------------------------------------------------------------

BYTE, TEXT, SHORT, LONG, RATIONAL, UNDEFINED, SRATIONAL = 1, 2, 3, 4, 5, 7, 10
SIZES = {BYTE: 1, TEXT: 1, SHORT: 2, LONG: 4, RATIONAL: 8, UNDEFINED: 1, SRATIONAL: 8}


def pack(kind, values, order):
    if kind in (BYTE, UNDEFINED):
        return bytes(values)
    if kind == TEXT:
        return values.encode() + b'\0'
    if kind in (RATIONAL, SRATIONAL):
        letter = 'i' if kind == SRATIONAL else 'I'
        pairs = [v if isinstance(v, tuple) else (round(v * 1000000), 1000000) for v in values]
        return b''.join(struct.pack(order + 2 * letter, *pair) for pair in pairs)
    return struct.pack(order + str(len(values)) + {SHORT: 'H', LONG: 'I'}[kind], *values)


def directory(entries, at, order):
    """Bytes of one directory that lies at offset `at`, its longer values behind it."""
    entries = sorted(entries)
    behind = at + 2 + 12 * len(entries) + 4
    head, data = struct.pack(order + 'H', len(entries)), b''
    for tag, kind, values in entries:
        raw = pack(kind, values, order)
        head += struct.pack(order + 'HHI', tag, kind, len(raw) // SIZES[kind])
        if len(raw) <= 4:
            head += raw.ljust(4, b'\0')
        else:
            head += struct.pack(order + 'I', behind + len(data))
            data += raw + b'\0' * (len(raw) % 2)
    return head + struct.pack(order + 'I', 0) + data


EXIF = [(0x829a, RATIONAL, [(1, 60)]), (0x829d, RATIONAL, [(28, 10)]), (0x8827, SHORT, [200]),
        (0x9003, TEXT, '2026:05:03 10:11:12'), (0x9011, TEXT, '+02:00'), (0x9204, SRATIONAL, [(-1, 3)]),
        (0x9209, SHORT, [16]), (0x920a, RATIONAL, [(50, 1)]), (0xa402, SHORT, [1]), (0xa403, SHORT, [0]),
        (0xa404, RATIONAL, [(0, 1)])]


def tiff(entries, exif, order='<', body=b''):
    """A TIFF file: directory, EXIF directory, body. (273, LONG, None) becomes where the body lies."""
    size = 8
    for _ in range(2):  # once for sizes, once with offsets
        main = [(t, k, [size] if t == 273 else v) for t, k, v in entries]
        exif_at = 8 + len(directory(main + [(34665, LONG, [0])], 8, order))
        first = directory(main + [(34665, LONG, [exif_at])], 8, order)
        second = directory(exif, exif_at, order)
        size = 8 + len(first) + len(second)
    mark = b'II*\0' if order == '<' else b'MM\0*'
    return mark + struct.pack(order + 'I', 8) + first + second + body


# Made up; rows that look like those of a camera: X, Y, Z to red, green, blue.
MATRIX_A = [0.9, -0.25, -0.08, -0.45, 1.25, 0.22, -0.05, 0.15, 0.60]
MATRIX_D65 = [0.75, -0.20, -0.06, -0.40, 1.20, 0.20, -0.08, 0.20, 0.72]


def dng(values, width, height, order='<', samples=1, black=(64.0,), black_dim=(1, 1), white=4095,
        matrices=((21, MATRIX_D65),), neutral=(0.5, 1.0, 0.65), orientation=1, pattern=(0, 1, 1, 2), more=(),
        exif=EXIF, without=()):
    """An uncompressed DNG of 16-bit values, row by row."""
    body = struct.pack(order + str(len(values)) + 'H', *values)
    entries = [(254, LONG, [0]), (256, LONG, [width]), (257, LONG, [height]), (258, SHORT, [16] * samples),
               (259, SHORT, [1]), (262, SHORT, [32803 if samples == 1 else 34892]), (271, TEXT, 'Invented'),
               (272, TEXT, 'Pro 5'), (273, LONG, None), (274, SHORT, [orientation]), (277, SHORT, [samples]),
               (278, LONG, [height]), (279, LONG, [len(body)]), (284, SHORT, [1]), (50706, BYTE, [1, 4, 0, 0]),
               (50707, BYTE, [1, 1, 0, 0]), (50708, TEXT, 'Invented Pro 5'),
               (50713, SHORT, list(black_dim)), (50714, RATIONAL, list(black)), (50717, LONG, [white] * samples)]
    if neutral:
        entries.append((50728, RATIONAL, list(neutral)))
    if samples == 1:
        side = 2 if len(pattern) == 4 else 6
        entries += [(33421, SHORT, [side, side]), (33422, BYTE, list(pattern)), (50710, BYTE, [0, 1, 2]),
                    (50711, SHORT, [1])]
    for i, (illuminant, matrix) in enumerate(matrices):
        entries += [(50721 + i, SRATIONAL, matrix), (50778 + i, SHORT, [illuminant])]
    entries = [e for e in entries + list(more) if e[0] not in without]
    return tiff(entries, exif, order, body)


# ---- Boxes of ISO/IEC 14496-12 and 23008-12 ----------------------------------------------


def boxes(data, start=0, end=None):
    """(type, offset of the box, offset of its content, offset behind it), side by side."""
    end = len(data) if end is None else end
    while start + 8 <= end:
        size, kind = struct.unpack_from('>I4s', data, start)
        yield kind, start, start + 8, start + size
        start += size


def find(data, *path):
    """The last box of a path of types; meta is a full box: four more bytes come first."""
    at, end = 0, len(data)
    for kind in path:
        found = next(b for b in boxes(data, at, end) if b[0] == kind)
        at, end = found[2] + (4 if kind == b'meta' else 0), found[3]
    return found


def grow(data, box_path, at, more):
    """Puts bytes in at an offset within the boxes of a path, and mends sizes and the places of items."""
    data = bytearray(data)
    for i in range(len(box_path)):
        start = find(data, *box_path[:i + 1])[1]
        struct.pack_into('>I', data, start, struct.unpack_from('>I', data, start)[0] + len(more))
    data[at:at] = more
    _, _, iloc, _ = find(data, b'meta', b'iloc')
    sizes = data[iloc + 4] << 8 | data[iloc + 5]
    assert data[iloc] <= 1 and sizes == 0x4440  # as heif-enc writes it: four bytes each
    place = iloc + 8
    for _ in range(struct.unpack_from('>H', data, iloc + 6)[0]):
        method = 0
        place += 2
        if data[iloc] == 1:
            method = struct.unpack_from('>H', data, place)[0]
            place += 2
        extents = struct.unpack_from('>HIH', data, place)[2]
        place += 8
        for _ in range(extents):
            offset = struct.unpack_from('>I', data, place)[0]
            if method & 15 == 0:  # in the file, not in idat
                struct.pack_into('>I', data, place, offset + len(more))
            place += 8
    return bytes(data)


def add_property(data, box):
    """A property box for the primary item, after those that it has."""
    item = struct.unpack_from('>H', data, find(data, b'meta', b'pitm')[2] + 4)[0]
    _, _, content, end = find(data, b'meta', b'iprp', b'ipco')
    number = len(list(boxes(data, content, end))) + 1
    data = grow(data, (b'meta', b'iprp', b'ipco'), end, box)
    _, _, content, _ = find(data, b'meta', b'iprp', b'ipma')
    place = content + 8
    for _ in range(struct.unpack_from('>I', data, content + 4)[0]):
        which, count = struct.unpack_from('>HB', data, place)
        if which == item:
            data = bytearray(data)
            data[place + 2] += 1
            return grow(bytes(data), (b'meta', b'iprp', b'ipma'), place + 3 + count, bytes([0x80 | number]))
        place += 3 + count
    raise ValueError('the primary item has no properties')


def hevc_stream(data):
    """The coded picture as a stream of ITU-T H.265, annex B: of a file whose primary item is one picture."""
    _, _, content, _ = next(b for b in boxes(data, *find(data, b'meta', b'iprp', b'ipco')[2:]) if b[0] == b'hvcC')
    out, at = b'', content + 23
    for _ in range(data[content + 22]):
        count = struct.unpack_from('>H', data, at + 1)[0]
        at += 3
        for _ in range(count):
            size = struct.unpack_from('>H', data, at)[0]
            out += b'\0\0\0\1' + data[at + 2:at + 2 + size]
            at += 2 + size
    _, _, at, end = find(data, b'mdat')
    while at + 4 <= end:
        size = struct.unpack_from('>I', data, at)[0]
        out += b'\0\0\0\1' + data[at + 4:at + 4 + size]
        at += 4 + size
    return out


# ---- PNG ---------------------------------------------------------------------------------


def png(width, height, bits, rgb, chunks=(), channels=3):
    """rgb: values row by row, with alpha where there are 4 channels. chunks: (type, bytes) before the data."""
    raw, row = bytearray(), channels * width
    for y in range(height):
        line = rgb[y * row:(y + 1) * row]
        raw += b'\0' + (bytes(list(line)) if bits == 8 else struct.pack('>%dH' % row, *line))

    def chunk(kind, data):
        return struct.pack('>I', len(data)) + kind + data + struct.pack('>I', zlib.crc32(kind + data))

    return (b'\x89PNG\r\n\x1a\n' + chunk(b'IHDR', struct.pack('>IIBBBBB', width, height, bits, 2 if channels == 3 else 6, 0, 0, 0)) +
            b''.join(chunk(k, d) for k, d in chunks) + chunk(b'IDAT', zlib.compress(bytes(raw))) +
            chunk(b'IEND', b''))


# ---- What huewright makes of a file ------------------------------------------------------


class Refused(Exception):
    pass


class Photo:
    """Facts as texts by name, codes and X, Y, Z of all pixels, by the program photo_dump."""

    def __init__(self, dump, path):
        run = subprocess.run([dump, path, path + '.codes', path + '.xyz'], capture_output=True, text=True)
        self.facts = dict(line.split(' ', 1) for line in run.stdout.splitlines() if ' ' in line)
        self.warnings = [line[8:] for line in run.stdout.splitlines() if line.startswith('warning ')]
        if run.returncode != 0:
            raise Refused(self.facts.get('refused', 'died with %d %s' % (run.returncode, run.stderr)))
        self.width, self.height = int(self.facts['width']), int(self.facts['height'])
        self.codes, self.xyz = array.array('H'), array.array('d')
        for values, end in ((self.codes, '.codes'), (self.xyz, '.xyz')):
            with open(path + end, 'rb') as file:
                values.frombytes(file.read())

    def code(self, x, y):
        at = 3 * (y * self.width + x)
        return tuple(self.codes[at:at + 3])

    def xyz_at(self, x, y):
        at = 3 * (y * self.width + x)
        return tuple(self.xyz[at:at + 3])


class Check:
    passed = failed = 0

    def true(self, good, what):
        self.passed += bool(good)
        if not good:
            self.failed += 1
            print('FAILED: ' + what)

    def close(self, seen, want, within, what):
        worst = max(abs(a - b) for a, b in zip(seen, want))
        self.true(len(seen) == len(want) and worst <= within, '%s: %s, not %s' % (what, seen, want))

    def refused(self, dump, path, data, words, what):
        with open(path, 'wb') as file:
            file.write(data)
        try:
            Photo(dump, path)
            self.true(False, what + ': was read')
        except Refused as why:
            self.true(words in str(why), '%s: %s' % (what, why))

    def done(self):
        print('%d passed, %d failed' % (self.passed, self.failed))
        return 1 if self.failed else 0
