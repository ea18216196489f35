// report_day.c: the day's sheet: which jars to mix, how and how much, in which order to lay them, what to leave alone;
// and what stands beside the advice on one repair: what was spent on it, how long the next passes take, how it will look
// under the coats to come and under another lamp.
//
// A jar that stands mixed is called by its number; one to be mixed by a letter until it has one.
//
// JSON beside each repair: "spent":{"hours","passes","ml"},"need":{"area_cm2","area_from_card","pass_ml","ml_m2","assumption",
// "minutes"},"coats":null or {"on_patch","on_target","guess","seen","seen_elsewhere","held","patch_lab","patch_low","patch_high","target_lab",
// "target_low","target_high","de00","de00_low","de00_high","assumed"},"lamp":{"seen","last_step","words"}. Each of
// "jars": {"jar": its number or null,"name":"Jar A","words","use":[lines],"liquid","repairs","passes","need_ml","left_ml","mix": null or as report_jar.c says};
// "order": [{"patch","passes","jar","of_jars": its place among "jars", from 0}], "first_something_else": [names],
// "lay_nothing_on": [names]. What is not known is null.
#include "report_internal.h"

#include <math.h>

// ---- Jars --------------------------------------------------------------------------

void hw_report_name_jar(const hw_day *day, size_t index, char out[16])
{
    size_t letter = 0;
    for (size_t i = 0; i < index; i++) {
        letter += day->jar[i].number == 0;
    }
    if (day->jar[index].number > 0) {
        hw_format_text(out, 16, "jar %ld", day->jar[index].number);
    } else if (letter < 26) {
        hw_format_text(out, 16, "JAR %c", (char)('A' + (int)letter));
    } else {
        hw_format_text(out, 16, "JAR A%zu", letter);
    }
}

void hw_report_add_about(hw_text *text, const char *before, double ml)
{
    double step = ml < 10.0 ? 1.0 : ml < 100.0 ? 5.0 : 10.0;
    if (ml < 1.0) {
        hw_text_add(text, "%sunder 1 ml", before);
        return;
    }
    hw_text_add(text, "%sabout %.0f ml", before, step * floor(ml / step + 0.5));
    if (ml >= 15.0) {
        hw_text_add(text, " (%.1f fl oz)", hw_fl_oz(ml));
    }
}

static void add_use(hw_text *text, const hw_day_jar *jar)
{
    char passes[32];
    hw_report_passes(passes, sizeof passes, jar->passes);
    if (jar->patches == 0) {
        hw_text_add(text, "      not today: for after the next look\n");
        return;
    }
    hw_text_add(text, "      today %s on %zu repair%s", passes, jar->patches,
                jar->patches == 1 ? "" : "s");
    if (isfinite(jar->need_ml)) {
        hw_report_add_about(text, ", ", jar->need_ml);
    }
    if (isfinite(jar->left_ml)) {
        hw_report_add_about(text, "; it holds ", jar->left_ml);
        hw_text_add(text, jar->left_ml < jar->need_ml ? ": too little, mix more" : "");
    }
    if (jar->can_mix && jar->mix.volume_ml < jar->need_ml) {
        hw_text_add(text, "; the volume to mix is less than that");
    }
    hw_text_add(text, "\n");
}

// What gives it its number.
static void add_command(hw_text *text, const hw_day_jar *jar)
{
    hw_text_add(text, "      then: huewright jar JOB");
    for (size_t i = 0; i < jar->liquid.count; i++) {
        hw_text_add(text, " --dye \"");
        hw_report_add_clean(text, jar->liquid.dose[i].dye);
        hw_text_add(text, "=%.6g\"", jar->liquid.dose[i].strength);
    }
    if (jar->as_wanted && jar->can_mix) {
        hw_text_add(text, " --volume %.5gml", jar->mix.volume_ml);
    }
    hw_text_add(text, "\n");
}

static void add_jar(hw_text *text, const hw_day *day, size_t index)
{
    const hw_day_jar *jar = &day->jar[index];
    char name[16];
    hw_report_name_jar(day, index, name);
    hw_text_add(text, "  %s%s: ", name, jar->number > 0 ? " (stands mixed)" : " (to be mixed)");
    hw_report_add_liquid(text, &jar->liquid);
    hw_text_add(text, "\n");
    add_use(text, jar);
    if (jar->can_mix && jar->patches > 0) {
        hw_report_add_mix(text, &jar->mix, "      ");
    }
    if (jar->number == 0 && jar->patches > 0) {
        add_command(text, jar);
    }
}

// "cornice piece: 2 passes".
static void add_step(hw_text *text, const hw_day *day, size_t index)
{
    const hw_sheet_step *step = &day->sheet.step[index];
    const hw_advice *advice = &day->advice[step->patch];
    char name[16], passes[32];
    hw_report_name_jar(day, step->jar, name);
    hw_report_passes(passes, sizeof passes, advice->next.passes);
    hw_text_add(text, "    %zu. ", index + 1);
    hw_report_add_clean(text, advice->patch);
    hw_text_add(text, ": %s of %s%s%s\n", passes, name, advice->next_guess ? " (guess)" : "",
                advice->may_be_left ? "; it may be left" : "");
}

static void add_order(hw_text *text, const hw_day *day)
{
    double minutes = 0.0;
    hw_text_add(text, "  In this order:\n");
    for (size_t i = 0; i < day->sheet.step_count; i++) {
        add_step(text, day, i);
        minutes = fmax(minutes, day->part[day->sheet.step[i].patch].minutes); // NaN: passed over
    }
    hw_text_add(text, "  Then let all of it dry, photograph it, ask again.");
    if (minutes > 0.0) {
        hw_text_add(text, " Recoat times alone take ");
        hw_report_add_minutes(text, minutes);
        hw_text_add(text, ": go round while one dries.");
    }
    hw_text_add(text, "\n");
}

void hw_report_add_minutes(hw_text *text, double minutes)
{
    if (minutes < 90.0) {
        hw_text_add(text, "%.0f minutes", minutes);
    } else {
        hw_text_add(text, "%.1f hours", minutes / 60.0);
    }
}

// What the amounts rest on.
static void add_assumption(hw_text *text, const hw_need *need)
{
    hw_text_add(text, "Amounts: ");
    hw_report_add_clean(text, need->assumption);
    hw_text_add(text, ".");
}

// The same for all jars, once.
static void add_amounts(hw_text *text, const hw_day *day)
{
    for (size_t i = 0; i < day->sheet.step_count; i++) {
        const hw_day_part *part = &day->part[day->sheet.step[i].patch];
        if (isfinite(part->need.pass_ml)) {
            hw_text_add(text, "  ");
            add_assumption(text, &part->need);
            hw_text_add(text, "\n");
            return;
        }
    }
}

static bool is_waiting(const hw_advice *advice)
{
    // What waits for a photo, a coat or time to dry is not left alone: it comes first.
    return !advice->has_next && advice->stop_reason == HW_STOP_ASK_FIRST;
}

static size_t count_left(const hw_day *day)
{
    size_t left = 0;
    for (size_t i = 0; i < day->count; i++) {
        left += !day->advice[i].has_next && !is_waiting(&day->advice[i]);
    }
    return left;
}

static void add_names(hw_text *text, const hw_day *day, bool waiting, const char *lead,
                      const char *end)
{
    bool any = false;
    for (size_t i = 0; i < day->count; i++) {
        if (!day->advice[i].has_next && is_waiting(&day->advice[i]) == waiting) {
            hw_text_add(text, "%s", any ? ", " : lead);
            hw_report_add_clean(text, day->advice[i].patch);
            any = true;
        }
    }
    hw_text_add(text, "%s", any ? end : "");
}

static void add_left(hw_text *text, const hw_day *day)
{
    add_names(text, day, true, "  First something else (below): ", ".\n");
    add_names(text, day, false, "  Lay nothing on: ", " (why: below).\n");
}

bool hw_report_is_sheet(const hw_day *day)
{
    return day->for_all && day->count > 1 && day->sheet.step_count > 0;
}

static void add_head(hw_text *text, const hw_day *day, bool large)
{
    char words[160];
    size_t today = 0, left = count_left(day), repairs = day->sheet.step_count;
    for (size_t i = 0; i < day->jar_count; i++) {
        today += day->jar[i].patches > 0;
    }
    hw_format_text(words, sizeof words, "TODAY: %zu JAR%s FOR %zu REPAIR%s", today,
                   today == 1 ? "" : "S", repairs, repairs == 1 ? "" : "S");
    hw_report_add_large(text, words, large);
    if (left > 0) {
        hw_format_text(words, sizeof words, " %zu LEFT ALONE", left);
        hw_text_add(text, ",");
        hw_report_add_large(text, words, large);
    }
}

void hw_report_add_sheet(hw_text *text, const hw_day *day)
{
    if (!hw_report_is_sheet(day)) {
        return;
    }
    add_head(text, day, true);
    hw_text_add(text, "\n");
    for (size_t i = 0; i < day->jar_count; i++) {
        add_jar(text, day, i);
    }
    add_amounts(text, day);
    add_order(text, day);
    add_left(text, day);
    hw_text_add(text, "%s\n",
                day->sheet.fewest
                    ? ""
                    : "  (So many repairs that fewer jars may do; looked for group by "
                      "group.)\n");
}

// ---- One repair --------------------------------------------------------------------

// What was spent on it so far.
static void add_spent(hw_text *text, const hw_advice *advice, const hw_day_part *part)
{
    char passes[32];
    if (advice->passes_so_far == 0 && part->hours <= 0.0) {
        return;
    }
    hw_report_passes(passes, sizeof passes, advice->passes_so_far);
    hw_text_add(text, "    So far: %s laid on it", advice->passes_so_far > 0 ? passes : "no toner");
    if (isfinite(part->laid_ml) && part->laid_ml > 0.0) {
        hw_report_add_about(text, ", ", part->laid_ml);
        hw_text_add(text, " of liquid");
    }
    if (part->hours > 0.0) {
        hw_text_add(text, ", ");
        hw_report_add_minutes(text, 60.0 * part->hours);
        hw_text_add(text, " of work");
    }
    hw_text_add(text, ".\n");
}

static void add_need(hw_text *text, const hw_advice *advice, const hw_day_part *part, bool brief)
{
    if (isfinite(part->minutes)) {
        char passes[32];
        hw_report_passes(passes, sizeof passes, advice->next.passes);
        hw_text_add(text, "    Time: ");
        hw_report_add_minutes(text, part->minutes);
        hw_text_add(text, " of drying for %s.\n", passes);
    }
    if (isfinite(part->need.pass_ml)) {
        hw_report_add_about(text, "    Liquid: ", part->need.pass_ml);
        hw_text_add(text, " a pass on %.0f cm2 (%s)%s", part->area_cm2,
                    part->area_from_card ? "by the card in the photo" : "as you said",
                    brief ? "." : ". ");
        if (!brief) {
            add_assumption(text, &part->need);
        }
        hw_text_add(text, "\n");
    }
}

// "2 clear coats to come over repair and old wood"; where they get unlike numbers, both.
static void add_to_come(hw_text *text, const hw_coats_ahead *ahead)
{
    int patch = ahead->patch.to_come, old = ahead->target.to_come;
    if (patch == old || patch == 0 || old == 0) {
        int coats = patch > old ? patch : old;
        hw_text_add(text, "%d clear coat%s to come over %s", coats, coats == 1 ? "" : "s",
                    old == 0     ? "the repair only"
                    : patch == 0 ? "the old wood only"
                                 : "repair and old wood");
    } else {
        hw_text_add(text, "clear coats to come (%d on the repair, %d on the old wood)", patch, old);
    }
}

static void add_source(hw_text *text, const hw_coats_ahead *ahead)
{
    size_t seen = ahead->seen + ahead->elsewhere;
    if (ahead->guess && seen > 0) {
        hw_text_add(text, ". Still a GUESS, drawn to %zu reading%s of coats; more make it surer.",
                    seen, seen == 1 ? "" : "s");
        return;
    }
    if (ahead->guess) {
        hw_text_add(text, ". GUESS: photograph it before and after a coat, and it is learned.");
        return;
    }
    hw_text_add(text, ". Learned from ");
    if (ahead->seen > 0) {
        hw_text_add(text, "%zu reading%s of coats here%s", ahead->seen, ahead->seen == 1 ? "" : "s",
                    ahead->elsewhere > 0 ? " and " : ".");
    }
    if (ahead->elsewhere > 0) {
        hw_text_add(text, "%zu in earlier jobs.", ahead->elsewhere);
    }
}

static void add_coats(hw_text *text, const hw_day_part *part)
{
    const hw_coats_ahead *ahead = &part->ahead;
    if (!part->coats_come) {
        return;
    }
    hw_text_add(text, "    Under the ");
    add_to_come(text, ahead);
    hw_text_add(text, ", as it is now: gap to the old wood ");
    hw_report_add_gap_range(text, ahead->gap.de00, ahead->de00_low, ahead->de00_high);
    hw_text_add(text, "; lightness L* of the repair ");
    hw_report_add_range(text, ahead->patch_lab.L, ahead->patch_low.L, ahead->patch_high.L);
    hw_text_add(text, ", of the old wood ");
    hw_report_add_range(text, ahead->target_lab.L, ahead->target_low.L, ahead->target_high.L);
    add_source(text, ahead);
    hw_text_add(text, "%s", part->held ? " So the aim is lighter than the old wood now is." : "");
    if (part->assumed[0]) {
        hw_text_add(text, " ");
        hw_report_add_clean(text, part->assumed);
    }
    hw_text_add(text, "\n");
}

void hw_report_add_part(hw_text *text, const hw_advice *advice, const hw_day_part *part, bool brief)
{
    add_spent(text, advice, part);
    if (advice->has_next) {
        add_need(text, advice, part, brief);
    }
    add_coats(text, part);
}

void hw_report_add_lamp(hw_text *text, const hw_day_part *part)
{
    if (part->lamp[0]) {
        hw_report_add_clean(text, part->lamp);
        hw_text_add(text, "%s%s", part->lamp_seen ? "" : " ",
                    part->lamp_seen ? "" : hw_report_lamps_usual);
    }
}

// ---- Not said yet ------------------------------------------------------------------

void hw_report_add_unsaid(hw_text *text, const hw_day_unsaid *unsaid)
{
    if (!unsaid->coats && !unsaid->recoat && !unsaid->areas) {
        return;
    }
    hw_text_add(text, "Not said of this job yet (once: huewright set JOB ...):\n");
    if (unsaid->coats) {
        hw_text_add(text,
                    "  --coats N --over all | repairs   do clear coats still come, over repair "
                    "and old wood or the repair only?\n");
    }
    if (unsaid->areas) {
        hw_text_add(text,
                    "  --card-size 86x54mm              the grey card's sides tell the areas, so "
                    "how much to mix (or --area PART=900cm2)\n");
    }
    if (unsaid->recoat) {
        hw_text_add(text,
                    "  --recoat MINUTES                 tells the time, and when a photo comes "
                    "too soon\n");
    }
    hw_text_add(text, "\n");
}

// ---- JSON --------------------------------------------------------------------------

static void add_need_json(hw_json *told, const hw_advice *advice, const hw_day_part *part)
{
    hw_json *need = hw_json_add_object(told, "need");
    hw_json_add_rounded(need, "area_cm2", part->area_cm2, 1);
    hw_json_add_bool(need, "area_from_card", part->area_from_card);
    hw_json_add_rounded(need, "pass_ml", part->need.pass_ml, 2);
    hw_json_add_rounded(need, "ml_m2", part->need.ml_m2, 1);
    hw_json_add_text(need, "assumption", part->need.assumption);
    hw_json_add_number(need, "minutes", advice->has_next ? part->minutes : (double)NAN);
}

static void add_coats_json(hw_json *told, const hw_day_part *part)
{
    const hw_coats_ahead *ahead = &part->ahead;
    if (!part->coats_come) {
        hw_json_add_null(told, "coats");
        return;
    }
    hw_json *coats = hw_json_add_object(told, "coats");
    hw_json_add_number(coats, "on_patch", (double)ahead->patch.to_come);
    hw_json_add_number(coats, "on_target", (double)ahead->target.to_come);
    hw_json_add_bool(coats, "guess", ahead->guess);
    hw_json_add_number(coats, "seen", (double)ahead->seen);
    hw_json_add_number(coats, "seen_elsewhere", (double)ahead->elsewhere);
    hw_json_add_bool(coats, "held", part->held);
    hw_report_json_lab(coats, "patch_lab", ahead->patch_lab);
    hw_report_json_lab(coats, "patch_low", ahead->patch_low);
    hw_report_json_lab(coats, "patch_high", ahead->patch_high);
    hw_report_json_lab(coats, "target_lab", ahead->target_lab);
    hw_report_json_lab(coats, "target_low", ahead->target_low);
    hw_report_json_lab(coats, "target_high", ahead->target_high);
    hw_json_add_rounded(coats, "de00", ahead->gap.de00, 3);
    hw_json_add_rounded(coats, "de00_low", ahead->de00_low, 3);
    hw_json_add_rounded(coats, "de00_high", ahead->de00_high, 3);
    hw_report_json_text(coats, "assumed", part->assumed);
}

void hw_report_json_part(hw_json *told, const hw_advice *advice, const hw_day_part *part)
{
    hw_json *spent = hw_json_add_object(told, "spent");
    hw_json_add_rounded(spent, "hours", part->hours, 3);
    hw_json_add_number(spent, "passes", (double)advice->passes_so_far);
    hw_json_add_rounded(spent, "ml", part->laid_ml, 2);
    add_need_json(told, advice, part);
    add_coats_json(told, part);
    hw_json *lamp = hw_json_add_object(told, "lamp");
    hw_json_add_bool(lamp, "seen", part->lamp_seen);
    hw_json_add_bool(lamp, "last_step", part->last_step);
    hw_report_json_text(lamp, "words", part->lamp);
}

// What stands on the sheet of a jar: its name, what is in it, what it is for today.
static void add_jar_words(hw_json *told, const hw_day *day, size_t index)
{
    char name[16];
    hw_text called = {0}, words = {0}, use = {0};
    hw_report_name_jar(day, index, name);
    hw_report_add_large(&called, "J", true);
    hw_text_add(&called, "ar%s", name + 3);
    hw_report_json_words(told, "name", &called);
    hw_report_add_liquid(&words, &day->jar[index].liquid);
    hw_report_json_words(told, "words", &words);
    add_use(&use, &day->jar[index]);
    hw_report_json_lines(hw_json_add_array(told, "use"), &use);
}

void hw_report_json_jars_of_day(hw_json *list, const hw_day *day)
{
    for (size_t i = 0; i < day->jar_count; i++) {
        const hw_day_jar *jar = &day->jar[i];
        hw_json *told = hw_json_add_object(list, NULL);
        hw_json_add_number(told, "jar", jar->number > 0 ? (double)jar->number : (double)NAN);
        hw_report_json_liquid(told, &jar->liquid);
        hw_json_add_number(told, "repairs", (double)jar->patches);
        hw_json_add_number(told, "passes", (double)jar->passes);
        hw_json_add_rounded(told, "need_ml", jar->need_ml, 1);
        hw_json_add_rounded(told, "left_ml", jar->left_ml, 1);
        add_jar_words(told, day, i);
        if (jar->can_mix) {
            hw_report_json_mix(told, &jar->mix);
        } else {
            hw_json_add_null(told, "mix");
        }
    }
}

// "says":{"head","amounts":[],"order":[],"aside":[]} of a sheet for several; null where there is none.
static void add_sheet_says(hw_json *root, const hw_day *day)
{
    if (!hw_report_is_sheet(day)) {
        hw_json_add_null(root, "says");
        return;
    }
    hw_text head = {0}, amounts = {0}, order = {0}, left = {0};
    hw_json *says = hw_json_add_object(root, "says");
    add_head(&head, day, false);
    hw_report_json_words(says, "head", &head);
    add_amounts(&amounts, day);
    hw_report_json_lines(hw_json_add_array(says, "amounts"), &amounts);
    add_order(&order, day);
    hw_report_json_lines(hw_json_add_array(says, "order"), &order);
    add_left(&left, day);
    hw_report_json_lines(hw_json_add_array(says, "aside"), &left);
}

void hw_report_json_day(hw_json *root, const hw_day *day)
{
    hw_report_json_jars_of_day(hw_json_add_array(root, "jars"), day);
    hw_json *order = hw_json_add_array(root, "order");
    for (size_t i = 0; i < day->sheet.step_count; i++) {
        const hw_sheet_step *step = &day->sheet.step[i];
        hw_json *told = hw_json_add_object(order, NULL);
        const hw_day_jar *jar = &day->jar[step->jar];
        hw_report_json_text(told, "patch", day->advice[step->patch].patch);
        hw_json_add_number(told, "passes", (double)day->advice[step->patch].next.passes);
        hw_json_add_number(told, "jar", jar->number > 0 ? (double)jar->number : (double)NAN);
        hw_json_add_number(told, "of_jars", (double)step->jar); // its place among `jars`, from 0
    }
    hw_json_add_bool(root, "fewest_jars", day->sheet.fewest);
    add_sheet_says(root, day);
    for (int waiting = 1; waiting >= 0; waiting--) {
        hw_json *names =
            hw_json_add_array(root, waiting ? "first_something_else" : "lay_nothing_on");
        for (size_t i = 0; i < day->count; i++) {
            if (!day->advice[i].has_next && is_waiting(&day->advice[i]) == (waiting == 1)) {
                hw_report_json_text(names, NULL, day->advice[i].patch);
            }
        }
    }
}

void hw_report_json_unsaid(hw_json *root, const hw_day_unsaid *unsaid)
{
    hw_json *list = hw_json_add_array(root, "not_said");
    if (unsaid->coats) {
        hw_json_add_text(list, NULL, "coats");
    }
    if (unsaid->areas) {
        hw_json_add_text(list, NULL, "card_size");
    }
    if (unsaid->recoat) {
        hw_json_add_text(list, NULL, "recoat");
    }
}
