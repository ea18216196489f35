// picture_strip.c: a joint laid straight, so that the eye can run along it: the repair above, the old wood below.
//
// What lies around the joint is made into a picture that is twice as fine as the strip is to be; each pixel of the strip
// is the mean of a grid of places in it, read between pixels in straight lines.
#include "picture_internal.h"

#include <math.h>
#include <string.h>

enum { PLACES = 3 }; // across and along each pixel of the strip

typedef struct joint {
    const hw_seam *seam;
    double depth_px;
    double at[HW_SEAM_LINE];        // length along the line at each of its points
    double normal[HW_SEAM_LINE][2]; // there, towards the repair
} joint;

static void measure(const hw_seam *seam, double depth_px, joint *out)
{
    const hw_point *line = seam->line;
    size_t last = seam->line_count - 1;
    double side = seam->patch_on_left ? 1.0 : -1.0;
    *out = (joint){.seam = seam, .depth_px = depth_px};
    for (size_t i = 0; i <= last; i++) {
        const hw_point *before = &line[i > 0 ? i - 1 : 0], *after = &line[i < last ? i + 1 : last];
        double x = after->x - before->x, y = after->y - before->y, far = hypot(x, y);
        out->at[i] =
            i > 0 ? out->at[i - 1] + hypot(line[i].x - before->x, line[i].y - before->y) : 0.0;
        out->normal[i][0] = far > 0.0 ? side * y / far : 0.0;
        out->normal[i][1] = far > 0.0 ? -side * x / far : 0.0;
    }
}

// The place in the photo that lies `along` the joint and `up` from it, towards the repair.
static hw_point place_of(const joint *j, double along, double up)
{
    size_t last = j->seam->line_count - 1, i = 1;
    while (i < last && j->at[i] < along) {
        i++;
    }
    const hw_point *a = &j->seam->line[i - 1], *b = &j->seam->line[i];
    double length = j->at[i] - j->at[i - 1];
    double t = length > 0.0 ? (along - j->at[i - 1]) / length : 0.0;
    double nx = (1.0 - t) * j->normal[i - 1][0] + t * j->normal[i][0];
    double ny = (1.0 - t) * j->normal[i - 1][1] + t * j->normal[i][1];
    double far = hypot(nx, ny);
    up = far > 0.0 ? up / far : 0.0;
    return (hw_point){(1.0 - t) * a->x + t * b->x + up * nx, (1.0 - t) * a->y + t * b->y + up * ny};
}

// ---- The picture around it ---------------------------------------------------------

static hw_frame frame_around(const joint *j, size_t width_px, size_t height_px)
{
    hw_point box[2] = {{INFINITY, INFINITY}, {-INFINITY, -INFINITY}};
    for (size_t i = 0; i < j->seam->line_count; i++) {
        box[0].x = fmin(box[0].x, j->seam->line[i].x - j->depth_px);
        box[0].y = fmin(box[0].y, j->seam->line[i].y - j->depth_px);
        box[1].x = fmax(box[1].x, j->seam->line[i].x + j->depth_px);
        box[1].y = fmax(box[1].y, j->seam->line[i].y + j->depth_px);
    }
    const hw_mark mark = {.points = box, .point_count = 2};
    return hw_frame_around(&mark, 0.0, width_px, height_px);
}

// Between the middles of four pixels; beyond the picture its edge goes on.
static hw_xyz read_at(const hw_picture *from, hw_point photo)
{
    double x = (photo.x - (double)from->frame.x) / from->scale - 0.5;
    double y = (photo.y - (double)from->frame.y) / from->scale - 0.5;
    x = fmin(fmax(x, 0.0), (double)from->width - 1.0);
    y = fmin(fmax(y, 0.0), (double)from->height - 1.0);
    size_t column = (size_t)x, row = (size_t)y;
    size_t right = column + 1 < from->width ? column + 1 : column;
    size_t below = row + 1 < from->height ? row + 1 : row;
    double s = x - (double)column, t = y - (double)row;
    const float *a = from->xyz + 3 * (row * from->width + column);
    const float *b = from->xyz + 3 * (row * from->width + right);
    const float *c = from->xyz + 3 * (below * from->width + column);
    const float *d = from->xyz + 3 * (below * from->width + right);
    double out[3];
    for (int i = 0; i < 3; i++) {
        out[i] = (1.0 - t) * ((1.0 - s) * (double)a[i] + s * (double)b[i]) +
                 t * ((1.0 - s) * (double)c[i] + s * (double)d[i]);
    }
    return (hw_xyz){out[0], out[1], out[2]};
}

// ---- The strip ---------------------------------------------------------------------

static void fill_strip(const joint *j, const hw_picture *around, hw_picture *strip)
{
    for (size_t i = 0; i < strip->width * strip->height; i++) {
        hw_xyz sum = {0, 0, 0};
        for (int place = 0; place < PLACES * PLACES; place++) {
            double dx = (place % PLACES + 0.5) / PLACES, dy = (place / PLACES + 0.5) / PLACES;
            double along = ((double)(i % strip->width) + dx) * strip->scale;
            double up = j->depth_px - ((double)(i / strip->width) + dy) * strip->scale;
            hw_xyz one = read_at(around, place_of(j, along, up));
            sum = (hw_xyz){sum.X + one.X, sum.Y + one.Y, sum.Z + one.Z};
        }
        strip->xyz[3 * i] = (float)(sum.X / (PLACES * PLACES));
        strip->xyz[3 * i + 1] = (float)(sum.Y / (PLACES * PLACES));
        strip->xyz[3 * i + 2] = (float)(sum.Z / (PLACES * PLACES));
    }
}

static hw_status check_line(const hw_seam *seam, double depth_px, hw_error *err)
{
    double length = 0.0;
    for (size_t i = 1; i < seam->line_count && i < HW_SEAM_LINE; i++) {
        length +=
            hypot(seam->line[i].x - seam->line[i - 1].x, seam->line[i].y - seam->line[i - 1].y);
    }
    bool there = seam->line_count >= 2 && seam->line_count <= HW_SEAM_LINE && length >= 1.0 &&
                 isfinite(length) && depth_px >= 1.0 && isfinite(depth_px);
    return there ? HW_OK
                 : hw_fail(err, HW_ERR_CALL, "seam-line", seam->patch,
                           "Read the photo again: then the joint's place is kept.",
                           "where the joint lies in the photo is not known");
}

hw_status hw_picture_strip(const hw_photo *photo, const hw_light *light, const hw_seam *seam,
                           double depth_px, size_t longer_px, hw_picture *out, hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    joint j;
    hw_picture around = {0};
    hw_status status = check_line(seam, depth_px, err);
    if (status != HW_OK) {
        return status;
    }
    depth_px = fmin(depth_px, fmax((double)facts->width_px, (double)facts->height_px));
    measure(seam, depth_px, &j);
    double length = j.at[seam->line_count - 1];
    double scale = longer_px > 0 ? fmax(length / (double)longer_px, 1.0) : 1.0;
    hw_frame frame = frame_around(&j, facts->width_px, facts->height_px);
    size_t longer = frame.width > frame.height ? frame.width : frame.height;
    status = hw_picture_make(photo, light, &frame, (size_t)fmax(2.0 * (double)longer / scale, 1.0),
                             NULL, &around, err);
    if (status != HW_OK) {
        return status;
    }
    hw_picture made = {.frame = {0, 0, (size_t)fmax(length, 1.0), (size_t)(2.0 * depth_px)}};
    made.scale = scale;
    made.width = (size_t)fmax(floor(length / scale + 1e-6), 1.0);
    made.height = (size_t)fmax(round(2.0 * depth_px / scale), 2.0);
    made.xyz = hw_alloc_array(made.width * made.height, 3 * sizeof *made.xyz);
    if (made.xyz) {
        fill_strip(&j, &around, &made);
    }
    hw_picture_free(&around);
    if (!made.xyz) {
        return hw_fail_memory(err, "laying the joint straight");
    }
    *out = made;
    return HW_OK;
}

// ---- A side without a joint --------------------------------------------------------

// How far a ray from `at` goes until it meets a side of the mark; infinite: it does not.
static double ray_to(const hw_mark *mark, hw_point at, const double way[2])
{
    double nearest = INFINITY;
    for (size_t i = 0; i < mark->point_count; i++) {
        hw_point a = mark->points[i], b = mark->points[(i + 1) % mark->point_count];
        double x = b.x - a.x, y = b.y - a.y, across = way[0] * y - way[1] * x;
        if (across == 0.0) {
            continue;
        }
        double far = ((a.x - at.x) * y - (a.y - at.y) * x) / across;
        double along = ((a.x - at.x) * way[1] - (a.y - at.y) * way[0]) / across;
        if (far > 0.0 && along >= 0.0 && along <= 1.0) {
            nearest = fmin(nearest, far);
        }
    }
    return nearest;
}

// The mark of wood that lies straight outward of a side's middle, no further than that; NULL: none.
static const hw_mark *wood_beyond(const hw_mark *patch, const hw_marks *marks, hw_point at,
                                  const double way[2], double most_px)
{
    const hw_mark *nearest = NULL;
    for (size_t i = 0; i < marks->count; i++) {
        const hw_mark *one = &marks->mark[i];
        bool own = one->role == patch->role && strcmp(one->name, patch->name) == 0;
        double far = hw_role_is_wood(one->role) && !own ? ray_to(one, at, way) : INFINITY;
        if (far <= most_px) {
            most_px = far;
            nearest = one;
        }
    }
    return nearest;
}

bool hw_seam_facing(const hw_mark *patch, const hw_marks *marks, double most_px, hw_seam *out)
{
    double turn = hw_mark_signed_area(patch) > 0.0 ? 1.0 : -1.0, longest = 0.0;
    for (size_t i = 0; i < patch->point_count; i++) {
        hw_point a = patch->points[i], b = patch->points[(i + 1) % patch->point_count];
        double x = b.x - a.x, y = b.y - a.y, length = hypot(x, y);
        if (length <= longest) {
            continue;
        }
        const double way[2] = {turn * y / length, -turn * x / length};
        const hw_mark *target =
            wood_beyond(patch, marks, (hw_point){a.x + x / 2.0, a.y + y / 2.0}, way, most_px);
        if (!target || target->role != HW_ROLE_TARGET) {
            continue;
        }
        longest = length;
        bool upright = fabs(y) > fabs(x), backwards = upright ? y < 0.0 : x < 0.0;
        *out = (hw_seam){.length_px = length,
                         .line = {backwards ? b : a, backwards ? a : b},
                         .line_count = 2,
                         .patch_on_left = backwards == (turn > 0.0),
                         .count = 1,
                         .piece = {{.stretch = {0.0, 1.0, upright}}}};
        hw_copy_text(out->patch, sizeof out->patch, patch->name);
        hw_copy_text(out->target, sizeof out->target, target->name);
    }
    return longest > 0.0;
}
