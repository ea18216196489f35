// photo_scan.c: do the data of a JPEG end where its picture ends?
//
// A JPEG carries no checksum. Where bytes of its coded data are changed or missing, most decoders go on
// in silence: they lose their place among the codes and fill what is left with wrong or grey blocks. But
// a reader that has lost its place seldom arrives: it meets a code that is none, runs out of data before
// the last block, or has data left behind it. So this file reads every code of every scan as a decoder
// would, without making a picture, and holds the end against the frame's number of blocks. What it
// cannot see is damage after which as many blocks come out (the decoder finds back into step): most of
// these move colours by whole steps until the next restart marker, and some of them leave the range of
// a coefficient, which is tested too.
//
//
// It runs beside the decoding child, on memory it is given: it allocates nothing, and a file that has more
// tables and scans than any camera writes is not read on, so that it ends in seconds whatever comes.
//
// ITU-T T.81: markers annex B, sequential coding annex F.2, progressive coding annex G.
#include "base_internal.h"
#include "photo_internal.h"

#define FAST_BITS    10  // codes up to here are found by one look
#define END_OF_BLOCK 128 // more coefficients than there are

typedef struct code_table {
    uint16_t fast[1 << FAST_BITS]; // length << 8 | value; 0: longer, or none
    // Of a sequential block: bits of code and coefficient << 8 | coefficients it takes; 0: as above, or
    // what is not allowed.
    uint16_t skip[1 << FAST_BITS];
    int32_t last[17];  // largest code of each length; -1: none
    int32_t shift[17]; // place of a value less its code
    uint8_t value[256];
    bool known;
} code_table;

typedef struct component {
    unsigned id, across, down; // sampling factors
    size_t blocks_x, blocks_y; // of a scan of its own
    size_t stride;             // blocks of a row with those that fill up the last MCU
    uint64_t *coded;           // progressive: which coefficients of each block are not zero
    uint8_t level[64];         // progressive: lowest bit seen of each coefficient; 255: none seen
    const code_table *first, *rest; // of the current scan: DC and AC
    int32_t mean, step;             // DC prediction, and what one of it is worth
    unsigned steps;                 // number of its quantization table
    bool seen;
} component;

typedef struct scan {
    const uint8_t *start, *at, *end;
    uint64_t buffer; // the next bits, from the top
    unsigned held;   // how many of them come from the file; behind these: zeros
    code_table table[2][4];
    uint16_t step[4]; // first entry of each quantization table
    component part[3];
    unsigned parts, across_most, down_most;
    size_t width, height;
    bool progressive;
    uint64_t *room;
    size_t room_count;
    unsigned restart_after; // MCUs; 0: no restarts
    // Of the current scan:
    component *order[3];
    unsigned order_count, from, to, high, low;
    uint32_t zero_run; // blocks that are still to end at once (EOBRUN)
    hw_scan_end found; // HW_SCAN_WHOLE until something is wrong
    unsigned done;     // tables and scans of a component so far
    bool left_over;    // somewhere data went on behind the last block; reading goes on
} scan;

static bool wrong(scan *s, hw_scan_end what)
{
    if (s->found == HW_SCAN_WHOLE) {
        s->found = what;
    }
    return false;
}

// Chosen: progressive files of usual encoders have some ten scans and as many tables; libjpeg-turbo's own
// fuzzing stops at 500 scans.
#define DONE_MOST 1000

static bool may_go_on(scan *s)
{
    return ++s->done <= DONE_MOST || wrong(s, HW_SCAN_BROKEN);
}

// ---- Bits --------------------------------------------------------------------------

// Is one of four bytes FF? (One of their complements is 0.)
static bool has_ff(uint32_t four)
{
    uint32_t other = ~four;
    return ((other - 0x01010101u) & four & 0x80808080u) != 0;
}

// Fills the buffer up to the next marker (B.1.1.5: FF 00 stands for the byte FF); at least 32 bits
// are there then, or all that is left.
static void fill(scan *s)
{
    if (s->held >= 32) {
        return;
    }
    if (s->end - s->at >= 4) { // the usual four bytes, without an FF
        uint32_t four = (uint32_t)s->at[0] << 24 | (uint32_t)s->at[1] << 16 |
                        (uint32_t)s->at[2] << 8 | s->at[3];
        if (!has_ff(four)) {
            s->buffer |= (uint64_t)four << (32 - s->held);
            s->held += 32;
            s->at += 4;
            return;
        }
    }
    while (s->held <= 56 && s->at < s->end) {
        uint8_t byte = s->at[0];
        if (byte == 0xff) {
            if (s->end - s->at < 2 || s->at[1] != 0) {
                return;
            }
            s->at++;
        }
        s->at++;
        s->buffer |= (uint64_t)byte << (56 - s->held);
        s->held += 8;
    }
}

static bool drop(scan *s, unsigned count)
{
    if (count > s->held) {
        return wrong(s, HW_SCAN_SHORT);
    }
    s->buffer = count ? s->buffer << count : s->buffer;
    s->held -= count;
    return true;
}

static bool take(scan *s, unsigned count, uint32_t *out) // 0 to 16 bits
{
    fill(s);
    *out = count ? (uint32_t)(s->buffer >> (64 - count)) : 0;
    return drop(s, count);
}

// The next code's value; -1 at a fault.
static int take_code(scan *s, const code_table *table)
{
    fill(s);
    unsigned quick = table->fast[s->buffer >> (64 - FAST_BITS)];
    if (quick) {
        return drop(s, quick >> 8) ? (int)(quick & 255) : -1;
    }
    for (unsigned length = FAST_BITS + 1; length <= 16; length++) {
        int32_t code = (int32_t)(s->buffer >> (64 - length));
        if (code <= table->last[length]) {
            return drop(s, length) ? table->value[(code + table->shift[length]) & 255] : -1;
        }
    }
    // Behind the last bit there is nothing to be wrong.
    wrong(s, s->held < 16 ? HW_SCAN_SHORT : HW_SCAN_BROKEN);
    return -1;
}

// ---- Blocks ------------------------------------------------------------------------

// The mean of a block (F.2.2.1). For samples of 8 bits a difference has 11 bits at most (table F.1), and
// the mean times its step is 8 x (sample - 128), 1024 at most. Half as much again is let pass (chosen):
// there are encoders that overshoot by up to a quarter, against ringing.
static bool take_mean(scan *s, component *part)
{
    int size = take_code(s, part->first);
    uint32_t bits;
    if (size < 0) {
        return false;
    }
    if (size > 11) {
        return wrong(s, HW_SCAN_BROKEN);
    }
    if (!take(s, (unsigned)size, &bits)) {
        return false;
    }
    int32_t difference = (int32_t)bits;
    if (size > 0 && bits < 1u << (size - 1)) {
        difference -= (1 << size) - 1;
    }
    part->mean += difference;
    int32_t most = (1536 / part->step + 1) >> s->low;
    return (part->mean >= -most - 1 && part->mean <= most) || wrong(s, HW_SCAN_BROKEN);
}

// Codes of what is held, as long as each needs one look; from coefficient k to the one returned.
static unsigned quick_codes(scan *s, const code_table *table, unsigned k)
{
    uint64_t buffer = s->buffer;
    unsigned held = s->held;
    while (k < 64) {
        unsigned quick = table->skip[buffer >> (64 - FAST_BITS)], bits = quick >> 8;
        if (!quick || bits > held) {
            break;
        }
        buffer <<= bits;
        held -= bits;
        k += quick & 255;
    }
    s->buffer = buffer;
    s->held = held;
    return k;
}

// The other coefficients of a sequential block (F.2.2.2; sizes up to 10 bits: table F.2).
static bool walk_rest(scan *s, component *part)
{
    unsigned k = 1;
    while (k < 64) {
        fill(s);
        unsigned before = k;
        k = quick_codes(s, part->rest, k);
        if (k >= 64 || (k > before && s->held < 32)) {
            continue;
        }
        int value = take_code(s, part->rest);
        uint32_t bits;
        if (value < 0) {
            return false;
        }
        unsigned run = (unsigned)value >> 4, size = (unsigned)value & 15;
        if (value == 0) {
            return true;
        }
        k += run + 1;
        if (size > 10 || (size == 0 && run != 15)) {
            return wrong(s, HW_SCAN_BROKEN);
        }
        if (!take(s, size, &bits)) {
            return false;
        }
    }
    return k == 64 || k > END_OF_BLOCK || wrong(s, HW_SCAN_BROKEN);
}

static bool start_zero_run(scan *s, unsigned run) // G.1.2.2: EOBn
{
    uint32_t bits;
    if (!take(s, run, &bits)) {
        return false;
    }
    s->zero_run = (1u << run) + bits;
    return true;
}

// First scan of some coefficients (G.1.2.2).
static bool walk_first(scan *s, component *part, uint64_t *coded)
{
    if (s->zero_run > 0) {
        s->zero_run--;
        return true;
    }
    for (unsigned k = s->from; k <= s->to; k++) {
        int value = take_code(s, part->rest);
        uint32_t bits;
        if (value < 0) {
            return false;
        }
        unsigned run = (unsigned)value >> 4, size = (unsigned)value & 15;
        if (size == 0 && run != 15) {
            if (!start_zero_run(s, run)) {
                return false;
            }
            s->zero_run--;
            return true;
        }
        k += run;
        if (size > 10 || k > s->to) {
            return wrong(s, HW_SCAN_BROKEN);
        }
        if (!take(s, size, &bits)) {
            return false;
        }
        *coded |= size ? (uint64_t)1 << k : 0;
    }
    return true;
}

static unsigned ones_of(uint64_t bits)
{
    unsigned count = 0;
    for (; bits; bits &= bits - 1) {
        count++;
    }
    return count;
}

// One more bit for each coefficient that has one, from *k on, until `zeros` that have none were passed
// (64: all to the end of the range).
static bool correct(scan *s, uint64_t coded, unsigned *k, unsigned zeros)
{
    unsigned from = *k, to = s->to + 1;
    uint32_t bits;
    if (from >= to) {
        return true;
    }
    for (unsigned at = from; zeros < 64 && at < to; at++) {
        if (!(coded >> at & 1) && zeros-- == 0) {
            to = at;
        }
    }
    *k = to;
    unsigned left = ones_of(coded >> from << from << (64 - to));
    for (; left > 16; left -= 16) {
        if (!take(s, 16, &bits)) {
            return false;
        }
    }
    return take(s, left, &bits);
}

// A later scan of the same coefficients (G.1.2.3).
static bool walk_later(scan *s, component *part, uint64_t *coded)
{
    unsigned k = s->from;
    while (s->zero_run == 0 && k <= s->to) {
        int value = take_code(s, part->rest);
        uint32_t sign;
        if (value < 0) {
            return false;
        }
        unsigned run = (unsigned)value >> 4, size = (unsigned)value & 15;
        if (size > 1) {
            return wrong(s, HW_SCAN_BROKEN);
        }
        if (size == 0 && run != 15) {
            if (!start_zero_run(s, run)) {
                return false;
            }
            break;
        }
        if (!take(s, size, &sign) || !correct(s, *coded, &k, run)) {
            return false;
        }
        if (k > s->to) {
            return size == 0 || wrong(s, HW_SCAN_BROKEN);
        }
        *coded |= size ? (uint64_t)1 << k : 0;
        k++;
    }
    if (s->zero_run > 0) {
        s->zero_run--;
        return correct(s, *coded, &k, 64);
    }
    return true;
}

static bool walk_block(scan *s, component *part, size_t x, size_t y)
{
    uint32_t bit;
    if (!s->progressive) {
        return take_mean(s, part) && walk_rest(s, part);
    }
    if (s->from == 0) {
        return s->high ? take(s, 1, &bit) : take_mean(s, part);
    }
    uint64_t *coded = part->coded + y * part->stride + x;
    return s->high ? walk_later(s, part, coded) : walk_first(s, part, coded);
}

// ---- A scan ------------------------------------------------------------------------

// Behind the last block before a marker: fewer than 8 bits are left, and no byte. Cameras that fill up
// with bytes all alike are known, and do no harm.
static bool at_marker(scan *s)
{
    fill(s);
    unsigned whole = s->held / 8;
    int filling = -1;
    bool alike = true;
    s->buffer <<= s->held % 8;
    for (; whole > 0; whole--, s->buffer <<= 8) {
        int byte = (int)(s->buffer >> 56);
        alike = alike && (filling < 0 || filling == byte);
        filling = byte;
    }
    for (; s->end - s->at >= 2 && !(s->at[0] == 0xff && s->at[1] != 0); s->at++) {
        int byte = s->at[0];
        alike = alike && (filling < 0 || filling == byte);
        filling = byte;
        s->at += byte == 0xff;
    }
    s->buffer = 0;
    s->held = 0;
    while (s->end - s->at >= 2 && s->at[1] == 0xff) {
        s->at++; // fill bytes (B.1.1.2)
    }
    if (s->zero_run > 0) {
        return wrong(s, HW_SCAN_BROKEN);
    }
    s->left_over = s->left_over || !alike;
    return true;
}

static bool restart(scan *s, unsigned number)
{
    if (!at_marker(s)) {
        return false;
    }
    if (s->end - s->at < 2 || s->at[1] != 0xd0 + number % 8) {
        return wrong(s, HW_SCAN_BROKEN);
    }
    s->at += 2;
    for (unsigned i = 0; i < s->order_count; i++) {
        s->order[i]->mean = 0;
    }
    return true;
}

// One MCU: a block, or those of each component in turn (A.2).
static bool walk_unit(scan *s, size_t x, size_t y)
{
    if (s->order_count == 1) {
        return walk_block(s, s->order[0], x, y);
    }
    for (unsigned i = 0; i < s->order_count; i++) {
        component *part = s->order[i];
        for (size_t v = 0; v < part->down; v++) {
            for (size_t h = 0; h < part->across; h++) {
                if (!walk_block(s, part, x * part->across + h, y * part->down + v)) {
                    return false;
                }
            }
        }
    }
    return true;
}

static size_t parts_of(size_t whole, size_t part) // rounded up
{
    return (whole + part - 1) / part;
}

static bool walk_scan(scan *s)
{
    bool alone = s->order_count == 1;
    size_t units_x = alone ? s->order[0]->blocks_x : parts_of(s->width, 8 * s->across_most);
    size_t units_y = alone ? s->order[0]->blocks_y : parts_of(s->height, 8 * s->down_most);
    size_t units = units_x * units_y, done = 0;
    s->buffer = 0;
    s->held = 0;
    s->zero_run = 0;
    for (size_t y = 0; y < units_y; y++) {
        for (size_t x = 0; x < units_x; x++) {
            if (!walk_unit(s, x, y)) {
                return false;
            }
            done++;
            if (s->restart_after && done % s->restart_after == 0 && done < units &&
                !restart(s, (unsigned)(done / s->restart_after - 1) % 8)) {
                return false;
            }
        }
    }
    return at_marker(s);
}

// ---- Segments ----------------------------------------------------------------------

static uint16_t skip_of(unsigned bits, unsigned value)
{
    unsigned run = value >> 4, size = value & 15;
    bool allowed = value == 0 || value == 0xf0 || (size >= 1 && size <= 10);
    unsigned takes = value == 0 ? END_OF_BLOCK : run + 1;
    return allowed ? (uint16_t)((bits + size) << 8 | takes) : 0;
}

// DHT (B.2.4.2): class and place, how many codes of each length, their values.
static bool read_codes(scan *s, const uint8_t *at, size_t length)
{
    while (length >= 17) {
        unsigned class = at[0] >> 4, place = at[0] & 15;
        size_t count = 0;
        int32_t code = 0;
        if (class > 1 || place > 3 || !may_go_on(s)) {
            return wrong(s, HW_SCAN_BROKEN);
        }
        code_table *table = &s->table[class][place];
        memset(table, 0, sizeof *table);
        for (unsigned bits = 1; bits <= 16; bits++) {
            int32_t here = at[bits];
            table->shift[bits] = (int32_t)count - code;
            for (int32_t i = 0; bits <= FAST_BITS && i < here; i++) {
                // All that begin with this code.
                size_t from = (size_t)(code + i) << (FAST_BITS - bits);
                size_t span = (size_t)1 << (FAST_BITS - bits);
                if (count + (size_t)i >= length - 17 || from + span > (size_t)1 << FAST_BITS) {
                    return wrong(s, HW_SCAN_BROKEN);
                }
                unsigned value = at[17 + count + (size_t)i];
                for (size_t k = 0; k < span; k++) {
                    table->fast[from + k] = (uint16_t)(bits << 8 | value);
                    table->skip[from + k] = skip_of(bits, value);
                }
            }
            count += (size_t)here;
            code += here;
            if (code > 1 << bits || count > 256) {
                return wrong(s, HW_SCAN_BROKEN);
            }
            table->last[bits] = here ? code - 1 : -1;
            code <<= 1;
        }
        if (length < 17 + count) {
            return wrong(s, HW_SCAN_BROKEN);
        }
        memcpy(table->value, at + 17, count);
        table->known = true;
        at += 17 + count;
        length -= 17 + count;
    }
    return length == 0 || wrong(s, HW_SCAN_BROKEN);
}

// DQT (B.2.4.1): of each table the first entry alone, the step of a block's mean.
static bool read_steps(scan *s, const uint8_t *at, size_t length)
{
    while (length > 0) {
        bool wide = at[0] >> 4;
        size_t size = wide ? 129 : 65;
        if (length < size || (at[0] & 15) > 3) {
            return wrong(s, HW_SCAN_BROKEN);
        }
        s->step[at[0] & 3] = (uint16_t)(wide ? at[1] << 8 | at[2] : at[1]);
        at += size;
        length -= size;
    }
    return true;
}

// SOF0 to SOF2 (B.2.2). The probe has tested what kind of frame it is, and its size.
static bool read_frame(scan *s, uint8_t marker, const uint8_t *at, size_t length)
{
    if (s->parts || length < 6 || (at[5] != 1 && at[5] != 3) || length != 6 + 3u * at[5] ||
        marker > 0xc2) {
        return wrong(s, HW_SCAN_BROKEN);
    }
    s->progressive = marker == 0xc2;
    s->height = (size_t)at[1] << 8 | at[2];
    s->width = (size_t)at[3] << 8 | at[4];
    s->parts = at[5];
    for (unsigned i = 0; i < s->parts; i++) {
        component *part = &s->part[i];
        *part = (component){.id = at[6 + 3 * i],
                            .across = at[7 + 3 * i] >> 4,
                            .down = at[7 + 3 * i] & 15,
                            .steps = at[8 + 3 * i]};
        memset(part->level, 255, sizeof part->level);
        if (part->across < 1 || part->across > 4 || part->down < 1 || part->down > 4 ||
            part->steps > 3) {
            return wrong(s, HW_SCAN_BROKEN);
        }
        s->across_most = part->across > s->across_most ? part->across : s->across_most;
        s->down_most = part->down > s->down_most ? part->down : s->down_most;
    }
    size_t used = 0;
    for (unsigned i = 0; i < s->parts; i++) {
        component *part = &s->part[i];
        size_t rows = parts_of(s->height, 8 * s->down_most) * part->down;
        part->stride = parts_of(s->width, 8 * s->across_most) * part->across;
        part->blocks_x = parts_of(parts_of(s->width * part->across, s->across_most), 8);
        part->blocks_y = parts_of(parts_of(s->height * part->down, s->down_most), 8);
        size_t blocks = s->progressive ? part->stride * rows : 0;
        if (blocks > s->room_count - used) {
            return wrong(s, HW_SCAN_BROKEN);
        }
        part->coded = blocks ? s->room + used : NULL;
        used += blocks;
    }
    return true;
}

static component *part_called(scan *s, unsigned id)
{
    for (unsigned i = 0; i < s->parts; i++) {
        if (s->part[i].id == id) {
            return &s->part[i];
        }
    }
    return NULL;
}

// Which coefficients, to which bit (G.1.1.1.1).
static bool read_range(scan *s, const uint8_t *at)
{
    s->from = at[0];
    s->to = at[1];
    s->high = at[2] >> 4;
    s->low = at[2] & 15;
    if (!s->progressive) {
        s->from = s->high = s->low = 0;
        s->to = 63;
    }
    bool good = !s->progressive || (s->from <= s->to && s->to <= 63 && s->low <= 13 &&
                                    (s->from > 0 ? s->order_count == 1 : s->to == 0));
    for (unsigned i = 0; good && i < s->order_count; i++) {
        for (unsigned k = s->from; k <= s->to; k++) {
            s->order[i]->level[k] = (uint8_t)s->low;
        }
    }
    return good || wrong(s, HW_SCAN_BROKEN);
}

// SOS (B.2.3), then the codes behind it.
static bool read_scan(scan *s, const uint8_t *at, size_t length)
{
    unsigned count = length > 0 ? at[0] : 0;
    if (count < 1 || count > s->parts || length != 4 + 2u * count) {
        return wrong(s, HW_SCAN_BROKEN);
    }
    s->order_count = count;
    for (unsigned i = 0; i < count; i++) {
        component *part = part_called(s, at[1 + 2 * i]);
        unsigned first = at[2 + 2 * i] >> 4, rest = at[2 + 2 * i] & 15;
        if (!part || first > 3 || rest > 3 || !may_go_on(s)) {
            return wrong(s, HW_SCAN_BROKEN);
        }
        part->first = &s->table[0][first];
        part->rest = &s->table[1][rest];
        part->mean = 0;
        part->step = s->step[part->steps] ? s->step[part->steps] : 1;
        part->seen = true;
        s->order[i] = part;
    }
    if (!read_range(s, at + 1 + 2 * count)) {
        return false;
    }
    for (unsigned i = 0; i < count; i++) {
        bool first = s->from == 0 && s->high == 0, rest = s->to > 0;
        if ((first && !s->order[i]->first->known) || (rest && !s->order[i]->rest->known)) {
            return wrong(s, HW_SCAN_BROKEN);
        }
    }
    return walk_scan(s);
}

static bool read_segment(scan *s, uint8_t marker, const uint8_t *at, size_t length)
{
    switch (marker) {
    case 0xc4:
        return read_codes(s, at, length);
    case 0xda:
        return read_scan(s, at, length);
    case 0xdb:
        return read_steps(s, at, length);
    case 0xdd: // DRI (B.2.4.4)
        s->restart_after = length == 2 ? (unsigned)at[0] << 8 | at[1] : 0;
        return true;
    default:
        return (marker & 0xf0) != 0xc0 || read_frame(s, marker, at, length);
    }
}

// Every component came, and each coefficient that came came down to its last bit.
static bool all_there(scan *s)
{
    for (unsigned i = 0; i < s->parts; i++) {
        const component *part = &s->part[i];
        bool whole = part->seen && (!s->progressive || part->level[0] == 0);
        for (unsigned k = 1; s->progressive && k < 64; k++) {
            whole = whole && (part->level[k] == 0 || part->level[k] == 255);
        }
        if (!whole) {
            return wrong(s, HW_SCAN_SHORT);
        }
    }
    return s->parts > 0 || wrong(s, HW_SCAN_BROKEN);
}

static bool walk_file(scan *s)
{
    s->at = s->start + 2; // SOI
    while (s->end - s->at >= 2 && s->at[0] == 0xff) {
        uint8_t marker = s->at[1];
        if (marker == 0xff) {
            s->at++;
            continue;
        }
        s->at += 2;
        if (marker == 0xd9) {
            return all_there(s);
        }
        if (marker >= 0xd0 && marker <= 0xd7) {
            s->left_over = true; // a restart where no data are to come
            continue;
        }
        if (marker == 0x01) {
            continue;
        }
        size_t left = (size_t)(s->end - s->at);
        size_t length = left < 2 ? 0 : (size_t)s->at[0] << 8 | s->at[1];
        if (length < 2 || length > left) {
            return wrong(s, HW_SCAN_SHORT);
        }
        const uint8_t *data = s->at + 2;
        s->at += length; // a scan's codes end further on
        if (!read_segment(s, marker, data, length - 2)) {
            return false;
        }
    }
    return wrong(s, HW_SCAN_SHORT);
}

size_t hw_photo_scan_room(const hw_probe *probe)
{
    // A component has at most a block for each 8 x 8 pixels, in MCUs of at most 32 x 32.
    return probe->progressive ? 3 * (probe->width / 8 + 5) * (probe->height / 8 + 5) : 0;
}

hw_scan_end hw_photo_scan(const uint8_t *bytes, size_t count, uint64_t *room, size_t room_count,
                          size_t *where)
{
    scan s = {
        .start = bytes, .at = bytes, .end = bytes + count, .room = room, .room_count = room_count};
    *where = 0;
    if (count < 4 || !walk_file(&s)) {
        *where = (size_t)(s.at - s.start);
        return s.found == HW_SCAN_WHOLE ? HW_SCAN_SHORT : s.found;
    }
    return s.left_over ? HW_SCAN_LEFT_OVER : HW_SCAN_WHOLE;
}
