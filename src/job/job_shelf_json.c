// job_shelf_json.c: a dye of the shelf, an observation of passes and one of coats, and what a step board taught, as JSON, and
// back.
//
//   {"name":"walnut","family":"brown","tool":"spray","density":[0.06,0.08,0.11],
//    "covariance":[v11,v12,v13,v22,v23,v33],"exponent":1,"u_exponent":0.1,"u_strength":0.1,"guess":false,
//    "wood":[62,12,28],"board_passes":4,"learned_at":"2026-05-03T10:27:36Z","note":"",
//    "made":{"words":"15 drops in 4 fl oz","share":0.006}}
//
// density: one pass at strength 1, natural logarithm, long, middle and short sharpened band;
// covariance: of it, the upper triangle row by row. u_strength: standard deviation of the logarithm of
// its strength. A member that is missing is the family's guess; without `density` all of the dye is.
// made: how the liquid of strength 1 was made: `share`, the concentrate's of the finished volume, or `g_l`, grams of
// powder a litre; without it that was not said.
// Only name and family must be there.
//
//   {"job":"3f2a...","event":7,"patch":"lid strip","photo_before":2,"photo_after":9,"at":"...","tool":"spray",
//    "wood":[50,12,25],"laid":[{"dye":"walnut","before":0,"amount":0.5,"squares":0.25,"jar":"3f2a.../2"}],
//    "density":[...],"covariance":[...],"questioned":false,"question":""}
//
// laid: `jar` names the jar that it came out of (its job and number); without it, none.
//
//   {"job":"3f2a...","event":12,"part":"lid strip","photo_before":9,"photo_after":14,"at":"...","before":1,"coats":1,
//    "clear":true,"density":[...],"covariance":[...],"shared":[...]}
//
// before: coats that lay there; coats: laid between the photos; shared: covariance of what all parts of these two photos
// are off by together, without it none. `forgotten` true, of both kinds: not learned from, and no job brings it back.
//
//   {"entry":"6f1c...","at":"...","dyes":[{"dye":{a dye, as it stood then},"change":"added",
//      "strips":[{"passes":2,"coated":false,"lab":[50,12,25],"fitted":[50.1,12,25],"off":0.1,"deviate":0.2,
//                 "out_of_line":false,"why":""}],"saturates":false,"first_differs":false,"fit_off":0.2,
//      "coat_shift":[-2,0,1],"under_coat":{"strength":0.9,"u":0.1,"strips":3}}],"warnings":["..."]}
//
// One photo of a board, by the entry under which a device sent it: what is said to that device where it asks again.
// coat_shift and under_coat are missing where the board shows neither.
//
// What always holds: nothing that is read here is out of its bounds, and a covariance is one.
#include "job_internal.h"

#include <math.h>

// Bounds of what can be meant (chosen): beyond them a number is a slip or a broken file.
static const double density_most = 10.0, amount_most = 1000.0, number_most = 1e9;
static const long coats_most = 1000;
static const double u_known = 0.2; // s.d. of ln strength of a dye whose file says none (chosen)
static const double u_band_known = 0.15; // and of each band on its own (chosen)

// ---- Numbers -----------------------------------------------------------------------

bool hw_own_inside(double value, double least, double most)
{
    return value >= least && value <= most; // not a number: false
}

bool hw_own_read_list(const hw_json *list, double *out, size_t count, double least, double most)
{
    const hw_json *item = hw_json_first(list);
    size_t found = 0;
    for (; hw_json_is_array(list) && item; item = hw_json_next(item), found++) {
        if (found == count || !hw_json_number(item, &out[found]) ||
            !hw_own_inside(out[found], least, most)) {
            return false;
        }
    }
    return found == count;
}

// A member that may be missing: then *out stays.
static bool read_number(const hw_json *json, const char *name, double least, double most,
                        double *out)
{
    const hw_json *member = hw_json_member(json, name);
    double value = 0.0;
    if (!member) {
        return true;
    }
    if (!hw_json_number(member, &value) || !hw_own_inside(value, least, most)) {
        return false;
    }
    *out = value;
    return true;
}

static bool read_whole(const hw_json *json, const char *name, double least, long *out)
{
    double value = -1.0;
    if (!hw_json_member_number(json, name, &value) || !hw_own_inside(value, least, number_most) ||
        value != floor(value)) {
        return false;
    }
    *out = (long)value;
    return true;
}

static bool read_lab(const hw_json *list, hw_lab *out)
{
    double value[3];
    if (!hw_own_read_list(list, value, 3, -128.0, 128.0) || !hw_own_inside(value[0], 0.0, 100.0)) {
        return false;
    }
    *out = (hw_lab){value[0], value[1], value[2]};
    return true;
}

static void add_list(hw_json *parent, const char *name, const double *value, size_t count)
{
    hw_json *list = hw_json_add_array(parent, name);
    for (size_t i = 0; i < count; i++) {
        hw_json_add_number(list, NULL, value[i]);
    }
}

static void add_lab(hw_json *parent, const char *name, hw_lab lab)
{
    hw_json *list = hw_json_add_array(parent, name);
    hw_json_add_rounded(list, NULL, lab.L, 4);
    hw_json_add_rounded(list, NULL, lab.a, 4);
    hw_json_add_rounded(list, NULL, lab.b, 4);
}

// ---- Covariance --------------------------------------------------------------------

// No principal minor is negative (Sylvester), but for rounding.
bool hw_job_is_covariance(const hw_covariance *v)
{
    const double rounding = 1e-9;
    const double(*m)[3] = v->m;
    for (int i = 0; i < 3; i++) {
        int j = (i + 1) % 3;
        double product = m[i][i] * m[j][j];
        if (m[i][i] < 0.0 || m[i][j] * m[i][j] > product * (1.0 + rounding)) {
            return false;
        }
    }
    double det = m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[1][2]) -
                 m[0][1] * (m[0][1] * m[2][2] - m[1][2] * m[0][2]) +
                 m[0][2] * (m[0][1] * m[1][2] - m[1][1] * m[0][2]);
    return det >= -rounding * m[0][0] * m[1][1] * m[2][2];
}

static bool read_covariance(const hw_json *list, hw_covariance *out)
{
    double v[6];
    if (!hw_own_read_list(list, v, 6, -100.0, 100.0)) {
        return false;
    }
    *out = (hw_covariance){{{v[0], v[1], v[2]}, {v[1], v[3], v[4]}, {v[2], v[4], v[5]}}};
    return hw_job_is_covariance(out);
}

static void add_covariance(hw_json *parent, const char *name, const hw_covariance *v)
{
    const double triangle[6] = {v->m[0][0], v->m[0][1], v->m[0][2],
                                v->m[1][1], v->m[1][2], v->m[2][2]};
    add_list(parent, name, triangle, 6);
}

// ---- A dye -------------------------------------------------------------------------

// Density and its doubt; NULL when all is well, or what is wrong.
static const char *read_density(const hw_json *json, hw_dye *dye)
{
    const hw_json *covariance = hw_json_member(json, "covariance");
    double u_guess = dye->u_strength;
    if (hw_json_member(json, "density")) {
        if (!hw_own_read_list(hw_json_member(json, "density"), dye->density, 3, 0.0,
                              density_most)) {
            return "has a density that is not three numbers from 0 to 10";
        }
        dye->guess = false;
        dye->u_strength = u_known;
    }
    hw_json_bool(hw_json_member(json, "guess"), &dye->guess);
    if (!read_number(json, "exponent", 0.3, 3.0, &dye->exponent) ||
        !read_number(json, "u_exponent", 0.0, 3.0, &dye->u_exponent) ||
        !read_number(json, "u_strength", 0.0, 3.0, &dye->u_strength)) {
        return "has an exponent or a doubt that cannot be";
    }
    if (covariance) {
        return read_covariance(covariance, &dye->covariance) ? NULL
                                                             : "has a covariance that is none";
    }
    double variance = dye->u_strength * dye->u_strength;
    if (!hw_json_member(json, "density")) { // the guess, with the strength as sure as the file says
        hw_covariance_add_outer(&dye->covariance, variance - u_guess * u_guess, dye->density);
        return NULL;
    }
    dye->covariance = hw_covariance_diagonal(0.0, 0.0, 0.0);
    hw_covariance_add_outer(&dye->covariance, variance, dye->density);
    for (int band = 0; band < 3; band++) {
        double own = u_band_known * dye->density[band];
        dye->covariance.m[band][band] += own * own;
    }
    return NULL;
}

static const char *read_tool(const hw_json *json, hw_tool *out)
{
    const hw_json *member = hw_json_member(json, "tool");
    *out = HW_TOOL_UNSAID;
    return !member || hw_json_is_null(member) || hw_tool_from_name(hw_json_text(member), out)
               ? NULL
               : "has a tool that huewright does not know";
}

bool hw_shelf_read_made(const hw_json *made, hw_made *out)
{
    const char *words = hw_json_member_text(made, "words");
    hw_made read = {.words = ""};
    bool good =
        !made || hw_json_is_null(made) ||
        (words && hw_name_is_usable(words) && hw_copy_text(read.words, sizeof read.words, words) &&
         read_number(made, "share", 0.0, 1.0, &read.share) &&
         read_number(made, "g_l", 0.0, HW_MADE_MOST_G_L, &read.g_l) &&
         (read.share > 0.0) != (read.g_l > 0.0));
    *out = good ? read : (hw_made){.words = ""};
    return good;
}

static const char *read_origin(const hw_json *json, hw_dye *dye)
{
    const hw_json *wood = hw_json_member(json, "wood"), *at = hw_json_member(json, "learned_at"),
                  *note = hw_json_member(json, "note");
    double passes = 0.0;
    if (wood && !read_lab(wood, &dye->wood)) {
        return "has a wood that is no colour";
    }
    dye->has_wood = wood != NULL;
    if (!read_number(json, "board_passes", 0.0, 50.0, &passes) || passes != floor(passes)) {
        return "has board_passes that are no whole number from 0 to 50";
    }
    dye->board_passes = (int)passes;
    if (at && !hw_parse_time(hw_json_text(at), &dye->learned_at)) {
        return "has a learned_at that is no time";
    }
    if (note && !hw_json_text(note)) {
        return "has a note that is no text";
    }
    hw_copy_text(dye->note, sizeof dye->note, note ? hw_json_text(note) : "");
    if (!hw_shelf_read_made(hw_json_member(json, "made"), &dye->made)) {
        return "has a made that says no way of making it";
    }
    return NULL;
}

const char *hw_shelf_read_dye(const hw_json *json, hw_dye *out)
{
    hw_family family;
    const char *name = hw_json_member_text(json, "name");
    if (!hw_family_from_name(hw_json_member_text(json, "family"), &family)) {
        return "has no family that huewright knows";
    }
    if (!name || !hw_name_is_usable(name)) {
        return "has no usable name";
    }
    hw_dye dye = hw_dye_guess(family);
    hw_copy_text(dye.name, sizeof dye.name, name);
    const char *why = read_density(json, &dye);
    why = why ? why : read_tool(json, &dye.tool);
    why = why ? why : read_origin(json, &dye);
    if (!why) {
        *out = dye;
    }
    return why;
}

static void add_tool(hw_json *parent, hw_tool tool)
{
    if (tool != HW_TOOL_UNSAID) {
        hw_json_add_text(parent, "tool", hw_tool_name(tool));
    }
}

static void add_time(hw_json *parent, const char *name, int64_t at)
{
    char text[40];
    hw_format_time(text, at);
    hw_json_add_text(parent, name, text);
}

void hw_shelf_put_made(hw_json *parent, const hw_made *made)
{
    if (made->words[0]) {
        bool powder = made->g_l > 0.0;
        hw_json *json = hw_json_add_object(parent, "made");
        hw_json_add_text(json, "words", made->words);
        hw_json_add_number(json, powder ? "g_l" : "share", powder ? made->g_l : made->share);
    }
}

hw_json *hw_shelf_dye_json(const hw_dye *dye)
{
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "name", dye->name);
    hw_json_add_text(json, "family", hw_family_name(dye->family));
    add_tool(json, dye->tool);
    add_list(json, "density", dye->density, 3);
    add_covariance(json, "covariance", &dye->covariance);
    hw_json_add_number(json, "exponent", dye->exponent);
    hw_json_add_number(json, "u_exponent", dye->u_exponent);
    hw_json_add_number(json, "u_strength", dye->u_strength);
    hw_json_add_bool(json, "guess", dye->guess);
    if (dye->has_wood) {
        add_lab(json, "wood", dye->wood);
        hw_json_add_number(json, "board_passes", dye->board_passes);
    }
    if (dye->learned_at != 0) {
        add_time(json, "learned_at", dye->learned_at);
    }
    if (dye->note[0]) {
        hw_json_add_text(json, "note", dye->note);
    }
    hw_shelf_put_made(json, &dye->made);
    return json;
}

// ---- An observation ----------------------------------------------------------------

static bool read_name(const hw_json *json, const char *member, char *out, size_t size)
{
    const char *name = hw_json_member_text(json, member);
    return name && hw_name_is_usable(name) && hw_copy_text(out, size, name);
}

static const char *read_laid(const hw_json *list, hw_observation *out)
{
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        hw_laid *laid = &out->laid[out->laid_count];
        if (out->laid_count == HW_LAID_MOST) {
            return "names too many dyes";
        }
        if (!read_name(item, "dye", laid->dye, sizeof laid->dye) ||
            !hw_json_member_number(item, "before", &laid->before) ||
            !hw_json_member_number(item, "amount", &laid->amount) ||
            !hw_json_member_number(item, "squares", &laid->squares) ||
            !hw_own_inside(laid->before, 0.0, amount_most) ||
            !hw_own_inside(laid->amount, 1e-6, amount_most) ||
            !hw_own_inside(laid->squares, 1e-12, amount_most * amount_most)) {
            return "has a layer that cannot be";
        }
        if (hw_json_member(item, "jar") && !read_name(item, "jar", laid->jar, sizeof laid->jar)) {
            return "names a jar that cannot be";
        }
        out->laid_count++;
    }
    return out->laid_count > 0 ? NULL : "names no dye that was laid";
}

const char *hw_shelf_read_seen(const hw_json *json, hw_observation *out)
{
    hw_observation seen = {0};
    const hw_json *question = hw_json_member(json, "question");
    if (!read_name(json, "job", seen.job, sizeof seen.job) ||
        !read_name(json, "patch", seen.patch, sizeof seen.patch) ||
        !read_whole(json, "event", 1.0, &seen.event) ||
        !read_whole(json, "photo_before", 0.0, &seen.photo_before) ||
        !read_whole(json, "photo_after", 0.0, &seen.photo_after) ||
        !hw_parse_time(hw_json_member_text(json, "at"), &seen.at)) {
        return "does not say of which pass it is";
    }
    if (!read_lab(hw_json_member(json, "wood"), &seen.wood) ||
        !hw_own_read_list(hw_json_member(json, "density"), seen.density, 3, -density_most,
                          density_most) ||
        !read_covariance(hw_json_member(json, "covariance"), &seen.covariance)) {
        return "has a wood, a density or a covariance that cannot be";
    }
    hw_json_bool(hw_json_member(json, "questioned"), &seen.questioned);
    hw_json_bool(hw_json_member(json, "forgotten"), &seen.forgotten);
    if (question && !hw_json_text(question)) {
        return "has a question that is no text";
    }
    hw_copy_text(seen.question, sizeof seen.question, question ? hw_json_text(question) : "");
    const char *why = read_tool(json, &seen.tool);
    why = why ? why : read_laid(hw_json_member(json, "laid"), &seen);
    if (!why) {
        *out = seen;
    }
    return why;
}

hw_json *hw_shelf_seen_json(const hw_observation *seen)
{
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "job", seen->job);
    hw_json_add_number(json, "event", (double)seen->event);
    hw_json_add_text(json, "patch", seen->patch);
    hw_json_add_number(json, "photo_before", (double)seen->photo_before);
    hw_json_add_number(json, "photo_after", (double)seen->photo_after);
    add_time(json, "at", seen->at);
    add_tool(json, seen->tool);
    add_lab(json, "wood", seen->wood);
    hw_json *list = hw_json_add_array(json, "laid");
    for (size_t i = 0; i < seen->laid_count; i++) {
        hw_json *laid = hw_json_add_object(list, NULL);
        hw_json_add_text(laid, "dye", seen->laid[i].dye);
        hw_json_add_number(laid, "before", seen->laid[i].before);
        hw_json_add_number(laid, "amount", seen->laid[i].amount);
        hw_json_add_number(laid, "squares", seen->laid[i].squares);
        if (seen->laid[i].jar[0]) {
            hw_json_add_text(laid, "jar", seen->laid[i].jar);
        }
    }
    add_list(json, "density", seen->density, 3);
    add_covariance(json, "covariance", &seen->covariance);
    hw_json_add_bool(json, "questioned", seen->questioned);
    if (seen->forgotten) {
        hw_json_add_bool(json, "forgotten", true);
    }
    if (seen->question[0]) {
        hw_json_add_text(json, "question", seen->question);
    }
    return json;
}

// ---- Coats -------------------------------------------------------------------------

static bool read_coats(const hw_json *json, const char *member, long least, int *out)
{
    long value;
    if (!read_whole(json, member, (double)least, &value) || value > coats_most) {
        return false;
    }
    *out = (int)value;
    return true;
}

const char *hw_shelf_read_coat(const hw_json *json, hw_coat_seen *out)
{
    hw_coat_seen seen = {0};
    const hw_json *shared = hw_json_member(json, "shared");
    if (!read_name(json, "job", seen.job, sizeof seen.job) ||
        !read_name(json, "part", seen.part, sizeof seen.part) ||
        !read_whole(json, "event", 1.0, &seen.event) ||
        !read_whole(json, "photo_before", 0.0, &seen.photo_before) ||
        !read_whole(json, "photo_after", 0.0, &seen.photo_after) ||
        !hw_parse_time(hw_json_member_text(json, "at"), &seen.at)) {
        return "does not say of which coat it is";
    }
    if (!read_coats(json, "before", 0, &seen.before) ||
        !read_coats(json, "coats", 1, &seen.coats) ||
        !hw_json_bool(hw_json_member(json, "clear"), &seen.clear)) {
        return "has coats that cannot be";
    }
    if (!hw_own_read_list(hw_json_member(json, "density"), seen.density, 3, -density_most,
                          density_most) ||
        !read_covariance(hw_json_member(json, "covariance"), &seen.covariance) ||
        (shared && !read_covariance(shared, &seen.shared))) {
        return "has a density or a covariance that cannot be";
    }
    hw_json_bool(hw_json_member(json, "forgotten"), &seen.forgotten);
    *out = seen;
    return NULL;
}

hw_json *hw_shelf_coat_json(const hw_coat_seen *seen)
{
    const hw_covariance none = {{{0.0}}};
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "job", seen->job);
    hw_json_add_number(json, "event", (double)seen->event);
    hw_json_add_text(json, "part", seen->part);
    hw_json_add_number(json, "photo_before", (double)seen->photo_before);
    hw_json_add_number(json, "photo_after", (double)seen->photo_after);
    add_time(json, "at", seen->at);
    hw_json_add_number(json, "before", seen->before);
    hw_json_add_number(json, "coats", seen->coats);
    hw_json_add_bool(json, "clear", seen->clear);
    add_list(json, "density", seen->density, 3);
    add_covariance(json, "covariance", &seen->covariance);
    if (memcmp(&seen->shared, &none, sizeof none) != 0) {
        add_covariance(json, "shared", &seen->shared);
    }
    if (seen->forgotten) {
        hw_json_add_bool(json, "forgotten", true);
    }
    return json;
}

// ---- A step board ------------------------------------------------------------------

// A colour that was computed may lie outside of what any paint shows, and so may a difference of two.
static bool read_colour(const hw_json *list, hw_lab *out)
{
    double value[3];
    if (!hw_own_read_list(list, value, 3, -number_most, number_most)) {
        return false;
    }
    *out = (hw_lab){value[0], value[1], value[2]};
    return true;
}

static void add_colour(hw_json *parent, const char *name, hw_lab lab)
{
    add_list(parent, name, (double[3]){lab.L, lab.a, lab.b}, 3);
}

// A number that is only told again: finite, or null where it was not.
static bool read_told(const hw_json *json, const char *name, double *out)
{
    const hw_json *member = hw_json_member(json, name);
    *out = INFINITY;
    return member && (hw_json_is_null(member) || hw_json_number(member, out));
}

static bool read_strip(const hw_json *json, hw_strip *out)
{
    const char *why = hw_json_member_text(json, "why");
    return read_number(json, "passes", 0.0, HW_BOARD_PASSES_MOST, &out->passes) &&
           hw_json_bool(hw_json_member(json, "coated"), &out->coated) &&
           read_colour(hw_json_member(json, "lab"), &out->lab) &&
           read_colour(hw_json_member(json, "fitted"), &out->fitted) &&
           read_told(json, "off", &out->off) && read_told(json, "deviate", &out->deviate) &&
           hw_json_bool(hw_json_member(json, "out_of_line"), &out->out_of_line) && why &&
           hw_copy_text(out->why, sizeof out->why, why);
}

static bool read_coat_on_board(const hw_json *json, hw_board *out)
{
    const hw_json *shift = hw_json_member(json, "coat_shift"),
                  *under = hw_json_member(json, "under_coat");
    long strips = 0;
    out->has_coat = shift != NULL;
    if (shift && !read_colour(shift, &out->coat_shift)) {
        return false;
    }
    if (under && (!read_told(under, "strength", &out->under_coat) ||
                  !read_told(under, "u", &out->u_under_coat) ||
                  !read_whole(under, "strips", 1.0, &strips))) {
        return false;
    }
    out->under_coat_count = (size_t)strips;
    return true;
}

// What is known of one dye there; *good false: it cannot be.
static hw_status read_row(const hw_json *json, hw_board *board, hw_dye *dye, hw_dye_change *change,
                          bool *good, hw_error *err)
{
    const hw_json *strips = hw_json_member(json, "strips");
    *good = !hw_shelf_read_dye(hw_json_member(json, "dye"), dye) &&
            hw_dye_change_from_name(hw_json_member_text(json, "change"), change) &&
            hw_json_is_array(strips) &&
            hw_json_bool(hw_json_member(json, "saturates"), &board->saturates) &&
            hw_json_bool(hw_json_member(json, "first_differs"), &board->first_differs) &&
            read_told(json, "fit_off", &board->fit_off) && read_coat_on_board(json, board);
    if (!*good) {
        return HW_OK;
    }
    board->strip = hw_alloc_array(hw_json_count(strips), sizeof *board->strip);
    if (!board->strip) {
        return hw_fail_memory(err, "reading the shelf");
    }
    for (const hw_json *item = hw_json_first(strips); item; item = hw_json_next(item)) {
        *good = *good && read_strip(item, &board->strip[board->count++]);
    }
    hw_copy_text(board->dye, sizeof board->dye, dye->name);
    memcpy(board->density, dye->density, sizeof board->density);
    board->covariance = dye->covariance;
    board->exponent = dye->exponent;
    board->u_exponent = dye->u_exponent;
    return HW_OK;
}

hw_status hw_shelf_read_board(const hw_json *json, const char *path, hw_taught *out, hw_error *err)
{
    const hw_json *list = hw_json_member(json, "dyes"),
                  *warnings = hw_json_member(json, "warnings");
    bool good = hw_json_is_array(list) && hw_json_is_array(warnings);
    size_t room = good ? hw_json_count(list) : 0;
    out->board = hw_alloc_array(room, sizeof *out->board);
    out->dye = hw_alloc_array(room, sizeof *out->dye);
    out->change = hw_alloc_array(room, sizeof *out->change);
    if (!out->board || !out->dye || !out->change) {
        return hw_fail_memory(err, "reading the shelf");
    }
    for (const hw_json *item = hw_json_first(list); good && item; item = hw_json_next(item)) {
        size_t at = out->count++;
        hw_status status =
            read_row(item, &out->board[at], &out->dye[at], &out->change[at], &good, err);
        if (status != HW_OK) {
            return status;
        }
    }
    for (const hw_json *item = hw_json_first(warnings); good && item; item = hw_json_next(item)) {
        good = hw_json_text(item) != NULL;
        hw_warn(&out->warnings, "%s", good ? hw_json_text(item) : "");
    }
    out->again = true;
    return good ? HW_OK
                : hw_fail(
                      err, HW_ERR_INPUT, "shelf-format", path,
                      "Look at the shelf for what it knows of the dye; else read the board anew.",
                      "what it keeps of that step board cannot be read");
}

static void add_strip(hw_json *list, const hw_strip *strip)
{
    hw_json *json = hw_json_add_object(list, NULL);
    hw_json_add_number(json, "passes", strip->passes);
    hw_json_add_bool(json, "coated", strip->coated);
    add_colour(json, "lab", strip->lab);
    add_colour(json, "fitted", strip->fitted);
    hw_json_add_number(json, "off", strip->off);
    hw_json_add_number(json, "deviate", strip->deviate);
    hw_json_add_bool(json, "out_of_line", strip->out_of_line);
    hw_json_add_text(json, "why", strip->why);
}

static void add_row(hw_json *list, const hw_board *board, const hw_dye *dye, hw_dye_change change)
{
    hw_json *json = hw_json_add_object(list, NULL);
    hw_json_add_tree(json, "dye", hw_shelf_dye_json(dye));
    hw_json_add_text(json, "change", hw_dye_change_name(change));
    hw_json *strips = hw_json_add_array(json, "strips");
    for (size_t i = 0; i < board->count; i++) {
        add_strip(strips, &board->strip[i]);
    }
    hw_json_add_bool(json, "saturates", board->saturates);
    hw_json_add_bool(json, "first_differs", board->first_differs);
    hw_json_add_number(json, "fit_off", board->fit_off);
    if (board->has_coat) {
        add_colour(json, "coat_shift", board->coat_shift);
    }
    if (board->under_coat_count > 0) {
        hw_json *under = hw_json_add_object(json, "under_coat");
        hw_json_add_number(under, "strength", board->under_coat);
        hw_json_add_number(under, "u", board->u_under_coat);
        hw_json_add_number(under, "strips", (double)board->under_coat_count);
    }
}

hw_json *hw_shelf_board_json(const char *entry, int64_t at, const hw_taught *taught)
{
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "entry", entry);
    add_time(json, "at", at);
    hw_json *list = hw_json_add_array(json, "dyes");
    for (size_t i = 0; i < taught->count; i++) {
        add_row(list, &taught->board[i], &taught->dye[i], taught->change[i]);
    }
    list = hw_json_add_array(json, "warnings");
    for (size_t i = 0; i < taught->warnings.count; i++) {
        hw_json_add_text(list, NULL, taught->warnings.text[i]);
    }
    return json;
}
