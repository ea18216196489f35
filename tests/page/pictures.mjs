// PNG pictures made and taken apart for the tests (ISO/IEC 15948, 8 bits, RGB or RGBA), by zlib alone.

import * as zlib from "node:zlib";

const TABLE = Array.from({ length: 256 }, (_, n) => {
    let c = n;
    for (let k = 0; k < 8; k += 1) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
    return c >>> 0;
});

// Node 18 has no crc32 in zlib.
function crc32(bytes) {
    if (zlib.crc32) return zlib.crc32(bytes);
    let c = 0xffffffff;
    for (const byte of bytes) c = TABLE[(c ^ byte) & 255] ^ (c >>> 8);
    return (c ^ 0xffffffff) >>> 0;
}

function chunk(name, data) {
    const body = Buffer.concat([Buffer.from(name, "latin1"), data]);
    const [length, sum] = [Buffer.alloc(4), Buffer.alloc(4)];
    length.writeUInt32BE(data.length);
    sum.writeUInt32BE(crc32(body));
    return Buffer.concat([length, body, sum]);
}

// colour(x, y) gives [r, g, b].
export function png(width, height, colour) {
    const rows = Buffer.alloc((width * 3 + 1) * height);
    for (let y = 0, at = 0; y < height; y += 1) {
        at += 1; // filter 0
        for (let x = 0; x < width; x += 1) for (const value of colour(x, y)) rows[at++] = value;
    }
    const head = Buffer.alloc(13);
    head.writeUInt32BE(width, 0);
    head.writeUInt32BE(height, 4);
    head.set([8, 2, 0, 0, 0], 8);
    return Buffer.concat([
        Buffer.from("\x89PNG\r\n\x1a\n", "latin1"),
        chunk("IHDR", head),
        chunk("IDAT", zlib.deflateSync(rows, { level: 1 })),
        chunk("IEND", Buffer.alloc(0)),
    ]);
}

// { width, height, at(x, y): [r, g, b] } of a screenshot.
export function pixels(bytes) {
    const data = [];
    let width = 0,
        height = 0,
        each = 3;
    for (let at = 8; at < bytes.length;) {
        const length = bytes.readUInt32BE(at),
            name = bytes.toString("latin1", at + 4, at + 8),
            body = bytes.subarray(at + 8, at + 8 + length);
        if (name === "IHDR") {
            [width, height] = [body.readUInt32BE(0), body.readUInt32BE(4)];
            each = body[9] === 6 ? 4 : 3;
        }
        if (name === "IDAT") data.push(body);
        at += length + 12;
    }
    const raw = zlib.inflateSync(Buffer.concat(data)),
        line = width * each;
    const out = Buffer.alloc(line * height);
    for (let y = 0; y < height; y += 1) {
        const filter = raw[y * (line + 1)];
        for (let i = 0; i < line; i += 1) {
            const a = i >= each ? out[y * line + i - each] : 0,
                b = y ? out[(y - 1) * line + i] : 0,
                c = i >= each && y ? out[(y - 1) * line + i - each] : 0;
            const p = a + b - c,
                near = [a, b, c].reduce((best, v) => (Math.abs(p - v) < Math.abs(p - best) ? v : best));
            out[y * line + i] = raw[y * (line + 1) + 1 + i] + [0, a, b, (a + b) >> 1, near][filter];
        }
    }
    return { width, height, at: (x, y) => [...out.subarray((y * width + x) * each, (y * width + x) * each + 3)] };
}
