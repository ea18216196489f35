// html_job.h: a made-up job, the account of it that a report tells, and all of that under hostile names.
//
// A walnut gramophone cabinet with two repairs: a lid strip that was too light and got passes out of a jar, and a door corner
// that was left alone. Times are fixed, so the same report comes out each time.
#ifndef HUEWRIGHT_TEST_HTML_JOB_H
#define HUEWRIGHT_TEST_HTML_JOB_H

#include "report_internal.h"
#include "scratch.h"

// What people typed.
typedef struct typed {
    const char *title, *strip, *door, *left, *view, *lamp, *other_lamp, *dye, *note, *by;
} typed;

static const typed plain_words = {.title = "Walnut gramophone cabinet",
                                  .strip = "lid strip",
                                  .door = "door corner",
                                  .left = "lid left",
                                  .view = "front",
                                  .lamp = "shop lamp",
                                  .other_lamp = "living room",
                                  .dye = "red",
                                  .note = "hinge side first, the grain stood a little",
                                  .by = "the customer"};

static hw_job *html_job;
static int64_t html_now;

// ---- The log -----------------------------------------------------------------------

static inline void html_new_job(const char *title)
{
    static int number;
    char name[40];
    snprintf(name, sizeof name, "html %d", ++number);
    html_now = 1790000000;
    html_job = NULL;
    check_true(hw_job_start(in("%s", name), title, html_now, NULL) == HW_OK &&
               hw_job_open(in("%s", name), NULL, &html_job, NULL) == HW_OK);
}

static const hw_lab html_old = {38, 9.5, 15.5};

static inline void html_json_gap(hw_text *json, const char *patch, hw_lab lab, double half)
{
    double gap = hw_ciede2000(html_old, lab);
    const double d[3] = {lab.L - html_old.L, lab.a - html_old.a, lab.b - html_old.b};
    hw_text_add(
        json,
        "{\"patch\":\"%s\",\"target\":\"beside\",\"de00\":%.3f,\"de00_low\":%.3f,"
        "\"de00_high\":%.3f,\"delta\":{\"L\":%.3f,\"a\":%.3f,\"b\":%.3f},\"delta_low\":{"
        "\"L\":%.3f,\"a\":%.3f,\"b\":%.3f},\"delta_high\":{\"L\":%.3f,\"a\":%.3f,\"b\":%.3f}"
        ",\"spread\":0.9,\"verdict\":\"%s\"}",
        patch, gap, fmax(gap - half, 0), gap + half, d[0], d[1], d[2], d[0] - half, d[1] - half,
        d[2] - half, d[0] + half, d[1] + half, d[2] + half, gap > 2.0 ? "tone" : "leave");
}

static inline void html_json_sample(hw_text *json, const char *name, const char *role, hw_lab lab)
{
    hw_text_add(json,
                "{\"name\":\"%s\",\"role\":\"%s\",\"lab\":[%.3f,%.3f,%.3f],\"standard_error\":[0.1,"
                "0.1,0.1]}",
                name, role, lab.L, lab.a, lab.b);
}

// JSON needs no more escaping than '"' and '\\' in the names used here.
static inline const char *html_quoted(const char *name)
{
    static char out[4][2 * HW_NAME_SIZE];
    static int turn;
    char *to = out[turn = (turn + 1) % 4];
    for (; *name; name++) {
        if (*name == '"' || *name == '\\') {
            *to++ = '\\';
        }
        *to++ = *name;
    }
    *to = 0;
    return out[turn];
}

static inline long html_photo(const typed *said, const char *lamp, hw_lab strip, double half)
{
    static int number;
    hw_photo_event event = {.original = "IMG 7.jpg"};
    hw_text json = {0};
    long photo = 0;
    snprintf(event.stored, sizeof event.stored, "photos/%d.jpg", ++number);
    snprintf(event.lamp, sizeof event.lamp, "%s", lamp);
    snprintf(event.view, sizeof event.view, "%s", said->view);
    snprintf(event.note, sizeof event.note, "%s", said->note);
    check_true(
        hw_marks_add(&event.marks, HW_ROLE_PATCH, said->strip, "10,10,50,50", NULL, NULL) ==
            HW_OK &&
        hw_marks_add(&event.marks, HW_ROLE_PATCH, said->door, "70,10,50,50", NULL, NULL) == HW_OK &&
        hw_marks_add(&event.marks, HW_ROLE_TARGET, said->left, "10,80,50,50", NULL, NULL) == HW_OK);
    hw_text_add(&json, "{\"samples\":[");
    html_json_sample(&json, html_quoted(said->strip), "patch", strip);
    hw_text_add(&json, ",");
    html_json_sample(&json, html_quoted(said->left), "target", html_old);
    hw_text_add(&json, "],\"comparisons\":[");
    html_json_gap(&json, html_quoted(said->strip), strip, half);
    hw_text_add(&json, ",");
    html_json_gap(&json, html_quoted(said->door), (hw_lab){38.6, 9.3, 15.8}, half);
    hw_text_add(&json, "]}");
    html_now += 3600;
    check_true(hw_job_add_photo_read(html_job, &event, json.bytes, html_now, &photo, NULL) ==
               HW_OK);
    hw_text_free(&json);
    hw_marks_free(&event.marks);
    return photo;
}

static inline hw_liquid html_liquid(const typed *said, double strength)
{
    hw_liquid liquid = {.count = 1, .dose = {{.strength = strength}}};
    snprintf(liquid.dose[0].dye, sizeof liquid.dose[0].dye, "%s", said->dye);
    return liquid;
}

static inline void html_pass(const typed *said, hw_lab before, hw_lab expected)
{
    char patches[1][HW_NAME_SIZE];
    long number;
    hw_forecast forecast = {.covariance = hw_covariance_diagonal(2e-4, 2e-4, 2e-4)};
    hw_pass_event pass = {.patches = patches,
                          .patch_count = 1,
                          .liquid = html_liquid(said, 0.25),
                          .passes = 2,
                          .jar = 1,
                          .hours = 1.5,
                          .minutes = 45,
                          .forecast = &forecast,
                          .forecast_count = 1};
    snprintf(patches[0], sizeof patches[0], "%s", said->strip);
    snprintf(forecast.patch, sizeof forecast.patch, "%s", said->strip);
    snprintf(pass.note, sizeof pass.note, "%s", said->note);
    hw_tone_between(before, expected, forecast.density);
    html_now += 600;
    check_true(hw_job_add_pass(html_job, &pass, html_now, &number, NULL) == HW_OK);
}

static const hw_lab html_first = {44.0, 7.2, 17.0}, html_last = {39.6, 8.9, 16.0};

// The whole of it: photographed under two lamps, mixed, toned, photographed, sealed, noted, approved, and a slip of
// the pen withdrawn. Gives the first and the last photo.
static inline void html_play(const typed *said, long photo[2])
{
    long number;
    hw_setting_event setting = {
        .coats_over = HW_COATS_ALL, .coats = 2, .recoat_minutes = 45, .card_mm = {86, 54}};
    hw_jar_event jar = {.liquid = html_liquid(said, 0.25), .volume_ml = 100};
    hw_note_event note = {.hours = 0.5};
    hw_approval_event approval = {0};
    char parts[1][HW_NAME_SIZE];
    hw_coat_event coat = {.coat = HW_COAT_SEALER, .parts = parts, .part_count = 1};
    snprintf(note.text, sizeof note.text, "%s", said->note);
    snprintf(approval.by, sizeof approval.by, "%s", said->by);
    snprintf(approval.lamp, sizeof approval.lamp, "%s", said->other_lamp);
    snprintf(parts[0], sizeof parts[0], "%s", said->strip);
    html_new_job(said->title);
    check_true(hw_job_add_setting(html_job, &setting, html_now += 60, &number, NULL) == HW_OK);
    check_true(hw_job_add_coat(html_job, &coat, html_now += 60, &number, NULL) == HW_OK);
    photo[0] = html_photo(said, said->lamp, html_first, 0.4);
    check_true(hw_job_add_jar(html_job, &jar, html_now += 60, &number, NULL) == HW_OK);
    html_pass(said, html_first, (hw_lab){40.2, 8.9, 16.2});
    check_true(hw_job_add_note(html_job, &note, html_now += 60, &number, NULL) == HW_OK);
    html_pass(said, html_first, html_last); // entered twice
    check_true(hw_job_add_withdrawal(
                   html_job, hw_job_event(html_job, hw_job_event_count(html_job) - 1)->number,
                   html_now += 60, &number, NULL) == HW_OK);
    photo[1] = html_photo(said, said->lamp, html_last, 0.4);
    html_photo(said, said->other_lamp, (hw_lab){39.6, 12.5, 16.0}, 0.4);
    check_true(hw_job_add_approval(html_job, &approval, html_now += 60, &number, NULL) == HW_OK);
}

// ---- The account -------------------------------------------------------------------

// Stripes of wood; the right half a little lighter.
static inline hw_shown html_shown(size_t width, size_t height, int lighter)
{
    hw_shown shown = {.width = width,
                      .height = height,
                      .scale = 1,
                      .frame = {0, 0, width, height},
                      .rgb = hw_alloc_array(width * height, 3)};
    for (size_t i = 0; shown.rgb && i < width * height; i++) {
        size_t x = i % width, y = i / width;
        int level = (int)((x * 7 + y / 9) % 23) + (2 * x > width ? lighter : 0);
        shown.rgb[3 * i] = (uint8_t)(110 + level);
        shown.rgb[3 * i + 1] = (uint8_t)(78 + level);
        shown.rgb[3 * i + 2] = (uint8_t)(52 + level);
    }
    return shown;
}

static inline hw_comparison html_comparison(const char *patch, hw_lab lab, double half)
{
    hw_comparison gap = {.patch_lab = lab,
                         .target_lab = html_old,
                         .gap = hw_difference_of(html_old, lab),
                         .covariance = hw_covariance_diagonal(0.06, 0.05, 0.05),
                         .doubt = {[HW_DOUBT_FIGURE] = 0.21, [HW_DOUBT_TONE] = 0.34},
                         .tellable = 0.8,
                         .spread = 0.9,
                         .spread_count = 3,
                         .spread_axis = {0.6, 0.4, 0.5},
                         .t_squared = (double)NAN,
                         .t_squared_p = (double)NAN};
    snprintf(gap.patch, sizeof gap.patch, "%s", patch);
    snprintf(gap.target, sizeof gap.target, "%s", HW_BESIDE);
    gap.low = gap.high = gap.gap;
    gap.low.L -= half, gap.low.a -= half, gap.low.b -= half;
    gap.high.L += half, gap.high.a += half, gap.high.b += half;
    gap.de00_low = fmax(gap.gap.de00 - half, 0);
    gap.de00_high = gap.gap.de00 + half;
    gap.spread_ratio = gap.gap.de00 / gap.spread;
    gap.chance_to_leave = gap.gap.de00 < 1.0 ? 0.98 : 0.01;
    gap.direction_count = hw_directions_of(&gap.gap, gap.direction);
    hw_verdict_decide(&gap);
    return gap;
}

static inline hw_marks html_marks(const typed *said)
{
    hw_marks marks = {.width_px = 160, .height_px = 100};
    check_true(
        hw_marks_add(&marks, HW_ROLE_TARGET, said->left, "10,10,60,80", NULL, NULL) == HW_OK &&
        hw_marks_add(&marks, HW_ROLE_PATCH, said->strip, "90,10,60,80", NULL, NULL) == HW_OK);
    return marks;
}

static inline hw_looks html_looks(const typed *said, const hw_comparison *gap, hw_lab after)
{
    hw_looks looks = {.now = html_shown(80, 50, 14)};
    looks.path.gap = *gap;
    looks.path.guess = true;
    looks.path.count = 2;
    looks.path.step = hw_alloc_array(2, sizeof *looks.path.step);
    looks.weak = hw_alloc_array(1, sizeof *looks.weak);
    looks.strong = hw_alloc_array(1, sizeof *looks.strong);
    snprintf(looks.path.words, sizeof looks.path.words, "%s at an eighth strength", said->dye);
    if (!check_true(looks.path.step && looks.weak && looks.strong)) {
        return looks;
    }
    hw_lab lab[2] = {gap->patch_lab, after};
    for (int i = 0; i < 2; i++) {
        double off = hw_ciede2000(gap->target_lab, lab[i]);
        hw_foreseen *step = &looks.path.step[i];
        *step =
            (hw_foreseen){.passes = i, .after = {i, lab[i], off, fmax(off - 0.5, 0), off + 0.5}};
        hw_tone_between(lab[0], lab[i], step->density);
        for (int k = 0; k < 3; k++) {
            step->least[k] = 0.8 * step->density[k];
            step->most[k] = 1.3 * step->density[k];
        }
    }
    looks.weak[0] = html_shown(80, 50, 4);
    looks.strong[0] = html_shown(80, 50, -6);
    return looks;
}

static inline void html_day(const typed *said, hw_day *day, hw_lab after)
{
    *day = (hw_day){.advice = hw_alloc_array(2, sizeof *day->advice),
                    .part = hw_alloc_array(2, sizeof *day->part),
                    .jar = hw_alloc_array(1, sizeof *day->jar),
                    .count = 2,
                    .jar_count = 1,
                    .for_all = true,
                    .cautions_full = true};
    day->sheet.step = hw_alloc_array(1, sizeof *day->sheet.step);
    if (!check_true(day->advice && day->part && day->jar && day->sheet.step)) {
        return;
    }
    day->sheet.step[0] = (hw_sheet_step){0, 0};
    day->sheet.step_count = 1;
    day->sheet.fewest = true;
    hw_advice *lay = &day->advice[0], *leave = &day->advice[1];
    *lay = (hw_advice){.verdict = HW_VERDICT_TONE,
                       .has_next = true,
                       .next = {.liquid = html_liquid(said, 0.125), .passes = 1},
                       .after_next = {1, after, 0.8, 0.4, 1.3},
                       .next_risk = 0.002,
                       .next_help = 0.83,
                       .next_guess = true,
                       .passes_so_far = 2,
                       .aim = html_old};
    lay->option_count = 1;
    lay->option[0].layer[0] = lay->next;
    lay->option[0].layer_count = 1;
    lay->option[0].after_count = 2;
    lay->option[0].after[0] = (hw_after){0, html_last, 1.7, 1.3, 2.1};
    lay->option[0].after[1] = lay->after_next;
    lay->option[0].overshoot_risk = 0.002;
    lay->option[0].guess = true;
    snprintf(lay->patch, sizeof lay->patch, "%s", said->strip);
    snprintf(lay->why, sizeof lay->why,
             "It is too light. Close. A trained eye may see it along the joint.");
    snprintf(lay->full_strength, sizeof lay->full_strength,
             "Full strength: as your step board was made; none is known, so this is a guess.");
    *leave = (hw_advice){.verdict = HW_VERDICT_LEAVE, .stop = true, .stop_reason = HW_STOP_LEAVE};
    snprintf(leave->patch, sizeof leave->patch, "%s", said->door);
    snprintf(leave->why, sizeof leave->why,
             "The old wood beside it differs from itself by as much.");
    for (int i = 0; i < 2; i++) {
        day->part[i] = (hw_day_part){.laid_ml = (double)NAN,
                                     .area_cm2 = (double)NAN,
                                     .minutes = i ? (double)NAN : 45.0,
                                     .need = {.pass_ml = (double)NAN}};
    }
    day->jar[0] = (hw_day_jar){.liquid = lay->next.liquid,
                               .patches = 1,
                               .passes = 1,
                               .need_ml = 35,
                               .left_ml = (double)NAN,
                               .can_mix = true};
    hw_shelf shelf = {0};
    check_true(hw_shelf_guesses(&shelf, NULL) == HW_OK &&
               hw_tone_mix(&day->jar[0].liquid, &shelf, 50, &day->jar[0].mix, NULL) == HW_OK);
    hw_shelf_free(&shelf);
}

static inline void html_part(hw_account_part *part, const char *name, const long photo[2],
                             hw_lab first, hw_lab last)
{
    *part = (hw_account_part){.read_first = true,
                              .read_last = true,
                              .first = html_comparison(name, first, 0.4),
                              .last = html_comparison(name, last, 0.4),
                              .first_photo = photo[0],
                              .last_photo = photo[1]};
    snprintf(part->name, sizeof part->name, "%s", name);
}

static inline void html_seam(hw_account_part *part, const typed *said)
{
    const hw_stretch half[2] = {{0, 0.5, false}, {0.5, 1, false}};
    part->has_seam = true;
    part->strip = html_shown(160, 24, 8);
    part->seam =
        (hw_seam){.length_px = 160, .line = {{0, 12}, {160, 12}}, .line_count = 2, .count = 2};
    snprintf(part->seam.patch, sizeof part->seam.patch, "%s", said->strip);
    snprintf(part->seam.target, sizeof part->seam.target, "%s", said->left);
    for (size_t i = 0; i < 2; i++) {
        hw_lab lab = {html_old.L + 0.4 + 1.6 * (double)i, html_old.a, html_old.b};
        hw_seam_piece *piece = &part->seam.piece[i];
        *piece = (hw_seam_piece){.stretch = half[i], .gap = hw_difference_of(html_old, lab)};
        piece->de00_low = fmax(piece->gap.de00 - 0.4, 0);
        piece->de00_high = piece->gap.de00 + 0.4;
        piece->direction_count = hw_directions_of(&piece->gap, piece->direction);
        piece->verdict = i ? HW_VERDICT_TONE : HW_VERDICT_LEAVE;
    }
}

// Free with hw_account_free, which takes the job along.
static inline hw_account html_account(const typed *said)
{
    long photo[2];
    const hw_lab after = {38.4, 9.6, 15.7};
    html_play(said, photo);
    hw_account account = {.job = html_job,
                          .view = hw_alloc_array(1, sizeof *account.view),
                          .view_count = 1,
                          .part = hw_alloc_array(2, sizeof *account.part),
                          .part_count = 2,
                          .has_day = true,
                          .at = 1790100000};
    html_job = NULL;
    if (!check_true(account.view && account.part)) {
        exit(1);
    }
    account.view[0] = (hw_before_after){.first = photo[0],
                                        .last = photo[1],
                                        .first_at = 1790003600,
                                        .last_at = 1790010000,
                                        .before = html_shown(160, 100, 45),
                                        .after = html_shown(160, 100, 10),
                                        .first_marks = html_marks(said),
                                        .last_marks = html_marks(said)};
    snprintf(account.view[0].view, sizeof account.view[0].view, "%s", said->view);
    snprintf(account.view[0].same, sizeof account.view[0].same,
             "Both are corrected by their card, and made to read alike by the old wood in both.");
    html_day(said, &account.day, after);
    html_part(&account.part[0], said->strip, photo, html_first, html_last);
    html_part(&account.part[1], said->door, photo, (hw_lab){38.6, 9.3, 15.8},
              (hw_lab){38.5, 9.3, 15.8});
    html_seam(&account.part[0], said);
    account.part[0].has_looks = true;
    account.part[0].looks = html_looks(said, &account.part[0].last, after);
    account.part[0].advice = &account.day.advice[0];
    account.part[1].advice = &account.day.advice[1];
    hw_warn(&account.warnings, "Photo %ld is small: under 1 megapixel.", photo[0]);
    return account;
}

#endif
