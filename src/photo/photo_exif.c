// photo_exif.c: orientation, colour space, camera and time from EXIF (CIPA DC-008, in TIFF 6.0
// structure). Every offset is tested against the bytes that are there; directories are not followed
// past one level, so nothing can loop.
#include "base_internal.h"
#include "photo_internal.h"

typedef struct tiff {
    const uint8_t *bytes;
    size_t count;
    bool big;
} tiff;

static uint32_t get16(const tiff *t, size_t at)
{
    const uint8_t *b = t->bytes + at;
    return t->big ? (uint32_t)b[0] << 8 | b[1] : (uint32_t)b[1] << 8 | b[0];
}

static uint32_t get32(const tiff *t, size_t at)
{
    uint32_t first = get16(t, at), second = get16(t, at + 2);
    return t->big ? first << 16 | second : second << 16 | first;
}

static void drop_blanks(char *text)
{
    for (size_t end = strlen(text); end > 0 && text[end - 1] == ' '; end--) {
        text[end - 1] = 0;
    }
}

// Text of an entry (type 2) without trailing blanks; "" when it is not there or not plain.
static void get_text(const tiff *t, size_t entry, char *out, size_t size)
{
    size_t count = get32(t, entry + 4);
    size_t at = count <= 4 ? entry + 8 : get32(t, entry + 8);
    out[0] = 0;
    if (get16(t, entry + 2) != 2 || at > t->count || count > t->count - at) {
        return;
    }
    char text[96] = {0};
    size_t length = 0;
    while (length < count && length + 1 < sizeof text && t->bytes[at + length]) {
        text[length] = (char)t->bytes[at + length];
        length++;
    }
    drop_blanks(text);
    if (hw_name_is_usable(text)) {
        hw_copy_text(out, size, text);
        drop_blanks(out);
    }
}

typedef struct found {
    hw_exif *out;
    char make[96], model[96];
    size_t exif_directory;
} found;

static void read_entry(const tiff *t, size_t entry, found *f)
{
    switch (get16(t, entry)) {
    case 0x0112: { // Orientation, SHORT
        uint32_t value = get16(t, entry + 8);
        if (get16(t, entry + 2) == 3 && value >= 1 && value <= 8) {
            f->out->orientation = (int)value;
        }
        break;
    }
    case 0x010f:
        get_text(t, entry, f->make, sizeof f->make);
        break;
    case 0x0110:
        get_text(t, entry, f->model, sizeof f->model);
        break;
    case 0x8769:
        f->exif_directory = get32(t, entry + 8);
        break;
    case 0xa001:
        f->out->colour_space = (int)get16(t, entry + 8);
        break;
    case 0x9003:
        get_text(t, entry, f->out->taken, sizeof f->out->taken);
        break;
    default:
        break;
    }
}

static void read_directory(const tiff *t, size_t at, found *f)
{
    if (at > t->count || t->count - at < 2) {
        return;
    }
    size_t entries = get16(t, at), room = (t->count - at - 2) / 12;
    for (size_t i = 0; i < entries && i < room; i++) {
        read_entry(t, at + 2 + 12 * i, f);
    }
}

void hw_exif_read(hw_part exif, hw_exif *out)
{
    *out = (hw_exif){.orientation = 1};
    if (exif.count < 8) {
        return;
    }
    tiff t = {exif.bytes, exif.count, exif.bytes[0] == 'M'};
    bool known = memcmp(exif.bytes, "II*\0", 4) == 0 || memcmp(exif.bytes, "MM\0*", 4) == 0;
    if (!known) {
        return;
    }
    found f = {.out = out};
    read_directory(&t, get32(&t, 4), &f);
    if (f.exif_directory) {
        read_directory(&t, f.exif_directory, &f);
    }
    // Models often repeat the make.
    bool repeats = f.make[0] && strncmp(f.model, f.make, strlen(f.make)) == 0;
    hw_format_text(out->camera, sizeof out->camera, "%s%s%s", repeats ? "" : f.make,
                   !repeats && f.make[0] && f.model[0] ? " " : "", f.model);
    drop_blanks(out->camera); // where the two are too long, the cut may fall behind one
}
