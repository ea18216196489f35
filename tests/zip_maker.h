// zip_maker.h: zip files byte by byte as PKWARE's APPNOTE.TXT (6.3.x, sections 4.3.7, 4.3.12, 4.3.16) sets
// them down, without a library: also those that no honest program makes (links, devices, names that lead
// elsewhere, sizes that lie, entries that share their bytes).
#ifndef HUEWRIGHT_ZIP_MAKER_H
#define HUEWRIGHT_ZIP_MAKER_H

#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#define ZIP_LINK   0120777u // st_mode as in the upper half of the external attributes
#define ZIP_DEVICE 0020644u
#define ZIP_FILE   0100644u
#define ZIP_FOLDER 0040755u

typedef struct zip_entry {
    const char *name;
    const void *data;
    size_t count;
    unsigned mode;      // 0: made by a program that keeps none
    unsigned flags;     // bit 0: encrypted; bit 11: the name is UTF-8
    bool deflate;       // else stored
    unsigned method;    // told instead of 0 or 8; 0: not
    uint32_t told_size; // told instead of the real one; 0: not
    bool wrong_sum;
    bool shares; // its bytes are those of the entry before (their heads differ in nothing)
} zip_entry;

typedef struct zip_made {
    uint8_t *bytes;
    size_t count, room;
} zip_made;

static inline void zip_put(zip_made *zip, const void *bytes, size_t count)
{
    if (zip->count + count > zip->room) {
        zip->room = 2 * zip->room + count + 256;
        zip->bytes = realloc(zip->bytes, zip->room);
    }
    if (count > 0) {
        memcpy(zip->bytes + zip->count, bytes, count);
        zip->count += count;
    }
}

static inline void zip_number(zip_made *zip, uint32_t value, int bytes)
{
    for (int i = 0; i < bytes; i++) {
        uint8_t byte = (uint8_t)((uint64_t)value >> (8 * i));
        zip_put(zip, &byte, 1);
    }
}

// Raw deflate (RFC 1951).
static inline uint8_t *zip_deflated(const void *data, size_t count, size_t *packed)
{
    z_stream stream = {0};
    size_t room = count + count / 100 + 1024;
    uint8_t *out = malloc(room);
    deflateInit2(&stream, 9, Z_DEFLATED, -15, 9, Z_DEFAULT_STRATEGY);
    stream.next_in = (Bytef *)(uintptr_t)data;
    stream.avail_in = (uInt)count;
    stream.next_out = out;
    stream.avail_out = (uInt)room;
    deflate(&stream, Z_FINISH);
    *packed = stream.total_out;
    deflateEnd(&stream);
    return out;
}

// What the head of an entry and the list of entries both tell.
static inline void zip_facts(zip_made *zip, const zip_entry *entry, size_t packed)
{
    uint32_t size = entry->told_size ? entry->told_size : (uint32_t)entry->count;
    uint32_t sum =
        (uint32_t)crc32(0, entry->count ? entry->data : (const Bytef *)"", (uInt)entry->count);
    zip_number(zip, 20, 2);
    zip_number(zip, entry->flags, 2);
    zip_number(zip, entry->method ? entry->method : entry->deflate ? 8 : 0, 2);
    zip_number(zip, 0x5c7a0000u, 4); // 2026-03-26 00:00
    zip_number(zip, entry->wrong_sum ? ~sum : sum, 4);
    zip_number(zip, (uint32_t)packed, 4);
    zip_number(zip, size, 4);
    zip_number(zip, (uint32_t)strlen(entry->name), 2);
    zip_number(zip, 0, 2);
}

// The whole file; free .bytes with free.
static inline zip_made zip_make(const zip_entry *entries, size_t count)
{
    zip_made zip = {0}, list = {0};
    size_t at = 0;
    for (size_t i = 0; i < count; i++) {
        const zip_entry *entry = &entries[i];
        size_t packed = entry->count;
        uint8_t *bytes = entry->deflate ? zip_deflated(entry->data, entry->count, &packed) : NULL;
        if (!entry->shares) {
            at = zip.count;
            zip_put(&zip, "PK\3\4", 4);
            zip_facts(&zip, entry, packed);
            zip_put(&zip, entry->name, strlen(entry->name));
            zip_put(&zip, bytes ? (const void *)bytes : entry->data, packed);
        }
        zip_put(&list, "PK\1\2", 4);
        zip_number(&list, entry->mode ? 0x0314 : 20, 2); // made on Unix, or on MS-DOS
        zip_facts(&list, entry, packed);
        zip_number(&list, 0, 6); // no comment, first disk, no text
        zip_number(&list, entry->mode << 16, 4);
        zip_number(&list, (uint32_t)at, 4);
        zip_put(&list, entry->name, strlen(entry->name));
        free(bytes);
    }
    size_t start = zip.count;
    zip_put(&zip, list.bytes, list.count);
    zip_put(&zip, "PK\5\6", 4);
    zip_number(&zip, 0, 4);
    zip_number(&zip, (uint32_t)count, 2);
    zip_number(&zip, (uint32_t)count, 2);
    zip_number(&zip, (uint32_t)list.count, 4);
    zip_number(&zip, (uint32_t)start, 4);
    zip_number(&zip, 0, 2);
    free(list.bytes);
    return zip;
}

#endif
