// base_internal.h: what all of huewright's own code stands on: checked memory,
// growing text, JSON, checksums, files that are whole or not there, and names.
//
// Order to read: memory, text, names, JSON, checksums, files. Only base_memory.c
// may call malloc, only base_json.c knows cJSON, only base_checksum.c knows zlib's
// crc32 and nettle, only base_file.c touches the disk.
#ifndef HUEWRIGHT_BASE_INTERNAL_H
#define HUEWRIGHT_BASE_INTERNAL_H

#include "huewright/base.h"

// Before the banned calls at the end, which these headers declare.
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

// ---- Memory ------------------------------------------------------------------------

// count * size bytes, zeroed; NULL when memory is out or the product overflows.
// A request of nothing gives one byte, so that NULL always means failure.
void *hw_alloc_array(size_t count, size_t size) HW_CHECK;

// As realloc with the same overflow test; the old block stays on failure. New bytes are not zeroed.
void *hw_resize_array(void *block, size_t count, size_t size) HW_CHECK;
void hw_free(void *block);

// For tests: the allocation after `successes` more ones fails, and all after it,
// until called with a negative number. hw_test_allocations counts since then.
void hw_test_fail_alloc(long successes);
void hw_test_fail_alloc_once(long successes); // that one alone: memory is there again behind it
long hw_test_allocations(void);

// ---- Text --------------------------------------------------------------------------

// A growing text. {0} is empty. Once an addition fails (memory, or past `ceiling`)
// `failed` stays set and later additions do nothing: check once, at the end.
typedef struct hw_text {
    char *bytes;   // always ends in 0 when not NULL
    size_t length; // without the final 0
    size_t capacity;
    size_t ceiling; // 0: 64 MiB
    bool failed;
    bool fixed; // an array of the caller's, `capacity` bytes long
} hw_text;

void hw_text_add(hw_text *text, const char *format, ...) HW_PRINTF(2, 3);
void hw_text_add_list(hw_text *text, const char *format, va_list arguments);
void hw_text_add_bytes(hw_text *text, const void *bytes, size_t count);
void hw_text_free(hw_text *text);

// A text in an array of the caller's of `size` bytes: it takes no memory. What does not fit is cut at a whole
// UTF-8 character, and `failed` says so. Nothing to free.
hw_text hw_text_in(char *bytes, size_t size);

// Copies `from` to `to` of `size` bytes, cut at a whole UTF-8 character, always
// ended by 0. Returns false when it was cut.
bool hw_copy_text(char *to, size_t size, const char *from);

// printf into a fixed array under the same rule of cutting.
bool hw_format_text(char *to, size_t size, const char *format, ...) HW_PRINTF(3, 4);

// True for valid UTF-8 without control characters, 1 to HW_NAME_SIZE-1 bytes, not
// starting or ending in a space: a name that can be printed, logged and typed again.
bool hw_name_is_usable(const char *name);

// Length of the valid UTF-8 character at `bytes` of which `left` are there, or 0.
size_t hw_utf8_character(const char *bytes, size_t left);
// True for valid UTF-8 (any length, control characters allowed).
bool hw_is_utf8(const char *bytes, size_t length);

// Reads a whole finite decimal number ("1/4" too when `fraction_allowed`): nothing may follow.
bool hw_parse_number(const char *text, bool fraction_allowed, double *out);

// "2026-11-25T10:27:36Z" from seconds since 1970 (UTC), and back. Sized for any int64.
void hw_format_time(char out[40], int64_t seconds);
bool hw_parse_time(const char *text, int64_t *out);

// ---- JSON --------------------------------------------------------------------------
//
// A tree of values. Building: a failed addition marks its parent, every call takes
// NULL and does nothing, and hw_json_print reports it: check once, at the end.

typedef struct hw_json hw_json;

// Parses exactly one value: refuses rubbish after the end, a byte 0, invalid UTF-8,
// duplicate keys of one object (also when they differ in case only), numbers that
// are not finite, nesting past the limit. `subject` names the file for the message.
HW_CHECK hw_status hw_json_parse(const char *bytes, size_t length, const hw_limits *limits,
                                 const char *subject, hw_json **out, hw_error *err);
hw_json *hw_json_new_object(void);
hw_json *hw_json_new_array(void);
void hw_json_free(hw_json *root);

// Additions. In an array `name` is NULL. Containers come back for filling (NULL on failure).
hw_json *hw_json_add_object(hw_json *parent, const char *name);
hw_json *hw_json_add_array(hw_json *parent, const char *name);
void hw_json_add_number(hw_json *parent, const char *name, double value); // not finite: null
// The value rounded to `decimals` places: the number is known no better.
void hw_json_add_rounded(hw_json *parent, const char *name, double value, int decimals);
void hw_json_add_text(hw_json *parent, const char *name, const char *value);
void hw_json_add_bool(hw_json *parent, const char *name, bool value);
void hw_json_add_null(hw_json *parent, const char *name);
// Hands the tree `child` over to parent (freed at once when that fails).
void hw_json_add_tree(hw_json *parent, const char *name, hw_json *child);
// A deep copy; NULL on failure or for NULL.
hw_json *hw_json_copy(const hw_json *tree);

// Text of the tree, on one line or indented for people. The caller frees *out with hw_free.
HW_CHECK hw_status hw_json_print(const hw_json *root, bool indented, char **out, hw_error *err);

// Reading: each says whether the member is there with that type. Names are exact.
const hw_json *hw_json_member(const hw_json *object, const char *name); // NULL when missing
bool hw_json_is_object(const hw_json *value);
bool hw_json_is_array(const hw_json *value);
bool hw_json_is_null(const hw_json *value);
size_t hw_json_count(const hw_json *array);                      // 0 unless an array or object
const hw_json *hw_json_item(const hw_json *array, size_t index); // walks: O(index)
const hw_json *hw_json_first(const hw_json *container);          // for loops over members
const hw_json *hw_json_next(const hw_json *value);
const char *hw_json_name(const hw_json *member); // NULL in arrays
bool hw_json_number(const hw_json *value, double *out);
const char *hw_json_text(const hw_json *value); // NULL unless text
bool hw_json_bool(const hw_json *value, bool *out);
// The same for a member: object, name.
bool hw_json_member_number(const hw_json *object, const char *name, double *out);
const char *hw_json_member_text(const hw_json *object, const char *name);

// ---- Order statistics --------------------------------------------------------------

// The k-th smallest of count values (k from 0); reorders them. count > 0, k < count, no NaN.
double hw_select(double *values, size_t count, size_t k);
// Median, and 1.4826 times the median distance from it: a standard deviation that a few wild
// values do not move (for normal values; Rousseeuw and Croux 1993). Reorders values.
void hw_median_spread(double *values, size_t count, double *median, double *spread);

// ---- Checksums ---------------------------------------------------------------------

uint32_t hw_crc32(const void *bytes,
                  size_t count); // CRC-32 of ISO-HDLC / ITU-T V.42, as zip and PNG
// SHA-256 (FIPS 180-4) as 64 lower-case hexadecimal digits and a final 0.
void hw_sha256_hex(const void *bytes, size_t count, char out[65]);

// ---- Chance ------------------------------------------------------------------------

// 16 hexadecimal digits of the system's random source and a final 0, so that two jobs started at once
// are two; all 0 where there is no such source.
void hw_chance_key(char out[17]);

// ---- Files -------------------------------------------------------------------------
//
// The only code that touches the disk. Messages name the path as the person gave it.

// Reads a whole regular file. A byte 0 is added behind the last for text readers.
// Fails: missing, a folder, unreadable, larger than max_bytes. Free *bytes with hw_free.
HW_CHECK hw_status hw_file_read(const char *path, size_t max_bytes, uint8_t **bytes, size_t *count,
                                hw_error *err);
// Whole or not there: write beside, sync, rename over, sync the folder.
HW_CHECK hw_status hw_file_replace(const char *path, const void *bytes, size_t count,
                                   hw_error *err);
// As replace, but a file that already is there stays and is no error.
HW_CHECK hw_status hw_file_keep(const char *path, const void *bytes, size_t count, hw_error *err);
HW_CHECK hw_status hw_file_make_folder(const char *path, bool parents, hw_error *err);
bool hw_file_exists(const char *path);
// True for a folder with nothing in it, and for a path where nothing is.
bool hw_folder_is_empty(const char *path);

// One writer at a time on a file of lines.
typedef struct hw_append hw_append;
// Opens (creates) and locks for this process; waits up to `wait_ms` for another writer.
HW_CHECK hw_status hw_append_open(const char *path, unsigned wait_ms, hw_append **out,
                                  hw_error *err);
// All bytes of the file as they are under the lock. Free with hw_free.
HW_CHECK hw_status hw_append_read(hw_append *file, size_t max_bytes, uint8_t **bytes, size_t *count,
                                  hw_error *err);
// Appends and syncs file and folder; only HW_OK means that it is on the disk. On
// failure the file is cut back to what it was, if the disk lets us.
HW_CHECK hw_status hw_append_write(hw_append *file, const void *bytes, size_t count, hw_error *err);
// Moves the bytes from `offset` on into the new file `aside` (synced), then cuts the file there.
HW_CHECK hw_status hw_append_cut(hw_append *file, size_t offset, const char *aside, hw_error *err);
void hw_append_close(hw_append **file);

// ---- Banned calls ------------------------------------------------------------------
// Each has a checked twin above. (As compile errors, in all of src/.)
#if defined(__GNUC__) && !defined(HW_MALLOC_ALLOWED)
#pragma GCC poison malloc calloc realloc free strdup
#endif
#if defined(__GNUC__)
#pragma GCC poison strcpy strcat sprintf vsprintf strtok atoi atol atof gets localtime
#endif

#endif
