// bench_sheet.c: how long the day's sheet takes for 3, 6, 20 and 64 patches, with 9 and with 30 dyes, guesses or
// known, at most two or three families in a plan: advice for all patches, then the sheet alone.
//
//   bench_sheet [RUNS [PATCHES]]
//
// A benchmark, not a timed test. Shows the median and the longest of RUNS (5) days in milliseconds of the processor, each of
// other patches, and the jars of the last.
#include "base_internal.h"
#include "bench.h"
#include "huewright/tone.h"

#include <math.h>

#define PATCHES_MOST 64

// Evenly spread over days and patches, without chance: the van der Corput sequence of that base.
static double spread(size_t index, size_t base)
{
    double value = 0.0, share = 1.0 / (double)base;
    for (; index > 0; index /= base, share /= (double)base) {
        value += share * (double)(index % base);
    }
    return value;
}

static bool make_shelf(size_t dyes, bool guess, hw_shelf *shelf)
{
    shelf->dye = hw_alloc_array(dyes, sizeof *shelf->dye);
    for (size_t i = 0; i < dyes && shelf->dye; i++) {
        hw_dye *dye = &shelf->dye[i];
        *dye = hw_dye_guess((hw_family)(i % HW_FAMILY_COUNT));
        hw_format_text(dye->name, HW_NAME_SIZE, "dye %zu", i);
        dye->guess = guess;
        for (int band = 0; band < 3; band++) {
            dye->density[band] *= 0.8 + 0.1 * (double)(i % 5);
            dye->covariance = guess ? dye->covariance : hw_covariance_diagonal(1e-4, 1e-4, 1e-4);
        }
        dye->u_strength = guess ? dye->u_strength : 0.08;
    }
    shelf->count = shelf->dye ? dyes : 0;
    return shelf->dye != NULL;
}

static hw_comparison make_gap(size_t index)
{
    hw_lab old = {46.0 + 4.0 * spread(index, 11), 11.5 + spread(index, 13), 24.0};
    hw_comparison gap = {.patch = "repair", .verdict = HW_VERDICT_TONE, .target_lab = old};
    gap.patch_lab =
        (hw_lab){old.L + 2.0 + 5.0 * spread(index, 2), old.a - 4.0 + 5.0 * spread(index, 3),
                 old.b - 4.0 + 7.0 * spread(index, 5)};
    gap.gap = hw_difference_of(gap.target_lab, gap.patch_lab);
    gap.covariance = hw_covariance_diagonal(0.09, 0.09, 0.09);
    return gap;
}

static bool bench(size_t dyes, bool guess, int families, size_t patches, size_t runs)
{
    static hw_comparison gap[PATCHES_MOST];
    static hw_advice advice[PATCHES_MOST];
    hw_tone_request request[PATCHES_MOST];
    hw_shelf shelf = {0};
    hw_known known = {0};
    hw_sheet sheet = {0};
    hw_tone_rules rules = hw_tone_rules_default();
    double *alone = hw_alloc_array(runs, sizeof *alone),
           *together = hw_alloc_array(runs, sizeof *alone);
    rules.families_most = families;
    bool good = alone && together && make_shelf(dyes, guess, &shelf) &&
                hw_tone_learn(&shelf, "", (hw_lab){52, 11, 24}, &known, NULL) == HW_OK;
    for (size_t run = 0; run < runs && good; run++) {
        double start = now_ms();
        for (size_t i = 0; i < patches && good; i++) {
            gap[i] = make_gap(1 + run * patches + i);
            request[i] = (hw_tone_request){.gap = &gap[i], .known = &known, .rules = &rules};
            good = hw_tone_advise(&request[i], &advice[i], NULL) == HW_OK;
        }
        alone[run] = now_ms() - start;
        hw_sheet_free(&sheet);
        start = now_ms();
        good = good && hw_tone_sheet(request, advice, patches, NULL, 0, &sheet, NULL) == HW_OK;
        together[run] = now_ms() - start;
    }
    printf("%2zu dyes, %s, %d families, %2zu patches:", dyes, guess ? "guesses" : "known  ",
           families, patches);
    show_times("advice", alone, runs);
    show_times("sheet", together, runs);
    printf(" ms, %zu of %zu, %zu jars%s\n", sheet.step_count, patches, sheet.jar_count,
           sheet.fewest ? "" : " or fewer");
    fflush(stdout);
    hw_sheet_free(&sheet);
    hw_known_free(&known);
    hw_shelf_free(&shelf);
    hw_free(alone);
    hw_free(together);
    return good;
}

int main(int count, char **arguments)
{
    size_t runs = count > 1 ? strtoul(arguments[1], NULL, 10) : 5;
    runs = runs ? runs : 1;
    const size_t asked = count > 2 ? strtoul(arguments[2], NULL, 10) : 0;
    const size_t patches[] = {3, 6, 20, 64};
    bool good = true;
    printf("median (longest) of %zu\n", runs);
    for (size_t i = 0; i < sizeof patches / sizeof *patches; i++) {
        if (asked && patches[i] != asked) {
            continue;
        }
        good = good && bench(9, true, 2, patches[i], runs) &&
               bench(9, false, 2, patches[i], runs) && bench(30, true, 2, patches[i], runs) &&
               bench(30, false, 2, patches[i], runs);
    }
    return !(good && (asked || (bench(9, true, 3, 6, runs) && bench(30, false, 3, 6, runs))));
}
