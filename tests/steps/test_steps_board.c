// A step board from photo to shelf: the density painted comes out, the shelf keeps it, nothing is kept of a
// board that is refused, and memory may run out anywhere.
#include "saved_picture.h"
#include "shop.h"
#include "steps_internal.h"

#include <unistd.h>

static char photo_path[600], shelf_path[600];

static const hw_lab oak = {62.0, 12.0, 28.0};
static const double walnut[3] = {0.06, 0.09, 0.14}, cherry[3] = {0.02, 0.12, 0.10};

static void remove_shelf(void)
{
    char lock[700];
    unlink(shelf_path);
    snprintf(lock, sizeof lock, "%s.lock", shelf_path);
    unlink(lock);
}

// Card at 20,20 80x80; two rows of four strips 60x80 from 120,20 and from 120,130. Each row's wood under its dye.
static void make_photo(void)
{
    picture made = picture_new(SHOP_WIDTH, SHOP_HEIGHT);
    picture_fill(&made, 0, 0, SHOP_WIDTH, SHOP_HEIGHT, (hw_lab){40, 2, 4});
    picture_fill(&made, 20, 20, 80, 80, (hw_lab){49.5, 0, 0});
    for (int n = 0; n < 4; n++) {
        double d[2][3];
        for (int band = 0; band < 3; band++) {
            d[0][band] = n * walnut[band];
            d[1][band] = n * cherry[band];
        }
        picture_fill(&made, (size_t)(120 + 65 * n), 20, 60, 80, hw_tone_under(oak, d[0]));
        picture_fill(&made, (size_t)(120 + 65 * n), 130, 60, 80, hw_tone_under(oak, d[1]));
    }
    save_picture(&made, photo_path);
}

static hw_marks marks_of(const char *first, const char *second)
{
    hw_marks marks = {0};
    bool good = hw_marks_add(&marks, HW_ROLE_CARD, "card", "20,20,80,80", NULL, NULL) == HW_OK;
    for (int n = 0; n < 4; n++) {
        char name[2][HW_NAME_SIZE], region[2][60];
        snprintf(name[0], sizeof name[0], "%s %d", first, n);
        snprintf(name[1], sizeof name[1], "%s %d", second, n);
        snprintf(region[0], sizeof region[0], "%d,22,56,76", 122 + 65 * n);
        snprintf(region[1], sizeof region[1], "%d,132,56,76", 122 + 65 * n);
        for (int row = 0; row < 2; row++) {
            good = good && hw_marks_add(&marks, HW_ROLE_BOARD_STRIP, name[row], region[row], NULL,
                                        NULL) == HW_OK;
        }
    }
    check_true(good);
    return marks;
}

static hw_stepboard_request request_of(const hw_marks *marks, const char *const *dyes, size_t count)
{
    return (hw_stepboard_request){.read = {.photo_path = photo_path, .marks = *marks},
                                  .shelf_path = shelf_path,
                                  .dye = dyes,
                                  .dye_count = count,
                                  .tool = "spray"};
}

static void test_board(void)
{
    const char *dyes[2] = {"walnut=brown", "red 2=red"};
    hw_marks marks = marks_of("walnut", "red 2");
    hw_stepboard_request request = request_of(&marks, dyes, 2);
    hw_taught result = {0};
    hw_error err = {0};
    char used[1024];
    remove_shelf();
    if (!check_true(hw_steps_stepboard(&request, NULL, 77, &result, &err) == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
        return;
    }
    check_true(result.count == 2 && result.change[0] == HW_DYE_ADDED);
    check_text(result.board[1].dye, "red 2");
    for (int band = 0; band < 3; band++) { // 16 bit, no camera, no grain: near what was painted
        check_close(result.dye[0].density[band], walnut[band], 0.003);
        check_close(result.dye[1].density[band], cherry[band], 0.003);
    }
    check_true(result.dye[0].u_strength < 0.25 && result.dye[0].learned_at == 77);
    hw_taught_free(&result);
    hw_shelf shelf = {0};
    check_true(hw_steps_shelf(shelf_path, NULL, &shelf, used, sizeof used, NULL) == HW_OK);
    check_text(used, shelf_path);
    const hw_dye *dye = hw_shelf_find(&shelf, "red 2");
    check_true(shelf.count == 2 && dye && dye->family == HW_FAMILY_RED && dye->board_passes == 3 &&
               dye->tool == HW_TOOL_SPRAY);
    hw_shelf_free(&shelf);
    // Again, by their names alone: they are on the shelf.
    request.dye_count = 0;
    check_true(hw_steps_stepboard(&request, NULL, 78, &result, NULL) == HW_OK);
    check_true(result.count == 2 && result.change[0] == HW_DYE_REPLACED && !result.again);
    hw_taught_free(&result);
    // With an entry, and said again: the photo may be gone, and nothing else is tested.
    request.entry = "entry-of-this-board";
    check_true(hw_steps_stepboard(&request, NULL, 79, &result, NULL) == HW_OK && !result.again);
    hw_taught_free(&result);
    request.read.photo_path = "/nothing/there.png";
    request.tool = "broom";
    check_true(hw_steps_stepboard(&request, NULL, 80, &result, NULL) == HW_OK && result.again);
    check_true(result.count == 2 && result.dye[0].learned_at == 79);
    hw_taught_free(&result);
    request.entry = "entry-of-another-board";
    check_true(hw_steps_stepboard(&request, NULL, 81, &result, NULL) != HW_OK);
    hw_marks_free(&marks);
}

// The second row is refused: the first one stays off the shelf too.
static void test_all_or_none(void)
{
    const char *dyes[2] = {"walnut=brown", "cherry=red"};
    hw_marks marks = marks_of("walnut", "cherry");
    snprintf(marks.mark[2].name, HW_NAME_SIZE, "cherry 4"); // no strip without toner
    hw_stepboard_request request = request_of(&marks, dyes, 2);
    hw_taught result = {0};
    hw_error err = {0};
    remove_shelf();
    check_true(hw_steps_stepboard(&request, NULL, 77, &result, &err) == HW_ERR_CALL);
    check_text(err.code, "board-no-zero");
    check_text(err.subject, "cherry");
    check_true(access(shelf_path, F_OK) != 0 && !result.board);
    hw_marks_free(&marks);
}

// No dyes, but observations: the guesses are in use, each with what was seen of it.
static void test_guesses_with_seen(void)
{
    hw_observation seen = {.job = "j",
                           .event = 1,
                           .patch = "p",
                           .wood = oak,
                           .laid = {{"red", 0, 1, 1}},
                           .laid_count = 1,
                           .covariance = {{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}}};
    hw_shelf shelf = {0};
    char used[1024];
    remove_shelf();
    check_true(hw_shelf_keep_seen(shelf_path, NULL, &(hw_shelf){.seen = &seen, .seen_count = 1},
                                  NULL) == HW_OK);
    check_true(hw_steps_shelf(shelf_path, NULL, &shelf, used, sizeof used, NULL) == HW_OK);
    check_true(shelf.count == HW_FAMILY_COUNT && shelf.dye[0].guess && shelf.seen_count == 1);
    check_text(shelf.seen[0].laid[0].dye, "red");
    hw_shelf_free(&shelf);
}

static void test_memory(void)
{
    const char *dyes[2] = {"walnut=brown", "cherry=red"};
    hw_marks marks = marks_of("walnut", "cherry");
    hw_stepboard_request request = request_of(&marks, dyes, 2);
    hw_dye_request typed = {.shelf_path = shelf_path,
                            .name = "birch",
                            .family = "amber",
                            .steps = "62,12,28 59.6,12.9,29"};
    bool done = false;
    int refused = 0;
    for (long n = 0; n < 3000 && !done; n += n < 40 ? 1 : 7) { // the later ones are in loops
        hw_taught result = {0};
        hw_error err = {0};
        remove_shelf();
        hw_test_fail_alloc(n);
        hw_status status = hw_steps_stepboard(&request, NULL, 77, &result, &err);
        hw_test_fail_alloc(-1);
        done = status == HW_OK;
        refused += !done;
        check_true(done || status == HW_ERR_STORAGE);
        hw_taught_free(&result);
    }
    check_true(done && refused > 20);
    done = false;
    for (long n = 0; n < 3000 && !done; n++) {
        hw_board board = {0};
        hw_dye dye;
        hw_dye_change change;
        remove_shelf();
        hw_test_fail_alloc(n);
        hw_status status = hw_steps_shelf_add(&typed, NULL, 77, &dye, &change, &board, NULL);
        hw_test_fail_alloc(-1);
        done = status == HW_OK;
        check_true(done || status == HW_ERR_STORAGE);
        hw_board_free(&board);
    }
    check_true(done);
    remove_shelf();
    hw_marks_free(&marks);
}

int main(void)
{
    snprintf(photo_path, sizeof photo_path, "%s/board %ld.png", HW_SCRATCH, (long)getpid());
    snprintf(shelf_path, sizeof shelf_path, "%s/board shelf %ld.json", HW_SCRATCH, (long)getpid());
    make_photo();
    test_board();
    test_all_or_none();
    test_guesses_with_seen();
    test_memory();
    unlink(photo_path);
    return check_done();
}
