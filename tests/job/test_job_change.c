// What a patch did between two photos, read against the old wood in both. The truth is computed
// here from the published formulae alone: L*a*b* of CIE 15:2018, 8.2.1; u'v' of 8.2.2; scaling a
// band in the linear Bradford space of ICC.1:2022, annex E. Nothing of the stage colour is used.
#include "check.h"
#include "job_internal.h"
#include "picture.h"

#include <unistd.h>

// ---- Published formulae ------------------------------------------------------------

static const double white[3] = {0.9642, 1.0, 0.8249}; // ICC.1:2022, 7.2.16
// ICC.1:2022, annex E.
static const double sharp[3][3] = {
    {0.8951, 0.2664, -0.1614}, {-0.7502, 1.7135, 0.0367}, {0.0389, -0.0685, 1.0296}};

// Only colours on the cube root's branch are made here (L* above 8).
static void to_xyz(hw_lab lab, double xyz[3])
{
    double f = (lab.L + 16) / 116;
    const double each[3] = {f + lab.a / 500, f, f - lab.b / 200};
    for (int i = 0; i < 3; i++) {
        xyz[i] = white[i] * each[i] * each[i] * each[i];
    }
}

static hw_lab to_lab(const double xyz[3])
{
    double x = pow(xyz[0] / white[0], 1.0 / 3), y = pow(xyz[1] / white[1], 1.0 / 3);
    double z = pow(xyz[2] / white[2], 1.0 / 3);
    return (hw_lab){116 * y - 16, 500 * (x - y), 200 * (y - z)};
}

// Cramer's rule for sharp * out = bands.
static double determinant(const double m[3][3])
{
    return m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1]) -
           m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0]) +
           m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0]);
}

static void unsharp(const double bands[3], double out[3])
{
    for (int column = 0; column < 3; column++) {
        double m[3][3];
        memcpy(m, sharp, sizeof m);
        for (int row = 0; row < 3; row++) {
            m[row][column] = bands[row];
        }
        out[column] = determinant((const double(*)[3])m) / determinant(sharp);
    }
}

// The colour as a session shows it that scales each band by `factor`.
static hw_lab under(hw_lab colour, const double factor[3])
{
    double xyz[3], bands[3], out[3];
    to_xyz(colour, xyz);
    for (int i = 0; i < 3; i++) {
        bands[i] = factor[i] * (sharp[i][0] * xyz[0] + sharp[i][1] * xyz[1] + sharp[i][2] * xyz[2]);
    }
    unsharp(bands, out);
    return to_lab(out);
}

// A grey of Y 0.18 moved to these u'v': x = 9u/(6u-16v+12), y = 4v/(6u-16v+12).
static hw_lab card_at(double u, double v)
{
    double x = 9 * u / (6 * u - 16 * v + 12), y = 4 * v / (6 * u - 16 * v + 12);
    const double xyz[3] = {0.18 * x / y, 0.18, 0.18 * (1 - x - y) / y};
    return to_lab(xyz);
}

static const double u_d50 = 0.2092, v_d50 = 0.4881; // of D50: 4X/(X+15Y+3Z), 9Y/(X+15Y+3Z)

// ---- A log -------------------------------------------------------------------------

typedef struct part {
    const char *name;
    hw_lab lab;
    hw_state state;
} part;

// One photo as the log holds it. The first part is the patch.
typedef struct shot {
    const char *lamp, *camera;
    bool has_card;
    hw_lab card;
    double standard_error; // of all parts and axes
    part parts[8];
    size_t count;
    const char *beside; // of the patch; NULL: all
} shot;

static hw_job *job;
static char folder[600];
static int64_t clock_now = 1000;

static void add_sample(hw_text *text, const part *one, const char *role, double error)
{
    hw_text_add(text,
                "{\"name\":\"%s\",\"role\":\"%s\",\"lab\":[%.6f,%.6f,%.6f],"
                "\"standard_error\":[%g,%g,%g]}",
                one->name, role, one->lab.L, one->lab.a, one->lab.b, error, error, error);
}

static void reading_text(const shot *taken, hw_text *text)
{
    hw_text_add(text, "{\"photo\":{\"file\":\"x.jpg\"");
    if (taken->camera) {
        hw_text_add(text, ",\"camera\":\"%s\"", taken->camera);
    }
    hw_text_add(text, "}");
    if (taken->has_card) {
        hw_text_add(text, ",\"light\":{\"card_seen\":[%.6f,%.6f,%.6f]}", taken->card.L,
                    taken->card.a, taken->card.b);
    }
    hw_text_add(text, ",\"samples\":[");
    for (size_t i = 0; i < taken->count; i++) {
        hw_text_add(text, i ? "," : "");
        add_sample(text, &taken->parts[i], i ? "target" : "patch", taken->standard_error);
    }
    hw_text_add(text, "],\"comparisons\":[{\"patch\":\"strip\",\"target\":\"beside\",\"de00\":3,"
                      "\"de00_low\":1,\"de00_high\":9,\"delta\":{\"L\":5,\"a\":-3,\"b\":0},"
                      "\"verdict\":\"tone\"}]}");
}

static void add_mark(hw_marks *marks, hw_role role, const char *name, size_t place)
{
    char region[60];
    snprintf(region, sizeof region, "%zu,10,50,50", 10 + 60 * place);
    check_true(hw_marks_add(marks, role, name, region, NULL, NULL) == HW_OK);
}

// A photo event and the room for its states.
typedef struct event_of_shot {
    hw_photo_event photo;
    hw_part_state states[8];
} event_of_shot;

// Free its marks with hw_marks_free.
static void fill_event(const shot *taken, event_of_shot *out)
{
    hw_photo_event *photo = &out->photo;
    static int number;
    *photo = (hw_photo_event){.original = "x.jpg", .view = "front"};
    snprintf(photo->stored, sizeof photo->stored, "photos/%d.jpg", ++number);
    snprintf(photo->lamp, sizeof photo->lamp, "%s", taken->lamp ? taken->lamp : "");
    photo->states = out->states;
    for (size_t i = 0; i < taken->count; i++) {
        const part *one = &taken->parts[i];
        add_mark(&photo->marks, i ? HW_ROLE_TARGET : HW_ROLE_PATCH, one->name, i);
        if (one->state != HW_STATE_UNKNOWN) {
            snprintf(out->states[photo->state_count].part, HW_NAME_SIZE, "%s", one->name);
            out->states[photo->state_count++].state = one->state;
        }
    }
    if (taken->beside) {
        hw_mark *patch = &photo->marks.mark[0];
        patch->beside = hw_alloc_array(1, sizeof *patch->beside);
        snprintf(patch->beside[0], HW_NAME_SIZE, "%s", taken->beside);
        patch->beside_count = 1;
    }
}

static long add_shot(const shot *taken)
{
    event_of_shot event;
    hw_text text = {0};
    long number = 0, reading = 0;
    fill_event(taken, &event);
    check_true(hw_job_add_photo(job, &event.photo, clock_now++, &number, NULL) == HW_OK);
    reading_text(taken, &text);
    check_true(hw_job_add_reading(job, number, text.bytes, clock_now++, &reading, NULL) == HW_OK);
    hw_text_free(&text);
    hw_marks_free(&event.photo.marks);
    return number;
}

static hw_patch_change change_of(const shot *then, const shot *now)
{
    long first = add_shot(then);
    return hw_job_patch_change(job, first, add_shot(now), "strip");
}

static void new_job(void)
{
    static int number;
    hw_job_free(job);
    job = NULL;
    snprintf(folder, sizeof folder, "%s/change %ld-%d", HW_SCRATCH, (long)getpid(), number++);
    check_true(hw_job_start(folder, "t", 1, NULL) == HW_OK &&
               hw_job_open(folder, NULL, &job, NULL) == HW_OK);
}

// A repair beside three pieces of old walnut.
static shot first_shot(void)
{
    return (shot){.lamp = "north window",
                  .camera = "Maker One",
                  .has_card = true,
                  .card = card_at(u_d50, v_d50),
                  .standard_error = 0.05,
                  .parts = {{"strip", {55, 9, 25}, HW_STATE_UNKNOWN},
                            {"left", {50, 12, 25}, HW_STATE_UNKNOWN},
                            {"right", {48, 11, 23}, HW_STATE_UNKNOWN},
                            {"rail", {52, 10, 26}, HW_STATE_UNKNOWN}},
                  .count = 4};
}

// The same under a session's factors, with the patch dyed to `dyed`.
static shot later_shot(const shot *first, hw_lab dyed, const double factor[3])
{
    shot later = *first;
    later.parts[0].lab = dyed;
    for (size_t i = 0; i < later.count; i++) {
        later.parts[i].lab = under(later.parts[i].lab, factor);
    }
    return later;
}

static const double brighter[3] = {1.05, 1.04, 1.01};
static const double as_before[3] = {1, 1, 1};
static const hw_lab dyed = {52, 10.5, 24};

// ---- Numbers -----------------------------------------------------------------------

static void check_dyed(const hw_patch_change *change, double within)
{
    check_close(change->after.L, dyed.L, within);
    check_close(change->after.a, dyed.a, within);
    check_close(change->after.b, dyed.b, within);
    check_close(change->change.L, -3.0, within);
    check_close(change->change.a, 1.5, within);
    check_close(change->change.b, -1.0, within);
}

// A session that scales the bands goes out of the change altogether.
static void test_session_goes_out(void)
{
    shot first = first_shot(), later = later_shot(&first, dyed, brighter);
    check_true(fabs(later.parts[0].lab.L - dyed.L) > 0.5); // by the card alone it would be wrong
    hw_patch_change change = change_of(&first, &later);
    check_true(change.status == HW_CHANGE_COMPARABLE && change.targets == 3);
    check_text(change.reason, "");
    check_dyed(&change, 1e-4); // the log holds six decimals
    check_close(change.before.L, 55, 1e-6);
    check_close(change.change.de76, sqrt(9 + 2.25 + 1), 1e-4);
    check_close(change.scatter, 0, 1e-4);
    check_close(change.card_moved, 0, 1e-9);
    check_close(change.widening, 1, 0);
    check_true(change.change.de00 > 0 && change.de00_low < change.change.de00 &&
               change.de00_high > change.change.de00);
    check_close(change.high.L - change.change.L, change.change.L - change.low.L, 1e-9);
    check_true(change.high.L > change.change.L && change.high.L < 0); // darker for sure
}

// u of a change where nothing scatters, one place: sqrt(2) places of 0.2, Student's factor at 4
// degrees of freedom (2.1318 / 1.6449, tables), and 0.05 of the change's length on L*.
static void test_one_target(void)
{
    shot first = first_shot(), later;
    first.count = 2;
    first.standard_error = 0;
    later = later_shot(&first, dyed, as_before);
    hw_patch_change change = change_of(&first, &later);
    check_true(change.status == HW_CHANGE_COMPARABLE && change.targets == 1);
    check_true(isnan(change.scatter));
    check_dyed(&change, 1e-4);
    // A step of L* on the target moves the patch by the ratio of their f(Y): L* + 16.
    double ratio = (dyed.L + 16) / (50 + 16);
    double places = 0.04 * (1 + ratio * ratio) * pow(2.1318 / 1.6449, 2);
    double want = 1.645 * sqrt(places + pow(0.05 * sqrt(12.25), 2));
    check_close(change.high.L - change.change.L, want, 0.02);
}

// One of three pieces drifts (it was touched, or shaded): the scale takes a third of it, the
// scatter tells it, and the range still holds the truth.
static void test_one_drifts(void)
{
    shot first = first_shot(), later = later_shot(&first, dyed, brighter);
    hw_patch_change steady = change_of(&first, &later);
    later.parts[3].lab.L += 2.0;
    hw_patch_change change = change_of(&first, &later);
    check_true(change.status == HW_CHANGE_COMPARABLE);
    // Deviations 4/3, -2/3, -2/3: root of 24/9 over 2.
    check_close(change.scatter, sqrt(24.0 / 9 / 2), 0.08);
    check_close(change.after.L, dyed.L - 2.0 / 3, 0.1);
    check_true(change.low.L < -3.0 && change.high.L > -3.0);
    check_true(change.high.L - change.low.L > 1.5 * (steady.high.L - steady.low.L));
}

// A piece known badly counts less; so does one that is not beside the patch.
static void test_weights(void)
{
    shot first = first_shot(), later;
    first.count = 3;
    later = later_shot(&first, dyed, as_before);
    later.parts[2].lab.L += 1.0;
    hw_patch_change equal = change_of(&first, &later);
    first.beside = later.beside = "left";
    hw_patch_change beside = change_of(&first, &later);
    check_close(dyed.L - equal.after.L, 0.5, 0.1);
    check_close(dyed.L - beside.after.L, 0.2, 0.06); // weights 4 to 1
    check_true(beside.targets == 2);
}

// ---- What forbids or widens --------------------------------------------------------

static void check_no_size(const hw_patch_change *change)
{
    check_true(isnan(change->change.L) && isnan(change->after.L) && isnan(change->low.a) &&
               isnan(change->de00_high) && isnan(change->change.de00) && change->targets == 0);
}

static void test_lamp(void)
{
    shot first = first_shot(), later = later_shot(&first, dyed, brighter);
    later.lamp = "bench lamp";
    hw_patch_change change = change_of(&first, &later);
    check_true(change.status == HW_CHANGE_REFUSED);
    check_holds(change.reason, "it was named north window then, bench lamp now");
    check_no_size(&change);
    later.lamp = "North Window"; // capitals make no other lamp
    check_true(change_of(&first, &later).status == HW_CHANGE_COMPARABLE);
    later.lamp = NULL;
    check_true(change_of(&first, &later).status == HW_CHANGE_COMPARABLE);
}

static void test_card(void)
{
    shot first = first_shot(), later = later_shot(&first, dyed, brighter);
    const double step[] = {0.0049, 0.0051, 0.0199, 0.0201};
    const hw_change_status want[] = {HW_CHANGE_COMPARABLE, HW_CHANGE_WIDENED, HW_CHANGE_WIDENED,
                                     HW_CHANGE_REFUSED};
    hw_patch_change plain = change_of(&first, &later);
    for (int i = 0; i < 4; i++) {
        later.card = card_at(u_d50 + 0.6 * step[i], v_d50 - 0.8 * step[i]); // 3-4-5
        hw_patch_change change = change_of(&first, &later);
        check_true(change.status == want[i]);
        check_close(change.card_moved, step[i], 2e-6);
        if (want[i] == HW_CHANGE_WIDENED) {
            check_close(change.high.b - change.low.b, 2 * (plain.high.b - plain.low.b), 1e-4);
            check_holds(change.reason, "the light moved a little");
        }
        if (want[i] == HW_CHANGE_REFUSED) {
            check_holds(change.reason, "the card's colour in the photo moved by 0.020");
            check_no_size(&change);
        }
    }
    later.card = (hw_lab){70, 0, 0}; // brighter alone is no other lamp (u'v' of D50 stays)
    check_true(change_of(&first, &later).status == HW_CHANGE_COMPARABLE);
}

static void test_camera(void)
{
    shot first = first_shot(), later = later_shot(&first, dyed, brighter);
    hw_patch_change plain = change_of(&first, &later);
    later.camera = "Maker Two";
    hw_patch_change change = change_of(&first, &later);
    check_true(change.status == HW_CHANGE_WIDENED);
    check_holds(change.reason, "another camera (Maker One, then Maker Two)");
    check_close(change.high.L - change.low.L, 2 * (plain.high.L - plain.low.L), 1e-4);
    check_dyed(&change, 1e-4);
    later.camera = "";
    check_true(change_of(&first, &later).status == HW_CHANGE_COMPARABLE);
}

// A lamp that nobody named, taken along by the camera's white balance: only the old wood tells.
static void test_old_wood_far(void)
{
    static const double other[3] = {1.12, 1.04, 0.95};
    shot first = first_shot(), later = later_shot(&first, dyed, other);
    first.lamp = NULL;
    hw_patch_change change = change_of(&first, &later);
    check_true(change.status == HW_CHANGE_WIDENED && change.wood_moved > 3.0);
    check_holds(change.reason, "read by the card alone, the old wood lies");
    check_dyed(&change, 1e-4);
}

// Old lines: no camera, no card. Nothing is tested then, and that is said.
static void test_old_lines(void)
{
    shot first = first_shot(), later = later_shot(&first, dyed, brighter);
    first.camera = NULL;
    first.has_card = false;
    hw_patch_change change = change_of(&first, &later);
    check_true(change.status == HW_CHANGE_COMPARABLE && isnan(change.card_moved));
    check_holds(change.reason, "the log does not say how the card looked");
    check_dyed(&change, 1e-4);
}

static hw_patch_change with_states(size_t which, hw_state then, hw_state now, const char *beside)
{
    new_job(); // lasting states of one pair would hold for the next
    shot first = first_shot(), later = later_shot(&first, dyed, brighter);
    first.beside = later.beside = beside;
    first.parts[which].state = then;
    later.parts[which].state = now;
    return change_of(&first, &later);
}

static void test_states(void)
{
    static const struct {
        size_t part;
        hw_state then, now;
        bool refused;
        const char *reason;
    } rows[] = {
        {0, HW_STATE_BARE, HW_STATE_BARE, false, ""},
        {0, HW_STATE_BARE, HW_STATE_UNKNOWN, false, ""}, // lasts
        {0, HW_STATE_UNKNOWN, HW_STATE_SEALED, false, ""},
        {0, HW_STATE_DAMP, HW_STATE_DAMP, false, ""},
        {0, HW_STATE_BARE, HW_STATE_DAMP, true, "strip was bare then and is damp now"},
        {0, HW_STATE_BARE, HW_STATE_NOT_DRY, true,
         "strip was not dry in photo 8, or laid on after it"},
        {0, HW_STATE_NOT_DRY, HW_STATE_UNKNOWN, true,
         "strip was not dry in photo 2, or laid on after it"},
        {0, HW_STATE_FINISHED, HW_STATE_RUBBED_OUT, true,
         "strip was finished then and is rubbed out now"},
        {1, HW_STATE_SEALED, HW_STATE_FINISHED, true,
         "the old wood left was sealed then and is finished now"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        hw_patch_change change = with_states(rows[i].part, rows[i].then, rows[i].now, NULL);
        check_true(change.status == (rows[i].refused ? HW_CHANGE_REFUSED : HW_CHANGE_COMPARABLE));
        check_text(change.reason, rows[i].reason);
    }
    // Elsewhere than beside the patch it is only left out.
    hw_patch_change change = with_states(3, HW_STATE_SEALED, HW_STATE_FINISHED, "left");
    check_true(change.status == HW_CHANGE_COMPARABLE && change.targets == 2);
}

// ---- What is not there -------------------------------------------------------------

static void test_nothing_common(void)
{
    shot first = first_shot(), later = later_shot(&first, dyed, brighter);
    for (size_t i = 1; i < later.count; i++) {
        later.parts[i].name = i == 1 ? "lid" : i == 2 ? "door" : "foot";
    }
    hw_patch_change change = change_of(&first, &later);
    check_true(change.status == HW_CHANGE_UNKNOWN);
    check_text(change.reason, "no old wood is marked in both");
    check_no_size(&change);
    later = later_shot(&first, dyed, brighter);
    later.parts[1].lab.L = -90; // a damaged number: left out
    long then = add_shot(&first), now = add_shot(&later);
    check_true(hw_job_patch_change(job, then, now, "strip").targets == 2);
    change = hw_job_patch_change(job, then, 9999, "strip");
    check_true(change.status == HW_CHANGE_UNKNOWN && change.reason[0]);
    change = hw_job_patch_change(job, then, now, "door");
    check_text(change.reason, "the repair is not read in both");
}

// A pass effect carries the same change.
static void test_pass_effect(void)
{
    new_job();
    shot first = first_shot(), later = later_shot(&first, dyed, brighter);
    char patches[1][HW_NAME_SIZE] = {"strip"};
    hw_pass_event pass = {.patches = patches, .patch_count = 1, .passes = 1, .minutes = NAN};
    long number = 0;
    pass.liquid = (hw_liquid){.dose = {{"red", 0.5}}, .count = 1};
    long before = add_shot(&first);
    check_true(hw_job_add_pass(job, &pass, clock_now++, &number, NULL) == HW_OK);
    long after = add_shot(&later);
    const hw_event *laid = hw_job_event_numbered(job, number);
    hw_pass_effect effect = hw_job_pass_effect(job, laid, "strip");
    check_true(laid->kind == HW_EVENT_PASS_LAID && effect.known);
    check_true(effect.change.status == HW_CHANGE_COMPARABLE);
    check_true(effect.change.photo_before == before && effect.change.photo_after == after);
    check_dyed(&effect.change, 1e-4);
}

// ---- Does the range hold what it says? ---------------------------------------------

// The noise model of job_change.c: a session's factor a band for all places, then each place by
// itself, then the camera's share of the change. How noisy a place is differs from pair to pair,
// from 0.7 to 1.4 times the chosen doubt.
static shot noisy_later(const shot *first, hw_lab truth, uint64_t *state)
{
    const double share[3] = {0.05, 0.08, 0.09};
    double session[3], light = exp(0.03 * picture_normal(state)),
                       noise = exp(0.35 * (2 * picture_random(state) - 1));
    hw_lab from = first->parts[0].lab, stretched = truth;
    double length =
        sqrt((truth.L - from.L) * (truth.L - from.L) + (truth.a - from.a) * (truth.a - from.a) +
             (truth.b - from.b) * (truth.b - from.b));
    for (int i = 0; i < 3; i++) {
        session[i] = light * exp(0.005 * picture_normal(state));
    }
    stretched.L += share[0] * length * picture_normal(state);
    stretched.a += share[1] * length * picture_normal(state);
    stretched.b += share[2] * length * picture_normal(state);
    shot later = later_shot(first, stretched, session);
    for (size_t i = 0; i < later.count; i++) {
        later.parts[i].lab.L += 0.2 * noise * picture_normal(state);
        later.parts[i].lab.a += 0.35 * noise * picture_normal(state);
        later.parts[i].lab.b += 0.35 * noise * picture_normal(state);
    }
    return later;
}

// One line of a log that is written as a whole: a sync a line would take half a minute.
static void write_line(hw_text *log, const char *name, long number, hw_json *body)
{
    hw_json *line = hw_json_new_object();
    hw_json_add_text(line, "event", name);
    hw_json_add_number(line, "number", (double)number);
    for (const hw_json *item = hw_json_first(body); item; item = hw_json_next(item)) {
        hw_json_add_tree(line, hw_json_name(item), hw_json_copy(item));
    }
    check_true(hw_log_line(line, log, NULL) == HW_OK);
    hw_json_free(line);
    hw_json_free(body);
}

// The photo gets `number`, its reading the next one.
static void write_shot(hw_text *log, const shot *taken, long number)
{
    event_of_shot event;
    hw_text text = {0};
    hw_json *reading = NULL, *body = hw_json_new_object();
    fill_event(taken, &event);
    write_line(log, "photo_added", number, hw_event_photo_json(&event.photo));
    reading_text(taken, &text);
    check_true(hw_json_parse(text.bytes, text.length, NULL, "x", &reading, NULL) == HW_OK);
    hw_json_add_number(body, "photo_event", (double)number);
    hw_json_add_tree(body, "reading", reading);
    write_line(log, "reading", number + 1, body);
    hw_text_free(&text);
    hw_marks_free(&event.photo.marks);
}

#define PAIRS 1000

// A job of as many pairs of photos, each pair with its own true change.
static void write_pairs(size_t targets, hw_lab truth[PAIRS])
{
    uint64_t state = 20260503 + targets;
    hw_text log = {0};
    char path[700];
    new_job();
    for (long pair = 0; pair < PAIRS; pair++) {
        shot first = first_shot();
        first.count = 1 + targets;
        first.standard_error = 0;
        double dL = -5 * picture_random(&state), da = 3 * picture_random(&state);
        truth[pair] = (hw_lab){55 + dL, 9 + da, 25 - 3 * picture_random(&state)};
        shot later = noisy_later(&first, truth[pair], &state);
        write_shot(&log, &first, 1 + 4 * pair);
        write_shot(&log, &later, 3 + 4 * pair);
    }
    snprintf(path, sizeof path, "%s/log.jsonl", folder);
    check_true(hw_file_replace(path, log.bytes, log.length, NULL) == HW_OK);
    hw_text_free(&log);
    hw_job_free(job);
    job = NULL;
    check_true(hw_job_open(folder, NULL, &job, NULL) == HW_OK);
}

static void test_range_holds(size_t targets)
{
    static hw_lab truth[PAIRS];
    int held[3] = {0, 0, 0};
    double wrong = 0;
    write_pairs(targets, truth);
    for (long pair = 0; pair < PAIRS; pair++) {
        hw_patch_change change = hw_job_patch_change(job, 1 + 4 * pair, 3 + 4 * pair, "strip");
        double L = truth[pair].L - 55, a = truth[pair].a - 9, b = truth[pair].b - 25;
        held[0] += L >= change.low.L && L <= change.high.L;
        held[1] += a >= change.low.a && a <= change.high.a;
        held[2] += b >= change.low.b && b <= change.high.b;
        wrong += sqrt(pow(change.change.L - L, 2) + pow(change.change.a - a, 2) +
                      pow(change.change.b - b, 2));
    }
    printf("%zu targets: held L* %.1f %%, a* %.1f %%, b* %.1f %%; wrong by %.2f in the mean\n",
           targets, 100.0 * held[0] / PAIRS, 100.0 * held[1] / PAIRS, 100.0 * held[2] / PAIRS,
           wrong / PAIRS);
    for (int axis = 0; axis < 3; axis++) {
        check_true(held[axis] >= 0.85 * PAIRS && held[axis] <= 0.97 * PAIRS);
    }
}

int main(void)
{
    new_job();
    test_session_goes_out();
    test_one_target();
    test_one_drifts();
    test_weights();
    test_lamp();
    test_card();
    test_camera();
    test_old_wood_far();
    test_old_lines();
    test_states();
    test_nothing_common();
    test_pass_effect();
    for (size_t targets = 1; targets <= 3; targets++) {
        test_range_holds(targets);
    }
    hw_job_free(job);
    return check_done();
}
