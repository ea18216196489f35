// Readings of one sample to one colour, on numbers computed apart.
#include "check.h"
#include "huewright/measure.h"

static hw_measured_reading reading(const char *name, bool named, double L, double a, double b,
                                   long row)
{
    hw_measured_reading made = {.named = named, .lab = {L, a, b}, .row = row, .line = row + 1};
    snprintf(made.name, sizeof made.name, "%s", name);
    return made;
}

static void test_groups(void)
{
    hw_measured_reading list[6] = {
        reading("strip", true, 50.0, 10.0, 20.0, 1), reading("door", true, 40.0, 5.0, 9.0, 2),
        reading("strip", true, 50.6, 10.3, 20.0, 3), reading("4", false, 30.0, 0.0, 0.0, 4),
        reading("strip", true, 49.4, 9.7, 20.0, 5),  reading("4", true, 31.0, 0.0, 0.0, 6)};
    hw_measured measured = {.reading = list, .count = 6, .u_conversion = {0.3, 0.0, 0.0}};
    hw_measured_groups groups = {0};
    list[1].standard_error[1] = 0.3;
    check_true(hw_measure_group(&measured, &groups, NULL) == HW_OK);
    if (!check_true(groups.count == 4)) { // a row without a name joins none, whatever its number
        return;
    }
    const hw_measured_group *strip = &groups.group[0], *door = &groups.group[1];
    check_text(strip->name, "strip");
    check_text(door->name, "door");
    check_true(strip->count == 3 && door->count == 1 && strip->row == 1 && strip->line == 2);
    // s = 0.6, 0.3, 0: standard error s / sqrt(3).
    check_close(strip->standard_error[0], 0.6 / sqrt(3.0), 1e-9);
    check_close(strip->standard_error[1], 0.3 / sqrt(3.0), 1e-9);
    check_close(strip->standard_error[2], 0.0, 1e-6);
    check_close(strip->u[0], sqrt(0.04 + 0.12 + 0.09), 1e-9);
    check_close(strip->u[2], 0.2, 1e-6);
    // The mean of light is a little lighter than the mean of L*: with L* 49.4, 50, 50.6 Y is the mean of
    // ((L + 16) / 116)^3 = 0.179211, 0.184187, 0.189253 = 0.184217, L* 50.0036.
    check_close(strip->lab.L, 50.0036, 5e-4);
    check_close(door->lab.L, 40.0, 0.0);
    check_close(door->standard_error[1], 0.3, 0.0);
    check_close(door->u[1], sqrt(0.04 + 0.09), 1e-9);
    check_true(!groups.group[2].named && groups.group[3].named);
    hw_measured_groups_free(&groups);
    hw_measured_groups_free(&groups);
}

int main(void)
{
    test_groups();
    return check_done();
}
