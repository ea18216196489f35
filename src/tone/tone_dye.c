// tone_dye.c: the nine families of dye, and what a weak pass of each is taken to do until the
// finisher's own work says better.
//
// Starting guesses: common practice, no source. Drop of the decadic logarithm of reflectance in
// one weak pass, in three wide bands (about 400 to 500, 500 to 600, 600 to 700 nm, near linear
// blue, green and red), after the textbook shapes of subtractive colour (a yellow dye takes blue
// light, a red one green and some blue, brown falls from blue to red, black is flat), sized so
// that one pass moves a mid-brown by 1.5 to 3 CIE76: just visible. They may be off by half. They
// were set on a wood of L* 50, a* 12, b* 25 in linear sRGB and are turned into sharpened bands on
// that wood.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

static const struct {
    const char *name;
    double drop[3]; // short, middle, long
} families[HW_FAMILY_COUNT] = {
    [HW_FAMILY_AMBER] = {"amber", {0.080, 0.014, 0.002}},
    [HW_FAMILY_ORANGE] = {"orange", {0.070, 0.034, 0.004}},
    [HW_FAMILY_RED] = {"red", {0.035, 0.045, 0.005}},
    [HW_FAMILY_RED_BROWN] = {"red-brown", {0.050, 0.036, 0.014}},
    [HW_FAMILY_BROWN] = {"brown", {0.046, 0.032, 0.022}},
    [HW_FAMILY_BLACK] = {"black", {0.026, 0.026, 0.026}},
    [HW_FAMILY_GREEN] = {"green", {0.030, 0.010, 0.036}},
    [HW_FAMILY_BLUE] = {"blue", {0.006, 0.022, 0.040}},
    [HW_FAMILY_VIOLET] = {"violet", {0.008, 0.040, 0.020}},
};

// s.d. of ln strength of a guess against the other guesses of a shop (common practice, no source); what all
// of a shop are off by is told apart in tone_learn.c.
static const double u_guess = 0.20;

// s.d. of a guess's direction: each band by this share, and by this share of the largest band
// (chosen: invented dyes of a family, tests/scene, lie as far from its guess).
static const double u_band = 0.30, u_band_least = 0.10;
// s.d. of the exponent: film and wood lie between 0.8 and 1.1 (chosen).
static const double u_exponent = 0.12;

const char *hw_family_name(hw_family family)
{
    return families[family].name;
}

bool hw_family_from_name(const char *name, hw_family *out)
{
    for (int family = 0; name && family < HW_FAMILY_COUNT; family++) {
        if (strcmp(name, families[family].name) == 0) {
            *out = (hw_family)family;
            return true;
        }
    }
    return false;
}

static const char *const tool_names[HW_TOOL_COUNT] = {
    [HW_TOOL_UNSAID] = "not said", [HW_TOOL_SPRAY] = "spray", [HW_TOOL_BRUSH] = "brush",
    [HW_TOOL_PAD] = "pad",         [HW_TOOL_WIPE] = "wipe",
};

const char *hw_tool_name(hw_tool tool)
{
    return tool_names[tool];
}

bool hw_tool_from_name(const char *name, hw_tool *out)
{
    for (int tool = HW_TOOL_SPRAY; name && tool < HW_TOOL_COUNT; tool++) {
        if (strcmp(name, tool_names[tool]) == 0) {
            *out = (hw_tool)tool;
            return true;
        }
    }
    return false;
}

// Strength off by u_strength, and each band on its own.
static hw_covariance guess_covariance(const double density[3])
{
    hw_covariance v;
    double most = fmax(density[0], fmax(density[1], density[2]));
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            v.m[r][c] = u_guess * u_guess * density[r] * density[c];
        }
        double own = hypot(u_band * density[r], u_band_least * most);
        v.m[r][r] += own * own;
    }
    return v;
}

hw_dye hw_dye_guess(hw_family family)
{
    const hw_lab mid_brown = {50.0, 12.0, 25.0};
    hw_dye dye = {.family = family,
                  .exponent = 1.0,
                  .u_exponent = u_exponent,
                  .u_strength = u_guess,
                  .guess = true};
    double rgb[3], before[3], after[3];
    hw_copy_text(dye.name, sizeof dye.name, families[family].name);
    hw_xyz wood = hw_xyz_from_lab(mid_brown, hw_white_d50);
    hw_sharpen(wood, before);
    hw_linear_srgb_from_xyz(wood, rgb);
    for (int channel = 0; channel < 3; channel++) {
        rgb[channel] *= pow(10.0, -families[family].drop[2 - channel]);
    }
    hw_sharpen(hw_xyz_from_linear_srgb(rgb), after);
    for (int band = 0; band < 3; band++) {
        dye.density[band] = fmax(log(before[band] / after[band]), 0.0);
    }
    dye.covariance = guess_covariance(dye.density);
    return dye;
}

static const char *const change_names[HW_DYE_CHANGE_COUNT] = {"added", "changed", "replaced"};

const char *hw_dye_change_name(hw_dye_change change)
{
    return change_names[change];
}

bool hw_dye_change_from_name(const char *name, hw_dye_change *out)
{
    for (int change = 0; name && change < HW_DYE_CHANGE_COUNT; change++) {
        if (strcmp(name, change_names[change]) == 0) {
            *out = (hw_dye_change)change;
            return true;
        }
    }
    return false;
}

void hw_shelf_free(hw_shelf *shelf)
{
    if (shelf) {
        hw_free(shelf->dye);
        hw_free(shelf->seen);
        hw_free(shelf->coat);
        *shelf = (hw_shelf){0};
    }
}

hw_status hw_shelf_guesses(hw_shelf *out, hw_error *err)
{
    hw_dye *dyes = hw_alloc_array(HW_FAMILY_COUNT, sizeof *dyes);
    if (!dyes) {
        return hw_fail_memory(err, "setting up the shelf");
    }
    for (int family = 0; family < HW_FAMILY_COUNT; family++) {
        dyes[family] = hw_dye_guess((hw_family)family);
    }
    *out = (hw_shelf){.dye = dyes, .count = HW_FAMILY_COUNT};
    return HW_OK;
}

bool hw_shelf_is_guesses(const hw_shelf *shelf)
{
    for (size_t i = 0; i < shelf->count; i++) {
        if (!shelf->dye[i].guess ||
            strcmp(shelf->dye[i].name, hw_family_name(shelf->dye[i].family)) != 0) {
            return false;
        }
    }
    return shelf->count == HW_FAMILY_COUNT;
}

const hw_dye *hw_shelf_find(const hw_shelf *shelf, const char *name)
{
    for (size_t i = 0; i < shelf->count; i++) {
        if (strcmp(shelf->dye[i].name, name) == 0) {
            return &shelf->dye[i];
        }
    }
    return NULL;
}

// ---- Observations ------------------------------------------------------------------

bool hw_observation_is_same(const hw_observation *one, const hw_observation *other)
{
    return one->event == other->event && strcmp(one->job, other->job) == 0 &&
           strcmp(one->patch, other->patch) == 0;
}

bool hw_observation_names(const hw_observation *seen, const char *dye)
{
    for (size_t i = 0; i < seen->laid_count; i++) {
        if (strcmp(seen->laid[i].dye, dye) == 0) {
            return true;
        }
    }
    return false;
}

bool hw_coat_is_same(const hw_coat_seen *one, const hw_coat_seen *other)
{
    return one->event == other->event && strcmp(one->job, other->job) == 0 &&
           strcmp(one->part, other->part) == 0;
}

static const double least = 1e-5; // of a density or a strength: what files are rounded to

static bool same_density(const double one[3], const double other[3])
{
    bool same = true;
    for (int band = 0; band < 3; band++) {
        same = same && fabs(one[band] - other[band]) < least;
    }
    return same;
}

static bool same_covariance(const hw_covariance *one, const hw_covariance *other)
{
    bool same = true;
    for (int row = 0; row < 3; row++) {
        same = same && same_density(one->m[row], other->m[row]);
    }
    return same;
}

static bool same_fact(const hw_observation *one, const hw_observation *other)
{
    bool same = one->questioned == other->questioned && one->laid_count == other->laid_count &&
                one->photo_before == other->photo_before &&
                one->photo_after == other->photo_after &&
                same_density(one->density, other->density) &&
                same_covariance(&one->covariance, &other->covariance);
    for (size_t k = 0; same && k < one->laid_count; k++) {
        same = strcmp(one->laid[k].dye, other->laid[k].dye) == 0 &&
               strcmp(one->laid[k].jar, other->laid[k].jar) == 0 &&
               fabs(one->laid[k].amount - other->laid[k].amount) < least &&
               fabs(one->laid[k].before - other->laid[k].before) < least;
    }
    return same;
}

static bool same_coat_fact(const hw_coat_seen *one, const hw_coat_seen *other)
{
    return one->photo_before == other->photo_before && one->photo_after == other->photo_after &&
           one->before == other->before && one->coats == other->coats &&
           one->clear == other->clear && same_density(one->density, other->density) &&
           same_covariance(&one->covariance, &other->covariance) &&
           same_covariance(&one->shared, &other->shared);
}

static void take_out(void *list, size_t *count, size_t at, size_t size)
{
    char *item = (char *)list + at * size;
    if (at < *count) {
        (*count)--;
        memmove(item, item + size, (*count - at) * size);
    }
}

// There is room for it. True: the shelf is another now.
static bool take_pass(hw_shelf *shelf, const hw_observation *seen)
{
    size_t at = 0;
    while (at < shelf->seen_count && !hw_observation_is_same(&shelf->seen[at], seen)) {
        at++;
    }
    bool there = at < shelf->seen_count;
    if (there && shelf->seen[at].forgotten) {
        return false;
    }
    if (seen->gone) {
        take_out(shelf->seen, &shelf->seen_count, at, sizeof *shelf->seen);
        return there;
    }
    bool other = !there || !same_fact(&shelf->seen[at], seen);
    shelf->seen[at] = *seen;
    shelf->seen_count += !there;
    return other;
}

static bool take_coat(hw_shelf *shelf, const hw_coat_seen *seen)
{
    size_t at = 0;
    while (at < shelf->coat_count && !hw_coat_is_same(&shelf->coat[at], seen)) {
        at++;
    }
    bool there = at < shelf->coat_count;
    if (there && shelf->coat[at].forgotten) {
        return false;
    }
    if (seen->gone) {
        take_out(shelf->coat, &shelf->coat_count, at, sizeof *shelf->coat);
        return there;
    }
    bool other = !there || !same_coat_fact(&shelf->coat[at], seen);
    shelf->coat[at] = *seen;
    shelf->coat_count += !there;
    return other;
}

static hw_status make_room(hw_shelf *shelf, const hw_shelf *shown, hw_error *err)
{
    hw_observation *seen =
        hw_resize_array(shelf->seen, shelf->seen_count + shown->seen_count, sizeof *seen);
    shelf->seen = seen ? seen : shelf->seen;
    hw_coat_seen *coat =
        hw_resize_array(shelf->coat, shelf->coat_count + shown->coat_count, sizeof *coat);
    shelf->coat = coat ? coat : shelf->coat;
    return seen && coat ? HW_OK : hw_fail_memory(err, "learning from passes and coats");
}

hw_status hw_shelf_take_seen(hw_shelf *shelf, const hw_shelf *shown, bool *changed, hw_error *err)
{
    bool other = false;
    hw_status status = make_room(shelf, shown, err);
    for (size_t i = 0; status == HW_OK && i < shown->seen_count; i++) {
        other |= take_pass(shelf, &shown->seen[i]);
    }
    for (size_t i = 0; status == HW_OK && i < shown->coat_count; i++) {
        other |= take_coat(shelf, &shown->coat[i]);
    }
    if (changed) {
        *changed = other;
    }
    return status;
}
