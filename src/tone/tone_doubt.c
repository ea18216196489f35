// tone_doubt.c: what the outcome of a plan may be off by, and what that costs.
//
// Three things are uncertain: where the patch is (the reading), how strong and of which colour the
// dyes are (known together, tone_learn.c), and each pass against the next. In density, with a_j what
// a plan lays of dye j (by its exponent):
//
//   V = sum a_j a_k cov(d_j, d_k) + (d amount / d g)^2 u_g^2 d_j d_j' + passes u_pass^2 d d'
//
// and what comes out of a jar, one that is still to be mixed too, is as much stronger or weaker as that jar is
// (hw_effects_add).
//
// Most of V is one thing: all of it is stronger or weaker. That part is a factor whose logarithm is
// normal, as large as V allows (V - u^2 m m' stays positive for u^2 = 1 / m' V^-1 m); the rest is
// normal in density.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

// ---- Draws -------------------------------------------------------------------------

// The same numbers every time: splitmix64 (Steele, Lea and Flood 2014) into two normal deviates (Box
// and Muller 1958).
static void two_normals(uint64_t *state, double out[2])
{
    double u[2];
    for (int i = 0; i < 2; i++) {
        uint64_t z = *state += 0x9e3779b97f4a7c15u;
        z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
        z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
        u[i] = ((double)((z ^ (z >> 31)) >> 11) + 0.5) / 9007199254740992.0;
    }
    double radius = sqrt(-2.0 * log(u[0])), turn = 6.283185307179586 * u[1];
    out[0] = radius * cos(turn);
    out[1] = radius * sin(turn);
}

enum { DRAWS = 400 };

// One draw: what does not depend on the plan.
struct hw_draw {
    double start[3], normal[3]; // density that the reading is off by; for the rest
    double quantile;            // of the factor
    double now;                 // CIEDE2000 of the patch as it may be
};

// The deviate that a normal variable stays below with chance p, within 4.5e-4 (Abramowitz and Stegun 26.2.23): the
// factor's draws lie evenly, so that its tails are not left to luck.
static double normal_quantile(double p)
{
    double t = sqrt(-2.0 * log(fmin(p, 1.0 - p)));
    double z = t - (2.515517 + t * (0.802853 + t * 0.010328)) /
                       (1.0 + t * (1.432788 + t * (0.189269 + t * 0.001308)));
    return p < 0.5 ? -z : z;
}

static void make_draws(hw_tone_task *task)
{
    double reading[3][3];
    uint64_t state = 20261125;
    hw_covariance_root(&task->reading, reading);
    for (int i = 0; i < DRAWS; i++) {
        hw_draw *draw = &task->draw[i];
        double normal[6];
        for (int k = 0; k < 6; k += 2) {
            two_normals(&state, &normal[k]);
        }
        for (int band = 0; band < 3; band++) {
            draw->start[band] = 0.0;
            for (int k = 0; k <= band; k++) {
                draw->start[band] += reading[band][k] * normal[k];
            }
            draw->normal[band] = normal[3 + band];
        }
        draw->quantile = normal_quantile((i + 0.5) / DRAWS);
        draw->now = hw_ciede2000(task->target, hw_tone_colour(task, draw->start));
    }
}

// ---- The task ----------------------------------------------------------------------

static void note_before(const hw_tone_request *request, hw_tone_task *task)
{
    for (size_t i = 0; i < request->so_far_count; i++) {
        const hw_layer *layer = &request->so_far[i];
        for (size_t k = 0; k < layer->liquid.count; k++) {
            const hw_known_dye *dye = hw_known_find(task->known, layer->liquid.dose[k].dye);
            if (dye) {
                task->before[dye - task->known->dye] +=
                    layer->passes * layer->liquid.dose[k].strength;
            }
        }
    }
}

static void note_turns(hw_tone_task *task)
{
    for (size_t i = 0; i < task->known->count; i++) {
        task->some_known = task->some_known || !task->known->dye[i].guess;
        hw_lab under = hw_tone_colour(task, task->known->dye[i].density);
        task->turn[i][0] = under.a - task->patch.a;
        task->turn[i][1] = under.b - task->patch.b;
    }
}

// Of a jar with a dye that is not known no plan is made.
static void take_jars(const hw_tone_request *request, hw_tone_task *task)
{
    for (size_t i = 0; i < request->jar_count; i++) {
        hw_task_jar *jar = &task->jar[task->jar_count];
        const hw_known_jar *known = hw_known_find_jar(task->known, request->jars[i].key);
        jar->known =
            known ? (size_t)(known - task->known->jar) : task->known->jar_count + task->jar_count;
        task->jar_count += hw_tone_coat_of(task->known, &request->jars[i].liquid, &jar->liquid);
    }
}

hw_status hw_tone_task_of(const hw_tone_request *request, hw_tone_task *out, hw_error *err)
{
    const hw_comparison *gap = request->gap;
    double jacobian[3][3];
    hw_tone_task task = {.patch = gap->patch_lab,
                         .target = gap->target_lab,
                         .known = request->known,
                         .rules = request->rules ? *request->rules : hw_tone_rules_default()};
    task.before = hw_alloc_array(request->known->count, sizeof *task.before);
    task.turn = hw_alloc_array(request->known->count, sizeof *task.turn);
    task.draw = hw_alloc_array(DRAWS, sizeof *task.draw);
    task.jar = hw_alloc_array(request->jar_count, sizeof *task.jar);
    if (!task.before || !task.turn || !task.draw || !task.jar) {
        hw_tone_task_free(&task);
        return hw_fail_memory(err, "making the plan");
    }
    hw_sharpen(hw_xyz_from_lab(task.patch, hw_white_d50), task.patch_bands);
    hw_tone_density_by_lab(task.patch, jacobian);
    task.reading = hw_covariance_map((const double(*)[3])jacobian, &gap->covariance);
    double a = task.patch.a - task.target.a, b = task.patch.b - task.target.b;
    if (hypot(a, b) > 0.5) { // less is no direction
        task.hue[0] = a / hypot(a, b);
        task.hue[1] = b / hypot(a, b);
    }
    note_before(request, &task);
    take_jars(request, &task);
    note_turns(&task);
    make_draws(&task);
    hw_outcome still = {.scale_u = 0.0};
    task.now = hw_tone_loss(&task, &still, 0);
    *out = task;
    return HW_OK;
}

void hw_tone_task_free(hw_tone_task *task)
{
    hw_free(task->before);
    hw_free(task->turn);
    hw_free(task->draw);
    hw_free(task->jar);
    *task = (hw_tone_task){0};
}

// As hw_tone_under, with the bands already at hand: this runs some hundred thousand times a search.
hw_lab hw_tone_colour(const hw_tone_task *task, const double density[3])
{
    double bands[3];
    for (int band = 0; band < 3; band++) {
        bands[band] = fmax(task->patch_bands[band] * exp(-density[band]), 1e-5);
    }
    return hw_lab_from_xyz(hw_unsharpen(bands), hw_white_d50);
}

// ---- What a plan does --------------------------------------------------------------

int hw_plan_passes(const hw_plan *plan)
{
    int passes = 0;
    for (size_t i = 0; i < plan->count; i++) {
        passes += plan->coat[i].passes;
    }
    return passes;
}

hw_plan hw_plan_first(const hw_plan *plan, int passes)
{
    hw_plan first = {.count = 0};
    for (size_t i = 0; i < plan->count && passes > 0; i++) {
        hw_coat_of_dye *coat = &first.coat[first.count++];
        *coat = plan->coat[i];
        coat->passes = coat->passes < passes ? coat->passes : passes;
        passes -= coat->passes;
    }
    return first;
}

size_t hw_tone_jar_of(const hw_tone_task *task, const hw_coat_of_dye *coat)
{
    for (size_t i = 0; i < task->jar_count; i++) {
        if (hw_coat_of_dye_is_same(&task->jar[i].liquid, coat)) {
            return task->jar[i].known;
        }
    }
    return HW_JAR_NONE;
}

// What is still to be mixed will be a jar that nothing was seen of, and as doubtful: one for all layers of it.
static size_t jar_of_layer(const hw_tone_task *task, const hw_plan *plan, size_t layer)
{
    size_t jar = hw_tone_jar_of(task, &plan->coat[layer]), first = 0;
    if (jar != HW_JAR_NONE) {
        return jar;
    }
    while (first < layer && !hw_coat_of_dye_is_same(&plan->coat[first], &plan->coat[layer])) {
        first++;
    }
    return task->known->jar_count + task->jar_count + first;
}

// What a plan lays, each dye of each jar once. The law goes by all of one dye, in the order it is laid.
static size_t effects_of(const hw_tone_task *task, const hw_plan *plan, hw_effect *out)
{
    double laid[HW_LAYERS_MAX * HW_LIQUID_DYES_MAX] = {0.0};
    size_t count = 0;
    for (size_t i = 0; i < plan->count; i++) {
        const hw_coat_of_dye *coat = &plan->coat[i];
        size_t jar = jar_of_layer(task, plan, i);
        for (size_t k = 0; k < coat->dyes; k++) {
            size_t at = 0;
            while (at < count && (out[at].dye != coat->dye[k] || out[at].jar != jar)) {
                at++;
            }
            if (at == count) {
                out[count++] = (hw_effect){.dye = coat->dye[k], .jar = jar};
            }
            laid[at] += coat->passes * coat->strength[k];
        }
    }
    for (size_t i = 0; i < count; i++) {
        const hw_known_dye *dye = &task->known->dye[out[i].dye];
        double slope, before = task->before[out[i].dye],
                      factor = hw_known_jar_factor(task->known, out[i].jar);
        for (size_t k = 0; k < i; k++) {
            before += out[k].dye == out[i].dye ? laid[k] : 0.0;
        }
        out[i].by_law = factor * hw_amount_law(before, laid[i], dye->exponent, &slope);
        out[i].by_exponent = factor * slope * dye->u_exponent;
    }
    return count;
}

static void add_scatter(const hw_tone_task *task, const hw_plan *plan, hw_covariance *sum)
{
    for (size_t i = 0; i < plan->count; i++) {
        const hw_coat_of_dye *coat = &plan->coat[i];
        double one[3] = {0.0, 0.0, 0.0};
        double factor = hw_known_jar_factor(task->known, hw_tone_jar_of(task, coat));
        for (size_t k = 0; k < coat->dyes; k++) {
            for (int band = 0; band < 3; band++) {
                one[band] +=
                    factor * coat->strength[k] * task->known->dye[coat->dye[k]].density[band];
            }
        }
        hw_covariance_add_outer(sum, coat->passes * hw_u_pass * hw_u_pass, one);
    }
}

// Takes out of V the most that scales `density` as a whole.
static void split_scale(hw_outcome *out)
{
    hw_covariance padded = out->rest, inverse;
    double size = 0.0, along = 0.0;
    for (int band = 0; band < 3; band++) {
        size += out->density[band] * out->density[band];
    }
    for (int band = 0; band < 3; band++) {
        padded.m[band][band] += 1e-6 * size + 1e-12;
    }
    if (!(size > 0.0) || !hw_invert3(&padded, &inverse)) {
        return;
    }
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            along += out->density[r] * inverse.m[r][c] * out->density[c];
        }
    }
    double square = 1.0 / along;
    hw_covariance_add_outer(&out->rest, -square, out->density);
    for (int band = 0; band < 3; band++) {
        out->rest.m[band][band] = fmax(out->rest.m[band][band], 0.0);
    }
    out->scale_u = sqrt(square); // most of it was a logarithm's to begin with (shop, boards, day)
}

hw_outcome hw_tone_outcome(const hw_tone_task *task, const hw_plan *plan, double share)
{
    hw_outcome out = {.density = {0.0, 0.0, 0.0}};
    hw_effect effect[HW_LAYERS_MAX * HW_LIQUID_DYES_MAX];
    size_t count = effects_of(task, plan, effect);
    hw_effects_add(task->known, effect, count, out.density, &out.rest);
    out.rest = hw_covariance_times(&out.rest, share * share);
    add_scatter(task, plan, &out.rest);
    split_scale(&out);
    return out;
}

// ---- Loss --------------------------------------------------------------------------

double hw_tone_loss_at(const hw_tone_task *task, hw_lab outcome)
{
    double below = task->target.L - outcome.L - 0.5;
    double past = -((outcome.a - task->target.a) * task->hue[0] +
                    (outcome.b - task->target.b) * task->hue[1]) -
                  0.5;
    return hw_ciede2000(task->target, outcome) + task->rules.dark_cost * fmax(below, 0.0) +
           task->rules.hue_cost * fmax(past, 0.0);
}

// Three factors (Gauss and Hermite) times six points m +- sqrt(3) columns of the root of the rest (a
// cubature that is exact for quadratic losses).
double hw_tone_loss(const hw_tone_task *task, const hw_outcome *outcome, int passes)
{
    const double node[3] = {-1.7320508075688772, 0.0, 1.7320508075688772};
    const double weight[3] = {1.0 / 6.0, 4.0 / 6.0, 1.0 / 6.0};
    hw_covariance rest = hw_covariance_sum(&outcome->rest, &task->reading);
    double root[3][3], sum = 0.0;
    hw_covariance_root(&rest, root);
    for (int z = 0; z < 3; z++) {
        double factor = exp(outcome->scale_u * node[z]);
        for (int column = 0; column < 3; column++) {
            for (int sign = -1; sign <= 1; sign += 2) {
                double point[3];
                for (int band = 0; band < 3; band++) {
                    point[band] =
                        factor * outcome->density[band] + sign * sqrt(3.0) * root[band][column];
                }
                sum += weight[z] / 6.0 * hw_tone_loss_at(task, hw_tone_colour(task, point));
            }
        }
    }
    return sum + task->rules.pass_cost * passes;
}

// How far a match made with a dye parts under another lamp: shift of one weak pass between D65 and illuminant
// A, CIE 1976, from smooth dye bands of our own (computed; only the order counts: brown and black least, red
// most).
static const double parting[HW_FAMILY_COUNT] = {
    [HW_FAMILY_AMBER] = 0.6,     [HW_FAMILY_ORANGE] = 0.6, [HW_FAMILY_RED] = 1.0,
    [HW_FAMILY_RED_BROWN] = 0.5, [HW_FAMILY_BROWN] = 0.2,  [HW_FAMILY_BLACK] = 0.1,
    [HW_FAMILY_GREEN] = 0.8,     [HW_FAMILY_BLUE] = 0.7,   [HW_FAMILY_VIOLET] = 0.3,
};

double hw_tone_parting(const hw_tone_task *task, const hw_plan *plan)
{
    double parts = 0.0;
    for (size_t i = 0; i < plan->count; i++) {
        const hw_coat_of_dye *coat = &plan->coat[i];
        for (size_t k = 0; k < coat->dyes; k++) {
            parts +=
                coat->passes * coat->strength[k] * parting[task->known->dye[coat->dye[k]].family];
        }
    }
    return parts;
}

// Two complements make depth too, but what they undo of each other is mud (common practice, no source): the
// lengths of their turns less the length of the sum.
double hw_tone_side_cost(const hw_tone_task *task, const hw_plan *plan)
{
    double lengths = 0.0, sum[2] = {0.0, 0.0}, guesses = 0.0;
    for (size_t i = 0; i < plan->count; i++) {
        const hw_coat_of_dye *coat = &plan->coat[i];
        for (size_t k = 0; k < coat->dyes; k++) {
            double laid = coat->passes * coat->strength[k];
            const double *turn = task->turn[coat->dye[k]];
            guesses += task->some_known && task->known->dye[coat->dye[k]].guess;
            lengths += laid * hypot(turn[0], turn[1]);
            sum[0] += laid * turn[0];
            sum[1] += laid * turn[1];
        }
    }
    double looks = plan->count > 1 ? (double)(plan->count - 1) : 0.0;
    return task->rules.look_cost * looks + task->rules.guess_cost * guesses +
           task->rules.lamp_cost * hw_tone_parting(task, plan) +
           task->rules.mud_cost * (lengths - hypot(sum[0], sum[1]));
}

// ---- Chances -----------------------------------------------------------------------

// d L* / d density at a colour, by central differences.
static void light_by_density(const hw_tone_task *task, const double density[3], double out[3])
{
    const double step = 1e-4;
    for (int band = 0; band < 3; band++) {
        double more[3] = {density[0], density[1], density[2]};
        more[band] += step;
        double low = hw_tone_colour(task, more).L;
        more[band] -= 2.0 * step;
        out[band] = (low - hw_tone_colour(task, more).L) / (2.0 * step);
    }
}

double hw_tone_overshoot(const hw_tone_task *task, const hw_outcome *outcome)
{
    const int nodes = 33; // from -4 to 4 s.d.
    hw_covariance rest = hw_covariance_sum(&outcome->rest, &task->reading);
    double slope[3], variance = 0.0, sum = 0.0, weights = 0.0;
    light_by_density(task, outcome->density, slope);
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            variance += slope[r] * rest.m[r][c] * slope[c];
        }
    }
    double u = sqrt(fmax(variance, 1e-12)), limit = task->target.L - task->rules.too_dark;
    for (int i = 0; i < nodes; i++) {
        double z = -4.0 + 8.0 * i / (nodes - 1), weight = exp(-0.5 * z * z), point[3];
        for (int band = 0; band < 3; band++) {
            point[band] = exp(outcome->scale_u * z) * outcome->density[band];
        }
        double margin = hw_tone_colour(task, point).L - limit;
        sum += weight * 0.5 * erfc(margin / u / sqrt(2.0)); // normal distribution
        weights += weight;
    }
    return sum / weights;
}

// ---- Range and chance to help -----------------------------------------------------

static double drawn_end(const hw_tone_task *task, const hw_outcome *outcome,
                        const double rest[3][3], const hw_draw *draw)
{
    double end[3], factor = exp(outcome->scale_u * draw->quantile);
    for (int band = 0; band < 3; band++) {
        end[band] = factor * outcome->density[band];
        for (int k = 0; k <= band; k++) {
            end[band] += rest[band][k] * draw->normal[k];
        }
        end[band] += draw->start[band];
    }
    return hw_ciede2000(task->target, hw_tone_colour(task, end));
}

void hw_tone_range(const hw_tone_task *task, const hw_outcome *outcome, hw_after *out, double *help)
{
    double rest[3][3], after[DRAWS];
    int nearer = 0;
    hw_covariance_root(&outcome->rest, rest);
    for (int i = 0; i < DRAWS; i++) {
        after[i] = drawn_end(task, outcome, (const double(*)[3])rest, &task->draw[i]);
        nearer += after[i] < task->draw[i].now;
    }
    out->de00_low = hw_select(after, DRAWS, DRAWS / 20);
    out->de00 = hw_select(after, DRAWS, DRAWS / 2);
    out->de00_high = hw_select(after, DRAWS, DRAWS - 1 - DRAWS / 20);
    if (help) {
        *help = (double)nearer / DRAWS;
    }
}

hw_after hw_tone_after(const hw_tone_task *task, const hw_outcome *outcome, int passes,
                       double *help)
{
    hw_after after = {.passes = passes, .lab = hw_tone_colour(task, outcome->density)};
    hw_tone_range(task, outcome, &after, help);
    return after;
}

hw_after hw_tone_as_read(const hw_comparison *gap)
{
    return (hw_after){0, gap->patch_lab, gap->gap.de00, gap->de00_low, gap->de00_high};
}

bool hw_tone_helps_by(const hw_tone_task *task, const hw_outcome *outcome, double least)
{
    double rest[3][3];
    int nearer = 0;
    hw_covariance_root(&outcome->rest, rest);
    for (int i = 0; i < DRAWS; i++) {
        if ((double)nearer / DRAWS >= least) {
            return true;
        }
        if ((double)(nearer + DRAWS - i) / DRAWS < least) {
            return false;
        }
        nearer +=
            drawn_end(task, outcome, (const double(*)[3])rest, &task->draw[i]) < task->draw[i].now;
    }
    return (double)nearer / DRAWS >= least;
}

// ---- Sides -------------------------------------------------------------------------

// Half a unit is what no reading can tell; more on the far side, where the patch was not before,
// is past the target.
static bool axis_stays_short(double before, double after)
{
    const double tellable = 0.5;
    double far_side = before > 0.0 ? fmin(after, 0.0) : fmax(after, 0.0);
    return fabs(far_side) <= tellable;
}

bool hw_tone_stays_short(const hw_tone_task *task, hw_lab outcome)
{
    const hw_lab *p = &task->patch, *t = &task->target;
    return outcome.L >= t->L - 0.3 && axis_stays_short(p->a - t->a, outcome.a - t->a) &&
           axis_stays_short(p->b - t->b, outcome.b - t->b);
}
