// base_checksum.c: sums that tell whether bytes are still what they were. zlib's CRC-32 for log
// lines, nettle's SHA-256 for the names of photos.
#include "base_internal.h"

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

void hw_sha256_hex(const void *bytes, size_t count, char out[65])
{
    struct sha256_ctx context;
    uint8_t digest[SHA256_DIGEST_SIZE];
    sha256_init(&context);
    sha256_update(&context, count, bytes);
    sha256_digest(&context, SHA256_DIGEST_SIZE, digest);
    for (size_t i = 0; i < SHA256_DIGEST_SIZE; i++) {
        snprintf(out + 2 * i, 3, "%02x", digest[i]);
    }
}
