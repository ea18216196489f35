// Memory runs out, stage by stage: a piece of work of every module with each of its allocations failing
// in turn, once with all later ones and once alone (memory comes back: who does not look at each result
// would go on with a part missing). Each time it is refused in words or, where it can do without, gives
// what it gives with memory; the address sanitizer sees what is left behind. cJSON, zlib and LittleCMS
// have their memory from the same place.
//
//   test_memory_stages [all]      without `all` the later ones in strides, as most lie in loops
#include "saved_picture.h"
#include "decoded_picture.h"
#include "shop.h"
#include "base_internal.h"
#include "huewright/measure.h"
#include "huewright/picture.h"
#include "huewright/report.h"
#include "huewright/steps.h"
#include "photo_internal.h"
#include "steps_internal.h"

#include <unistd.h>

// ---- What is worked on --------------------------------------------------------------

static char folder[512], photo_path[600], photo_again[600], photo_two[600], sheet_path[600],
    board_path[600];
static char shelf_path[600], job_path[600], coats_path[600];
static hw_marks marks, board_marks;
static hw_photo *photo, *sheet;
static hw_light light;
static hw_reading reading;
static hw_shelf shelf;
static hw_known known;
static hw_advice advice;
static hw_board board;
static char *marks_json;
static const int64_t monday = 1790000000;
static const hw_report_style all_of_it = {.swatches = true, .why = true};

// The shop with two pieces of old wood, a shiny corner, and a black and a white step beside the card.
static picture bench(hw_lab repair)
{
    picture made = picture_new(SHOP_WIDTH, SHOP_HEIGHT);
    uint64_t state = 5;
    picture_fill(&made, 0, 0, SHOP_WIDTH, SHOP_HEIGHT, (hw_lab){40, 2, 4});
    picture_fill(&made, 15, 15, 70, 70, (hw_lab){49.5, 0, 0});
    picture_fill(&made, 15, 100, 40, 40, (hw_lab){22, 0, 0});
    picture_fill(&made, 15, 155, 40, 40, (hw_lab){93, 0, 0});
    picture_fill(&made, 100, 20, 90, 200, shop_old);
    picture_fill(&made, 300, 20, 90, 200, (hw_lab){48, 12.5, 24});
    picture_fill(&made, 200, 20, 90, 200, repair);
    for (size_t i = 0; i < made.width * made.height; i++) {
        double shine = i % made.width > 340 && i / made.width > 170 ? 0.1 : 0.0;
        double factor = (1.0 + 0.04 * picture_normal(&state)) *
                        (1.0 + 0.1 * (double)(i % made.width) / (double)made.width);
        for (int k = 0; k < 3; k++) {
            made.linear[i][k] = made.linear[i][k] * factor + shine;
        }
    }
    return made;
}

static void write_photo(const char *path, picture made)
{
    save_picture(&made, path);
}

static void mark(hw_marks *to, hw_role role, const char *name, const char *region)
{
    check_true(hw_marks_add(to, role, name, region, NULL, NULL) == HW_OK);
}

static void make_photos(void)
{
    write_photo(photo_path, bench((hw_lab){55, 9.5, 26}));
    write_photo(photo_again, bench((hw_lab){55.1, 9.5, 25.9}));
    write_photo(photo_two, bench((hw_lab){52, 11, 26}));
    picture plain = picture_new(SHOP_WIDTH, SHOP_HEIGHT);
    picture_fill(&plain, 0, 0, SHOP_WIDTH, SHOP_HEIGHT, (hw_lab){70, 0, 0});
    write_photo(sheet_path, plain);
    picture strips = picture_new(SHOP_WIDTH, SHOP_HEIGHT);
    picture_fill(&strips, 0, 0, SHOP_WIDTH, SHOP_HEIGHT, (hw_lab){40, 2, 4});
    picture_fill(&strips, 20, 20, 80, 80, (hw_lab){49.5, 0, 0});
    mark(&board_marks, HW_ROLE_CARD, "card", "20,20,80,80");
    for (int n = 0; n < 4; n++) {
        const double density[3] = {0.03 * n, 0.1 * n, 0.11 * n};
        char name[40], region[60];
        picture_fill(&strips, (size_t)(120 + 65 * n), 20, 60, 150,
                     hw_tone_under((hw_lab){62, 12, 28}, density));
        snprintf(name, sizeof name, "cherry %d", n);
        snprintf(region, sizeof region, "%d,22,56,140", 122 + 65 * n);
        mark(&board_marks, HW_ROLE_BOARD_STRIP, name, region);
    }
    write_photo(board_path, strips);
    mark(&marks, HW_ROLE_CARD, "card", "15,15,70,70");
    mark(&marks, HW_ROLE_NEUTRAL, "black", "15,100,40,40");
    mark(&marks, HW_ROLE_NEUTRAL, "white", "15,155,40,40");
    mark(&marks, HW_ROLE_TARGET, "old left", "100,20,90,200");
    mark(&marks, HW_ROLE_TARGET, "old right", "300,20,90,200");
    mark(&marks, HW_ROLE_PATCH, "new", "200,20,90,200");
    check_true(hw_marks_text(&marks, &marks_json, NULL) == HW_OK);
}

static void remove_file(const char *path)
{
    char lock[700];
    unlink(path);
    snprintf(lock, sizeof lock, "%s.lock", path);
    unlink(lock);
}

static void run(const char *format, const char *path)
{
    char command[1400];
    snprintf(command, sizeof command, format, path, path);
    check_true(system(command) == 0);
}

// ---- Telling what came out ------------------------------------------------------------

static long asked_for; // allocations of the work itself

// The work is done: what follows has memory again.
static void with_memory(void)
{
    asked_for = hw_test_allocations();
    hw_test_fail_alloc(-1);
}

static void tell_text(hw_text *told, char *text)
{
    hw_text_add(told, "%s\n", text ? text : "(null)");
    hw_report_free(text);
}

static void tell_lab(hw_text *told, hw_lab lab)
{
    hw_text_add(told, "%a %a %a\n", lab.L, lab.a, lab.b);
}

static void tell_warnings(hw_text *told, const hw_warnings *warnings)
{
    for (size_t i = 0; i < warnings->count; i++) {
        hw_text_add(told, "%s\n", warnings->text[i]);
    }
}

static void tell_reading(hw_text *told, const hw_reading *one)
{
    char *text = NULL;
    check_true(hw_report_reading_json(one, &text, NULL) == HW_OK);
    tell_text(told, text);
}

static void tell_job(hw_text *told, const hw_job *job)
{
    char *text = NULL;
    check_true(hw_report_history_json(job, NULL, &text, NULL) == HW_OK);
    tell_text(told, text);
}

// ---- base -----------------------------------------------------------------------------

static hw_status work_json(hw_text *told, hw_error *err)
{
    hw_json *tree = NULL, *copy = NULL;
    char *text = NULL;
    hw_status status = hw_json_parse(marks_json, strlen(marks_json), NULL, "marks", &tree, err);
    if (status == HW_OK) {
        copy = hw_json_new_object();
        hw_json_add_tree(copy, "marks", hw_json_copy(tree));
        hw_json_add_text(hw_json_add_object(copy, "of"), "name", "bench");
        hw_json_add_rounded(hw_json_add_array(copy, "numbers"), NULL, 1.25, 1);
        status = hw_json_print(copy, true, &text, err);
    }
    with_memory();
    if (status == HW_OK) {
        hw_text_add(told, "%s", text);
    }
    hw_free(text);
    hw_json_free(copy);
    hw_json_free(tree);
    return status;
}

static hw_status work_files(hw_text *told, hw_error *err)
{
    char path[700];
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_append *lines = NULL;
    snprintf(path, sizeof path, "%s/lines", folder);
    hw_status status = hw_file_replace(path, "one\n", 4, err);
    if (status == HW_OK) {
        status = hw_append_open(path, 100, &lines, err);
    }
    if (status == HW_OK) {
        status = hw_append_write(lines, "two\n", 4, err);
    }
    if (status == HW_OK) {
        status = hw_append_read(lines, 1000, &bytes, &count, err);
    }
    with_memory();
    if (status == HW_OK) {
        hw_text_add_bytes(told, bytes, count);
    }
    hw_free(bytes);
    hw_append_close(&lines);
    return status;
}

static hw_status work_text(hw_text *told, hw_error *err)
{
    hw_text text = {0};
    for (int i = 0; i < 300; i++) {
        hw_text_add(&text, "%d of many words. ", i);
    }
    with_memory();
    hw_status status = text.failed ? hw_fail_memory(err, "writing") : HW_OK;
    if (status == HW_OK) {
        hw_text_add_bytes(told, text.bytes, text.length);
    }
    hw_text_free(&text);
    return status;
}

// ---- colour ---------------------------------------------------------------------------

// It takes no memory: nothing to fail.
static hw_status work_colour(hw_text *told, hw_error *err)
{
    (void)err;
    hw_lab one = {50, 12, 25}, other = {55, 9, 26};
    hw_difference gap = hw_difference_of(one, other);
    hw_xyz xyz = hw_xyz_from_lab(one, hw_white_d50);
    double rgb[3];
    hw_linear_srgb_from_xyz(xyz, rgb);
    with_memory();
    check_true(asked_for == 0);
    hw_text_add(told, "%a %a %a\n", gap.de00, xyz.X, rgb[2]);
    return HW_OK;
}

// ---- photo ----------------------------------------------------------------------------

static hw_status load(const char *name, hw_text *told, hw_error *err)
{
    char path[600];
    hw_photo *loaded = NULL;
    snprintf(path, sizeof path, "%s/%s", HW_TESTDATA, name);
    hw_status status = hw_photo_load(path, NULL, &loaded, err);
    with_memory();
    if (status == HW_OK) {
        hw_xyz row[8];
        uint16_t codes[24];
        const hw_photo_facts *facts = hw_photo_facts_of(loaded);
        hw_photo_codes_xyz(loaded, 0, facts->height_px / 2, 8, codes, row);
        for (int i = 0; i < 8; i++) {
            hw_text_add(told, "%u %a %a %a\n", codes[3 * i], row[i].X, row[i].Y, row[i].Z);
        }
        hw_text_add(told, "%s %s %d\n", facts->colour, facts->camera, facts->own_tables);
        tell_warnings(told, &facts->warnings);
    }
    hw_photo_free(loaded);
    return status;
}

static hw_status work_jpeg(hw_text *told, hw_error *err)
{
    return load("photo/progressive.jpg", told, err);
}

#ifdef HW_HEIF
static hw_status work_heic(hw_text *told, hw_error *err)
{
    return load("fuzz/fuzz_heif/profile.heic", told, err);
}
#endif

#ifdef HW_RAW
static hw_status work_raw(hw_text *told, hw_error *err)
{
    return load("photo/mosaic.dng", told, err);
}
#endif

static hw_status work_profile_in_parts(hw_text *told, hw_error *err)
{
    return load("photo/profile-three-parts.jpg", told, err);
}

static hw_status work_profile_packed(hw_text *told, hw_error *err)
{
    return load("outside/matrix-profile.png", told, err);
}

static hw_status work_profile_of_tables(hw_text *told, hw_error *err)
{
    return load("outside/table-profile.png", told, err);
}

static hw_status work_profile_rubbish(hw_text *told, hw_error *err)
{
    return load("photo/profile-rubbish.jpg", told, err);
}

static hw_status work_gamma(hw_text *told, hw_error *err)
{
    return load("photo/gamma.png", told, err);
}

// ---- mark -----------------------------------------------------------------------------

static hw_status work_marks(hw_text *told, hw_error *err)
{
    hw_marks read = {0}, copy = {0}, ring = {0};
    hw_mark small = {0};
    hw_warnings warnings = {0};
    char *text = NULL;
    const hw_point corners[4] = {{10, 10}, {300, 12}, {298, 200}, {9, 199}};
    hw_status status =
        hw_marks_parse(marks_json, strlen(marks_json), "marks", NULL, &read, &warnings, err);
    if (status == HW_OK) {
        status = hw_marks_copy(&read, &copy, err);
    }
    if (status == HW_OK) {
        status = hw_marks_ring(&copy, &copy.mark[5], SHOP_WIDTH, SHOP_HEIGHT, &ring, err);
    }
    if (status == HW_OK) {
        status = hw_mark_shrink(&copy.mark[0], 0.5, &small, err);
    }
    if (status == HW_OK) {
        status = hw_marks_add_chart(&copy, corners, 4, err);
    }
    if (status == HW_OK) {
        status = hw_marks_text(&copy, &text, err);
    }
    with_memory();
    if (status == HW_OK) {
        hw_text_add(told, "%s %zu %a\n", text, ring.count, small.points[0].x);
    }
    hw_marks_text_free(text);
    hw_mark_free(&small);
    hw_marks_free(&ring);
    hw_marks_free(&copy);
    hw_marks_free(&read);
    return status;
}

static hw_status work_find(hw_text *told, hw_error *err)
{
    hw_card_find find = {0};
    hw_status status = hw_marks_find_card(photo, &find, err);
    with_memory();
    if (status == HW_OK) {
        hw_text_add(told, "%s %zu %a %d %s %zu\n", hw_find_kind_name(find.what), find.marks.count,
                    find.confidence, (int)find.sure, find.why, find.other_marks.count);
    }
    hw_card_find_free(&find);
    return status;
}

// Spotted wood of 240 x 180 pixels, seen `shift` pixels farther on.
static hw_photo *spotted(size_t shift)
{
    picture made = picture_new(240, 180);
    uint64_t state = 9;
    picture_fill(&made, 0, 0, 240, 180, (hw_lab){45, 12, 25});
    for (int i = 0; i < 170; i++) {
        size_t x = (size_t)(210.0 * picture_random(&state)),
               y = (size_t)(160.0 * picture_random(&state));
        size_t size = 3 + (size_t)(9.0 * picture_random(&state));
        picture_fill(&made, x + shift, y + shift / 2, size, size,
                     (hw_lab){30.0 + 30.0 * picture_random(&state), 12, 25});
    }
    hw_photo *out = decoded_picture(&made, "spots.png");
    picture_free(&made);
    return out;
}

static hw_photo *wood_still, *wood_moved;
static hw_marks wood_marks;

static void make_wood(void)
{
    wood_still = spotted(0);
    wood_moved = spotted(8);
    mark(&wood_marks, HW_ROLE_CARD, "card", "15,130,40,30");
    mark(&wood_marks, HW_ROLE_TARGET, "old", "15,15,90,100");
    mark(&wood_marks, HW_ROLE_PATCH, "new", "120,30,60,80");
}

// Looks taken, packed, unpacked; marks carried to a photo where they lie as they lay and to one where they do not.
static hw_status work_carry_marks(hw_text *told, hw_error *err)
{
    hw_look *one = NULL, *other = NULL, *kept = NULL;
    hw_carried_marks still = {0}, moved = {0};
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_status status = hw_look_take(wood_still, &one, err);
    if (status == HW_OK) {
        status = hw_look_take(wood_moved, &other, err);
    }
    if (status == HW_OK) {
        status = hw_look_pack(one, &bytes, &count, err);
    }
    if (status == HW_OK) {
        status = hw_look_unpack(bytes, count, "kept", &kept, err);
    }
    if (status == HW_OK) {
        status = hw_marks_carry(&wood_marks, kept, other, &moved, err);
    }
    if (status == HW_OK) {
        status = hw_marks_carry(&wood_marks, kept, one, &still, err);
    }
    with_memory();
    if (status == HW_OK) {
        hw_text_add(told, "%zu %d %d %a %d %a\n", count, moved.sure, moved.as_it_lay,
                    moved.confidence, still.as_it_lay, still.confidence);
    }
    hw_free(bytes);
    hw_carried_marks_free(&still);
    hw_carried_marks_free(&moved);
    hw_look_free(one);
    hw_look_free(other);
    hw_look_free(kept);
    return status;
}

// ---- card, sample, compare --------------------------------------------------------------

static hw_status work_card(hw_text *told, hw_error *err)
{
    hw_light read;
    hw_card_options options = {.sheet = sheet};
    hw_status status = hw_card_read(photo, &marks, &options, &read, err);
    with_memory();
    if (status == HW_OK) {
        hw_xyz corrected = hw_light_correct_at(&read, (hw_xyz){0.2, 0.2, 0.1}, (hw_point){300, 90});
        hw_text_add(told, "%a %a %a %a\n", corrected.X, corrected.Y, corrected.Z, read.uneven);
        tell_warnings(told, &read.warnings);
    }
    return status;
}

static hw_status work_sample(hw_text *told, hw_error *err)
{
    hw_status status = HW_OK;
    hw_sample sample[3];
    memset(sample, 0, sizeof sample);
    hw_warnings warnings = {0};
    for (size_t i = 0; i < 3 && status == HW_OK; i++) {
        status = hw_sample_take(photo, &light, &marks.mark[3 + i], &sample[i], &warnings, err);
    }
    with_memory();
    for (size_t i = 0; i < 3; i++) {
        if (status == HW_OK) {
            tell_lab(told, sample[i].lab);
            hw_text_add(told, "%a %a %a\n", sample[i].standard_error[0], sample[i].spread[1],
                        sample[i].mark_shift.m[0][0]);
        }
        hw_sample_free(&sample[i]);
    }
    tell_warnings(told, &warnings);
    return status;
}

static hw_status work_compare(hw_text *told, hw_error *err)
{
    hw_comparisons made = {0};
    hw_status status =
        hw_compare_all(reading.samples, reading.sample_count, &marks, &light, NULL, &made, err);
    with_memory();
    if (status == HW_OK) {
        for (size_t i = 0; i < made.count; i++) {
            const hw_comparison *one = &made.item[i];
            hw_text_add(told, "%s %s %a %a %a %s %s\n", one->patch, one->target, one->gap.de00,
                        one->de00_low, one->de00_high, hw_verdict_name(one->verdict), one->why);
        }
    }
    hw_comparisons_free(&made);
    return status;
}

// ---- tone -----------------------------------------------------------------------------

static hw_status work_learn(hw_text *told, hw_error *err)
{
    hw_known learned = {0}, own = {0};
    hw_shelf guesses = {0};
    hw_status status = hw_tone_learn(&shelf, "job", shop_old, &learned, err);
    if (status == HW_OK) {
        status = hw_tone_learn_own(&shelf, &own, err);
    }
    if (status == HW_OK) {
        status = hw_shelf_guesses(&guesses, err);
    }
    with_memory();
    for (size_t i = 0; status == HW_OK && i < learned.count; i++) {
        hw_text_add(told, "%s %a %a %a\n", learned.dye[i].name, learned.dye[i].density[1],
                    learned.dye[i].u_strength, own.dye[i].density[2]);
    }
    hw_text_add(told, "%zu\n", status == HW_OK ? guesses.count : 0);
    hw_known_free(&learned);
    hw_known_free(&own);
    hw_shelf_free(&guesses);
    return status;
}

static hw_tone_request wish(void)
{
    return (hw_tone_request){.gap = hw_comparison_beside(&reading.comparisons, "new"),
                             .known = &known};
}

static hw_status work_advise(hw_text *told, hw_error *err)
{
    hw_advice *made = calloc(1, sizeof *made);
    hw_tone_request request = wish();
    hw_status status = hw_tone_advise(&request, made, err);
    with_memory();
    if (status == HW_OK) {
        char *text = NULL;
        hw_day day = {.advice = made, .count = 1};
        check_true(hw_report_advice_json(&day, &text, NULL) == HW_OK);
        tell_text(told, text);
    }
    free(made);
    return status;
}

static hw_status work_foresee(hw_text *told, hw_error *err)
{
    hw_foreseen seen[3];
    size_t count = 0;
    hw_tone_request request = wish();
    const hw_layer layer = {{{{"brown", 0.5}}, 1}, 2};
    hw_status status = hw_tone_foresee(&request, &layer, 1, seen, 3, &count, err);
    with_memory();
    for (size_t i = 0; i < count && status == HW_OK; i++) {
        tell_lab(told, seen[i].worst_lab);
    }
    return status;
}

// Two repairs, one lighter than the other, and a jar that stands mixed.
static hw_status work_sheet(hw_text *told, hw_error *err)
{
    static hw_advice made[2];
    hw_comparison lighter = *hw_comparison_beside(&reading.comparisons, "new");
    lighter.patch_lab.L += 1.5;
    lighter.gap = hw_difference_of(lighter.target_lab, lighter.patch_lab);
    hw_tone_request request[2] = {wish(), wish()};
    request[1].gap = &lighter;
    const hw_liquid mixed = {{{"red", 0.3}}, 1};
    hw_sheet made_sheet = {0};
    made[0] = made[1] = (hw_advice){.stop = false};
    hw_status status = hw_tone_advise(&request[0], &made[0], err);
    if (status == HW_OK) {
        status = hw_tone_advise(&request[1], &made[1], err);
    }
    if (status == HW_OK) {
        status = hw_tone_sheet(request, made, 2, &mixed, 1, &made_sheet, err);
    }
    with_memory();
    for (size_t i = 0; i < 2 && status == HW_OK; i++) {
        hw_text_add(told, "%s %d %a %s\n", made[i].next.liquid.dose[0].dye, made[i].next.passes,
                    made[i].sheet_cost, made[i].why);
    }
    hw_text_add(told, "%zu %zu\n", made_sheet.jar_count, made_sheet.step_count);
    hw_sheet_free(&made_sheet);
    return status;
}

static void make_strips(hw_strip strips[5])
{
    for (int n = 0; n < 5; n++) {
        const double density[3] = {0.03 * n, 0.1 * n, 0.11 * n + (n == 3) * 0.01};
        strips[n] = (hw_strip){.passes = n, .lab = hw_tone_under((hw_lab){62, 12, 28}, density)};
        for (int k = 0; k < 3; k++) {
            strips[n].covariance.m[k][k] = 0.04;
        }
    }
}

static hw_status work_board(hw_text *told, hw_error *err)
{
    hw_strip strips[5];
    hw_board fitted = {0};
    make_strips(strips);
    hw_status status = hw_board_fit("cherry", strips, 5, &fitted, err);
    with_memory();
    if (status == HW_OK) {
        hw_text_add(told, "%a %a %a %s\n", fitted.density[1], fitted.exponent, fitted.fit_off,
                    fitted.strip[3].why);
    }
    hw_board_free(&fitted);
    return status;
}

// ---- picture --------------------------------------------------------------------------

static void tell_picture(hw_text *told, const hw_picture *made)
{
    double sum = 0.0;
    for (size_t i = 0; i < 3 * made->width * made->height; i++) {
        sum += (double)made->xyz[i];
    }
    hw_text_add(told, "%zu %zu %a\n", made->width, made->height, sum);
}

static hw_status work_picture(hw_text *told, hw_error *err)
{
    const double density[3] = {0.05, 0.1, 0.15};
    const hw_mark *new = hw_marks_find(&marks, HW_ROLE_PATCH, "new");
    const hw_seam seam = {.line = {{195, 30}, {195, 200}}, .line_count = 2};
    hw_picture whole = {0}, laid = {0}, joint = {0};
    hw_mark grown = {0};
    hw_shown shown = {0};
    hw_map map = {0};
    hw_sight sight = {0};
    hw_status status = hw_picture_make(photo, &light, NULL, 300, NULL, &whole, err);
    status = status == HW_OK ? hw_picture_copy(&whole, &laid, err) : status;
    status = status == HW_OK ? hw_picture_reach(&whole, new, 10.0, &grown, err) : status;
    if (status == HW_OK) {
        hw_picture_lay(&laid, &grown, density);
        status = hw_picture_show(&laid, &shown, err);
    }
    status = status == HW_OK ? hw_picture_map(&laid, shop_old, NULL, &map, err) : status;
    status =
        status == HW_OK ? hw_picture_strip(photo, &light, &seam, 20.0, 100, &joint, err) : status;
    status = status == HW_OK ? hw_picture_see(&whole, 90.0, NULL, err) : status;
    if (status == HW_OK) {
        status = hw_picture_sight(&whole, &marks, hw_comparison_beside(&reading.comparisons, "new"),
                                  &sight, err);
    }
    with_memory();
    if (status == HW_OK) {
        tell_picture(told, &whole);
        tell_picture(told, &laid);
        tell_picture(told, &joint);
        hw_text_add(told, "%a %d %d %a %s %a\n", grown.points[0].x, shown.rgb[3000],
                    shown.rgb[50000], (double)map.de00[20000], sight.why_not, sight.patch_off);
    }
    hw_picture_free(&whole);
    hw_picture_free(&laid);
    hw_picture_free(&joint);
    hw_mark_free(&grown);
    hw_shown_free(&shown);
    hw_map_free(&map);
    return status;
}

// A way that is not by own tables.
static hw_status work_picture_of_tables(hw_text *told, hw_error *err)
{
    hw_photo *other = NULL;
    hw_picture made = {0};
    hw_status status = hw_photo_load(HW_TESTDATA "/outside/table-profile.png", NULL, &other, err);
    status = status == HW_OK ? hw_picture_make(other, &light, NULL, 30, NULL, &made, err) : status;
    with_memory();
    if (status == HW_OK) {
        tell_picture(told, &made);
    }
    hw_picture_free(&made);
    hw_photo_free(other);
    return status;
}

// ---- job ------------------------------------------------------------------------------

static hw_status add_reading(hw_job *job, const char *stored, double lightness, long *number,
                             hw_error *err)
{
    hw_photo_event event = {.marks = marks};
    hw_part_state state = {"new", HW_STATE_SEALED};
    char json[900];
    long of = 0;
    snprintf(event.stored, sizeof event.stored, "%s", stored);
    snprintf(event.view, sizeof event.view, "front");
    event.states = &state;
    event.state_count = 1;
    snprintf(
        json, sizeof json,
        "{\"samples\":[{\"name\":\"old left\",\"role\":\"target\",\"lab\":[50,12,25],"
        "\"standard_error\":[0.1,0.1,0.1]},{\"name\":\"new\",\"role\":\"patch\",\"lab\":[%.1f,"
        "9,25],\"standard_error\":[0.1,0.1,0.1]}],\"comparisons\":[{\"patch\":\"new\","
        "\"target\":\"beside\",\"de00\":4,\"de00_low\":3,\"de00_high\":5,\"delta\":{\"L\":%.1f,"
        "\"a\":-3,\"b\":0},\"verdict\":\"tone\"}]}",
        lightness, lightness - 50.0);
    hw_status status = hw_job_add_photo(job, &event, monday, &of, err);
    return status == HW_OK ? hw_job_add_reading(job, of, json, monday, number, err) : status;
}

static hw_status add_pass(hw_job *job, long *number, hw_error *err)
{
    char patches[1][HW_NAME_SIZE] = {"new"};
    hw_forecast forecast = {"new", {0.02, 0.1, 0.1}, {{{0.01, 0, 0}, {0, 0.01, 0}, {0, 0, 0.01}}}};
    hw_pass_event pass = {.patches = patches,
                          .patch_count = 1,
                          .liquid = {{{"red", 0.5}}, 1},
                          .passes = 1,
                          .minutes = 30,
                          .dye = {{"red", HW_FAMILY_RED, 0, {0.04, 0.2, 0.2}, 1.0, 0.4, true}},
                          .dye_count = 1,
                          .forecast = &forecast,
                          .forecast_count = 1};
    return hw_job_add_pass(job, &pass, monday, number, err);
}

static hw_status work_job(hw_text *told, hw_error *err)
{
    hw_job *job = NULL, *again = NULL;
    hw_observation *seen = NULL;
    size_t count = 0;
    long number = 0;
    char stored[96];
    hw_warnings asked = {0};
    run("rm -rf '%s'", job_path);
    hw_status status = hw_job_start(job_path, "Bench", monday, err);
    if (status == HW_OK) {
        status = hw_job_open(job_path, NULL, &job, err);
    }
    if (status == HW_OK) {
        status = hw_job_keep_photo(job, "photo", 5, "jpg", stored, err);
    }
    if (status == HW_OK) {
        status = add_reading(job, stored, 55.0, &number, err);
    }
    if (status == HW_OK) {
        status = add_pass(job, &number, err);
    }
    if (status == HW_OK) {
        status = add_reading(job, "photos/two.jpg", 52.0, &number, err);
    }
    if (status == HW_OK) {
        status = hw_job_observe(job, 0, &seen, &count, &asked, err);
    }
    if (status == HW_OK) {
        status = hw_job_open(job_path, NULL, &again, err);
    }
    with_memory();
    if (status == HW_OK) {
        // What was added to the opened job is what its folder says.
        hw_text_add(told, "%zu %zu %ld %zu %a\n", hw_job_event_count(job),
                    hw_job_event_count(again), number, count, count ? seen[0].density[1] : 0.0);
        check_true(hw_job_event_count(job) >= 6 &&
                   hw_job_event_count(again) == hw_job_event_count(job));
    } else if (job) {
        // What was refused left no half of it: all lines are whole.
        hw_job *left = NULL;
        check_true(hw_job_open(job_path, NULL, &left, NULL) == HW_OK);
        check_true(left && hw_job_warnings(left)->count == 0);
        check_true(left && hw_job_event_count(left) >= hw_job_event_count(job));
        hw_job_free(left);
    }
    hw_free_observations(seen);
    hw_job_free(job);
    hw_job_free(again);
    return status;
}

// What a logged coat did, of the job that is there by now.
static hw_status work_coats(hw_text *told, hw_error *err)
{
    hw_job *job = NULL;
    hw_steps_coats coats = {.to_come = false};
    hw_steps_belief belief = {.learned = false};
    hw_shelf learned = {0};
    hw_warnings warnings = {0};
    hw_limits limits = hw_steps_limits(NULL);
    remove_file(shelf_path);
    hw_status status = hw_shelf_put_dye(shelf_path, NULL, &shelf.dye[0], err);
    if (status == HW_OK) {
        status = hw_job_open(coats_path, NULL, &job, err);
    }
    if (status == HW_OK) {
        status = hw_steps_learn(job, shelf_path, 0, &limits, &learned, &warnings, err);
    }
    with_memory();
    if (status == HW_OK) { // where the shelf file could not be written that is a warning
        hw_steps_coats_of(job, &learned, &belief, hw_job_last_photo_of_patch(job, "new"),
                          hw_comparison_beside(&reading.comparisons, "new"), &coats);
        check_true(learned.coat_count == 1 && coats.ahead.seen == 1 && coats.ahead.elsewhere == 0);
        hw_text_add(told, "%a %a\n", learned.coat[0].density[1], coats.gap.gap.L);
        tell_lab(told, coats.ahead.patch_lab);
    }
    hw_shelf_free(&learned);
    hw_job_free(job);
    return status;
}

static hw_status work_shelf_file(hw_text *told, hw_error *err)
{
    hw_shelf loaded = {0};
    size_t gone = 0;
    hw_dye dye = hw_dye_guess(HW_FAMILY_BROWN);
    hw_coat_seen coat = {
        .job = "j", .event = 3, .part = "p", .photo_before = 1, .photo_after = 4, .coats = 1};
    hw_shelf shown = {.coat = &coat, .coat_count = 1};
    remove_file(shelf_path);
    hw_status status = hw_shelf_put_dye(shelf_path, NULL, &dye, err);
    if (status == HW_OK) {
        status = hw_shelf_keep_seen(shelf_path, NULL, &shown, err);
    }
    if (status == HW_OK) {
        status = hw_shelf_keep_seen(shelf_path, NULL, &shelf, err);
    }
    if (status == HW_OK) {
        status = hw_shelf_load(shelf_path, NULL, &loaded, err);
    }
    if (status == HW_OK) {
        status = hw_shelf_remove_dye(shelf_path, NULL, "red", &gone, err);
    }
    if (status == HW_OK) {
        status = hw_shelf_remove_coats(shelf_path, NULL, &gone, err);
    }
    with_memory();
    hw_text_add(told, "%zu %zu %zu\n", status == HW_OK ? loaded.count : 0,
                status == HW_OK ? loaded.seen_count : 0, gone);
    hw_shelf_free(&loaded);
    return status;
}

// Taught by steps in a photo, kept, known, used, forgotten.
static hw_status work_camera(hw_text *told, hw_error *err)
{
    const char *photos[1] = {photo_path};
    char cameras_path[600], path[1024], *text[3] = {NULL, NULL, NULL};
    snprintf(cameras_path, sizeof cameras_path, "%s/cameras.json", folder);
    hw_camera_request request = {
        .photo = photos,
        .photo_count = 1,
        .read = {
            .marks = marks, .lamp = "bench", .camera = "Alder C2", .cameras_path = cameras_path}};
    static hw_camera_lesson lesson;
    hw_camera *cameras = NULL;
    size_t count = 0, gone = 0;
    remove_file(cameras_path);
    hw_status status = hw_steps_camera_learn(&request, NULL, 1790000000, &lesson, err);
    if (status == HW_OK) {
        status = hw_steps_cameras(cameras_path, NULL, 1790000060, &cameras, &count, path,
                                  sizeof path, err);
    }
    if (status == HW_OK) {
        status = hw_report_cameras_text(cameras, count, path, &text[0], err);
    }
    if (status == HW_OK) {
        status = hw_report_cameras_json(cameras, count, path, &text[1], err);
    }
    if (status == HW_OK) {
        status = hw_report_lesson_json(&lesson.camera, 1, &lesson.warnings, &text[2], err);
    }
    if (status == HW_OK) {
        status = hw_steps_camera_forget(cameras_path, "Alder C2", NULL, NULL, &gone, err);
    }
    with_memory();
    for (int i = 0; i < 3; i++) {
        if (status == HW_OK) {
            hw_text_add(told, "%s", text[i]);
        }
        hw_report_free(text[i]);
    }
    check_true(status != HW_OK || gone == 1);
    hw_steps_cameras_free(cameras);
    return status;
}

// A photo's own copy of what was learned, through the log.
static hw_status work_camera_in_log(hw_text *told, hw_error *err)
{
    hw_camera camera = {.camera = "Alder C2",
                        .lamp = "bench",
                        .photos = 1,
                        .learned_at = 1790000000,
                        .doubt = {{{0.004, 0, 0}, {0, 0.002, 0}, {0, 0, 1e-5}}},
                        .scatter = 1.0,
                        .light_high = 0.8};
    hw_photo_event event = {.stored = "photos/one.jpg", .view = "front", .camera = &camera};
    hw_job *job = NULL;
    long number = 0;
    char path[700];
    snprintf(path, sizeof path, "%s/camera job", folder);
    run("rm -rf '%s'", path);
    hw_status status = hw_job_start(path, "Lid", monday, err);
    if (status == HW_OK) {
        status = hw_job_open(path, NULL, &job, err);
    }
    if (status == HW_OK) {
        event.marks = marks;
        status = hw_job_add_photo(job, &event, 1790000001, &number, err);
    }
    with_memory();
    if (status == HW_OK) {
        const hw_photo_event *added = hw_job_photo_event(job, number);
        check_true(added->camera && added->camera->photos == 1);
        hw_text_add(told, "%a %s\n", added->camera->light_high, added->camera->lamp);
    }
    hw_job_free(job);
    return status;
}

// ---- report ---------------------------------------------------------------------------

static hw_status work_report_reading(hw_text *told, hw_error *err)
{
    char *text = NULL, *json = NULL;
    hw_status status = hw_report_reading_text(&reading, &all_of_it, &text, err);
    if (status == HW_OK) {
        status = hw_report_reading_json(&reading, &json, err);
    }
    with_memory();
    tell_text(told, text);
    tell_text(told, json);
    return status;
}

static hw_status work_report_advice(hw_text *told, hw_error *err)
{
    char *text = NULL, *json = NULL;
    hw_day day = {.advice = &advice, .count = 1, .for_all = true, .cautions_full = true};
    hw_warn(&day.warnings, "A warning.");
    hw_status status = hw_report_advice_text(&day, &all_of_it, &text, err);
    if (status == HW_OK) {
        status = hw_report_advice_json(&day, &json, err);
    }
    with_memory();
    tell_text(told, text);
    tell_text(told, json);
    return status;
}

static hw_status work_report_shelf(hw_text *told, hw_error *err)
{
    char *text[5] = {NULL};
    hw_dye dye = hw_board_dye(&board);
    hw_dye_change change = HW_DYE_ADDED;
    hw_error refused = {0};
    (void)hw_fail(&refused, HW_ERR_INPUT, "photo-empty", "a.jpg", "Copy it again.", "it is empty");
    hw_status status = hw_report_shelf_text(&shelf, &known, "shelf.json", &text[0], err);
    if (status == HW_OK) {
        status = hw_report_shelf_json(&shelf, &known, "shelf.json", &text[1], err);
    }
    if (status == HW_OK) {
        status = hw_report_boards_text(&board, &dye, &change, 1, NULL, &all_of_it, &text[2], err);
    }
    if (status == HW_OK) {
        status = hw_report_boards_json(&board, &dye, &change, 1, NULL, &text[3], err);
    }
    if (status == HW_OK) {
        status = hw_report_error_json(&refused, &text[4], err);
    }
    with_memory();
    for (int i = 0; i < 5; i++) {
        tell_text(told, text[i]);
    }
    return status;
}

// Of the job that the steps made.
// A job as it stands, and at a glance.
static hw_status work_overview(hw_text *told, hw_error *err)
{
    hw_overview overview = {0};
    hw_glance glance = {0};
    char *json = NULL;
    hw_status status = hw_steps_overview(job_path, NULL, monday, &overview, err);
    if (status == HW_OK) {
        status = hw_report_overview_json(&overview, "job", &json, err);
    }
    if (status == HW_OK) {
        status = hw_job_glance(job_path, NULL, &glance, err);
    }
    with_memory();
    tell_text(told, json);
    hw_text_add(told, "%s %zu %zu", glance.title, glance.photos, glance.repair_count);
    hw_glance_free(&glance);
    hw_overview_free(&overview);
    return status;
}

static hw_status work_report_history(hw_text *told, hw_error *err)
{
    hw_job *job = NULL;
    char *text = NULL, *json = NULL;
    hw_status status = hw_steps_history(job_path, NULL, &job, err);
    if (status == HW_OK) {
        status = hw_report_history_text(job, NULL, &text, err);
    }
    if (status == HW_OK) {
        status = hw_report_history_json(job, NULL, &json, err);
    }
    with_memory();
    tell_text(told, text);
    tell_text(told, json);
    hw_job_free(job);
    return status;
}

// ---- steps ----------------------------------------------------------------------------

static hw_status work_read(hw_text *told, hw_error *err)
{
    hw_reading read = {0};
    hw_read_request request = {.photo_path = photo_path,
                               .marks = marks,
                               .sheet_path = sheet_path,
                               .distance_mm = 1500.0,
                               .card_mm = {80.0, 80.0}};
    hw_status status = hw_steps_read(&request, NULL, &read, err);
    with_memory();
    if (status == HW_OK) {
        tell_reading(told, &read);
    }
    hw_reading_free(&read);
    return status;
}

// Repeat shots of which one lies off; and the same from two sides.
static hw_status work_shots(hw_text *told, hw_error *err)
{
    const char *more[2] = {photo_again, photo_two};
    hw_sides sides = {0};
    hw_read_request request[2] = {{.photo_path = photo_path,
                                   .marks = marks,
                                   .more_paths = more,
                                   .more_count = 2,
                                   .from = HW_FROM_LEFT},
                                  {.photo_path = photo_two, .from = HW_FROM_RIGHT}};
    char *text = NULL, *json = NULL;
    hw_report_style style = {.why = true};
    hw_status status = hw_steps_read_sides(request, 2, NULL, &sides, err);
    if (status == HW_OK) {
        status = hw_report_sides_text(sides.reading, sides.count, sides.pair, sides.pair_count,
                                      &style, &text, err);
    }
    if (status == HW_OK) {
        status = hw_report_sides_json(sides.reading, sides.count, sides.pair, sides.pair_count,
                                      &json, err);
    }
    with_memory();
    tell_text(told, text);
    tell_text(told, json);
    hw_sides_free(&sides);
    return status;
}

// The job as the steps below find it: one photo and a pass on it.
static char kept_job[700], kept_shelf[700], seen_job[700]; // seen: with a photo after the pass
static long kept_pass;                                     // number of its event

// On the bench: the second photo of the job's view, its marks carried, its card borne out; read, looked at, ringed.
static hw_status work_open(hw_text *told, hw_error *err)
{
    hw_opened opened = {0};
    hw_reading read = {0};
    hw_marks spots = {0};
    hw_shown shown = {0};
    hw_json *tree = NULL;
    char *jpeg = NULL, *json = NULL, *where = NULL;
    size_t count = 0;
    hw_open_request request = {.path = photo_again, .folder = kept_job, .view = "lid"};
    hw_bench_request asked = {.lamp = "bench"};
    hw_status status = hw_steps_open(&request, NULL, monday + 20, &opened, err);
    if (status == HW_OK) {
        status = hw_steps_open_read(&opened, &asked, NULL, monday + 20, &read, err);
    }
    if (status == HW_OK) {
        status = hw_report_shown_tree(&read, &tree, err);
    }
    if (status == HW_OK) {
        status = hw_json_print(tree, false, &json, err);
    }
    if (status == HW_OK) {
        status = hw_steps_open_ring(&opened, &opened.marks, "new", &spots, err);
    }
    if (status == HW_OK) {
        status = hw_marks_text(&spots, &where, err);
    }
    if (status == HW_OK) {
        status = hw_steps_open_picture(opened.photo, &read.light, 120, &shown, err);
    }
    if (status == HW_OK) {
        status = hw_report_shown_jpeg(&shown, &jpeg, &count, err);
    }
    with_memory();
    if (status == HW_OK) {
        hw_text_add(told, "%s %s %s %zu %s%s", hw_placed_name(opened.wood),
                    hw_placed_name(opened.card), opened.why, count, where, json);
    }
    hw_report_free(json);
    hw_marks_text_free(where);
    hw_report_free(jpeg);
    hw_shown_free(&shown);
    hw_marks_free(&spots);
    hw_json_free(tree);
    hw_reading_free(&read);
    hw_opened_free(&opened);
    return status;
}

static void fresh_job(void)
{
    char from[4000];
    snprintf(from, sizeof from, "rm -rf '%s' && cp -r '%s' '%s' && cp '%s' '%s'", job_path,
             kept_job, job_path, kept_shelf, shelf_path);
    check_true(system(from) == 0);
}

// Refused: what the folder held it holds, line by line, and perhaps more.
static void still_whole(hw_status status)
{
    hw_job *left = NULL;
    if (status != HW_OK) {
        check_true(hw_job_open(job_path, NULL, &left, NULL) == HW_OK);
        check_true(left && hw_job_warnings(left)->count == 0 && hw_job_event_count(left) >= 4);
        hw_job_free(left);
    }
}

static hw_status work_photo(hw_text *told, hw_error *err)
{
    hw_photo_result result = {0};
    const char *more[1] = {photo_again};
    hw_photo_request request = {
        .folder = job_path,
        .read = {.photo_path = photo_two, .more_paths = more, .more_count = 1},
        .view = "lid",
        .shelf_path = shelf_path};
    fresh_job();
    hw_status status = hw_steps_photo(&request, NULL, monday + 90000, &result, err);
    with_memory();
    // Once the photo is saved that stays so: what is learned from it comes after, and is told apart.
    for (size_t i = 0; status == HW_OK && i < result.warnings.count; i++) {
        if (strstr(result.warnings.text[i], ": memory: the computer's memory ran out")) {
            status = hw_fail(err, HW_ERR_STORAGE, "memory-out", "shelf", "(told as a warning)",
                             "%s", result.warnings.text[i]);
        }
    }
    if (status == HW_OK) {
        hw_shelf learned = {0};
        tell_reading(told, &result.reading);
        tell_warnings(told, &result.warnings);
        check_true(hw_shelf_load(shelf_path, NULL, &learned, NULL) == HW_OK);
        hw_text_add(told, "%d %zu\n", result.marks_reused, learned.seen_count);
        hw_shelf_free(&learned);
    }
    still_whole(status);
    hw_photo_result_free(&result);
    return status;
}

static hw_status work_ask(hw_text *told, hw_error *err)
{
    hw_day result = {0};
    hw_advise_request request = {.folder = job_path, .shelf_path = shelf_path};
    hw_question question = {0};
    hw_photo_request next = {.folder = job_path,
                             .read = {.photo_path = photo_two},
                             .view = "lid",
                             .shelf_path = shelf_path};
    fresh_job();
    hw_status status = hw_steps_question(&next, NULL, &question, err);
    if (status == HW_OK) {
        status = hw_steps_advise(&request, NULL, monday + 100000, &result, err);
    }
    with_memory();
    if (status == HW_OK) {
        char *text = NULL;
        result.cautions_full = false;
        check_true(hw_report_advice_json(&result, &text, NULL) == HW_OK);
        tell_text(told, text);
        hw_text_add(told, "%d %s\n", question.asked, question.words);
    }
    still_whole(status);
    hw_day_free(&result);
    return status;
}

static hw_status work_drawing(hw_showing_kind kind, hw_text *told, hw_error *err)
{
    hw_picture_request request = {.folder = seen_job,
                                  .kind = kind,
                                  .shelf_path = kept_shelf,
                                  .distance_mm = kind == HW_SHOW_MAP ? 1500.0 : 0.0};
    hw_showing showing = {0};
    char *svg = NULL;
    hw_status status = hw_steps_picture(&request, NULL, &showing, err);
    if (status == HW_OK) {
        status = hw_report_showing_svg(&showing, &svg, err);
    }
    with_memory();
    if (status == HW_OK) {
        tell_text(told, svg);
    }
    hw_showing_free(&showing);
    return status;
}

static hw_status work_looks(hw_text *told, hw_error *err)
{
    return work_drawing(HW_SHOW_LOOKS, told, err);
}

static hw_status work_map(hw_text *told, hw_error *err)
{
    return work_drawing(HW_SHOW_MAP, told, err);
}

static hw_status work_seam(hw_text *told, hw_error *err)
{
    return work_drawing(HW_SHOW_SEAM, told, err);
}

static hw_status work_piece(hw_text *told, hw_error *err)
{
    return work_drawing(HW_SHOW_PIECE, told, err);
}

static hw_status work_report(hw_text *told, hw_error *err)
{
    hw_report_request request = {.folder = seen_job, .shelf_path = kept_shelf};
    hw_account account = {0};
    char *html = NULL;
    hw_status status = hw_steps_report(&request, NULL, monday + 100000, &account, err);
    if (status == HW_OK) {
        status = hw_report_html(&account, HW_FOR_SHOP, &html, err);
    }
    with_memory();
    if (status == HW_OK) {
        tell_text(told, html);
    }
    hw_account_free(&account);
    return status;
}

static hw_status work_pass(hw_text *told, hw_error *err)
{
    char patches[1][HW_NAME_SIZE] = {"new"};
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    hw_pass_request request = {.folder = job_path,
                               .pass = {.patches = patches,
                                        .patch_count = 1,
                                        .liquid = {{{"red", 0.25}}, 1},
                                        .passes = 1,
                                        .minutes = 30},
                               .shelf_path = shelf_path};
    fresh_job();
    hw_status status = hw_steps_pass(&request, NULL, monday + 95000, &job, &warnings, err);
    with_memory();
    if (status == HW_OK) {
        tell_job(told, job);
        tell_warnings(told, &warnings);
    }
    still_whole(status);
    hw_job_free(job);
    return status;
}

// Once a line is saved that stays so: what is learned after it, and failed, is told as a warning.
static hw_status or_warning(hw_status status, const hw_warnings *warnings, hw_error *err)
{
    for (size_t i = 0; status == HW_OK && i < warnings->count; i++) {
        if (strstr(warnings->text[i], "is saved, but")) {
            status = hw_fail(err, HW_ERR_STORAGE, "memory-out", "shelf", "(told as a warning)",
                             "%s", warnings->text[i]);
        }
    }
    return status;
}

// A coat, a taking off, a jar, a note and an approval, one after the other.
static hw_status work_log(hw_text *told, hw_error *err)
{
    static char parts[1][HW_NAME_SIZE] = {"new"};
    static hw_part_area area = {"new", 120.0};
    const hw_event events[] = {
        {.kind = HW_EVENT_COAT_LAID, .of.coat = {.coat = HW_COAT_BARRIER}},
        {.kind = HW_EVENT_TAKEN_OFF, .of.takeoff = {.parts = parts, .part_count = 1}},
        {.kind = HW_EVENT_JAR_MIXED, .of.jar = {.liquid = {{{"red", 0.25}}, 1}}},
        {.kind = HW_EVENT_NOTE, .of.note = {.text = "hinge side first", .part = "new"}},
        {.kind = HW_EVENT_APPROVAL, .of.approval = {.by = "customer", .lamp = "hall"}},
        {.kind = HW_EVENT_SETTING,
         .of.setting = {.recoat_minutes = 30.0, .areas = &area, .area_count = 1}},
    };
    hw_status status = HW_OK;
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    fresh_job();
    for (size_t i = 0; i < sizeof events / sizeof *events && status == HW_OK; i++) {
        hw_log_request request = {
            .folder = job_path, .event = &events[i], .shelf_path = shelf_path};
        char *text = NULL;
        hw_job_free(job);
        job = NULL;
        status = hw_steps_log(&request, NULL, monday + 95000, &job, &warnings, err);
        if (status == HW_OK) {
            const hw_event *last = hw_job_event(job, hw_job_event_count(job) - 1);
            status = hw_report_logged_text(last, &warnings, &text, err);
        }
        hw_report_free(text);
    }
    with_memory();
    if (status == HW_OK) {
        tell_job(told, job);
        tell_warnings(told, &warnings);
    }
    still_whole(status);
    hw_job_free(job);
    return status;
}

// A jar with its volume, how it is mixed, a pass out of it, and what is known of it.
static hw_status work_jar(hw_text *told, hw_error *err)
{
    static char parts[1][HW_NAME_SIZE] = {"new"};
    hw_event event = {.kind = HW_EVENT_JAR_MIXED,
                      .of.jar = {.liquid = {{{"red", 0.25}}, 1}, .volume_ml = 200.0}};
    hw_log_request request = {.folder = job_path, .event = &event, .shelf_path = shelf_path};
    hw_pass_request pass = {
        .folder = job_path,
        .pass = {.patches = parts, .patch_count = 1, .jar = 1, .passes = 1, .minutes = (double)NAN},
        .shelf_path = shelf_path};
    hw_job *job = NULL;
    hw_known jars = {0};
    hw_mix mix;
    hw_warnings warnings = {0};
    char *text = NULL, *json = NULL;
    fresh_job();
    hw_status status = hw_steps_log_jar(&request, NULL, monday + 95000, &job, &mix, &warnings, err);
    if (status == HW_OK) {
        const hw_event *last = hw_job_event(job, hw_job_event_count(job) - 1);
        status = hw_report_jar_text(last, &mix, &warnings, &text, err);
        if (status == HW_OK) {
            status = hw_report_jar_json(job, last, &mix, &warnings, &json, err);
        }
        hw_job_free(job);
        job = NULL;
    }
    if (status == HW_OK) {
        status = hw_steps_pass(&pass, NULL, monday + 95001, &job, &warnings, err);
    }
    if (status == HW_OK) {
        status = or_warning(hw_steps_jars(job, shelf_path, NULL, &jars, err), &warnings, err);
    }
    with_memory();
    if (status == HW_OK) {
        tell_text(told, text);
        tell_text(told, json);
        hw_text_add(told, "%zu jars known\n", jars.jar_count);
        tell_job(told, job);
    } else {
        hw_report_free(text);
        hw_report_free(json);
    }
    still_whole(status);
    hw_known_free(&jars);
    hw_job_free(job);
    return status;
}

// Whatever the shelf could not take is told; here that is a failure.
static hw_status work_carry(hw_text *told, hw_error *err)
{
    char next[740], *text = NULL, *json = NULL;
    hw_carried carried = {0};
    hw_event event = {.kind = HW_EVENT_JAR_MIXED, .of.jar = {.liquid = {{{"red", 0.25}}, 1}}};
    hw_log_request jar = {.folder = job_path, .event = &event, .shelf_path = shelf_path};
    hw_warnings warnings = {0};
    hw_job *job = NULL;
    snprintf(next, sizeof next, "%s next", job_path);
    hw_start_request request = {
        .folder = next, .title = "Next", .from = job_path, .shelf_path = shelf_path};
    fresh_job();
    run("rm -rf '%s'", next);
    hw_status status = hw_steps_log(&jar, NULL, monday + 95000, &job, &warnings, err);
    hw_job_free(job);
    if (status == HW_OK) {
        status = hw_steps_start_from(&request, NULL, monday + 95001, &carried, err);
    }
    if (status == HW_OK) {
        status = hw_report_carried_text(&carried, &text, err);
    }
    if (status == HW_OK) {
        status = hw_report_carried_json(&carried, &json, err);
    }
    for (size_t i = 0; status == HW_OK && i < carried.warnings.count; i++) {
        if (strstr(carried.warnings.text[i], "shelf could not")) {
            status = hw_fail(err, HW_ERR_STORAGE, "memory-out", "shelf", "(told as a warning)",
                             "%s", carried.warnings.text[i]);
        }
    }
    with_memory();
    if (status == HW_OK) {
        hw_text_add(told, "%zu %zu\n", hw_job_event_count(carried.job), carried.dye_count);
        hw_text_add(told, "%zu %d\n", strlen(text), json[0]); // an id of chance is in them
    }
    hw_report_free(text);
    hw_report_free(json);
    still_whole(status);
    hw_carried_free(&carried);
    return status;
}

// The pass corrected, then withdrawn; the repair renamed.
static hw_status work_fix(hw_text *told, hw_error *err)
{
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    long number = 0;
    fresh_job();
    hw_fix_request other = {.folder = job_path,
                            .event = kept_pass,
                            .passes = 3,
                            .note = "counted again",
                            .shelf_path = shelf_path};
    hw_status status = hw_steps_fix(&other, NULL, monday + 95000, &job, &number, &warnings, err);
    if (status == HW_OK) {
        hw_fix_request gone = {
            .folder = job_path, .event = number, .withdraw = true, .shelf_path = shelf_path};
        hw_job_free(job);
        job = NULL;
        status = hw_steps_fix(&gone, NULL, monday + 95001, &job, &number, &warnings, err);
    }
    if (status == HW_OK) {
        hw_job_free(job);
        job = NULL;
        hw_rename_request name = {
            .folder = job_path, .was = "new", .part = "inlay", .shelf_path = shelf_path};
        status = hw_steps_rename(&name, NULL, monday + 95002, &job, &warnings, err);
    }
    with_memory();
    status = or_warning(status, &warnings, err);
    if (status == HW_OK) {
        tell_job(told, job);
        tell_warnings(told, &warnings);
    }
    still_whole(status);
    hw_job_free(job);
    return status;
}

static const char spots[] =
    "name,L*,a*,b*\ncard,50,0,0.2\nnew,54,9,25\nnew,55,9.5,26\nold,50,12,25\n";
static const char spectra[] =
    "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n"
    "one 50 1 2\n\"two three\" 40 3 4\nEND_DATA\n";

static hw_status work_import(hw_text *told, hw_error *err)
{
    char path[700];
    hw_job *job = NULL;
    hw_reading measured = {0};
    hw_warnings warnings = {0};
    char *text = NULL, *json = NULL;
    long number = 0;
    fresh_job();
    snprintf(path, sizeof path, "%s/spots.csv", folder);
    FILE *file = fopen(path, "wb");
    check_true(file && fputs(spots, file) >= 0 && fclose(file) == 0);
    hw_import_request request = {.folder = job_path, .path = path, .shelf_path = shelf_path};
    hw_status status =
        hw_steps_import(&request, NULL, monday + 95000, &job, &number, &measured, &warnings, err);
    if (status == HW_OK) {
        status = hw_report_import_text(job, number, &measured, &warnings, &all_of_it, &text, err);
    }
    if (status == HW_OK) {
        status = hw_report_import_json(job, number, &measured, &warnings, &json, err);
    }
    with_memory();
    status = or_warning(status, &warnings, err);
    tell_text(told, text);
    tell_text(told, json);
    if (status == HW_OK) {
        tell_job(told, job);
    }
    still_whole(status);
    hw_reading_free(&measured);
    hw_job_free(job);
    return status;
}

// Of the job as the work before it left it.
static hw_status work_export(hw_text *told, hw_error *err)
{
    hw_job *job = NULL;
    hw_job_lines lines = {0};
    char *text[3] = {NULL};
    hw_status status = hw_steps_export(job_path, NULL, &job, &lines, err);
    if (status == HW_OK) {
        status = hw_report_export_csv(job, &text[0], err);
    }
    if (status == HW_OK) {
        status = hw_report_export_json(job, &lines, &text[1], err);
    }
    if (status == HW_OK) {
        status = hw_report_export_cgats(job, monday, &text[2], err);
    }
    with_memory();
    for (int i = 0; i < 3; i++) {
        tell_text(told, text[i]);
    }
    hw_job_lines_free(&lines);
    hw_job_free(job);
    return status;
}

static hw_status work_check(hw_text *told, hw_error *err)
{
    hw_job_checked checked = {0};
    char *text = NULL;
    hw_status status = hw_steps_check(job_path, NULL, &checked, err);
    if (status == HW_OK) {
        status = hw_report_check_text(job_path, &checked, &all_of_it, &text, err);
    }
    with_memory();
    tell_text(told, text);
    hw_job_checked_free(&checked);
    return status;
}

static hw_status work_measure(hw_text *told, hw_error *err)
{
    const char *const files[2] = {spots, spectra};
    hw_measured measured[2] = {{0}};
    hw_measured_groups groups[2] = {{0}};
    hw_status status = HW_OK;
    for (int i = 0; i < 2 && status == HW_OK; i++) {
        status = hw_measure_parse(files[i], strlen(files[i]), "spots", NULL, &measured[i], err);
        if (status == HW_OK) {
            status = hw_measure_group(&measured[i], &groups[i], err);
        }
    }
    with_memory();
    for (int i = 0; i < 2; i++) {
        for (size_t k = 0; status == HW_OK && k < groups[i].count; k++) {
            hw_text_add(told, "%s %zu\n", groups[i].group[k].name, groups[i].group[k].count);
            tell_lab(told, groups[i].group[k].lab);
        }
        hw_measured_groups_free(&groups[i]);
        hw_measured_free(&measured[i]);
    }
    return status;
}

static hw_status work_start(hw_text *told, hw_error *err)
{
    run("rm -rf '%s'", job_path);
    hw_status status = hw_steps_start(job_path, "Bench", monday, err);
    with_memory();
    hw_text_add(told, "%d\n", hw_file_exists(job_path));
    return status;
}

static hw_status work_stepboard(hw_text *told, hw_error *err)
{
    const char *dyes[1] = {"cherry=red"};
    hw_taught result = {0};
    hw_stepboard_request request = {.read = {.photo_path = board_path, .marks = board_marks},
                                    .shelf_path = shelf_path,
                                    .dye = dyes,
                                    .dye_count = 1,
                                    .entry = "entry-of-the-board-1"};
    hw_shelf found = {0};
    size_t gone = 0;
    char used[700];
    remove_file(shelf_path);
    hw_status status = hw_steps_stepboard(&request, NULL, monday, &result, err);
    if (status == HW_OK) {
        status = hw_steps_shelf(shelf_path, NULL, &found, used, sizeof used, err);
    }
    if (status == HW_OK) {
        status = hw_steps_shelf_remove(shelf_path, "cherry", NULL, &gone, err);
    }
    with_memory();
    if (status == HW_OK) {
        hw_text_add(told, "%a %zu %s\n", result.board[0].density[1], found.count,
                    found.dye[0].name);
        tell_warnings(told, &result.warnings);
    }
    hw_shelf_free(&found);
    hw_taught_free(&result);
    return status;
}

static hw_status work_typed_dye(hw_text *told, hw_error *err)
{
    hw_dye_request request = {.shelf_path = shelf_path,
                              .name = "birch",
                              .family = "amber",
                              .steps = "62,12,28 59.6,12.9,29"};
    hw_board made = {0};
    hw_dye dye;
    hw_dye_change change;
    remove_file(shelf_path);
    hw_status status = hw_steps_shelf_add(&request, NULL, monday, &dye, &change, &made, err);
    with_memory();
    if (status == HW_OK) {
        hw_text_add(told, "%s %a %d\n", dye.name, dye.density[0], (int)change);
    }
    hw_board_free(&made);
    return status;
}

// ---- Each allocation in turn ------------------------------------------------------------

typedef struct work {
    const char *stage;
    hw_status (*run)(hw_text *told, hw_error *err);
} work;

static const work works[] = {
    {"base", work_text},
    {"base", work_json},
    {"base", work_files},
    {"colour", work_colour},
    {"photo", work_jpeg},
#ifdef HW_HEIF
    {"photo", work_heic},
#endif
#ifdef HW_RAW
    {"photo", work_raw},
#endif
    {"photo", work_profile_in_parts},
    {"photo", work_profile_packed},
    {"photo", work_profile_of_tables},
    {"photo", work_profile_rubbish},
    {"photo", work_gamma},
    {"mark", work_marks},
    {"mark", work_find},
    {"mark", work_carry_marks},
    {"card", work_card},
    {"sample", work_sample},
    {"compare", work_compare},
    {"tone", work_learn},
    {"tone", work_advise},
    {"tone", work_foresee},
    {"tone", work_sheet},
    {"tone", work_board},
    {"picture", work_picture},
    {"picture", work_picture_of_tables},
    {"job", work_job},
    {"job", work_shelf_file},
    {"steps", work_camera},
    {"job", work_camera_in_log},
    {"steps", work_coats},
    {"report", work_report_reading},
    {"report", work_report_advice},
    {"report", work_report_shelf},
    {"steps", work_read},
    {"steps", work_shots},
    {"steps", work_open},
    {"steps", work_photo},
    {"steps", work_ask},
    {"steps", work_looks},
    {"steps", work_map},
    {"steps", work_seam},
    {"steps", work_piece},
    {"steps", work_report},
    {"steps", work_pass},
    {"report", work_overview},
    {"report", work_report_history}, // of the job that is there by now
    {"measure", work_measure},
    {"steps", work_log},
    {"steps", work_jar},
    {"steps", work_carry},
    {"steps", work_fix},
    {"steps", work_import},
    {"report", work_export},
    {"job", work_check},
    {"steps", work_start},
    {"steps", work_stepboard},
    {"steps", work_typed_dye},
};

// True: this run had all the memory that it asked for.
static bool run_without(const work *one, size_t index, long n, bool once, const hw_text *want)
{
    hw_text told = {0};
    hw_error err = {0};
    (once ? hw_test_fail_alloc_once : hw_test_fail_alloc)(n);
    hw_status status = one->run(&told, &err);
    bool whole = asked_for <= n, words = err.code[0] && err.what[0] && err.next[0];
    bool same = told.length == want->length &&
                (told.length == 0 || memcmp(told.bytes, want->bytes, told.length) == 0);
    bool refused = status == HW_ERR_STORAGE && err.status == status && words;
    if (!check_true(status == HW_OK ? same : refused && !whole)) {
        printf("%s, work %zu, allocation %ld failing %s: status %d, %s: %s%s\n", one->stage, index,
               n, once ? "alone" : "and all after it", (int)status, err.code, err.what,
               status == HW_OK ? "\nanother result" : "");
        for (size_t i = 0; status == HW_OK && i < told.length; i++) {
            if (i >= want->length || told.bytes[i] != want->bytes[i]) {
                size_t from = i < 60 ? 0 : i - 60;
                printf("%.160s\n-- instead of --\n%.160s\n", told.bytes + from, want->bytes + from);
                break;
            }
        }
    }
    hw_text_free(&told);
    return whole;
}

static long fail_in_turn(size_t index, bool all)
{
    const work *one = &works[index];
    hw_text want = {0};
    hw_error err = {0};
    long failed = 0, n = 0;
    hw_test_fail_alloc(-1);
    if (!check_true(one->run(&want, &err) == HW_OK && !want.failed)) {
        printf("%s, work %zu: %s: %s\n", one->stage, index, err.code, err.what);
        return 0;
    }
    for (bool whole = false; !whole && n < 1000000; n += all || n < 24 ? 1 : 1 + n / 4) {
        bool once = run_without(one, index, n, true, &want);
        whole = run_without(one, index, n, false, &want);
        failed += !once + !whole;
    }
    hw_text_free(&want);
    return failed;
}

// ---- Before and after -------------------------------------------------------------------

static void make_shelf(void)
{
    hw_observation seen = {.job = "j",
                           .event = 1,
                           .patch = "p",
                           .wood = shop_old,
                           .laid = {{"red", 0, 1, 1, "j/1"}},
                           .laid_count = 1,
                           .density = {0.03, 0.15, 0.16},
                           .covariance = {{{0.01, 0, 0}, {0, 0.01, 0}, {0, 0, 0.01}}}};
    hw_shelf shown = {.seen = &seen, .seen_count = 1};
    check_true(hw_shelf_guesses(&shelf, NULL) == HW_OK);
    check_true(hw_shelf_take_seen(&shelf, &shown, NULL, NULL) == HW_OK);
    check_true(hw_tone_learn(&shelf, "", shop_old, &known, NULL) == HW_OK);
}

static void make_job(void)
{
    hw_photo_result result = {0};
    hw_photo_request request = {.folder = kept_job,
                                .read = {.photo_path = photo_path, .marks = marks},
                                .view = "lid",
                                .shelf_path = kept_shelf};
    hw_dye red = hw_dye_guess(HW_FAMILY_RED);
    check_true(hw_shelf_put_dye(kept_shelf, NULL, &red, NULL) == HW_OK);
    run("rm -rf '%s'", kept_job);
    check_true(hw_steps_start(kept_job, "Bench", monday, NULL) == HW_OK);
    check_true(hw_steps_photo(&request, NULL, monday + 10, &result, NULL) == HW_OK);
    hw_photo_result_free(&result);
    hw_job *job = NULL;
    long number = 0;
    check_true(hw_job_open(kept_job, NULL, &job, NULL) == HW_OK);
    check_true(add_pass(job, &number, NULL) == HW_OK);
    kept_pass = number;
    hw_job_free(job);
    char copy[3000];
    snprintf(copy, sizeof copy, "rm -rf '%s' && cp -r '%s' '%s'", seen_job, kept_job, seen_job);
    check_true(system(copy) == 0);
    request.folder = seen_job;
    request.read.photo_path = photo_two;
    check_true(hw_steps_photo(&request, NULL, monday + 90000, &result, NULL) == HW_OK);
    hw_photo_result_free(&result);
    hw_setting_event card = {.card_mm = {86.0, 86.0}};
    check_true(hw_job_open(seen_job, NULL, &job, NULL) == HW_OK);
    check_true(hw_job_add_setting(job, &card, monday + 90010, &number, NULL) == HW_OK);
    hw_job_free(job);
}

static void make_coats(void)
{
    char parts[1][HW_NAME_SIZE] = {"new"};
    hw_coat_event coat = {.coat = HW_COAT_CLEAR, .parts = parts, .part_count = 1};
    hw_setting_event setting = {.coats_over = HW_COATS_REPAIRS, .coats = 3};
    hw_job *job = NULL;
    long number = 0;
    check_true(hw_job_start(coats_path, "Coats", monday, NULL) == HW_OK &&
               hw_job_open(coats_path, NULL, &job, NULL) == HW_OK &&
               hw_job_add_setting(job, &setting, monday, &number, NULL) == HW_OK &&
               add_reading(job, "photos/one.jpg", 55.0, &number, NULL) == HW_OK &&
               hw_job_add_coat(job, &coat, monday, &number, NULL) == HW_OK &&
               add_reading(job, "photos/two.jpg", 54.0, &number, NULL) == HW_OK);
    hw_job_free(job);
}

static void make_all(void)
{
    hw_strip strips[5];
    hw_card_options options = {0};
    hw_tone_request request;
    snprintf(folder, sizeof folder, "%s/memory %ld", HW_SCRATCH, (long)getpid());
    snprintf(photo_path, sizeof photo_path, "%s/one.png", folder);
    snprintf(photo_again, sizeof photo_again, "%s/again.png", folder);
    snprintf(photo_two, sizeof photo_two, "%s/two.png", folder);
    snprintf(sheet_path, sizeof sheet_path, "%s/sheet.png", folder);
    snprintf(board_path, sizeof board_path, "%s/board.png", folder);
    snprintf(shelf_path, sizeof shelf_path, "%s/shelf.json", folder);
    snprintf(job_path, sizeof job_path, "%s/job", folder);
    snprintf(coats_path, sizeof coats_path, "%s/coats", folder);
    snprintf(kept_job, sizeof kept_job, "%s/kept job", folder);
    snprintf(seen_job, sizeof seen_job, "%s/seen job", folder);
    snprintf(kept_shelf, sizeof kept_shelf, "%s/kept shelf.json", folder);
    run("rm -rf '%s' && mkdir -p '%s'", folder);
    make_photos();
    make_wood();
    check_true(hw_photo_load(photo_path, NULL, &photo, NULL) == HW_OK);
    check_true(hw_photo_load(sheet_path, NULL, &sheet, NULL) == HW_OK);
    check_true(hw_card_read(photo, &marks, &options, &light, NULL) == HW_OK);
    hw_read_request read = {.photo_path = photo_path, .marks = marks};
    check_true(hw_steps_read(&read, NULL, &reading, NULL) == HW_OK);
    make_shelf();
    make_strips(strips);
    check_true(hw_board_fit("cherry", strips, 5, &board, NULL) == HW_OK);
    request = wish();
    check_true(hw_tone_advise(&request, &advice, NULL) == HW_OK && advice.has_next);
    make_job();
    make_coats();
}

static void free_all(void)
{
    hw_marks_text_free(marks_json);
    hw_marks_free(&marks);
    hw_marks_free(&board_marks);
    hw_marks_free(&wood_marks);
    hw_photo_free(wood_still);
    hw_photo_free(wood_moved);
    hw_photo_free(photo);
    hw_photo_free(sheet);
    hw_reading_free(&reading);
    hw_shelf_free(&shelf);
    hw_known_free(&known);
    hw_board_free(&board);
    run("rm -rf '%s'", folder);
}

int main(int count, char **arguments)
{
    static const char *const stages[] = {"base", "colour", "measure", "photo", "mark",
                                         "card", "sample", "compare", "tone",  "picture",
                                         "job",  "report", "steps"};
    enum { STAGES = sizeof stages / sizeof *stages };
    long failed[STAGES] = {0}, pieces[STAGES] = {0};
    bool all = count > 1 && strcmp(arguments[1], "all") == 0;
    make_all();
    for (size_t i = 0; i < sizeof works / sizeof *works; i++) {
        for (size_t s = 0; s < STAGES; s++) {
            if (strcmp(stages[s], works[i].stage) == 0) {
                long here = fail_in_turn(i, all);
                failed[s] += here;
                pieces[s]++;
                if (all) { // it takes its time
                    printf("%s, work %zu: %ld allocations failed\n", works[i].stage, i, here);
                    fflush(stdout);
                }
            }
        }
    }
    for (size_t s = 0; s < STAGES; s++) {
        printf("%-8s %2ld works, %5ld allocations failed\n", stages[s], pieces[s], failed[s]);
        check_true(pieces[s] > 0 && (failed[s] > 0 || strcmp(stages[s], "colour") == 0));
    }
    free_all();
    return check_done();
}
