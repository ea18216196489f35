// What lies on a part follows from the log: coats, wiping back to the last of them, stripping to the wood.
//
// Common practice, no source: a wipe takes what its solvent reaches, down to the coat that was laid to stop it;
// stripping takes all.
#include "open_job.h"

#include <limits.h>

static long lay(const char *patch, double strength, long before_photo)
{
    char patches[1][HW_NAME_SIZE];
    hw_pass_event pass = {.patches = patches,
                          .patch_count = 1,
                          .passes = 1,
                          .minutes = NAN,
                          .before_photo = before_photo};
    long number = 0;
    snprintf(patches[0], HW_NAME_SIZE, "%s", patch);
    pass.liquid = (hw_liquid){.dose = {{"red", strength}}, .count = 1};
    check_true(hw_job_add_pass(job, &pass, now++, &number, NULL) == HW_OK);
    return number;
}

static long coat(hw_coat kind, const char *part, long before_photo)
{
    char parts[1][HW_NAME_SIZE];
    hw_coat_event event = {
        .coat = kind, .parts = parts, .part_count = part != NULL, .before_photo = before_photo};
    long number = 0;
    snprintf(parts[0], HW_NAME_SIZE, "%s", part ? part : "");
    check_true(hw_job_add_coat(job, &event, now++, &number, NULL) == HW_OK);
    return number;
}

static long take_off(const char *part, bool stripped, long before_photo)
{
    char parts[1][HW_NAME_SIZE];
    hw_takeoff_event event = {
        .stripped = stripped, .parts = parts, .part_count = 1, .before_photo = before_photo};
    long number = 0;
    snprintf(parts[0], HW_NAME_SIZE, "%s", part);
    check_true(hw_job_add_takeoff(job, &event, now++, &number, NULL) == HW_OK);
    return number;
}

// A photo of strip and door beside the rail, each read at L*; with a state of the strip.
static long see(double strip, hw_state state)
{
    hw_part_state states[1] = {{"strip", state}};
    hw_photo_event photo = {.original = "x.jpg",
                            .view = "front",
                            .states = states,
                            .state_count = state != HW_STATE_UNKNOWN};
    long number = 0, reading = 0;
    hw_text json = {0};
    snprintf(photo.stored, sizeof photo.stored, "photos/%ld.jpg", (long)now);
    static const char *const name[] = {"strip", "door", "rail"};
    const double L[] = {strip, 56.0, 50.0};
    hw_text_add(&json, "{\"light\":{\"card_seen\":[50,0,0]},\"samples\":[");
    for (int i = 0; i < 3; i++) {
        char place[40];
        hw_role role = i < 2 ? HW_ROLE_PATCH : HW_ROLE_TARGET;
        snprintf(place, sizeof place, "%d,10,50,50", 10 + 60 * i);
        check_true(hw_marks_add(&photo.marks, role, name[i], place, NULL, NULL) == HW_OK);
        hw_text_add(&json,
                    "%s{\"name\":\"%s\",\"role\":\"%s\",\"lab\":[%g,10,25],"
                    "\"standard_error\":[0.05,0.05,0.05]}",
                    i ? "," : "", name[i], hw_role_name(role), L[i]);
    }
    hw_text_add(&json, "],\"comparisons\":[]}");
    check_true(hw_job_add_photo(job, &photo, now++, &number, NULL) == HW_OK &&
               hw_job_add_reading(job, number, json.bytes, now++, &reading, NULL) == HW_OK);
    hw_text_free(&json);
    hw_marks_free(&photo.marks);
    return number;
}

static const hw_part_now *part_of(hw_part_now *parts, size_t count, const char *name)
{
    for (size_t i = 0; i < count; i++) {
        if (strcmp(parts[i].name, name) == 0) {
            return &parts[i];
        }
    }
    return NULL;
}

static void is_now(const char *name, hw_state state, int passes, long coat_event)
{
    hw_part_now *parts = NULL;
    size_t count = 0;
    check_true(hw_job_parts(job, &parts, &count, NULL) == HW_OK);
    const hw_part_now *part = part_of(parts, count, name);
    if (check_true(part != NULL)) {
        check_true(part->state == state && part->passes == passes);
        check_true(part->coat ? part->coat->number == coat_event : coat_event == 0);
    }
    hw_job_parts_free(parts);
}

static void test_layers(void)
{
    new_job("parts");
    see(55, HW_STATE_BARE);
    is_now("strip", HW_STATE_BARE, 0, 0);
    is_now("rail", HW_STATE_UNKNOWN, 0, 0);
    long sealer = coat(HW_COAT_SEALER, NULL, 0); // the whole piece
    is_now("strip", HW_STATE_SEALED, 0, sealer);
    is_now("rail", HW_STATE_SEALED, 0, sealer);
    long low = lay("strip", 0.25, 0);
    lay("door", 0.25, 0);
    long barrier = coat(HW_COAT_BARRIER, "strip", 0);
    long high = lay("strip", 0.5, 0);
    is_now("strip", HW_STATE_SEALED, 2, barrier);
    take_off("strip", false, 0); // down to the barrier
    is_now("strip", HW_STATE_SEALED, 1, barrier);
    is_now("door", HW_STATE_SEALED, 1, sealer);
    check_true(hw_job_pass_lies(job, hw_job_event_numbered(job, low), "strip", LONG_MAX) &&
               !hw_job_pass_lies(job, hw_job_event_numbered(job, high), "strip", LONG_MAX) &&
               hw_job_pass_lies(job, hw_job_event_numbered(job, high), "strip", high + 1));
    take_off("strip", false, 0); // wiped once more: the barrier holds
    is_now("strip", HW_STATE_SEALED, 1, barrier);
    take_off("strip", true, 0);
    is_now("strip", HW_STATE_BARE, 0, 0);
    is_now("door", HW_STATE_SEALED, 1, sealer);
    long clear = coat(HW_COAT_CLEAR, "strip", 0);
    is_now("strip", HW_STATE_FINISHED, 0, clear);
    long photo = see(50, HW_STATE_RUBBED_OUT); // the person's word stands above what follows
    is_now("strip", HW_STATE_RUBBED_OUT, 0, clear);
    check_true(hw_job_state(job, photo, "door") == HW_STATE_SEALED);
    // Without any coat, all toner comes off.
    take_off("door", true, 0);
    lay("door", 0.5, 0);
    take_off("door", false, 0);
    is_now("door", HW_STATE_BARE, 0, 0);
}

// What was done earlier and is logged later takes its place among the photos.
static void test_logged_later(void)
{
    new_job("parts");
    see(55, HW_STATE_BARE);
    lay("strip", 0.5, 0);
    long second = see(53, HW_STATE_UNKNOWN);
    coat(HW_COAT_SEALER, "strip", second); // between pass and photo
    check_true(hw_job_state(job, second, "strip") == HW_STATE_SEALED &&
               hw_job_state(job, second - 2, "strip") == HW_STATE_BARE);
    lay("strip", 0.25, 0);
    take_off("strip", false, 0);
    is_now("strip", HW_STATE_SEALED, 1, second + 2); // the first pass lies under that coat
}

// No pass is read across a coat or a taking off, of the repair or of the old wood beside it.
static void test_not_across(void)
{
    static const struct {
        const char *part;
        bool takes_off, stripped;
        hw_coat coat;
        const char *reason;
    } rows[] = {
        {"strip", false, false, HW_COAT_BARRIER, "a barrier coat was laid on strip between them"},
        {"rail", false, false, HW_COAT_CLEAR,
         "a clear coat was laid on the old wood rail between them"},
        {"strip", true, false, 0, "strip was wiped back between them"},
        {"strip", true, true, 0, "strip was stripped between them"},
        {"door", false, false, HW_COAT_SEALER, ""},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        new_job("parts");
        long first = see(55, HW_STATE_UNKNOWN);
        lay("strip", 0.5, 0);
        if (rows[i].takes_off) {
            take_off(rows[i].part, rows[i].stripped, 0);
        } else {
            coat(rows[i].coat, rows[i].part, 0);
        }
        long second = see(53, HW_STATE_UNKNOWN);
        hw_patch_change change = hw_job_patch_change(job, first, second, "strip");
        check_true(change.status == (rows[i].reason[0] ? HW_CHANGE_REFUSED : HW_CHANGE_COMPARABLE));
        check_text(change.reason, rows[i].reason);
        hw_observation *seen = NULL;
        hw_warnings asked = {0};
        size_t count = 0;
        check_true(hw_job_observe(job, 0, &seen, &count, &asked, NULL) == HW_OK);
        check_true(count == (rows[i].reason[0] ? 0u : 1u) && asked.count == 0);
        hw_free_observations(seen);
    }
}

// After stripping, the wood is what was read since.
static void test_first_colour(void)
{
    new_job("parts");
    hw_lab wood;
    check_true(!hw_job_first_colour(job, "strip", &wood));
    see(55, HW_STATE_UNKNOWN);
    see(52, HW_STATE_UNKNOWN);
    check_true(hw_job_first_colour(job, "strip", &wood) && wood.L == 55.0);
    take_off("strip", true, 0);
    check_true(hw_job_first_colour(job, "strip", &wood) && wood.L == 55.0); // nothing newer yet
    see(57, HW_STATE_UNKNOWN);
    check_true(hw_job_first_colour(job, "strip", &wood) && wood.L == 57.0);
}

static void test_jars(void)
{
    new_job("parts");
    const hw_liquid red = {.dose = {{"red", 0.25}, {"brown", 0.5}}, .count = 2},
                    turned = {.dose = {{"brown", 0.5}, {"red", 0.25}}, .count = 2},
                    other = {.dose = {{"red", 0.25}}, .count = 1};
    hw_jar_event jar = {.liquid = red};
    long number = 0, withdrawn = 0;
    check_true(hw_job_add_jar(job, &jar, now++, &number, NULL) == HW_OK);
    check_true(hw_job_jar(job, 1) && !hw_job_jar(job, 2));
    check_true(hw_job_jar_of(job, &turned) && hw_job_jar_of(job, &turned)->jar == 1 &&
               !hw_job_jar_of(job, &other));
    // A withdrawn jar's number may stand on a jar: it is not given again.
    check_true(hw_job_add_withdrawal(job, number, now++, &withdrawn, NULL) == HW_OK);
    check_true(!hw_job_jar(job, 1));
    jar.liquid = other;
    check_true(hw_job_add_jar(job, &jar, now++, &number, NULL) == HW_OK);
    check_true(hw_job_jar(job, 2) && hw_job_jar_of(job, &other)->jar == 2);
    // Volume and origin are kept; without them nothing is said.
    check_true(hw_job_jar(job, 2)->volume_ml == 0.0 && !hw_job_jar(job, 2)->from_job[0]);
    hw_jar_event carried = {
        .liquid = red, .volume_ml = 59.147, .from_job = "0123456789abcdef", .from_jar = 7};
    check_true(hw_job_add_jar(job, &carried, now++, &number, NULL) == HW_OK);
    const hw_jar_event *read = hw_job_jar(job, 3);
    check_true(read && read->volume_ml == 59.147 && read->from_jar == 7);
    check_text(read->from_job, "0123456789abcdef");
    char key[HW_JAR_KEY_SIZE], own[HW_JAR_KEY_SIZE];
    hw_mixed_jar mixed[2];
    hw_job_jar_key(job, 3, key);
    check_text(key, "0123456789abcdef/7");
    hw_job_jar_key(job, 2, key);
    snprintf(own, sizeof own, "%.20s/2", hw_job_id(job));
    check_text(key, own);
    check_true(hw_job_mixed_jars(job, NULL, 0) == 2 && hw_job_mixed_jars(job, mixed, 2) == 2);
    check_text(mixed[0].key, "0123456789abcdef/7");
    check_text(mixed[1].liquid.dose[0].dye, other.dose[0].dye);
}

// Of several jars of one liquid the fullest is taken, where that is known.
static void test_fullest_jar(void)
{
    new_job("parts");
    const double volume[3] = {100.0, 236.0, 15.0};
    long number = 0;
    for (int i = 0; i < 3; i++) {
        hw_jar_event jar = {.liquid = {.dose = {{"red", 0.25}}, .count = 1},
                            .volume_ml = volume[i]};
        check_true(hw_job_add_jar(job, &jar, now++, &number, NULL) == HW_OK);
    }
    hw_liquid liquid = {.dose = {{"red", 0.25}}, .count = 1};
    check_true(hw_job_jar_of(job, &liquid) && hw_job_jar_of(job, &liquid)->jar == 2);
}

static void test_approval(void)
{
    new_job("parts");
    hw_approval_event approval = {.by = "customer", .lamp = "living room"};
    long number = 0, later = 0;
    check_true(!hw_job_approval(job));
    long photo = see(52, HW_STATE_UNKNOWN);
    check_true(hw_job_add_approval(job, &approval, now++, &number, NULL) == HW_OK);
    check_true(hw_job_approval(job) && hw_job_approval(job)->number == number);
    lay("strip", 0.25, photo); // it lay there already when it was approved
    check_true(hw_job_approval(job) != NULL);
    later = lay("strip", 0.25, 0);
    check_true(!hw_job_approval(job));
    check_true(hw_job_add_withdrawal(job, later, now++, &later, NULL) == HW_OK);
    check_true(hw_job_approval(job) != NULL);
}

int main(void)
{
    test_layers();
    test_logged_later();
    test_not_across();
    test_first_colour();
    test_jars();
    test_fullest_jar();
    test_approval();
    hw_job_free(job);
    return check_done();
}
