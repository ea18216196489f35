// measure_group.c: readings of one sample to one colour: the mean of X, Y, Z, since colours mix as
// light, and what it may be wrong by.
//
// The standard error comes from the scatter of L*, a*, b* themselves (s / sqrt(n)). Instruments of one
// kind agree within 0.1 to 0.3, however still one of them repeats itself (0.02 to 0.05; bench
// instruments, figures of the field): HW_INSTRUMENT_U = 0.2 in each axis is chosen between them, and is
// never averaged away.
#include "measure_internal.h"

#include <math.h>

void hw_measured_groups_free(hw_measured_groups *groups)
{
    if (groups) {
        hw_free(groups->group);
        *groups = (hw_measured_groups){0};
    }
}

// Names in order, and the rows of one name in theirs, so that each name's rows lie together.
static int by_name(const void *one, const void *other)
{
    const hw_measured_reading *a = *(const hw_measured_reading *const *)one;
    const hw_measured_reading *b = *(const hw_measured_reading *const *)other;
    int order = strcmp(a->name, b->name);
    order = order ? order : (int)a->named - (int)b->named;
    return order ? order : (a->row > b->row) - (a->row < b->row);
}

static int by_row(const void *one, const void *other)
{
    const hw_measured_group *a = one, *b = other;
    return (a->row > b->row) - (a->row < b->row);
}

static void add_axes(double sum[3], double square[3], hw_lab lab, hw_lab middle)
{
    const double off[3] = {lab.L - middle.L, lab.a - middle.a, lab.b - middle.b};
    for (int k = 0; k < 3; k++) {
        sum[k] += off[k];
        square[k] += off[k] * off[k];
    }
}

static hw_measured_group group_of(const hw_measured_reading *const *reading, size_t count,
                                  const double u_conversion[3])
{
    hw_measured_group made = {.named = reading[0]->named,
                              .count = count,
                              .row = reading[0]->row,
                              .line = reading[0]->line,
                              .lab = reading[0]->lab};
    double sum[3] = {0}, square[3] = {0}, n = (double)count;
    hw_xyz mean = {0};
    hw_copy_text(made.name, sizeof made.name, reading[0]->name);
    for (size_t i = 0; i < count; i++) {
        hw_xyz xyz = hw_xyz_from_lab(reading[i]->lab, hw_white_d50);
        mean = (hw_xyz){mean.X + xyz.X / n, mean.Y + xyz.Y / n, mean.Z + xyz.Z / n};
        add_axes(sum, square, reading[i]->lab, reading[0]->lab);
    }
    made.lab = count > 1 ? hw_lab_from_xyz(mean, hw_white_d50) : made.lab;
    for (int k = 0; k < 3; k++) {
        double scatter = fmax(square[k] - sum[k] * sum[k] / n, 0.0);
        double se = count > 1 ? sqrt(scatter / (n - 1.0) / n) : reading[0]->standard_error[k];
        made.standard_error[k] = se;
        made.u[k] =
            sqrt(HW_INSTRUMENT_U * HW_INSTRUMENT_U + se * se + u_conversion[k] * u_conversion[k]);
    }
    return made;
}

hw_status hw_measure_group(const hw_measured *measured, hw_measured_groups *out, hw_error *err)
{
    const hw_measured_reading **sorted = hw_alloc_array(measured->count, sizeof *sorted);
    hw_measured_groups made = {hw_alloc_array(measured->count, sizeof *made.group), 0};
    if (!sorted || !made.group) {
        hw_free(sorted);
        hw_free(made.group);
        return hw_fail_memory(err, "gathering readings");
    }
    for (size_t i = 0; i < measured->count; i++) {
        sorted[i] = &measured->reading[i];
    }
    qsort(sorted, measured->count, sizeof *sorted, by_name);
    for (size_t i = 0, next; i < measured->count; i = next) {
        next = i + 1;
        while (next < measured->count && sorted[i]->named && sorted[next]->named &&
               strcmp(sorted[i]->name, sorted[next]->name) == 0) {
            next++;
        }
        made.group[made.count++] = group_of(sorted + i, next - i, measured->u_conversion);
    }
    qsort(made.group, made.count, sizeof *made.group, by_row);
    hw_free(sorted);
    *out = made;
    return HW_OK;
}
