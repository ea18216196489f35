// tone_doubt.c: what the outcome of a plan may be off by, and what that costs.
//
// Strength is uncertain in three ways that multiply: the day (all dyes alike), the dye, the single
// pass. In density, with m the plan's mean and d_j one pass of dye j: V = u_session^2 m m' + sum_j
// [ (k c)^2 u_dye^2 + k c^2 u_pass^2 ] d_j d_j' + reading The loss of a plan is its mean over the
// six points m +- sqrt(3) columns of the root of V (a cubature that is exact for quadratic
// losses), so a plan that may overshoot costs more than one that may fall short.
#include "tone_internal.h"

#include <math.h>

// d(-ln band) / d(L*, a*, b*) at a colour, by central differences.
static void density_by_lab(hw_lab colour, double out[3][3])
{
    const double step = 1e-3;
    for (int axis = 0; axis < 3; axis++) {
        hw_lab up = colour, down = colour;
        double high[3], low[3];
        *(axis == 0 ? &up.L : axis == 1 ? &up.a : &up.b) += step;
        *(axis == 0 ? &down.L : axis == 1 ? &down.a : &down.b) -= step;
        hw_sharpen(hw_xyz_from_lab(up, hw_white_d50), high);
        hw_sharpen(hw_xyz_from_lab(down, hw_white_d50), low);
        for (int band = 0; band < 3; band++) {
            out[band][axis] = -log(fmax(high[band], 1e-5) / fmax(low[band], 1e-5)) / (2.0 * step);
        }
    }
}

// The inverse: d(L*, a*, b*) / d(density), by central differences.
static void lab_by_density(hw_lab colour, double out[3][3])
{
    const double step = 1e-4;
    for (int band = 0; band < 3; band++) {
        double more[3] = {0.0, 0.0, 0.0}, less[3] = {0.0, 0.0, 0.0};
        more[band] = step;
        less[band] = -step;
        hw_lab up = hw_tone_under(colour, more), down = hw_tone_under(colour, less);
        out[0][band] = (up.L - down.L) / (2.0 * step);
        out[1][band] = (up.a - down.a) / (2.0 * step);
        out[2][band] = (up.b - down.b) / (2.0 * step);
    }
}

hw_tone_task hw_tone_task_of(const hw_comparison *gap, const hw_tone_rules *rules)
{
    hw_tone_task task = {.patch = gap->patch_lab, .target = gap->target_lab, .rules = rules};
    double jacobian[3][3];
    density_by_lab(task.patch, jacobian);
    task.reading = hw_covariance_map((const double(*)[3])jacobian, &gap->covariance);
    return task;
}

hw_covariance hw_tone_density_doubt(const hw_tone_task *task, const hw_dye_use *use, size_t count)
{
    hw_covariance doubt = task->reading;
    double mean[3];
    hw_tone_density(use, count, mean);
    double session = task->rules->u_session * task->rules->u_session;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            doubt.m[r][c] += session * mean[r] * mean[c];
        }
    }
    for (size_t i = 0; i < count; i++) {
        const hw_dye *dye = use[i].dye;
        double laid = use[i].passes * use[i].strength;
        double variance = laid * laid * dye->u_strength * dye->u_strength +
                          use[i].passes * use[i].strength * use[i].strength * task->rules->u_pass *
                              task->rules->u_pass;
        for (int r = 0; r < 3; r++) {
            for (int c = 0; c < 3; c++) {
                doubt.m[r][c] += variance * dye->density[r] * dye->density[c];
            }
        }
    }
    return doubt;
}

hw_covariance hw_tone_lab_doubt(const hw_tone_task *task, const hw_dye_use *use, size_t count,
                                hw_lab *outcome)
{
    double density[3], jacobian[3][3];
    hw_tone_density(use, count, density);
    *outcome = hw_tone_under(task->patch, density);
    lab_by_density(*outcome, jacobian);
    hw_covariance doubt = hw_tone_density_doubt(task, use, count);
    return hw_covariance_map((const double(*)[3])jacobian, &doubt);
}

double hw_tone_overshoot(const hw_tone_task *task, const hw_dye_use *use, size_t count)
{
    hw_lab outcome;
    hw_covariance doubt = hw_tone_lab_doubt(task, use, count, &outcome);
    double u = sqrt(fmax(doubt.m[0][0], 1e-12));
    double margin = outcome.L - (task->target.L - task->rules->too_dark);
    return 0.5 * erfc(margin / u / sqrt(2.0)); // normal distribution
}

// Lower root of a symmetric matrix that is not negative (Cholesky); a direction without spread
// stays 0.
static void root_of(const hw_covariance *v, double root[3][3])
{
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            root[r][c] = 0.0;
        }
        for (int c = 0; c <= r; c++) {
            double rest = v->m[r][c];
            for (int k = 0; k < c; k++) {
                rest -= root[r][k] * root[c][k];
            }
            if (r == c) {
                root[r][r] = sqrt(fmax(rest, 0.0));
            } else {
                root[r][c] = root[c][c] > 1e-12 ? rest / root[c][c] : 0.0;
            }
        }
    }
}

static double loss_at(const hw_tone_task *task, const double density[3])
{
    hw_lab outcome = hw_tone_under(task->patch, density);
    double below = task->target.L - outcome.L - 0.5;
    return hw_ciede2000(task->target, outcome) + task->rules->dark_cost * fmax(below, 0.0);
}

double hw_tone_loss(const hw_tone_task *task, const hw_dye_use *use, size_t count)
{
    double mean[3], root[3][3], sum = 0.0;
    int passes = 0;
    hw_tone_density(use, count, mean);
    hw_covariance doubt = hw_tone_density_doubt(task, use, count);
    root_of(&doubt, root);
    for (int column = 0; column < 3; column++) {
        for (int sign = -1; sign <= 1; sign += 2) {
            double point[3];
            for (int band = 0; band < 3; band++) {
                point[band] = mean[band] + sign * sqrt(3.0) * root[band][column];
            }
            sum += loss_at(task, point);
        }
    }
    for (size_t i = 0; i < count; i++) {
        passes += use[i].passes;
    }
    return sum / 6.0 + task->rules->pass_cost * passes;
}

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
    return outcome.L >= t->L && axis_stays_short(p->a - t->a, outcome.a - t->a) &&
           axis_stays_short(p->b - t->b, outcome.b - t->b);
}
