// scratch.h: a folder of its own for a test that writes files. Its name has a space and a letter beyond ASCII.
#ifndef HUEWRIGHT_SCRATCH_H
#define HUEWRIGHT_SCRATCH_H

#include "base_internal.h"
#include "check.h"

#include <stdarg.h>
#include <unistd.h>

static char place[600]; // the folder; set by scratch_start

static inline void scratch_start(const char *name)
{
    snprintf(place, sizeof place, "%s/%s %ld \xc3\xa9", HW_SCRATCH, name, (long)getpid());
    check_true(hw_file_make_folder(place, true, NULL) == HW_OK);
}

// place/NAME; of the last eight calls.
static inline const char *in(const char *format, ...)
{
    static char path[8][1200];
    static int turn;
    turn = (turn + 1) % 8;
    int start = snprintf(path[turn], sizeof path[turn], "%s/", place);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(path[turn] + start, sizeof path[turn] - (size_t)start, format, arguments);
    va_end(arguments);
    return path[turn];
}

// Is that text all of the file, with a 0 behind it where it was read to?
static inline bool holds(const char *path, const char *text)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    bool same = hw_file_read(path, 1 << 20, &bytes, &count, NULL) == HW_OK &&
                count == strlen(text) && memcmp(bytes, text, count) == 0 && bytes[count] == 0;
    hw_free(bytes);
    return same;
}

#endif
