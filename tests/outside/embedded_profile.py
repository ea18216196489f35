"""The ICC profile embedded in a photo, cut out by the letter of the file formats, to standard output.

  embedded_profile.py FILE

PNG: chunk iCCP, name, 0, method 0, zlib stream (W3C PNG, 11.3.2.3). JPEG: segments APP2 that begin
ICC_PROFILE, each with its number and how many there are, put in the order of the numbers (ICC.1:2022,
annex B.4). Shares no code with the program under test.
"""
import struct
import sys
import zlib


def from_png(data):
    at = 8
    while at < len(data):
        length, kind = struct.unpack(">I4s", data[at:at + 8])
        body = data[at + 8:at + 8 + length]
        if kind == b"iCCP":
            return zlib.decompress(body[body.index(0) + 2:])
        at += 12 + length
    return None


def from_jpeg(data):
    parts, at = {}, 2
    while data[at] == 0xFF and data[at + 1] != 0xDA:  # to the first scan
        (length,) = struct.unpack(">H", data[at + 2:at + 4])
        body = data[at + 4:at + 2 + length]
        if data[at + 1] == 0xE2 and body.startswith(b"ICC_PROFILE\0"):
            parts[body[12]] = (body[13], body[14:])
        at += 2 + length
    if not parts or any(total != len(parts) for total, _ in parts.values()):
        return None
    return b"".join(parts[number][1] for number in sorted(parts))


with open(sys.argv[1], "rb") as photo:
    content = photo.read()
profile = from_png(content) if content.startswith(b"\x89PNG\r\n\x1a\n") else from_jpeg(content)
if not profile:
    sys.exit(f"{sys.argv[1]}: no whole profile embedded")
sys.stdout.buffer.write(profile)
