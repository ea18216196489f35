// What given layers will do: as advice says it of its own layers, by the law of Bouguer, Lambert and Beer (doubling the
// layers doubles the density, none makes it lighter), and within its range as often as drawn by hand (Monte Carlo,
// ISO/IEC Guide 98-3 Supplement 1).
#include "base_internal.h"
#include "known.h"
#include "picture.h"
#include "tone_internal.h"

#define ROOM (HW_PLAN_PASSES_MAX + 1)

static const hw_lab wood = {55.0, 12.0, 25.0}, old_wood = {48.0, 13.0, 24.0};

static hw_layer layer_of(const char *dye, double strength, int passes)
{
    hw_layer layer = {.liquid = {.dose = {{.strength = strength}}, .count = 1}, .passes = passes};
    snprintf(layer.liquid.dose[0].dye, sizeof layer.liquid.dose[0].dye, "%s", dye);
    return layer;
}

static hw_known known_boards(const hw_shelf *shelf)
{
    hw_known known = {0};
    check_true(hw_tone_learn(shelf, "", wood, &known, NULL) == HW_OK);
    return known;
}

static size_t foresee(const hw_tone_request *request, const hw_layer *layer, size_t layers,
                      hw_foreseen out[ROOM])
{
    size_t count = 0;
    check_true(hw_tone_foresee(request, layer, layers, out, ROOM, &count, NULL) == HW_OK);
    return count;
}

// ---- As advice ---------------------------------------------------------------------

static void compare_after(const hw_after *one, const hw_after *other)
{
    check_true(one->passes == other->passes);
    check_close(one->lab.L, other->lab.L, 0.0);
    check_close(one->lab.a, other->lab.a, 0.0);
    check_close(one->lab.b, other->lab.b, 0.0);
    check_close(one->de00, other->de00, 0.0);
    check_close(one->de00_low, other->de00_low, 0.0);
    check_close(one->de00_high, other->de00_high, 0.0);
}

static void test_as_advised(void)
{
    hw_shelf shelf = shelf_of_boards(0.05);
    hw_known known = known_boards(&shelf);
    const hw_layer before = layer_of("brown", 0.5, 2);
    const hw_mixed_jar jar = {"here/1", {{{"brown", 0.5}}, 1}};
    int options = 0;
    for (int i = 0; i < 4; i++) {
        hw_comparison gap = gap_of((hw_lab){52.0 + i, 10.0 + i, 27.0}, old_wood);
        hw_tone_request request = {.gap = &gap,
                                   .known = &known,
                                   .so_far = &before,
                                   .so_far_count = i % 2 ? 1 : 0,
                                   .jars = &jar,
                                   .jar_count = 1};
        hw_advice advice = {0};
        check_true(hw_tone_advise(&request, &advice, NULL) == HW_OK);
        for (size_t k = 0; k < advice.option_count; k++, options++) {
            const hw_option *option = &advice.option[k];
            hw_foreseen seen[ROOM];
            size_t count = foresee(&request, option->layer, option->layer_count, seen);
            check_true(count == option->after_count);
            for (size_t n = 0; n < count; n++) {
                check_true(seen[n].passes == (int)n);
                compare_after(&seen[n].after, &option->after[n]);
            }
            check_close(seen[count - 1].overshoot_risk, option->overshoot_risk, 1e-12);
        }
    }
    check_true(options >= 4);
    hw_known_free(&known);
    hw_shelf_free(&shelf);
}

// ---- By the law --------------------------------------------------------------------

// The density is what lies between the look as read and the look foreseen.
static void check_between(const hw_foreseen *seen)
{
    double density[3];
    hw_tone_between(wood, seen->after.lab, density);
    for (int band = 0; band < 3; band++) {
        check_close(density[band], seen->density[band], 1e-9);
    }
}

static void check_ends(const hw_foreseen *seen)
{
    for (int band = 0; band < 3; band++) {
        check_true(seen->least[band] >= 0.0 && seen->least[band] <= seen->density[band]);
        check_true(seen->density[band] <= seen->most[band]);
    }
}

static void test_law(void)
{
    hw_shelf shelf = shelf_of_boards(0.05);
    hw_known known = known_boards(&shelf);
    hw_comparison gap = gap_of(wood, old_wood);
    hw_tone_request request = {.gap = &gap, .known = &known};
    const hw_layer layers[] = {layer_of("red", 0.25, 2), layer_of("brown", 0.5, 6),
                               layer_of("black", 0.25, 4)};
    hw_foreseen seen[ROOM];
    size_t count = foresee(&request, layers, 3, seen);
    check_true(count == ROOM);
    for (size_t n = 0; n < count; n++) {
        check_between(&seen[n]);
        check_ends(&seen[n]);
        for (int band = 0; band < 3 && n > 0; band++) {
            check_true(seen[n].least[band] >= seen[n - 1].least[band]);
            check_true(seen[n].density[band] >= seen[n - 1].density[band]);
            check_true(seen[n].most[band] >= seen[n - 1].most[band]);
        }
        check_true(n == 0 || seen[n].after.lab.L <= seen[n - 1].after.lab.L);
        check_true(n == 0 || seen[n].overshoot_risk >= seen[n - 1].overshoot_risk - 1e-6);
    }
    for (int band = 0; band < 3; band++) { // as it is now
        check_close(seen[0].density[band], 0.0, 0.0);
        check_close(seen[0].most[band], 0.0, 0.0);
    }
    hw_known_free(&known);
    hw_shelf_free(&shelf);
}

// Twice half as strong is once as strong, and layers add in any order: optical density adds (Bouguer, Lambert, Beer).
static void test_half_twice(void)
{
    hw_shelf shelf = shelf_of_boards(0.05);
    hw_known known = known_boards(&shelf);
    hw_comparison gap = gap_of(wood, old_wood);
    hw_tone_request request = {.gap = &gap, .known = &known};
    const hw_layer half[] = {layer_of("brown", 0.5, 4), layer_of("red", 0.25, 2)},
                   full[] = {layer_of("red", 0.5, 1), layer_of("brown", 1.0, 2)};
    hw_foreseen one[ROOM], other[ROOM];
    size_t count = foresee(&request, half, 2, one), others = foresee(&request, full, 2, other);
    check_true(count == 7 && others == 4);
    for (int band = 0; band < 3; band++) {
        check_close(one[6].density[band], other[3].density[band], 1e-12);
        const hw_dye *red = hw_shelf_find(&shelf, "red"), *brown = hw_shelf_find(&shelf, "brown");
        check_close(one[6].density[band], 0.5 * red->density[band] + 2.0 * brown->density[band],
                    0.02 * one[6].density[band]);            // learning turns it to this wood
        check_true(one[6].most[band] < other[3].most[band]); // more passes, less scatter
    }
    hw_known_free(&known);
    hw_shelf_free(&shelf);
}

// A dye that goes into the wood does less over what lies there.
static void test_over_what_lies_there(void)
{
    const double board[3] = {0.06, 0.09, 0.14};
    hw_dye dye = dye_of_board("brown", board, 0.05, 0.05);
    dye.exponent = 0.8;
    hw_shelf shelf = {.dye = &dye, .count = 1};
    hw_known known = known_boards(&shelf);
    hw_comparison gap = gap_of(wood, old_wood);
    const hw_layer lies = layer_of("brown", 1.0, 3), more = layer_of("brown", 1.0, 1);
    hw_tone_request fresh = {.gap = &gap, .known = &known},
                    over = {.gap = &gap, .known = &known, .so_far = &lies, .so_far_count = 1};
    hw_foreseen one[ROOM], other[ROOM];
    check_true(foresee(&fresh, &more, 1, one) == 2 && foresee(&over, &more, 1, other) == 2);
    double g = known.dye[0].exponent;
    for (int band = 0; band < 3; band++) {
        check_close(other[1].density[band] / one[1].density[band], pow(4.0, g) - pow(3.0, g), 1e-9);
    }
    check_true(g < 0.9);
    hw_known_free(&known);
}

// ---- Drawn -------------------------------------------------------------------------

// s.d. of logarithms as stated in src/tone/tone_learn.c: of boards, a day, a jar and a pass.
static const double u_boards = 0.20, u_day = 0.10, u_jar = 0.10, u_pass = 0.12;

// How much of the foreseen density one laying of it comes to, by least squares over the bands.
static double draw_share(const hw_dye *dye, int passes, const double foreseen[3], uint64_t *seed)
{
    double factor =
               exp(hypot(u_boards, u_day) * picture_normal(seed) + u_jar * picture_normal(seed)),
           all = dye->u_strength * picture_normal(seed), laid = 0.0, along = 0.0, size = 0.0;
    for (int pass = 0; pass < passes; pass++) {
        laid += 1.0 + u_pass * picture_normal(seed);
    }
    for (int band = 0; band < 3; band++) {
        double own = dye->density[band] * (1.0 + all + 0.05 * picture_normal(seed));
        along += factor * laid * own * foreseen[band];
        size += foreseen[band] * foreseen[band];
    }
    return along / size;
}

static void test_drawn(void)
{
    const double board[3] = {0.03, 0.05, 0.08};
    hw_dye dye = dye_of_board("brown", board, 0.08, 0.05);
    dye.exponent = 1.0;
    hw_shelf shelf = {.dye = &dye, .count = 1};
    hw_known known = known_boards(&shelf);
    hw_comparison gap = gap_of(wood, old_wood);
    hw_tone_request request = {.gap = &gap, .known = &known};
    const hw_layer layer = layer_of("brown", 1.0, 5);
    hw_foreseen seen[ROOM];
    check_true(foresee(&request, &layer, 1, seen) == 6);
    uint64_t seed = 3;
    for (int passes = 1; passes <= 5; passes += 2) {
        const hw_foreseen *one = &seen[passes];
        int draws = 40000, under = 0, over = 0, below = 0;
        for (int i = 0; i < draws; i++) {
            double share = draw_share(&dye, passes, one->density, &seed);
            under += share < one->least[1] / one->density[1];
            over += share > one->most[1] / one->density[1];
            below += share < 1.0;
        }
        printf("%d passes: drawn below the range %.3f, above %.3f, below the middle %.3f\n", passes,
               (double)under / draws, (double)over / draws, (double)below / draws);
        check_close((double)under / draws, 0.05, 0.02);
        check_close((double)over / draws, 0.05, 0.02);
        check_close((double)below / draws, 0.5, 0.05);
    }
    hw_known_free(&known);
}

// ---- What cannot be ----------------------------------------------------------------

static void check_refused(const hw_tone_request *request, const hw_layer *layer, size_t layers,
                          const char *code)
{
    hw_foreseen out[ROOM];
    hw_error err = {0};
    size_t count = 77;
    check_true(hw_tone_foresee(request, layer, layers, out, ROOM, &count, &err) == HW_ERR_CALL);
    check_text(err.code, code);
    check_true(count == 77 && err.what[0] && err.next[0]);
}

static void test_refused(void)
{
    hw_known known = known_guesses();
    hw_comparison gap = gap_of(wood, old_wood);
    hw_tone_request request = {.gap = &gap, .known = &known};
    hw_layer one = layer_of("brown", 0.5, 1), many[HW_LAYERS_MAX + 1];
    for (size_t i = 0; i <= HW_LAYERS_MAX; i++) {
        many[i] = one;
    }
    check_refused(&request, many, HW_LAYERS_MAX + 1, "layer-count");
    one = layer_of("mahogany \x1b[31m%n", 0.5, 1);
    check_refused(&request, &one, 1, "dye-unknown");
    const int passes[] = {0, -1, HW_PLAN_PASSES_MAX + 1, 2147483647, -2147483647 - 1};
    for (size_t i = 0; i < sizeof passes / sizeof *passes; i++) {
        one = layer_of("brown", 0.5, passes[i]);
        check_refused(&request, &one, 1, "pass-count");
    }
    const hw_layer over[] = {layer_of("brown", 0.5, 7), layer_of("red", 0.5, 6)};
    check_refused(&request, over, 2, "pass-count");
    const double strengths[] = {0.0, -1.0, 4.1, (double)NAN, (double)INFINITY};
    for (size_t i = 0; i < sizeof strengths / sizeof *strengths; i++) {
        one = layer_of("brown", strengths[i], 1);
        check_refused(&request, &one, 1, "dye-strength");
    }
    one = layer_of("brown", 0.5, 1);
    one.liquid.count = 0;
    check_refused(&request, &one, 1, "liquid-dyes");
    one.liquid.count = HW_LIQUID_DYES_MAX + 1;
    check_refused(&request, &one, 1, "liquid-dyes");
    hw_known_free(&known);
    one = layer_of("brown", 0.5, 1);
    check_refused(&request, &one, 1, "dye-unknown"); // an empty shelf
}

static void test_room(void)
{
    hw_known known = known_guesses();
    hw_comparison gap = gap_of(wood, old_wood);
    hw_tone_request request = {.gap = &gap, .known = &known};
    const hw_layer strong[] = {layer_of("black", 4.0, 6), layer_of("brown", 4.0, 6)};
    hw_foreseen out[ROOM];
    size_t count = 77;
    check_true(hw_tone_foresee(&request, strong, 2, NULL, 0, &count, NULL) == HW_OK && count == 0);
    out[2].passes = -5;
    check_true(hw_tone_foresee(&request, strong, 2, out, 2, &count, NULL) == HW_OK && count == 2);
    check_true(out[1].passes == 1 && out[2].passes == -5);
    check_true(foresee(&request, NULL, 0, out) == 1);
    check_close(out[0].after.lab.L, wood.L, 0.0);
    // As strong as can be said: all of it stays a colour.
    check_true(foresee(&request, strong, 2, out) == ROOM);
    for (size_t n = 0; n < ROOM; n++) {
        check_true(isfinite(out[n].least[0]) && isfinite(out[n].most[2]) &&
                   out[n].after.lab.L > -20.0);
        check_true(out[n].overshoot_risk >= 0.0 && out[n].overshoot_risk <= 1.0 + 1e-9);
    }
    hw_known_free(&known);
}

int main(void)
{
    test_as_advised();
    test_law();
    test_half_twice();
    test_over_what_lies_there();
    test_drawn();
    test_refused();
    test_room();
    return check_done();
}
