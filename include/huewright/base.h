// base.h: the ground floor. Statuses and errors written for people, the limits
// on what comes from outside, and nothing else that a caller of the library
// needs to know. (Memory, text, JSON and files for huewright's own code are in
// src/base/base_internal.h.)
//
// Conventions of every huewright header:
//   - Colours are relative to the perfect diffuser: X, Y, Z with Y = 1 for white.
//   - `const T *` is borrowed. `T **out` hands over: free it with the `_free`
//     named beside it. `{0}` is a valid, empty value of every struct, and every
//     `_free` takes NULL or an emptied struct.
//   - A call that can fail returns hw_status and takes `hw_error *err` last
//     (NULL is fine). On failure `*out` is untouched unless said otherwise.
//   - Text is UTF-8.
#ifndef HUEWRIGHT_BASE_H
#define HUEWRIGHT_BASE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#if defined(__GNUC__) || defined(__clang__)
#define HW_CHECK __attribute__((warn_unused_result))
#define HW_PRINTF(format_index, first_argument)                                                    \
    __attribute__((format(printf, format_index, first_argument)))
#else
#define HW_CHECK
#define HW_PRINTF(format_index, first_argument)
#endif

// ---- Version -----------------------------------------------------------------------

#define HW_VERSION_TEXT "0.1.0"
// The version of the library that runs, as text; static.
const char *hw_version(void);

// ---- Errors ------------------------------------------------------------------------

// The numbers are the exit codes of the command line.
typedef enum hw_status {
    HW_OK = 0,
    HW_ERR_CALL = 2,    // the call is wrong: an option, a name, a mark that cannot be meant
    HW_ERR_INPUT = 3,   // a file or photo cannot be used
    HW_ERR_STORAGE = 4, // the disk refused, or memory is out
} hw_status;

// One refusal, in words for a person. Filled once, by the first failure.
typedef struct hw_error {
    hw_status status;
    char code[40];     // for programs: lower-case words with hyphens, "card-overexposed"
    char subject[320]; // which file, mark or part; as the person named it
    char what[480];    // what is wrong, with the number: no capital, no full stop
    char next[480];    // what to do now
} hw_error;

// Fills *err (unless err is NULL or already holds an error) and returns status.
// `what_format` is a printf format for `what`; text too long is cut at a whole
// UTF-8 character.
hw_status hw_fail(hw_error *err, hw_status status, const char *code, const char *subject,
                  const char *next, const char *what_format, ...) HW_PRINTF(6, 7);

// The same as that error, which is some: returns its status.
hw_status hw_fail_as(hw_error *err, const hw_error *why);

// The failure of an allocation, worded once. `doing` names the work: "reading the photo".
hw_status hw_fail_memory(hw_error *err, const char *doing);

// ---- Warnings ----------------------------------------------------------------------

#define HW_WARNINGS_MAX 16
#define HW_WARNING_SIZE 320

// What can be wrong with a photo.
typedef enum hw_trouble {
    HW_TROUBLE_NONE = 0, // a mere note
    HW_TROUBLE_CLIPPED,
    HW_TROUBLE_DARK,
    HW_TROUBLE_GLARE,
    HW_TROUBLE_BLUR,
    HW_TROUBLE_MIXED_LIGHT,
    HW_TROUBLE_COLOURED_LIGHT,
    HW_TROUBLE_UNEVEN_LIGHT,
    HW_TROUBLE_SHADE,
    HW_TROUBLE_TONE,
    HW_TROUBLE_CARD,
    HW_TROUBLE_REFERENCE,
    HW_TROUBLE_PROFILE,
    HW_TROUBLE_NOT_DRY,
    HW_TROUBLE_MARKS,
    HW_TROUBLE_DAMAGE,
    HW_TROUBLE_COUNT
} hw_trouble;

const char *hw_trouble_name(hw_trouble trouble); // for files: "glare", "mixed_light"; static

// Things a person should know that do not stop the work: whole sentences, each with its cure.
typedef struct hw_warnings {
    size_t count;
    char text[HW_WARNINGS_MAX][HW_WARNING_SIZE];
    hw_trouble trouble[HW_WARNINGS_MAX];
    double
        at_stake[HW_WARNINGS_MAX]; // CIEDE2000 by which it may move a gap, a rough guess; 0: none
} hw_warnings;

// Adds one sentence (printf format). The same sentence twice is kept once. When
// the list is full, the last place says that there are more.
void hw_warn(hw_warnings *warnings, const char *format, ...) HW_PRINTF(2, 3);
// The same for something wrong with the photo.
void hw_warn_trouble(hw_warnings *warnings, hw_trouble trouble, double at_stake, const char *format,
                     ...) HW_PRINTF(4, 5);
void hw_warnings_append(hw_warnings *to, const hw_warnings *from);
// The indices of all warnings, those with most at stake first; others keep their order.
void hw_warnings_worst_first(const hw_warnings *warnings, size_t order[HW_WARNINGS_MAX]);

// ---- Limits ------------------------------------------------------------------------

#define HW_NAME_SIZE 96 // bytes of a name of a mark, part, dye or view, with its final 0

// Who watches long work, and may stop it: called now and then from the caller's own thread with what is being done and
// the share of it that is done, 0 to 1. False stops the work: HW_ERR_CALL, code stopped; nothing is kept of it.
typedef struct hw_progress {
    bool (*tell)(void *context, const char *what, double share);
    void *context;
} hw_progress;

// What huewright accepts from outside. Chosen: generous for shop photos, small
// enough that no file can exhaust a computer of 2 GiB.
typedef struct hw_limits {
    size_t file_bytes;       // a photo file; default 200 MiB
    size_t side_px;          // width or height; default 30000
    size_t pixels;           // width x height; default 120 million
    size_t json_bytes;       // a marks file or log line; default 4 MiB; a shelf: four times that
    size_t json_depth;       // nesting; default 32
    size_t marks;            // marks of one photo; default 64
    size_t points;           // corners of one mark; default 200
    size_t log_bytes;        // a whole job log; default 256 MiB
    unsigned decode_seconds; // processor time for one photo; default 60
} hw_limits;

// The defaults above. Start from these: later versions may add fields.
hw_limits hw_limits_default(void);

#ifdef __cplusplus
}
#endif
#endif
