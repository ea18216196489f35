// bench_advise.c: how long learning and advice take, side by side in one run: a shelf of the nine families, of
// 30 and of 200 dyes, with 20 and with 500 observed passes, at most two or three families in a plan.
//
//   bench_advise [RUNS]
//
// A benchmark, not a timed test. Shows the median and the longest of RUNS (21) calls, in milliseconds.
#include "base_internal.h"
#include "bench.h"
#include "huewright/tone.h"

static bool fill(hw_shelf *shelf, size_t dyes, size_t seen)
{
    shelf->dye = hw_alloc_array(dyes, sizeof *shelf->dye);
    shelf->seen = hw_alloc_array(seen, sizeof *shelf->seen);
    if (!shelf->dye || !shelf->seen) {
        return false;
    }
    for (size_t i = 0; i < dyes; i++) {
        shelf->dye[i] = hw_dye_guess((hw_family)(i % HW_FAMILY_COUNT));
        hw_format_text(shelf->dye[i].name, HW_NAME_SIZE, "dye %zu", i);
        for (int band = 0; band < 3; band++) {
            shelf->dye[i].density[band] *= 0.8 + 0.1 * (double)(i % 5);
        }
    }
    for (size_t i = 0; i < seen; i++) {
        hw_observation *one = &shelf->seen[i];
        const hw_dye *dye = &shelf->dye[i % dyes];
        *one = (hw_observation){.event = (long)i,
                                .photo_before = 10 * (long)i,
                                .photo_after = 10 * (long)i + 10,
                                .wood = {52, 11, 24},
                                .laid_count = 1,
                                .covariance = hw_covariance_diagonal(1e-4, 1e-4, 1e-4)};
        hw_format_text(one->job, sizeof one->job, "job %zu", i / 10);
        hw_format_text(one->laid[0].dye, HW_NAME_SIZE, "%s", dye->name);
        one->laid[0].amount = one->laid[0].squares = 1.0;
        for (int band = 0; band < 3; band++) {
            one->density[band] = 1.2 * dye->density[band];
        }
    }
    shelf->count = dyes;
    shelf->seen_count = seen;
    return true;
}

static bool bench(size_t dyes, size_t seen, int families, size_t runs, double *times)
{
    hw_shelf shelf = {0};
    hw_comparison gap = {.patch = "strip",
                         .patch_lab = {57, 8, 26},
                         .target_lab = {51, 12, 25},
                         .verdict = HW_VERDICT_TONE};
    gap.gap = hw_difference_of(gap.target_lab, gap.patch_lab);
    gap.covariance = hw_covariance_diagonal(0.16, 0.16, 0.16);
    hw_tone_rules rules = hw_tone_rules_default();
    rules.families_most = families;
    bool good = fill(&shelf, dyes, seen);
    hw_known known = {0};
    for (size_t i = 0; i < runs && good; i++) {
        double start = now_ms();
        hw_known_free(&known);
        good = hw_tone_learn(&shelf, "job 1", gap.patch_lab, &known, NULL) == HW_OK;
        times[i] = now_ms() - start;
    }
    printf("%3zu dyes, %3zu passes seen, %d families:", dyes, seen, families);
    show_times("learn", times, runs);
    for (size_t i = 0; i < runs && good; i++) {
        hw_tone_request request = {.gap = &gap, .known = &known, .rules = &rules};
        static hw_advice advice;
        double start = now_ms();
        good = hw_tone_advise(&request, &advice, NULL) == HW_OK;
        times[i] = now_ms() - start;
    }
    show_times("advise", times, runs);
    printf(" ms\n");
    hw_known_free(&known);
    hw_shelf_free(&shelf);
    return good;
}

int main(int count, char **arguments)
{
    size_t runs = count > 1 ? strtoul(arguments[1], NULL, 10) : 21;
    runs = runs ? runs : 1;
    double *times = hw_alloc_array(runs, sizeof *times);
    bool good = times != NULL;
    printf("median (longest) of %zu\n", runs);
    good = good && bench(9, 20, 2, runs, times) && bench(9, 500, 2, runs, times) &&
           bench(30, 20, 2, runs, times) && bench(30, 500, 2, runs, times) &&
           bench(9, 20, 3, runs, times) && bench(200, 500, 2, runs, times);
    hw_free(times);
    return !good;
}
