// report_shelf.c: the dyes in use and how well each is known.
//
// Densities of one pass at strength 1 are shown as the share of light that comes back through it,
// in the three bands: a finisher can picture "keeps 90 % of the red light". exp(-d) by the law of
// Bouguer, Lambert and Beer.
#include "report_internal.h"

#include <math.h>

static void add_dye(hw_text *text, const hw_dye *dye)
{
    hw_report_add_clean(text, dye->name);
    hw_text_add(text, ": %s", hw_family_name(dye->family));
    hw_text_add(text,
                "; one pass at full strength gives back %.0f %% of the red, %.0f %% of the green, "
                "%.0f %% of the blue light; %s\n",
                100.0 * exp(-dye->density[0]), 100.0 * exp(-dye->density[1]),
                100.0 * exp(-dye->density[2]),
                dye->guess ? "GUESS, not yet seen on your work" : "learned from your work");
}

static bool all_guesses(const hw_shelf *shelf)
{
    for (size_t i = 0; i < shelf->count; i++) {
        if (!shelf->dye[i].guess) {
            return false;
        }
    }
    return true;
}

hw_status hw_report_shelf_text(const hw_shelf *shelf, const char *path, char **out, hw_error *err)
{
    hw_text text = {0};
    hw_text_add(&text, "Shelf: ");
    hw_report_add_clean(&text, path && *path ? path : "no file of yours");
    hw_text_add(&text, "\n");
    for (size_t i = 0; i < shelf->count; i++) {
        add_dye(&text, &shelf->dye[i]);
    }
    if (all_guesses(shelf)) {
        hw_text_add(&text,
                    "No dye here was seen on your work yet: all advice from these is a guess.\n");
    }
    return hw_report_finish(&text, out, err);
}

hw_status hw_report_shelf_json(const hw_shelf *shelf, const char *path, char **out, hw_error *err)
{
    hw_json *root = hw_json_new_object();
    hw_json *told = hw_json_add_object(root, "shelf");
    if (path && *path) {
        hw_report_json_text(told, "path", path);
    } else {
        hw_json_add_null(told, "path");
    }
    hw_json *dyes = hw_json_add_array(told, "dyes");
    for (size_t i = 0; i < shelf->count; i++) {
        const hw_dye *dye = &shelf->dye[i];
        hw_json *one = hw_json_add_object(dyes, NULL);
        hw_report_json_text(one, "name", dye->name);
        hw_json_add_text(one, "family", hw_family_name(dye->family));
        hw_report_json_triple(one, "density", dye->density, 5);
        hw_json_add_rounded(one, "exponent", dye->exponent, 4);
        hw_json_add_rounded(one, "u_strength", dye->u_strength, 4);
        hw_json_add_bool(one, "guess", dye->guess);
    }
    return hw_report_json_finish(root, out, err);
}
