// base_internal.h: what all of huewright's own code stands on: checked memory,
// growing text, JSON, checksums, files that are whole or not there, and names.
//
// Order to read: memory, text, names, JSON, tables, checksums, files, packs. Only base_memory.c
// may call malloc, only base_json.c knows cJSON, only base_cgats.c knows LittleCMS (as
// photo_icc.c does), only base_checksum.c knows zlib's crc32 and nettle, only base_file.c
// touches the disk, only base_pack.c knows libarchive.
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

const char *hw_text_words(const hw_text *text); // its bytes, or "" where there are none
void hw_text_add(hw_text *text, const char *format, ...) HW_PRINTF(2, 3);
void hw_text_add_list(hw_text *text, const char *format, va_list arguments);
void hw_text_add_bytes(hw_text *text, const void *bytes, size_t count);
void hw_text_add_base64(hw_text *text, const void *bytes, size_t count); // RFC 4648, section 4
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
// What is needed of a large text.
typedef struct hw_json_wanted {
    const char *const *names; // of all objects only the members with these names; ends in NULL
    const char *member,
        *value; // of lists only objects whose member, if they have it, is that text; NULL: all
} hw_json_wanted;

// The same, but only what is wanted is kept. All of the text is tested as above, but a name that stands twice is
// only noticed among what is kept.
HW_CHECK hw_status hw_json_parse_members(const char *bytes, size_t length, const hw_limits *limits,
                                         const hw_json_wanted *wanted, const char *subject,
                                         hw_json **out, hw_error *err);
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
// Would both be printed alike? (False also where memory is out.)
bool hw_json_is_same(const hw_json *one, const hw_json *other);

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

// ---- Tables ------------------------------------------------------------------------
//
// A table of texts as instruments write it: what kind it is, keywords with values, named fields,
// rows of cells. {0} is an empty one. Building: once memory is out `failed` stays set and later
// additions do nothing: check once, at the end.

#define HW_TABLE_ROWS_MOST     32766 // as many as LittleCMS takes
#define HW_TABLE_FIELDS_MOST   512   // a spectrum at 1 nm and some names
#define HW_TABLE_KEYWORDS_MOST 500
#define HW_TABLE_TEXT_MOST     1000 // bytes of one cell or value

typedef struct hw_text_list { // offsets of texts in the pool
    size_t *at;
    size_t count, room;
} hw_text_list;

typedef struct hw_table {
    hw_text pool; // all texts, each ended by 0; the first one is empty
    size_t type;
    hw_text_list keyword, value; // as many of one as of the other
    hw_text_list field;
    hw_text_list cell; // row by row
    hw_text_list line; // of the file, a row each
    bool failed;
} hw_table;

void hw_table_free(hw_table *table); // leaves an empty one
void hw_table_set_type(hw_table *table, const char *type);
void hw_table_add_keyword(hw_table *table, const char *name, const char *value);
void hw_table_add_field(hw_table *table, const char *name);
void hw_table_add_cell(hw_table *table, const char *text);
// Ends a row of as many cells as there are fields: cells that miss are empty ones.
void hw_table_end_row(hw_table *table, size_t line);

size_t hw_table_rows(const hw_table *table);
size_t hw_table_fields(const hw_table *table);
size_t hw_table_keywords(const hw_table *table);
const char *hw_table_type(const hw_table *table); // "" where none is said
const char *hw_table_field(const hw_table *table, size_t field);
const char *hw_table_cell(const hw_table *table, size_t row, size_t field);
size_t hw_table_line(const hw_table *table, size_t row);
void hw_table_keyword_at(const hw_table *table, size_t index, const char **name,
                         const char **value);
// The value of the first keyword of that name (letters alike), or NULL.
const char *hw_table_keyword(const hw_table *table, const char *name);
bool hw_same_letters(const char *one, const char *other); // ASCII, upper and lower case alike

// CGATS.17 / ISO 28178 text by LittleCMS (base_cgats.c). Free the list with hw_tables_free.
// HW_ERR_INPUT with the codes table-large, table-encoding, table-damaged, table-include.
HW_CHECK hw_status hw_cgats_read(const char *bytes, size_t count, const char *subject,
                                 const hw_limits *limits, hw_table **out, size_t *table_count,
                                 hw_error *err);
void hw_tables_free(hw_table *tables, size_t count);
// The text of one table; the caller frees *out with hw_free. Texts without a place in such a file
// (line ends, double quotes) become blanks and single quotes.
HW_CHECK hw_status hw_cgats_write(const hw_table *table, char **out, hw_error *err);

// ---- Order statistics --------------------------------------------------------------

// The k-th smallest of count values (k from 0); reorders them. count > 0, k < count, no NaN.
double hw_select(double *values, size_t count, size_t k);
// Median, and 1.4826 times the median distance from it: a standard deviation that a few wild
// values do not move (for normal values; Rousseeuw and Croux 1993). Reorders values.
void hw_median_spread(double *values, size_t count, double *median, double *spread);

// ---- Rows shared among threads -----------------------------------------------------

#define HW_THREADS 4 // at most, the caller's own among them (chosen: more wait for memory)

// Work on `count` rows, `each` at a time. `worker` tells which thread it is, 0 to HW_THREADS - 1, so that each can have
// room of its own, made before: the work may not allocate, nor touch what another row's work writes.
typedef struct hw_rows {
    size_t count, each;
    void (*work)(void *context, size_t worker, size_t first, size_t end);
    void *context;
} hw_rows;

// Who is told how far the work is: its share 0 to 1 becomes `from` to `to` of a longer one.
typedef struct hw_watch {
    const hw_progress *progress; // or NULL
    const char *what;            // "correcting the photo"
    double from, to;
} hw_watch;

bool hw_watch_tell(const hw_watch *watch, double done);           // false: stop
hw_status hw_watch_stopped(const hw_watch *watch, hw_error *err); // the refusal that follows

// Fails with HW_ERR_CALL, code stopped, when the watcher says so. watch may be NULL.
HW_CHECK hw_status hw_share_rows(const hw_rows *rows, const hw_watch *watch, hw_error *err);
// The same in the caller's thread alone.
HW_CHECK hw_status hw_work_rows(const hw_rows *rows, const hw_watch *watch, hw_error *err);

typedef struct hw_task {
    void (*work)(void *context);
    void *context;
} hw_task;

// Does `own`, and `beside` in another thread meanwhile; neither may touch what the other one writes. Returns when both are
// done. False: no thread could be started, and `beside` was not done.
bool hw_work_beside(hw_task own, hw_task beside);

// Before a function with a loop over many numbers: compiled twice, four and eight floats at once, and chosen when the
// program starts. The sums and their order are the same, and without fused multiply-add so are the results.
#if defined(__x86_64__) && defined(__gnu_linux__) && defined(__GNUC__) && !defined(__clang__) &&   \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define HW_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define HW_WIDE
#endif

// ---- Checksums ---------------------------------------------------------------------

uint32_t hw_crc32(const void *bytes,
                  size_t count); // CRC-32 of ISO-HDLC / ITU-T V.42, as zip and PNG
// The sum of all bytes so far and these; `sum` of none is 0.
uint32_t hw_crc32_more(uint32_t sum, const void *bytes, size_t count);
// SHA-256 (FIPS 180-4) as 64 lower-case hexadecimal digits and a final 0.
void hw_sha256_hex(const void *bytes, size_t count, char out[65]);
// The same of bytes that come piece by piece: start, add any number of times, end.
typedef struct hw_sha256 {
    uint64_t state[16]; // nettle's own
} hw_sha256;
void hw_sha256_start(hw_sha256 *sum);
void hw_sha256_add(hw_sha256 *sum, const void *bytes, size_t count);
void hw_sha256_end(hw_sha256 *sum, char out[65]);

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
// Makes a file that holds these bytes for good. One that already does stays (and is synced); one with
// other bytes is moved aside to PATH.other first.
HW_CHECK hw_status hw_file_keep(const char *path, const void *bytes, size_t count, hw_error *err);
// Makes the folder, with `parents` those above it too, and syncs its name, also of one that is there.
HW_CHECK hw_status hw_file_make_folder(const char *path, bool parents, hw_error *err);
bool hw_file_exists(const char *path);
// True where the folder holds nothing but these names, and for a path where nothing is. What a killed
// write has left beside a file does not count.
bool hw_folder_holds_only(const char *path, const char *const *names, size_t count);
// The same for no names.
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
// failure the file is cut back to what it was; where the disk refuses that, the code is saved-unsure.
HW_CHECK hw_status hw_append_write(hw_append *file, const void *bytes, size_t count, hw_error *err);
// Moves the bytes from `offset` on into the new file `aside` (synced; aside-2 ... where other bytes lie
// under that name), then cuts the file there.
HW_CHECK hw_status hw_append_cut(hw_append *file, size_t offset, const char *aside, hw_error *err);
void hw_append_close(hw_append **file);

// ---- Faults of the disk (for tests) ------------------------------------------------
//
// Every call of base_file.c that changes the disk tells base_fault.c before and after it. Off unless
// a test has given a plan.

typedef enum hw_disk_kind {
    HW_DISK_CREATE, // a file is opened, and made where it is missing
    HW_DISK_WRITE,
    HW_DISK_SYNC,
    HW_DISK_SYNC_FOLDER,
    HW_DISK_CUT, // to `count` bytes
    HW_DISK_MODE,
    HW_DISK_RENAME,
    HW_DISK_LINK,
    HW_DISK_REMOVE,
    HW_DISK_MAKE_FOLDER,
    HW_DISK_CLOSE, // of a file that was open for writing
} hw_disk_kind;

typedef struct hw_disk_call {
    hw_disk_kind kind;
    const char *path;
    const char *to; // new name of a rename or link
    const void *bytes;
    size_t count; // bytes to write; after the call those written
    long number;  // from 1 since the plan was given
    int error;    // 0, or what it failed with
} hw_disk_call;

typedef enum hw_disk_fault {
    HW_FAULT_NONE = 0, // watch only
    HW_FAULT_KILL_BEFORE,
    HW_FAULT_KILL_AFTER,
    HW_FAULT_KILL_HALF, // a write: after half of its bytes; others: as before
    HW_FAULT_FAIL,      // that call alone
    HW_FAULT_FAIL_ON,   // that call and all after it
    HW_FAULT_SHORT,     // a write takes half of its bytes and says so; others: none
} hw_disk_fault;

typedef struct hw_disk_plan {
    hw_disk_fault fault;
    long at;   // number of the call that it happens to
    int error; // errno of a call that fails
    // Told after each call; or NULL.
    void (*watch)(void *context, const hw_disk_call *call);
    void *context;
} hw_disk_plan;

// Counts calls anew; NULL: off.
void hw_test_disk(const hw_disk_plan *plan);
long hw_test_disk_calls(void);

// For base_file.c: before the call (false: it fails with errno, unmade) and after it with its result.
bool hw_disk_may(hw_disk_call *call);
void hw_disk_done(hw_disk_call *call, long result);

// ---- Files in pieces, and folders --------------------------------------------------

// A file too large for memory, written piece by piece beside its place and put there whole at the
// end. What is neither kept nor abandoned when the program dies lies beside as PATH.new-PROCESS-N.
typedef struct hw_new_file hw_new_file;
// HW_ERR_CALL with the code file-exists where something of that name is there.
HW_CHECK hw_status hw_new_file_open(const char *path, hw_new_file **out, hw_error *err);
HW_CHECK hw_status hw_new_file_write(hw_new_file *file, const void *bytes, size_t count,
                                     hw_error *err);
// Reads back what was written; *got is less than room only at its end.
HW_CHECK hw_status hw_new_file_read(hw_new_file *file, uint64_t at, void *bytes, size_t room,
                                    size_t *got, hw_error *err);
// Syncs, puts it in its place without overwriting, syncs the folder. Whatever comes of it, *file is
// freed, and on failure nothing of it stays.
HW_CHECK hw_status hw_new_file_keep(hw_new_file **file, hw_error *err);
void hw_new_file_abandon(hw_new_file **file); // removes what was written
// Another name in the same folder, for a file that is there whole; syncs the folder. HW_ERR_CALL file-exists.
HW_CHECK hw_status hw_file_rename(const char *from, const char *to, hw_error *err);

// A regular file read piece by piece. Refused as hw_file_read refuses.
typedef struct hw_old_file hw_old_file;
HW_CHECK hw_status hw_old_file_open(const char *path, hw_old_file **out, hw_error *err);
uint64_t hw_old_file_size(const hw_old_file *file); // as it was when it was opened
HW_CHECK hw_status hw_old_file_read(hw_old_file *file, uint64_t at, void *bytes, size_t room,
                                    size_t *got, hw_error *err);
void hw_old_file_close(hw_old_file **file);

// What lies in a folder: names in the order of their bytes, without "." and "..".
typedef struct hw_names {
    char **name;
    size_t count, room;
} hw_names;
HW_CHECK hw_status hw_folder_names(const char *path, hw_names *out, hw_error *err);
void hw_names_free(hw_names *names);
// The name of the folder itself, also for "." and "a/..". False where it has none that fits.
bool hw_folder_own_name(const char *path, char *out, size_t size);
void hw_file_remove(const char *path);   // a file of ours that shall not stay
void hw_folder_remove(const char *path); // an empty folder

// ---- Packs -------------------------------------------------------------------------
//
// One ordinary zip file (PKWARE's APPNOTE.TXT) that any program opens, written and read as a stream:
// bytes go and come through callbacks, so a pack may be larger than memory and touches no disk.

typedef hw_status (*hw_pack_put)(void *to, const void *bytes, size_t count, hw_error *err);

typedef struct hw_pack_writer hw_pack_writer;
HW_CHECK hw_status hw_pack_start(hw_pack_put put, void *to, hw_pack_writer **out, hw_error *err);
// A folder; `name` ends in '/'. Names are UTF-8. `at` is the entry's time.
HW_CHECK hw_status hw_pack_add_folder(hw_pack_writer *pack, const char *name, int64_t at,
                                      hw_error *err);
HW_CHECK hw_status hw_pack_add_file(hw_pack_writer *pack, const char *name, const void *bytes,
                                    size_t count, int64_t at, bool deflate, hw_error *err);
// Writes the list of entries; without it, it is no pack.
HW_CHECK hw_status hw_pack_finish(hw_pack_writer *pack, hw_error *err);
void hw_pack_writer_free(hw_pack_writer **pack);

// Where a pack's bytes come from.
typedef struct hw_pack_source {
    void *from;
    uint64_t size;
    hw_status (*read)(void *from, uint64_t at, void *bytes, size_t room, size_t *got,
                      hw_error *err);
} hw_pack_source;

typedef enum hw_pack_kind {
    HW_PACK_FILE,
    HW_PACK_FOLDER,
    HW_PACK_LINK,  // symbolic or hard
    HW_PACK_OTHER, // a device, a pipe
} hw_pack_kind;

typedef struct hw_pack_entry {
    const char *name; // as it stands there: anything may; valid up to the next call
    hw_pack_kind kind;
    bool encrypted;
    bool readable; // stored or deflated: the two ways that every program knows
    uint64_t size; // as it is told there; (uint64_t)-1: not told
} hw_pack_entry;

#define HW_PACK_ENTRIES_MOST 50000 // chosen: a photo an hour for years

typedef struct hw_pack_reader hw_pack_reader;
// `subject` names it in messages; both are borrowed until it is freed.
HW_CHECK hw_status hw_pack_open(const hw_pack_source *source, const char *subject,
                                hw_pack_reader **out, hw_error *err);
// The next entry; *there is false behind the last. HW_ERR_INPUT with the codes pack-unknown (no zip
// file), pack-damaged, pack-large (its list of entries is longer than any job's).
HW_CHECK hw_status hw_pack_next(hw_pack_reader *pack, hw_pack_entry *entry, bool *there,
                                hw_error *err);
// Bytes of that entry; *got is 0 at its end. HW_ERR_INPUT with the code pack-entry-damaged, also where
// its CRC-32 does not fit.
HW_CHECK hw_status hw_pack_read(hw_pack_reader *pack, void *bytes, size_t room, size_t *got,
                                hw_error *err);
void hw_pack_reader_free(hw_pack_reader **pack);

// ---- Banned calls ------------------------------------------------------------------
// Each has a checked twin above. (As compile errors, in all of src/.)
#if defined(__GNUC__) && !defined(HW_MALLOC_ALLOWED)
#pragma GCC poison malloc calloc realloc free strdup
#endif
#if defined(__GNUC__)
#pragma GCC poison strcpy strcat sprintf vsprintf strtok atoi atol atof gets localtime
#endif

#endif
