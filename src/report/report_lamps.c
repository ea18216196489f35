// report_lamps.c: a repair under two lamps, side by side: does the match hold?
//
// Lamp by lamp what was read, then in words what the other lamp does to the pair, then what to do. No number
// is said of a lamp that no photo was taken under: a forecast from one photo does not hold, only what usually
// happens does (in our simulation of dyes that match exactly under daylight: 1 in the mean, 3 in 1 of 20 under
// warm lamps).
//
// JSON: {"patches":[{"patch","main_lamp","main_photo","pairs":[{"known","present","main":{"lamp","photo","verdict","de00",
// "de00_low","de00_high","delta","words"},"other":{the same},"verdict","index":{"de00","de00_low","de00_high","de76","delta",
// "delta_low","delta_high"},"directions":[],"reason"}],"to_do"}],"usual","warnings"}. Where `known` is false there is no
// index, and `main` and `other` hold lamp and photo alone.
#include "report_internal.h"

#include <math.h>
#include <string.h>

enum { PAIRS_MOST = 16 }; // lamps besides the main one that are shown; chosen

const char hw_report_lamps_usual[] =
    "Matches that dyes make under daylight usually drift by about 1, now and then by 3, under warm "
    "lamps.";
static const char which_part[] = "Strong red, green and blue part most, brown and black least.";

// Everything of one patch.
typedef struct shown {
    const char *patch, *main_lamp; // NULL: no photo names a lamp
    hw_lamp_pair pair[PAIRS_MOST];
    size_t count;
} shown;

static void look_up(const hw_job *job, const char *patch, shown *out)
{
    *out = (shown){.patch = patch, .main_lamp = hw_job_main_lamp(job, patch)};
    size_t found = hw_job_lamp_pairs(job, patch, out->pair, PAIRS_MOST);
    out->count = found < PAIRS_MOST ? found : PAIRS_MOST;
}

// ---- Words -------------------------------------------------------------------------

static hw_comparison as_comparison(const hw_lamp_look *look)
{
    hw_comparison gap = {.gap = hw_difference_of(look->target, look->patch)};
    gap.direction_count = hw_directions_of(&gap.gap, gap.direction);
    return gap;
}

static const char *const there_words[3][2] = {
    {"lighter", "darker"}, {"redder", "greener"}, {"yellower", "bluer"}};

size_t hw_report_lamp_ways(const hw_lamp_pair *pair, const char *out[3])
{
    const double value[3] = {pair->index.L, pair->index.a, pair->index.b};
    const double low[3] = {pair->low.L, pair->low.a, pair->low.b};
    const double high[3] = {pair->high.L, pair->high.a, pair->high.b};
    size_t count = 0;
    int largest = 0;
    for (int i = 0; i < 3; i++) {
        largest = fabs(value[i]) > fabs(value[largest]) ? i : largest;
        if (low[i] > 0.0 || high[i] < 0.0) {
            out[count++] = there_words[i][value[i] < 0.0];
        }
    }
    if (count == 0) {
        out[count++] = there_words[largest][value[largest] < 0.0];
    }
    return count;
}

// Pairs that show it as it is now; of that verdict, or (-1) of any.
static size_t count_present(const shown *one, int verdict)
{
    size_t count = 0;
    for (size_t i = 0; i < one->count; i++) {
        const hw_lamp_pair *pair = &one->pair[i];
        count += pair->known && pair->present && (verdict < 0 || (int)pair->verdict == verdict);
    }
    return count;
}

static void add_to_do(hw_text *text, const shown *one)
{
    if (!one->main_lamp) {
        hw_text_add(text, "No photo of it says which lamp it was taken under. Say it with each "
                          "photo (huewright photo "
                          "JOB FILE --lamp \"shop lamp\"), or of an old one with huewright fix JOB "
                          "PHOTO --lamp.");
        return;
    }
    if (count_present(one, HW_LAMP_PARTS) > 0) {
        hw_text_add(
            text,
            "Judge by the lamp that it will stand under, say so to the customer, and close what "
            "is left with brown or black rather than red, green or blue. ");
    } else if (count_present(one, HW_LAMP_UNTOLD) > 0) {
        hw_text_add(text, "Look for yourself under both lamps; a black and a white step beside the "
                          "card in both photos "
                          "narrow the range most. ");
    }
    if (count_present(one, -1) > 0) {
        hw_text_add(
            text,
            "After the next pass this holds no more: photograph it under both lamps again before "
            "the last one.");
        return;
    }
    hw_text_add(
        text,
        "Before the last pass photograph it under a second lamp too, the customer's for one: same "
        "state, same card, same marks: huewright photo JOB FILE --lamp \"customer's lamp\".");
}

// ---- Text --------------------------------------------------------------------------

static void add_look(hw_text *text, const hw_lamp_look *look)
{
    hw_comparison gap = as_comparison(look);
    hw_text_add(text, "    under ");
    hw_report_add_clean(text, look->lamp);
    hw_text_add(text, " (photo %ld): %s, gap ", look->photo,
                hw_report_verdict_words(look->gap.verdict));
    hw_report_add_gap_range(text, look->gap.de00, look->gap.de00_low, look->gap.de00_high);
    if (gap.direction_count) {
        hw_text_add(text, ": ");
        hw_report_add_directions(text, &gap);
    }
    hw_text_add(text, "\n");
}

static void add_verdict(hw_text *text, const hw_lamp_pair *pair)
{
    const char *way[3];
    size_t count = hw_report_lamp_ways(pair, way);
    hw_text_add(text, "    ");
    switch (pair->verdict) {
    case HW_LAMP_HOLDS:
        hw_text_add(text, "HOLDS under ");
        break;
    case HW_LAMP_PARTS:
        hw_text_add(text, "PARTS under ");
        break;
    default:
        hw_text_add(text, "CANNOT BE TOLD for ");
    }
    hw_report_add_clean(text, pair->other.lamp);
    hw_text_add(text, ": the change of lamp alone makes ");
    hw_report_add_gap_range(text, pair->index.de00, pair->de00_low, pair->de00_high);
    for (size_t i = 0; pair->verdict == HW_LAMP_PARTS && i < count; i++) {
        hw_text_add(text, "%s%s", i ? ", " : ": ", way[i]);
    }
    hw_text_add(text, pair->verdict == HW_LAMP_PARTS ? " there.\n" : ".\n");
    if (!pair->present) {
        hw_text_add(
            text,
            "    That was before something was laid or taken off: it says nothing of today.\n");
    }
}

static void add_unknown(hw_text *text, const hw_lamp_pair *pair)
{
    hw_text_add(text, "    ");
    hw_report_add_clean(text, pair->other.lamp);
    hw_text_add(text, " (photo %ld) cannot be set beside ", pair->other.photo);
    hw_report_add_clean(text, pair->main.lamp);
    hw_text_add(text, " (photo %ld): ", pair->main.photo);
    hw_report_add_clean(text, pair->reason);
    hw_text_add(text, ".\n");
}

static void add_patch(hw_text *text, const shown *one, const hw_report_style *style)
{
    hw_report_add_clean(text, one->patch);
    if (one->main_lamp) {
        hw_text_add(text, ", judged by ");
        hw_report_add_clean(text, one->main_lamp);
    }
    hw_text_add(text, "\n");
    for (size_t i = 0; i < one->count; i++) {
        const hw_lamp_pair *pair = &one->pair[i];
        if (!pair->known) {
            add_unknown(text, pair);
            continue;
        }
        if (i == 0 || !one->pair[i - 1].known || one->pair[i - 1].main.photo != pair->main.photo) {
            add_look(text, &pair->main);
        }
        add_look(text, &pair->other);
        add_verdict(text, pair);
    }
    if (!style->quiet) {
        hw_text_add(text, "    ");
        add_to_do(text, one);
        hw_text_add(text, "\n");
    }
    hw_text_add(text, "\n");
}

hw_status hw_report_lamps_text(const hw_job *job, const char *patch, const hw_report_style *style,
                               char **out, hw_error *err)
{
    hw_text text = {0};
    hw_part_now *parts = NULL;
    size_t count = 0, told = 0;
    hw_status status = hw_job_parts(job, &parts, &count, err);
    if (status != HW_OK) {
        return status;
    }
    if (!style->quiet) {
        hw_report_add_warnings(&text, hw_job_warnings(job));
    }
    for (size_t i = 0; i < count; i++) {
        shown one;
        if (parts[i].role == HW_ROLE_PATCH && (!patch || strcmp(patch, parts[i].name) == 0)) {
            look_up(job, parts[i].name, &one);
            add_patch(&text, &one, style);
            told++;
        }
    }
    if (told == 0) {
        hw_text_add(&text, "No photo of this job shows a repair yet.\n");
    } else if (!style->quiet) {
        hw_text_add(&text, "%s %s\n", hw_report_lamps_usual, which_part);
    }
    hw_job_parts_free(parts);
    return hw_report_finish(&text, out, err);
}

// ---- JSON --------------------------------------------------------------------------

static void add_delta(hw_json *told, const char *name, const hw_difference *delta)
{
    const double value[3] = {delta->L, delta->a, delta->b};
    hw_report_json_triple(told, name, value, 3);
}

static void add_look_json(hw_json *parent, const char *name, const hw_lamp_look *look, bool known)
{
    hw_json *told = hw_json_add_object(parent, name);
    hw_report_json_text(told, "lamp", look->lamp);
    hw_json_add_number(told, "photo", (double)look->photo);
    if (!known) {
        return;
    }
    hw_comparison gap = as_comparison(look);
    hw_json_add_text(told, "verdict", hw_verdict_name(look->gap.verdict));
    hw_json_add_rounded(told, "de00", look->gap.de00, 3);
    hw_json_add_rounded(told, "de00_low", look->gap.de00_low, 3);
    hw_json_add_rounded(told, "de00_high", look->gap.de00_high, 3);
    add_delta(told, "delta", &gap.gap);
    hw_json *words = hw_json_add_array(told, "words");
    for (size_t i = 0; i < gap.direction_count; i++) {
        hw_json_add_text(words, NULL, hw_direction_words(gap.direction[i]));
    }
}

static void add_pair_json(hw_json *list, const hw_lamp_pair *pair)
{
    hw_json *told = hw_json_add_object(list, NULL);
    hw_json_add_bool(told, "known", pair->known);
    hw_json_add_bool(told, "present", pair->present);
    add_look_json(told, "main", &pair->main, pair->known);
    add_look_json(told, "other", &pair->other, pair->known);
    hw_report_json_text(told, "reason", pair->reason);
    if (!pair->known) {
        return;
    }
    const char *way[3];
    size_t count = hw_report_lamp_ways(pair, way);
    hw_json_add_text(told, "verdict", hw_lamp_verdict_name(pair->verdict));
    hw_json *index = hw_json_add_object(told, "index");
    hw_json_add_rounded(index, "de00", pair->index.de00, 3);
    hw_json_add_rounded(index, "de00_low", pair->de00_low, 3);
    hw_json_add_rounded(index, "de00_high", pair->de00_high, 3);
    hw_json_add_rounded(index, "de76", pair->index.de76, 3);
    add_delta(index, "delta", &pair->index);
    add_delta(index, "delta_low", &pair->low);
    add_delta(index, "delta_high", &pair->high);
    hw_json *directions = hw_json_add_array(told, "directions");
    for (size_t i = 0; i < count; i++) {
        hw_json_add_text(directions, NULL, way[i]);
    }
}

static void add_patch_json(hw_json *list, const hw_job *job, const shown *one)
{
    hw_json *told = hw_json_add_object(list, NULL);
    const hw_event *photo = hw_job_main_photo(job, one->patch);
    char words[640];
    hw_text to_do = hw_text_in(words, sizeof words);
    hw_report_json_text(told, "patch", one->patch);
    if (one->main_lamp) {
        hw_report_json_text(told, "main_lamp", one->main_lamp);
    } else {
        hw_json_add_null(told, "main_lamp");
    }
    hw_json_add_number(told, "main_photo", photo ? (double)photo->number : (double)NAN);
    hw_json *pairs = hw_json_add_array(told, "pairs");
    for (size_t i = 0; i < one->count; i++) {
        add_pair_json(pairs, &one->pair[i]);
    }
    add_to_do(&to_do, one);
    hw_json_add_text(told, "to_do", words);
}

hw_status hw_report_lamps_json(const hw_job *job, const char *patch, char **out, hw_error *err)
{
    hw_part_now *parts = NULL;
    size_t count = 0;
    hw_status status = hw_job_parts(job, &parts, &count, err);
    if (status != HW_OK) {
        return status;
    }
    hw_json *root = hw_json_new_object();
    hw_json *list = hw_json_add_array(root, "patches");
    for (size_t i = 0; i < count; i++) {
        shown one;
        if (parts[i].role == HW_ROLE_PATCH && (!patch || strcmp(patch, parts[i].name) == 0)) {
            look_up(job, parts[i].name, &one);
            add_patch_json(list, job, &one);
        }
    }
    char words[320];
    hw_format_text(words, sizeof words, "%s %s", hw_report_lamps_usual, which_part);
    hw_json_add_text(root, "usual", words);
    hw_report_json_warnings(root, hw_job_warnings(job));
    hw_job_parts_free(parts);
    return hw_report_json_finish(root, out, err);
}
