// report_shelf.c: the dyes in use and how well each is known, and clear coats; a dye put on the shelf or taken off it.
//
// Densities of one pass at strength 1 are shown as the share of light that comes back through it,
// in the three bands: a finisher can picture "keeps 90 % of the red light". exp(-d) by the law of
// Bouguer, Lambert and Beer.
#include "report_internal.h"

#include <math.h>

// The wood on which dyes are set side by side: a mid-brown.
static const hw_lab mid_brown = {50.0, 12.0, 25.0};
static const double much_less = 0.93, much_more = 1.07; // exponents (chosen)

// ---- What is known, in words -------------------------------------------------------

void hw_report_add_sureness(hw_text *text, const hw_dye *dye)
{
    double percent = 100.0 * HW_NINETY * dye->u_strength;
    if (percent <= 50.0 && dye->guess) {
        hw_text_add(text, "strength not known yet");
    } else if (percent > 50.0) { // known by its logarithm: told as such where that matters
        hw_text_add(text, "strength hardly known: from %.1f to %.1f times this",
                    exp(-0.01 * percent), exp(0.01 * percent));
    } else {
        hw_text_add(text, "strength known within about %.0f %%", fmax(ceil(percent), 1.0));
    }
}

void hw_report_add_law(hw_text *text, double exponent, double u_exponent)
{
    double half = HW_NINETY * u_exponent;
    if (exponent < much_less && exponent + half < 1.0) {
        hw_text_add(text, "later passes do less: the dye goes into the wood, or the wood takes up "
                          "no more of it");
    } else if (exponent > much_more && exponent - half > 1.0) {
        hw_text_add(text, "later passes do more than the first: look whether those covered all of "
                          "the wood");
    } else if (half > 0.5) {
        hw_text_add(text, "how passes add is not known");
    } else {
        hw_text_add(text, "passes add: each does about as much as the one before");
    }
    hw_text_add(text, " (exponent %.2f ± %.2f)", exponent, fmax(half, 0.01));
}

void hw_report_add_one_pass(hw_text *text, const hw_dye *dye, hw_lab wood)
{
    hw_lab under = hw_tone_under(wood, dye->density);
    hw_report_add_change(text, under.L - wood.L, under.a - wood.a, under.b - wood.b);
}

// `from_guess`: nothing but a guess was known before any pass.
static void add_known(hw_text *text, const hw_dye *dye, bool from_guess)
{
    char when[64];
    if (dye->has_wood) {
        hw_text_add(text, "learned on a board of %d pass%s on wood of L* %.0f a* %.0f b* %.0f",
                    dye->board_passes, dye->board_passes == 1 ? "" : "es", dye->wood.L, dye->wood.a,
                    dye->wood.b);
        if (dye->learned_at != 0) {
            hw_report_time(when, sizeof when, dye->learned_at);
            hw_text_add(text, ", %s", when);
        }
    } else if (dye->guess) {
        hw_text_add(text, "GUESS of its family");
    } else if (from_guess) {
        hw_text_add(text, "began as its family's guess, learned from your passes");
    } else {
        hw_text_add(text, "learned from your work");
    }
}

// What an amount in a volume means is said with it: for one part in twenty it makes a difference.
void hw_report_add_made(hw_text *text, const hw_made *made)
{
    if (!made->words[0]) {
        return;
    }
    hw_text_add(text, "    full strength is made as ");
    hw_report_add_clean(text, made->words);
    if (made->g_l > 0.0) {
        double quarts = hw_fl_oz(1000.0) / 32.0; // in a litre
        hw_text_add(text, ": %.3g g of powder to a litre (%.2g oz to a US quart)\n", made->g_l,
                    hw_ounces(made->g_l) / quarts);
    } else {
        hw_text_add(text, ": %.2g %% of the finished liquid is concentrate, by volume\n",
                    100.0 * made->share);
    }
}

const char *hw_report_change_words(hw_dye_change change)
{
    return change == HW_DYE_ADDED     ? "added to the shelf"
           : change == HW_DYE_CHANGED ? "was on the shelf: changed there"
                                      : "was on the shelf: what was known of it is replaced";
}

// ---- What was seen in jobs ---------------------------------------------------------

typedef struct seen_count {
    size_t passes, jobs, questioned;
} seen_count;

static seen_count count_seen(const hw_shelf *shelf, const char *dye)
{
    seen_count sum = {0};
    for (size_t i = 0; i < shelf->seen_count; i++) {
        const hw_observation *seen = &shelf->seen[i];
        if (seen->forgotten || !hw_observation_names(seen, dye)) {
            continue;
        }
        bool new_job = true;
        for (size_t k = 0; k < i && new_job; k++) {
            new_job = !hw_observation_names(&shelf->seen[k], dye) ||
                      strcmp(shelf->seen[k].job, seen->job) != 0;
        }
        sum.passes++;
        sum.jobs += new_job;
        sum.questioned += seen->questioned;
    }
    return sum;
}

static void add_seen(hw_text *text, const seen_count *seen, bool guess)
{
    if (seen->passes == 0) {
        hw_text_add(text, guess ? ", not yet seen on your work" : "");
        return;
    }
    hw_text_add(text, "; seen %zu time%s in %zu job%s", seen->passes, seen->passes == 1 ? "" : "s",
                seen->jobs, seen->jobs == 1 ? "" : "s");
    if (seen->questioned > 0) {
        hw_text_add(text, " (%zu of them far off what was forecast, and not learned from)",
                    seen->questioned);
    }
}

// ---- Clear coats -------------------------------------------------------------------

// What the next job's coats are expected to do.
typedef struct coats_known {
    hw_coat_belief belief;
    size_t jobs;
    hw_lab under, low, high; // one more on a mid-brown that has its finish: middle, 90 %
} coats_known;

static size_t count_coat_jobs(const hw_shelf *shelf)
{
    size_t jobs = 0;
    for (size_t i = 0; i < shelf->coat_count; i++) {
        bool new_job = !shelf->coat[i].forgotten;
        for (size_t k = 0; k < i && new_job; k++) {
            new_job =
                shelf->coat[k].forgotten || strcmp(shelf->coat[k].job, shelf->coat[i].job) != 0;
        }
        jobs += new_job;
    }
    return jobs;
}

static coats_known coats_of(const hw_shelf *shelf)
{
    const int finished = 3; // coats: over bare wood nothing more is closed
    coats_known known = {.belief = hw_coats_learn(shelf->coat, shelf->coat_count, NULL),
                         .jobs = count_coat_jobs(shelf)};
    hw_comparison wood = {.patch_lab = mid_brown, .target_lab = mid_brown};
    hw_coats_request request = {
        .gap = &wood, .patch = {finished, 1}, .target = {finished, 0}, .belief = &known.belief};
    hw_coats_ahead ahead = hw_coats_look_ahead(&request);
    known.under = ahead.patch_lab;
    known.low = ahead.patch_low;
    known.high = ahead.patch_high;
    return known;
}

static void add_coats(hw_text *text, const coats_known *coats)
{
    size_t seen = coats->belief.elsewhere;
    if (seen == 0) {
        return;
    }
    hw_text_add(text, "clear coats\n    %s%zu reading%s in %zu job%s\n",
                coats->belief.guess ? "still a GUESS, drawn to " : "learned from ", seen,
                seen == 1 ? "" : "s", coats->jobs, coats->jobs == 1 ? "" : "s");
    hw_text_add(text,
                "    one more on a mid-brown (L* %.0f a* %.0f b* %.0f) that has a finish: "
                "darker by ",
                mid_brown.L, mid_brown.a, mid_brown.b);
    hw_report_add_range(text, mid_brown.L - coats->under.L, mid_brown.L - coats->high.L,
                        mid_brown.L - coats->low.L);
    hw_text_add(text, " L*, yellower by ");
    hw_report_add_range(text, coats->under.b - mid_brown.b, coats->low.b - mid_brown.b,
                        coats->high.b - mid_brown.b);
    hw_text_add(text, " b*\n");
}

static void add_coats_json(hw_json *told, const coats_known *coats)
{
    const hw_coat_belief *belief = &coats->belief;
    if (belief->elsewhere == 0) {
        hw_json_add_null(told, "coats");
        return;
    }
    hw_json *one = hw_json_add_object(told, "coats");
    hw_json_add_number(one, "seen", (double)belief->elsewhere);
    hw_json_add_number(one, "seen_jobs", (double)coats->jobs);
    hw_json_add_bool(one, "guess", belief->guess);
    hw_report_json_triple(one, "resin", belief->resin, 5);
    hw_report_json_triple(one, "wet", belief->wet, 5);
    hw_json_add_rounded(one, "tau", belief->tau, 3);
    hw_report_json_lab(one, "wood", mid_brown);
    hw_report_json_lab(one, "under", coats->under);
    hw_report_json_lab(one, "low", coats->low);
    hw_report_json_lab(one, "high", coats->high);
}

// ---- The shelf ---------------------------------------------------------------------

// The dye with what its passes taught in place of what was known before them.
static hw_dye as_known(const hw_dye *dye, const hw_known_dye *known)
{
    hw_dye shown = *dye;
    if (known) {
        memcpy(shown.density, known->density, sizeof shown.density);
        shown.exponent = known->exponent;
        shown.u_exponent = known->u_exponent;
        shown.u_strength = known->u_strength;
        shown.guess = known->guess;
    }
    return shown;
}

// `known` and `seen` may be NULL: nothing but the dye itself.
static void add_dye(hw_text *text, const hw_dye *kept, const hw_known_dye *known,
                    const seen_count *seen)
{
    const hw_dye shown = as_known(kept, known), *dye = &shown;
    hw_report_add_clean(text, dye->name);
    hw_text_add(text, ": %s", hw_family_name(dye->family));
    if (dye->tool != HW_TOOL_UNSAID) {
        hw_text_add(text, ", laid by %s", hw_tool_name(dye->tool));
    }
    hw_text_add(text, "\n    ");
    add_known(text, dye, kept->guess);
    if (seen) {
        add_seen(text, seen, dye->guess);
    }
    hw_text_add(text, "\n    ");
    hw_report_add_sureness(text, dye);
    hw_text_add(text, "; ");
    hw_report_add_law(text, dye->exponent, dye->u_exponent);
    hw_text_add(text, "\n    one pass at full strength on a mid-brown (L* %.0f a* %.0f b* %.0f): ",
                mid_brown.L, mid_brown.a, mid_brown.b);
    hw_report_add_one_pass(text, dye, mid_brown);
    hw_text_add(text,
                "\n    it gives back %.0f %% of the red, %.0f %% of the green, %.0f %% of the "
                "blue light\n",
                100.0 * exp(-dye->density[0]), 100.0 * exp(-dye->density[1]),
                100.0 * exp(-dye->density[2]));
    hw_report_add_made(text, &dye->made);
    if (dye->note[0]) {
        hw_text_add(text, "    note: ");
        hw_report_add_clean(text, dye->note);
        hw_text_add(text, "\n");
    }
}

static bool all_guesses(const hw_shelf *shelf)
{
    for (size_t i = 0; i < shelf->count; i++) {
        if (!shelf->dye[i].guess) {
            return false;
        }
    }
    return shelf->seen_count == 0;
}

hw_status hw_report_shelf_text(const hw_shelf *shelf, const hw_known *known, const char *path,
                               char **out, hw_error *err)
{
    hw_text text = {0};
    hw_text_add(&text, "Shelf: ");
    hw_report_add_clean(&text, path && *path ? path : "no file of yours");
    hw_text_add(&text, "\n");
    for (size_t i = 0; i < shelf->count; i++) {
        seen_count seen = count_seen(shelf, shelf->dye[i].name);
        add_dye(&text, &shelf->dye[i], hw_known_find(known, shelf->dye[i].name), &seen);
    }
    coats_known coats = coats_of(shelf);
    add_coats(&text, &coats);
    if (all_guesses(shelf)) {
        hw_text_add(
            &text, "No dye here was seen on your work yet: all advice from these is a guess. Lay a "
                   "step board and read it: huewright stepboard.\n");
    }
    return hw_report_finish(&text, out, err);
}

static void add_covariance_json(hw_json *told, const hw_covariance *v)
{
    const double triangle[6] = {v->m[0][0], v->m[0][1], v->m[0][2],
                                v->m[1][1], v->m[1][2], v->m[2][2]};
    hw_json *list = hw_json_add_array(told, "covariance");
    for (int i = 0; i < 6; i++) {
        hw_json_add_rounded(list, NULL, triangle[i], 9);
    }
}

void hw_report_json_dye(hw_json *told, const hw_dye *dye)
{
    char when[40];
    hw_json_add_text(told, "family", hw_family_name(dye->family));
    hw_json_add_text(told, "tool", dye->tool == HW_TOOL_UNSAID ? NULL : hw_tool_name(dye->tool));
    hw_report_json_triple(told, "density", dye->density, 5);
    add_covariance_json(told, &dye->covariance);
    hw_json_add_rounded(told, "exponent", dye->exponent, 4);
    hw_json_add_rounded(told, "u_exponent", dye->u_exponent, 4);
    hw_json_add_rounded(told, "u_strength", dye->u_strength, 4);
    hw_json_add_bool(told, "guess", dye->guess);
    if (dye->has_wood) {
        hw_report_json_lab(told, "wood", dye->wood);
        hw_json_add_number(told, "board_passes", dye->board_passes);
    } else {
        hw_json_add_null(told, "wood");
        hw_json_add_null(told, "board_passes");
    }
    hw_format_time(when, dye->learned_at);
    hw_json_add_text(told, "learned_at", dye->learned_at != 0 ? when : NULL);
    hw_report_json_text(told, "note", dye->note);
    if (dye->made.words[0]) {
        hw_json *made = hw_json_add_object(told, "made");
        hw_report_json_text(made, "words", dye->made.words);
        hw_json_add_number(made, "share", dye->made.share > 0.0 ? dye->made.share : (double)NAN);
        hw_json_add_number(made, "g_l", dye->made.g_l > 0.0 ? dye->made.g_l : (double)NAN);
    } else {
        hw_json_add_null(told, "made");
    }
}

static void add_known_json(hw_json *told, const hw_known_dye *known)
{
    hw_json *one = hw_json_add_object(told, "known");
    hw_report_json_triple(one, "density", known->density, 5);
    hw_json_add_rounded(one, "exponent", known->exponent, 4);
    hw_json_add_rounded(one, "u_exponent", known->u_exponent, 4);
    hw_json_add_rounded(one, "u_strength", known->u_strength, 4);
    hw_json_add_bool(one, "guess", known->guess);
    hw_json_add_number(one, "times_seen", (double)known->times_seen);
}

hw_status hw_report_shelf_json(const hw_shelf *shelf, const hw_known *known, const char *path,
                               char **out, hw_error *err)
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
        seen_count seen = count_seen(shelf, shelf->dye[i].name);
        hw_json *one = hw_json_add_object(dyes, NULL);
        hw_report_json_text(one, "name", shelf->dye[i].name);
        hw_report_json_dye(one, &shelf->dye[i]);
        const hw_known_dye *learned = hw_known_find(known, shelf->dye[i].name);
        if (learned) {
            add_known_json(one, learned);
        }
        hw_json_add_number(one, "seen", (double)seen.passes);
        hw_json_add_number(one, "seen_jobs", (double)seen.jobs);
        hw_json_add_number(one, "questioned", (double)seen.questioned);
    }
    hw_json_add_number(told, "seen", (double)shelf->seen_count);
    coats_known coats = coats_of(shelf);
    add_coats_json(told, &coats);
    return hw_report_json_finish(root, out, err);
}

// ---- One dye, put on or taken off --------------------------------------------------

hw_status hw_report_dye_text(const hw_dye *dye, hw_dye_change change, char **out, hw_error *err)
{
    hw_text text = {0};
    hw_report_add_clean(&text, dye->name);
    hw_text_add(&text, ": %s.\n", hw_report_change_words(change));
    add_dye(&text, dye, NULL, NULL);
    if (dye->guess) {
        hw_text_add(&text, "Next: lay a step board with it and read it: huewright stepboard.\n");
    }
    return hw_report_finish(&text, out, err);
}

hw_status hw_report_dye_json(const hw_dye *dye, hw_dye_change change, char **out, hw_error *err)
{
    hw_json *root = hw_json_new_object();
    hw_report_json_text(root, "dye", dye->name);
    hw_json_add_text(root, "change", hw_dye_change_name(change));
    hw_report_json_dye(root, dye);
    return hw_report_json_finish(root, out, err);
}

hw_status hw_report_removed_text(const char *name, size_t seen_gone, char **out, hw_error *err)
{
    hw_text text = {0};
    hw_report_add_clean(&text, name);
    hw_text_add(&text, ": taken off the shelf");
    if (seen_gone > 0) {
        hw_text_add(&text, ", and with it what was seen of it in %zu logged pass%s", seen_gone,
                    seen_gone == 1 ? "" : "es");
    }
    hw_text_add(&text, ".\n");
    return hw_report_finish(&text, out, err);
}

hw_status hw_report_removed_json(const char *name, size_t seen_gone, char **out, hw_error *err)
{
    hw_json *root = hw_json_new_object();
    hw_report_json_text(root, "removed", name);
    hw_json_add_number(root, "seen_gone", (double)seen_gone);
    return hw_report_json_finish(root, out, err);
}

hw_status hw_report_forgotten_text(size_t seen_gone, char **out, hw_error *err)
{
    hw_text text = {0};
    hw_text_add(&text, "Clear coats are a guess again: %zu reading%s of coats forgotten.\n",
                seen_gone, seen_gone == 1 ? "" : "s");
    return hw_report_finish(&text, out, err);
}

hw_status hw_report_forgotten_json(size_t seen_gone, char **out, hw_error *err)
{
    hw_json *root = hw_json_new_object();
    hw_json_add_number(root, "coats_gone", (double)seen_gone);
    return hw_report_json_finish(root, out, err);
}
