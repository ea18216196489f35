// Where on the patch, and what of the wood: the joint, the ends, the ground between the pores. Pictures
// are painted here, so what must be found is known.
#include "base_internal.h"
#include "compare_internal.h"
#include "picture.h"
#include "check.h"

#define WIDTH  800
#define HEIGHT 480

static const hw_lab old_wood = {48.0, 11.0, 23.0};

// Card 20,360; old wood left 40,40 and right 440,40, each 258 wide; the strip between at 302,40 134 x 280.
static picture piece(double figure, uint64_t seed)
{
    picture made = picture_new(WIDTH, HEIGHT);
    picture_fill(&made, 0, 0, WIDTH, HEIGHT, (hw_lab){30, 2, 4});
    picture_fill(&made, 20, 360, 110, 100, (hw_lab){49.5, 0, 0});
    for (size_t y = 40; y < 320; y++) { // grain runs across: each row has its own lightness
        double step = figure * picture_normal(&seed);
        picture_fill(&made, 40, y, 700, 1, (hw_lab){old_wood.L + step, old_wood.a, old_wood.b});
    }
    return made;
}

// Moves the colour of the strip's rectangle by L*, a*, b*.
static void shift(picture *made, size_t x0, size_t y0, size_t width, size_t height, double L,
                  double a, double b)
{
    for (size_t y = y0; y < y0 + height; y++) {
        for (size_t x = x0; x < x0 + width; x++) {
            double *rgb = picture_at(made, x, y);
            hw_lab lab = hw_lab_from_xyz(hw_xyz_from_linear_srgb(rgb), hw_white_d50);
            hw_lab moved = {lab.L + L, lab.a + a, lab.b + b};
            hw_linear_srgb_from_xyz(hw_xyz_from_lab(moved, hw_white_d50), rgb);
        }
    }
}

// Light that falls off to the right, the share lost from edge to edge.
static void fall(picture *made, double share)
{
    for (size_t i = 0; i < made->width * made->height; i++) {
        double x = (double)(i % made->width) / (double)made->width;
        for (int c = 0; c < 3; c++) {
            made->linear[i][c] *= exp(x * log(1.0 - share));
        }
    }
}

typedef struct result {
    hw_marks marks;
    hw_light light;
    hw_sample samples[4];
    size_t count;
    hw_comparisons comparisons;
    const hw_comparison *beside;
} result;

static const char plain_marks[] =
    "{\"marks\":[{\"role\":\"card\",\"polygon\":[[20,360],[130,360],[130,460],[20,460]]},"
    "{\"role\":\"target\",\"name\":\"left\",\"polygon\":[[40,40],[298,40],[298,320],[40,320]]},"
    "{\"role\":\"target\",\"name\":\"right\",\"polygon\":[[440,40],[698,40],[698,320],[440,320]]},"
    "{\"role\":\"patch\",\"name\":\"new\",\"polygon\":%s}]}";

static result read_piece(picture *made, const char *strip)
{
    result r = {0};
    char text[1000];
    hw_warnings warnings = {0};
    hw_error err = {0};
    snprintf(text, sizeof text, plain_marks, strip);
    size_t bytes = 0;
    uint8_t *png = picture_png(made, &bytes);
    hw_photo *photo = NULL;
    bool good = hw_photo_decode(png, bytes, "piece.png", NULL, &photo, &err) == HW_OK &&
                hw_marks_parse(text, strlen(text), "m", NULL, &r.marks, &warnings, &err) == HW_OK &&
                hw_card_read(photo, &r.marks, NULL, &r.light, &err) == HW_OK;
    for (size_t i = 1; i < r.marks.count && good; i++) {
        good = hw_sample_take(photo, &r.light, &r.marks.mark[i], &r.samples[r.count], &warnings,
                              &err) == HW_OK;
        r.count += good;
    }
    good = good && hw_compare_all(r.samples, r.count, &r.marks, &r.light, NULL, &r.comparisons,
                                  &err) == HW_OK;
    if (!check_true(good)) {
        printf("%s: %s\n", err.code, err.what);
    }
    r.beside = hw_comparison_beside(&r.comparisons, "new");
    check_true(r.beside != NULL);
    hw_photo_free(photo);
    free(png);
    picture_free(made);
    return r;
}

static void drop(result *r)
{
    for (size_t i = 0; i < r->count; i++) {
        hw_sample_free(&r->samples[i]);
    }
    hw_marks_free(&r->marks);
    hw_comparisons_free(&r->comparisons);
}

static const char strip[] = "[[302,40],[436,40],[436,320],[302,320]]";

// ---- The joint ---------------------------------------------------------------------

// Upper half 4 greener, lower half as the old wood: two joints of two pieces each.
static void seam_in_two(void)
{
    for (int uneven = 0; uneven < 2; uneven++) {
        picture made = piece(1.0, 3);
        shift(&made, 302, 40, 134, 140, 0, -4, 0);
        fall(&made, uneven ? 0.25 : 0.0);
        result r = read_piece(&made, strip);
        if (check_true(r.comparisons.seam_count == 2)) {
            for (int i = 0; i < 2; i++) {
                const hw_seam *seam = &r.comparisons.seam[i];
                check_text(seam->target, i ? "right" : "left");
                check_close(seam->length_px, 280, 6);
                // Half way between both marks, from the top down; the strip lies left of who walks down its left joint.
                check_true(seam->line_count == 2 && seam->patch_on_left == (i == 0));
                for (int end = 0; end < 2; end++) {
                    check_close(seam->line[end].x, i ? 438.0 : 300.0, 1e-9);
                    check_close(seam->line[end].y, end ? 320.0 : 40.0, 6.0);
                }
                if (!check_true(seam->count == 2)) {
                    continue;
                }
                const hw_seam_piece *upper = &seam->piece[0], *lower = &seam->piece[1];
                check_text(hw_stretch_words(&upper->stretch), "upper half");
                check_text(hw_stretch_words(&lower->stretch), "lower half");
                check_close(upper->gap.a, -4.0, 0.3);
                check_close(upper->gap.L, 0.0, uneven ? 0.8 : 0.3);
                check_true(upper->verdict == HW_VERDICT_TONE &&
                           upper->direction[0] == HW_TOO_GREEN);
                check_close(lower->gap.a, 0.0, 0.3);
                check_true(lower->verdict == HW_VERDICT_LEAVE);
                check_true(upper->de00_low <= upper->gap.de00 &&
                           upper->gap.de00 <= upper->de00_high);
            }
        }
        drop(&r);
    }
}

// An even strip is one piece, however strong the figure across it.
static void seam_even(void)
{
    picture made = piece(2.5, 5);
    shift(&made, 302, 40, 134, 280, 4, 0, 0);
    result r = read_piece(&made, strip);
    check_true(r.comparisons.seam_count == 2);
    for (size_t i = 0; i < r.comparisons.seam_count; i++) {
        const hw_seam *seam = &r.comparisons.seam[i];
        check_true(seam->count == 1);
        check_text(hw_stretch_words(&seam->piece[0].stretch), "all of it");
        check_close(seam->piece[0].gap.L, 4.0, 0.3);
    }
    drop(&r);
}

// Marks that lie apart share no joint; odd outlines find theirs, or none, without harm.
static void seam_outlines(void)
{
    static const struct {
        const char *polygon;
        size_t joints;
    } outlines[] = {
        {"[[340,60],[400,60],[400,300],[340,300]]", 0},
        {"[[302,40],[400,40],[400,320],[302,320]]", 1},
        {"[[436,320],[302,320],[302,40],[436,40]]", 2}, // the other way round
        {"[[302,60],[420,180],[302,300]]", 1},
        {"[[302,40],[436,40],[436,320],[420,320],[420,60],[320,60],[320,320],[302,320]]", 2},
        {"[[369,40],[420,80],[436,180],[420,280],[369,320],[318,280],[302,180],[318,80]]", 2},
    };
    for (size_t i = 0; i < sizeof outlines / sizeof *outlines; i++) {
        picture made = piece(1.0, 7);
        result r = read_piece(&made, outlines[i].polygon);
        check_close((double)r.comparisons.seam_count, (double)outlines[i].joints, 0.0);
        for (size_t k = 0; k < r.comparisons.seam_count; k++) {
            check_true(r.comparisons.seam[k].count >= 1 &&
                       r.comparisons.seam[k].count <= HW_SEAM_PIECES);
            check_true(r.comparisons.seam[k].piece[0].gap.de00 < 1.0);
            const hw_seam *seam = &r.comparisons.seam[k];
            check_true(seam->line_count >= 2 && seam->line_count <= HW_SEAM_LINE);
            check_true(seam->line[0].y < seam->line[seam->line_count - 1].y);
            for (size_t n = 0; n < seam->line_count;
                 n++) { // between both marks, wherever the outline goes
                check_true(fabs(seam->line[n].x - (seam->target[0] == 'l' ? 300.0 : 438.0)) < 12.0);
            }
            check_true(seam->patch_on_left == (seam->target[0] == 'l'));
        }
        drop(&r);
    }
}

// ---- Ends --------------------------------------------------------------------------

static void ends(void)
{
    picture made = piece(1.0, 11);
    shift(&made, 302, 40, 134, 93, 0, -4, 0);
    result r = read_piece(&made, strip);
    check_true(r.beside->uneven.found && r.beside->uneven.alone);
    check_text(r.beside->uneven.words,
               "The upper end is 4 greener than the rest of it: shade there "
               "only.");
    check_close(r.beside->uneven.off.a, -4.0, 0.3);
    drop(&r);

    made = piece(1.0, 11); // the lower end darker: no dye helps there
    shift(&made, 302, 230, 134, 90, -5, 0, 0);
    r = read_piece(&made, strip);
    check_true(r.beside->uneven.found);
    check_holds(r.beside->uneven.words, "The lower end is 5 darker than the rest of it: keep the "
                                        "toner off there.");
    drop(&r);

    made = piece(1.0, 11); // too green all over, less so at one end
    shift(&made, 302, 40, 134, 280, 0, -9, 0);
    shift(&made, 302, 230, 134, 90, 0, 6, 0);
    r = read_piece(&made, strip);
    check_true(r.beside->uneven.found);
    check_holds(r.beside->uneven.words, "redder than the rest of it: it wants less there.");
    drop(&r);

    for (uint64_t seed = 0; seed < 8; seed++) { // strong figure alone has no end
        made = piece(4.0, seed);
        r = read_piece(&made, strip);
        check_true(!r.beside->uneven.found);
        drop(&r);
    }
}

// ---- Ground ------------------------------------------------------------------------

// Dark pores along the grain: `wide` rows high, 60 long, every 48 rows, over x0 to x1.
static void pores(picture *made, size_t x0, size_t x1, size_t wide)
{
    for (size_t x = x0; x + 60 <= x1; x += 64) {
        for (size_t y = 46 + (x / 64 % 3) * 12; y + wide < 316; y += 36) {
            picture_fill(made, x, y, 60, wide, (hw_lab){24, 6, 8});
        }
    }
}

static void ground(void)
{
    picture made = piece(0.6, 13); // old wood with pores, a patch of the same ground without
    pores(&made, 40, 298, 5);
    pores(&made, 440, 698, 5);
    result r = read_piece(&made, strip);
    check_true(r.samples[0].ground_known && r.samples[0].pore_px >= 3.0);
    check_close(r.samples[0].ground_lab.L, old_wood.L, 0.3);
    check_close(r.samples[0].pore_lab.L, 24.0, 1.0);
    check_true(r.beside->ground.known && r.beside->ground.matches);
    check_true(r.beside->gap.de00 > 1.5 && r.beside->ground.gap.de00 < 0.5);
    check_true(r.beside->verdict == HW_VERDICT_LEAVE);
    check_holds(r.beside->why, "No more toner");
    check_holds(r.beside->why, "by brush");
    drop(&r);

    made = piece(0.6, 13); // the ground itself too light: toner first
    pores(&made, 40, 298, 5);
    pores(&made, 440, 698, 5);
    shift(&made, 302, 40, 134, 280, 4, 0, 0);
    r = read_piece(&made, strip);
    check_true(r.beside->ground.known && !r.beside->ground.matches);
    check_close(r.beside->ground.gap.L, 4.0, 0.4);
    check_true(r.beside->verdict == HW_VERDICT_TONE);
    drop(&r);

    made = piece(0.6, 13); // pores on both: their grounds are compared
    pores(&made, 40, 298, 5);
    pores(&made, 440, 698, 5);
    pores(&made, 302, 436, 5);
    r = read_piece(&made, strip);
    check_true(r.beside->ground.known && !r.beside->ground.matches); // the means match too
    check_true(r.beside->verdict == HW_VERDICT_LEAVE);
    drop(&r);

    made = piece(0.6, 13); // one dark streak, and a dark block: wood, but no pores
    picture_fill(&made, 40, 150, 258, 8, (hw_lab){24, 6, 8});
    picture_fill(&made, 440, 60, 120, 70, (hw_lab){24, 6, 8});
    r = read_piece(&made, strip);
    check_true(!r.samples[0].ground_known && !r.samples[1].ground_known && !r.beside->ground.known);
    check_true(r.beside->verdict != HW_VERDICT_LEAVE);
    drop(&r);

    made = piece(0.6, 13); // two pixels wide: it cannot tell, and the mean stands
    pores(&made, 40, 298, 2);
    pores(&made, 440, 698, 2);
    r = read_piece(&made, strip);
    check_true(!r.samples[0].ground_known && !r.beside->ground.known);
    drop(&r);
}

int main(void)
{
    seam_in_two();
    seam_even();
    seam_outlines();
    ends();
    ground();
    return check_done();
}
