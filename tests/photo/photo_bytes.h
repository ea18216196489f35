// photo_bytes.h: a photo of testdata as bytes in memory, for tests that change some of them.
#ifndef HUEWRIGHT_PHOTO_BYTES_H
#define HUEWRIGHT_PHOTO_BYTES_H

#include "base_internal.h"
#include "check.h"

typedef struct file {
    uint8_t *bytes;
    size_t count;
} file;

// NAME in testdata; free its bytes with hw_free.
static inline file read_file(const char *name)
{
    char path[600];
    file read = {0};
    snprintf(path, sizeof path, "%s/%s", HW_TESTDATA, name);
    if (!check_true(hw_file_read(path, 1 << 20, &read.bytes, &read.count, NULL) == HW_OK)) {
        exit(1);
    }
    return read;
}

#endif
