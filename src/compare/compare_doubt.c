// compare_doubt.c: what the difference of two regions of one photo may be wrong by.
//
// Whatever shifts both regions alike cancels. What is left, as standard uncertainties:
//   - texture: half of the block errors of both samples, since the marks hold most of the very
//     areas that are judged (the whole error would be that of the mean of all such wood);
//   - light: the slope seen on the card carried on from patch to target, and 1 % that a plane
//     cannot see (1 % of light is 0.23 L* on mid-brown);
//   - reading: JPEG and noise over an area, 0.1 an axis;
//   - camera: tone curve, strengthened colours, and sensors that are not the eye. It grows with
//     the gap: signs are safe, sizes are not. Shares of the gap's length, chosen so that the 90 %
//     range holds the published difference in 11 of 12 pairs of a colour chart's patches on two
//     real phone photos with its grey patch as the card; half of that would do for pictures
//     rendered with a straight tone curve (tests/accuracy prints both).
#include "compare_internal.h"

#include <math.h>

static const double texture_share = 0.5;
static const double light_unseen = 0.01;                  // of ln Y
static const double reading[3] = {0.10, 0.10, 0.10};      // L*, a*, b*
static const double camera_share[3] = {0.10, 0.16, 0.18}; // of the gap's length

static void add_outer(hw_covariance *covariance, const double v[3])
{
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            covariance->m[r][c] += v[r] * v[c];
        }
    }
}

// A share `u` more light on the patch moves its L*, a*, b* along one line.
static void add_light(hw_covariance *covariance, hw_xyz colour, double u)
{
    double jacobian[3][3], moved[3];
    hw_lab_jacobian(colour, hw_white_d50, jacobian);
    for (int axis = 0; axis < 3; axis++) {
        moved[axis] = u * (jacobian[axis][0] * colour.X + jacobian[axis][1] * colour.Y +
                           jacobian[axis][2] * colour.Z);
    }
    add_outer(covariance, moved);
}

void hw_compare_doubt(const hw_sample *patch, hw_lab target, const hw_covariance *target_covariance,
                      hw_point target_centre, const hw_light *light, hw_covariance *fixed,
                      hw_covariance *all)
{
    *fixed = hw_covariance_sum(&patch->covariance, target_covariance);
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            fixed->m[r][c] *= texture_share * texture_share;
        }
    }
    add_light(fixed, patch->xyz,
              hypot(light_unseen, hw_light_doubt(light, patch->centre, target_centre)));
    double dL = patch->lab.L - target.L, da = patch->lab.a - target.a, db = patch->lab.b - target.b;
    double length = sqrt(dL * dL + da * da + db * db);
    *all = *fixed;
    for (int axis = 0; axis < 3; axis++) {
        fixed->m[axis][axis] += reading[axis] * reading[axis];
        double camera = camera_share[axis] * length;
        all->m[axis][axis] += reading[axis] * reading[axis] + camera * camera;
    }
}
