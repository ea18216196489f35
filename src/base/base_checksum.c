// base_checksum.c: sums that tell whether bytes are still what they were. zlib's CRC-32 for log
// lines, nettle's SHA-256 for the names of photos; and its base64 for bytes inside a text.
#include "base_internal.h"

#include <nettle/base64.h>
#include <nettle/sha2.h>
#include <stdio.h>
#include <zlib.h>

uint32_t hw_crc32(const void *bytes, size_t count)
{
    return hw_crc32_more(0, bytes, count);
}

uint32_t hw_crc32_more(uint32_t sum, const void *bytes, size_t count)
{
    // (Without bytes zlib would start anew.)
    return bytes ? (uint32_t)crc32_z(sum, bytes, count) : sum;
}

_Static_assert(sizeof(struct sha256_ctx) <= sizeof(hw_sha256), "the state fits");

void hw_sha256_start(hw_sha256 *sum)
{
    sha256_init((struct sha256_ctx *)(void *)sum->state);
}

void hw_sha256_add(hw_sha256 *sum, const void *bytes, size_t count)
{
    sha256_update((struct sha256_ctx *)(void *)sum->state, count, bytes);
}

void hw_sha256_end(hw_sha256 *sum, char out[65])
{
    uint8_t digest[SHA256_DIGEST_SIZE];
    sha256_digest((struct sha256_ctx *)(void *)sum->state, SHA256_DIGEST_SIZE, digest);
    for (size_t i = 0; i < SHA256_DIGEST_SIZE; i++) {
        snprintf(out + 2 * i, 3, "%02x", digest[i]);
    }
}

void hw_sha256_hex(const void *bytes, size_t count, char out[65])
{
    hw_sha256 sum;
    hw_sha256_start(&sum);
    hw_sha256_add(&sum, bytes, count);
    hw_sha256_end(&sum, out);
}

void hw_text_add_base64(hw_text *text, const void *bytes, size_t count)
{
    enum { PIECE = 3 * 256 }; // whole groups of three, so that only the last piece is filled up
    char letters[BASE64_ENCODE_RAW_LENGTH(PIECE)];
    for (const uint8_t *at = bytes; count > 0;) {
        size_t piece = count < PIECE ? count : PIECE;
        base64_encode_raw(letters, piece, at);
        hw_text_add_bytes(text, letters, BASE64_ENCODE_RAW_LENGTH(piece));
        at += piece;
        count -= piece;
    }
}
