// base_text.c: growing text, texts of fixed size cut at whole characters, names, numbers and
// times as people type and read them.
//
// Numbers are read and written with a point whatever the computer's language: huewright never
// calls setlocale, so the C locale holds.
#include "base_internal.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

// ---- Growing text ------------------------------------------------------------------

#define CEILING_DEFAULT ((size_t)64 << 20)

static bool make_room(hw_text *text, size_t more)
{
    size_t ceiling = text->ceiling ? text->ceiling : CEILING_DEFAULT;
    if (text->failed || more > ceiling || text->length > ceiling - more) {
        text->failed = true;
        return false;
    }
    size_t needed = text->length + more + 1;
    if (needed <= text->capacity) {
        return true;
    }
    size_t capacity = text->capacity < 128 ? 128 : text->capacity;
    while (capacity < needed) {
        capacity *= 2;
    }
    char *bytes = hw_resize_array(text->bytes, capacity, 1);
    if (!bytes) {
        text->failed = true;
        return false;
    }
    text->bytes = bytes;
    text->capacity = capacity;
    return true;
}

hw_text hw_text_in(char *bytes, size_t size)
{
    bytes[0] = 0;
    return (hw_text){.bytes = bytes, .capacity = size, .fixed = true};
}

// Without a character at the end of which the last bytes are missing.
static size_t without_split(const char *bytes, size_t count)
{
    size_t start = count;
    while (start > 0 && count - start < 3 && ((unsigned char)bytes[start - 1] & 0xc0) == 0x80) {
        start--;
    }
    unsigned char first = start > 0 ? (unsigned char)bytes[start - 1] : 0;
    size_t length = first < 0xc0 ? 0 : first < 0xe0 ? 2 : first < 0xf0 ? 3 : 4;
    return length > count - start + 1 ? start - 1 : count;
}

// `wanted` bytes were to come behind the text of a fixed array, and as many as fit stand there.
static void take_fixed(hw_text *text, size_t wanted)
{
    size_t room = text->capacity - text->length - 1;
    text->failed = wanted > room;
    text->length += text->failed ? without_split(text->bytes + text->length, room) : wanted;
    text->bytes[text->length] = 0;
}

void hw_text_add_bytes(hw_text *text, const void *bytes, size_t count)
{
    if (text->fixed && !text->failed) {
        size_t room = text->capacity - text->length - 1;
        memcpy(text->bytes + text->length, bytes, count < room ? count : room);
        take_fixed(text, count);
    } else if (!text->fixed && make_room(text, count)) {
        if (count > 0) { // `bytes` may be NULL then
            memcpy(text->bytes + text->length, bytes, count);
        }
        text->length += count;
        text->bytes[text->length] = 0;
    }
}

void hw_text_add_list(hw_text *text, const char *format, va_list arguments)
{
    va_list again;
    va_copy(again, arguments);
    bool fits = text->fixed && !text->failed;
    int length = vsnprintf(fits ? text->bytes + text->length : NULL,
                           fits ? text->capacity - text->length : 0, format, arguments);
    if (length < 0) {
        text->failed = true;
    } else if (fits) {
        take_fixed(text, (size_t)length);
    } else if (!text->fixed && make_room(text, (size_t)length)) {
        vsnprintf(text->bytes + text->length, (size_t)length + 1, format, again);
        text->length += (size_t)length;
    }
    va_end(again);
}

void hw_text_add(hw_text *text, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    hw_text_add_list(text, format, arguments);
    va_end(arguments);
}

const char *hw_text_words(const hw_text *text)
{
    return text->bytes ? text->bytes : "";
}

void hw_text_free(hw_text *text)
{
    if (text && !text->fixed) {
        hw_free(text->bytes);
        *text = (hw_text){.ceiling = text->ceiling};
    }
}

// ---- UTF-8 (RFC 3629) --------------------------------------------------------------

size_t hw_utf8_character(const char *text, size_t left)
{
    const unsigned char *bytes = (const unsigned char *)text;
    unsigned char first = bytes[0];
    size_t length = first < 0x80 ? 1 : first < 0xc2 ? 0 : first < 0xe0 ? 2 : first < 0xf0 ? 3 : 4;
    if (length == 0 || first > 0xf4 || length > left) {
        return 0;
    }
    for (size_t i = 1; i < length; i++) {
        if ((bytes[i] & 0xc0) != 0x80) {
            return 0;
        }
    }
    bool overlong = (first == 0xe0 && bytes[1] < 0xa0) || (first == 0xf0 && bytes[1] < 0x90);
    bool surrogate = first == 0xed && bytes[1] > 0x9f;
    bool beyond = first == 0xf4 && bytes[1] > 0x8f;
    return overlong || surrogate || beyond ? 0 : length;
}

bool hw_is_utf8(const char *bytes, size_t length)
{
    for (size_t at = 0; at < length;) {
        // Plain ASCII, which most text is, eight bytes at a time.
        uint64_t eight;
        if (length - at >= sizeof eight) {
            memcpy(&eight, bytes + at, sizeof eight);
            if ((eight & 0x8080808080808080u) == 0) {
                at += sizeof eight;
                continue;
            }
        }
        size_t step = hw_utf8_character(bytes + at, length - at);
        if (step == 0) {
            return false;
        }
        at += step;
    }
    return true;
}

bool hw_copy_text(char *to, size_t size, const char *from)
{
    size_t length = strlen(from);
    bool whole = length < size;
    if (!whole) {
        length = size - 1;
        // Back to the start of the character that the cut would split.
        while (length > 0 && ((unsigned char)from[length] & 0xc0) == 0x80) {
            length--;
        }
    }
    memmove(to, from, length);
    to[length] = 0;
    return whole;
}

bool hw_format_text(char *to, size_t size, const char *format, ...)
{
    hw_text text = hw_text_in(to, size);
    va_list arguments;
    va_start(arguments, format);
    hw_text_add_list(&text, format, arguments);
    va_end(arguments);
    return !text.failed;
}

bool hw_name_is_usable(const char *name)
{
    size_t length = name ? strlen(name) : 0;
    if (length == 0 || length >= HW_NAME_SIZE || !hw_is_utf8(name, length) || name[0] == ' ' ||
        name[length - 1] == ' ') {
        return false;
    }
    for (size_t i = 0; i < length; i++) {
        unsigned char byte = (unsigned char)name[i];
        bool c1_control = byte == 0xc2 && (unsigned char)name[i + 1] < 0xa0;
        if (byte < 0x20 || byte == 0x7f || c1_control) {
            return false;
        }
    }
    return true;
}

// ---- Numbers -----------------------------------------------------------------------

// strtod without what a person would not type: hexadecimal, "inf", "nan", leading blanks.
static bool plain_number(const char *text, size_t length, double *out)
{
    char copy[64], *end;
    if (length == 0 || length >= sizeof copy) {
        return false;
    }
    for (size_t i = 0; i < length; i++) {
        if (!strchr("0123456789.+-eE", text[i])) {
            return false;
        }
    }
    memcpy(copy, text, length);
    copy[length] = 0;
    *out = strtod(copy, &end);
    return *end == 0 && end != copy && isfinite(*out);
}

bool hw_parse_number(const char *text, bool fraction_allowed, double *out)
{
    double top, bottom = 1.0;
    const char *slash = fraction_allowed ? strchr(text, '/') : NULL;
    size_t length = slash ? (size_t)(slash - text) : strlen(text);
    if (!plain_number(text, length, &top) ||
        (slash && !plain_number(slash + 1, strlen(slash + 1), &bottom)) || bottom == 0.0) {
        return false;
    }
    *out = top / bottom;
    return isfinite(*out);
}

// ---- Time --------------------------------------------------------------------------

// Days since 1970-01-01 of a date of the proleptic Gregorian calendar, and back: counted in eras of
// 400 years (146097 days) that begin on 1 March, so that the leap day comes last.
static int64_t days_of(int64_t year, int month, int day)
{
    year -= month <= 2;
    int64_t era = (year >= 0 ? year : year - 399) / 400;
    int64_t year_of_era = year - era * 400;
    int64_t day_of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
    int64_t day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
    return era * 146097 + day_of_era - 719468;
}

static void date_of(int64_t days, int64_t *year, int *month, int *day)
{
    days += 719468;
    int64_t era = (days >= 0 ? days : days - 146096) / 146097;
    int64_t day_of_era = days - era * 146097;
    int64_t year_of_era =
        (day_of_era - day_of_era / 1460 + day_of_era / 36524 - day_of_era / 146096) / 365;
    int64_t day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    int64_t shifted = (5 * day_of_year + 2) / 153;
    *day = (int)(day_of_year - (153 * shifted + 2) / 5 + 1);
    *month = (int)(shifted < 10 ? shifted + 3 : shifted - 9);
    *year = year_of_era + era * 400 + (*month <= 2);
}

void hw_format_time(char out[40], int64_t seconds)
{
    int64_t days = seconds / 86400, rest = seconds % 86400, year;
    if (rest < 0) {
        rest += 86400;
        days--;
    }
    int month, day;
    date_of(days, &year, &month, &day);
    snprintf(out, 40, "%04lld-%02d-%02dT%02d:%02d:%02dZ", (long long)year, month, day,
             (int)(rest / 3600), (int)(rest / 60 % 60), (int)(rest % 60));
}

bool hw_parse_time(const char *text, int64_t *out)
{
    int part[6];
    const char *pattern = "0000-00-00T00:00:00Z";
    if (!text || strlen(text) != strlen(pattern)) {
        return false;
    }
    for (size_t i = 0; pattern[i]; i++) {
        bool digit = text[i] >= '0' && text[i] <= '9';
        if (pattern[i] == '0' ? !digit : text[i] != pattern[i]) {
            return false;
        }
    }
    const size_t start[6] = {0, 5, 8, 11, 14, 17};
    for (int i = 0; i < 6; i++) {
        part[i] = (int)strtol(text + start[i], NULL, 10);
    }
    if (part[1] < 1 || part[1] > 12 || part[2] < 1 || part[2] > 31 || part[3] > 23 ||
        part[4] > 59 || part[5] > 59) {
        return false;
    }
    int64_t days = days_of(part[0], part[1], part[2]), year;
    int month, day;
    date_of(days, &year, &month, &day);
    if (month != part[1] || day != part[2]) { // 30 February
        return false;
    }
    *out = days * 86400 + part[3] * 3600 + part[4] * 60 + part[5];
    return true;
}
