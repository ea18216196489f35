// loop_numbers.c: a run without photos: what a reading would say is the truth and noise, so that plans can
// be tried on thousands of runs in seconds. Sizes of the noise are chosen near what photos give.
#include "base_internal.h"
#include "loop_run.h"

#include <math.h>
#include <string.h>

static const double u_reading = 0.25; // of each of L*, a*, b* of a gap, photo by photo
static const double u_scale = 0.05;   // of the size of a gap, the same in every photo of a job

// ---- A reading ---------------------------------------------------------------------

// How much this job's camera stretches gaps, along each of L*, a*, b*.
static void stretch_of(const world *w, double out[3])
{
    uint64_t state = 86028121u * (uint64_t)w->seed + 11u;
    for (int k = 0; k < 3; k++) {
        out[k] = 1.0 + u_scale * scene_normal(&state);
    }
}

hw_comparison loop_read_numbers(world *w)
{
    hw_difference is = world_gap(w);
    double stretch[3], seen[3] = {is.L, is.a, is.b}, u[3];
    stretch_of(w, stretch);
    for (int k = 0; k < 3; k++) {
        u[k] = hypot(u_reading, u_scale * seen[k]);
        seen[k] = stretch[k] * seen[k] + u_reading * scene_normal(&w->shooting);
    }
    hw_comparison gap = {.patch = "strip", .target = HW_BESIDE, .kind = HW_KIND_LET_IN};
    gap.target_lab = w->target;
    gap.patch_lab = (hw_lab){w->target.L + seen[0], w->target.a + seen[1], w->target.b + seen[2]};
    gap.gap = hw_difference_of(gap.target_lab, gap.patch_lab);
    gap.covariance = hw_covariance_diagonal(u[0] * u[0], u[1] * u[1], u[2] * u[2]);
    hw_gap_range(gap.target_lab, gap.patch_lab, &gap.covariance, &gap.de00_low, &gap.de00_high);
    double half[3] = {HW_NINETY * u[0], HW_NINETY * u[1], HW_NINETY * u[2]};
    gap.low = (hw_difference){
        .L = gap.gap.L - half[0], .a = gap.gap.a - half[1], .b = gap.gap.b - half[2]};
    gap.high = (hw_difference){
        .L = gap.gap.L + half[0], .a = gap.gap.a + half[1], .b = gap.gap.b + half[2]};
    gap.low.C = gap.gap.C - fmax(half[1], half[2]);
    gap.high.C = gap.gap.C + fmax(half[1], half[2]);
    gap.low.H = gap.gap.H - fmax(half[1], half[2]);
    gap.high.H = gap.gap.H + fmax(half[1], half[2]);
    gap.spread = gap.spread_here = fmax(w->spread, 0.7);
    gap.spread_count = w->pieces;
    gap.spread_ratio = gap.gap.de00 / gap.spread;
    gap.direction_count = hw_directions_of(&gap.gap, gap.direction);
    hw_verdict_decide(&gap);
    return gap;
}

// ---- A step board ------------------------------------------------------------------

static const double board_day = 0.10, board_passes = 0.05, board_band = 0.04; // ln, ln, share

bool loop_board_numbers(const world *w, hw_shelf *shelf)
{
    uint64_t state = 67867967u * (uint64_t)w->seed + 9u;
    double day = board_day * scene_normal(&state);
    for (size_t i = 0; i < shelf->count; i++) {
        hw_dye *dye = &shelf->dye[i];
        double strength = exp(day + board_passes * scene_normal(&state)), u = hypot(0.05, 0.02);
        world_density(w, dye->family, 1.0, dye->density);
        for (int band = 0; band < 3; band++) {
            dye->density[band] *= strength * (1.0 + board_band * scene_normal(&state));
        }
        for (int r = 0; r < 3; r++) {
            for (int c = 0; c < 3; c++) {
                dye->covariance.m[r][c] = u * u * dye->density[r] * dye->density[c];
            }
            dye->covariance.m[r][r] += pow(board_band * dye->density[r], 2.0) + 1e-6;
        }
        dye->u_exponent = 0.05;
        dye->u_strength = u;
        dye->guess = false;
        dye->has_wood = true;
        dye->wood = world_strip(w);
        dye->board_passes = 4;
    }
    return true;
}

// ---- What passes did ---------------------------------------------------------------

// What lies on the strip by the log.
typedef struct logged {
    hw_layer layer[64];
    size_t count;
    double amount[HW_FAMILY_COUNT];
    double risk_spent;
} logged;

void loop_tell_laid(hw_observation *seen, const hw_layer *laid, double amount[HW_FAMILY_COUNT])
{
    seen->laid_count = laid->liquid.count;
    for (size_t i = 0; i < laid->liquid.count; i++) {
        const hw_dose *dose = &laid->liquid.dose[i];
        hw_family family;
        hw_laid *told = &seen->laid[i];
        *told = (hw_laid){.before = 0.0};
        memcpy(told->dye, dose->dye, sizeof told->dye);
        hw_laid_add(told, dose, laid->passes);
        if (hw_family_from_name(dose->dye, &family)) {
            told->before = amount[family];
            amount[family] += told->amount;
        }
    }
}

static void log_laid(logged *l, const hw_layer *next, hw_observation *seen)
{
    loop_tell_laid(seen, next, l->amount);
    if (l->count < sizeof l->layer / sizeof *l->layer) {
        l->layer[l->count++] = *next;
    }
}

void loop_tell_seen(hw_observation *seen, const char *job, const char *patch, int64_t now,
                    const hw_comparison *before, const hw_comparison *after)
{
    double jacobian[3][3], u[3] = {after->gap.L - before->gap.L, after->gap.a - before->gap.a,
                                   after->gap.b - before->gap.b};
    for (int k = 0; k < 3; k++) {
        u[k] = 2.0 * u_reading * u_reading + pow(u_scale * u[k], 2.0);
    }
    hw_covariance lab = hw_covariance_diagonal(u[0], u[1], u[2]);
    snprintf(seen->job, sizeof seen->job, "%s", job);
    snprintf(seen->patch, sizeof seen->patch, "%s", patch);
    seen->at = now;
    seen->tool = HW_TOOL_SPRAY;
    seen->wood = before->patch_lab;
    hw_tone_between(before->patch_lab, after->patch_lab, seen->density);
    hw_tone_density_by_lab(after->patch_lab, jacobian);
    seen->covariance = hw_covariance_map((const double(*)[3])jacobian, &lab);
}

static bool keep_seen(const loop_job *j, hw_observation *seen, const hw_comparison *before,
                      const hw_comparison *after)
{
    loop_tell_seen(seen, j->name, "strip", j->now, before, after);
    hw_observation *more = hw_resize_array(j->shelf->seen, j->shelf->seen_count + 1, sizeof *more);
    if (!more) {
        return false;
    }
    j->shelf->seen = more;
    more[j->shelf->seen_count++] = *seen;
    return true;
}

// ---- A job -------------------------------------------------------------------------

static bool advise(const loop_job *j, const logged *l, const hw_comparison *gap, hw_known *known,
                   hw_advice *out)
{
    hw_tone_request request = {.gap = gap,
                               .known = known,
                               .so_far = l->layer,
                               .so_far_count = l->count,
                               .surface = HW_SURFACE_SEALED,
                               .risk_spent = l->risk_spent};
    return hw_tone_learn(j->shelf, j->name, gap->patch_lab, known, NULL) == HW_OK &&
           hw_tone_advise(&request, out, NULL) == HW_OK;
}

void loop_run_numbers(world *w, loop_job *j, loop_result *out)
{
    static logged l;
    hw_comparison gap, before = {0};
    hw_observation seen = {0};
    l = (logged){0};
    for (bool more = true; more;) {
        hw_known known = {0};
        hw_advice advice = {0};
        gap = loop_read_numbers(w);
        out->photos++;
        if ((out->photos > 1 && !keep_seen(j, &seen, &before, &gap)) ||
            !advise(j, &l, &gap, &known, &advice)) {
            out->failed = true;
            loop_say(out, " FAILED");
            more = false;
        } else if (!(more = loop_lay_next(w, j, &advice, out))) {
            loop_compare_known(w, j, &known, out);
        } else {
            seen = (hw_observation){.event = 3L * out->photos,
                                    .photo_before = 3L * out->photos - 2,
                                    .photo_after = 3L * out->photos + 1};
            log_laid(&l, &advice.next, &seen);
            l.risk_spent += advice.next_risk;
            before = gap;
            j->now += 3600;
        }
        hw_known_free(&known);
    }
}
