// picture_reach.c: the mark of a repair grown to its joint.
//
// Along each side, from a little inside it to as far out as is asked, the picture is averaged over lines that run
// parallel to the side: grain that crosses the side is gone from such a profile, grain along it is not. The profile turns
// from one colour to another where the step from all before it to a little behind it stands out most of what scatters about
// both means (Student's t), once narrow lines are out of it; only a little, as the next board may follow. That is believed where
// the step could be seen and is large against the scatter, which is lines of grain; else the side stays. Sides are moved
// as a whole and meet again where their lines cross.
#include "picture_internal.h"

#include <math.h>

enum { PROFILE_MOST = 512, ALONG = 256 }; // distances of a profile; places along a side
enum { WINDOW = 17 };                     // distances that a median is taken of

static const double each = 0.5;          // pixels of the picture between two distances
static const double inside_share = 0.5;  // of most_px: how far in the repair's own colour is read
static const double inside_least = 4.0;  // pixels of the picture; likewise
static const double middle = 0.8;        // of a side's length: corners belong to other sides too
static const double side_least = 6.0;    // pixels of the picture: shorter sides stay
static const double sure = 4.0;          // step over what the profile does by itself (chosen)
static const double seen = 0.8;          // CIEDE2000: a step that is a joint (chosen)
static const double beyond_share = 0.15; // of most_px: how far behind a turn it is read
static const double beyond_least = 8.0;  // pixels of the picture; likewise
static const double noise = 0.05;        // L*, a*, b*: of a profile without any grain
static const size_t part_least = 8;      // distances on either side of a turn

typedef struct profile {
    hw_lab at[PROFILE_MOST];
    size_t count;
    double first; // pixels of the picture, outward of the side; of at[0]
} profile;

typedef struct line {
    hw_point from, to; // pixels of the picture
    double out[2];     // outward, of length 1
    double length;
} line;

static line line_of(const hw_picture *picture, const hw_mark *mark, size_t i)
{
    const hw_point *a = &mark->points[i], *b = &mark->points[(i + 1) % mark->point_count];
    double turn = hw_mark_signed_area(mark) > 0.0 ? 1.0 : -1.0;
    line side = {{(a->x - (double)picture->frame.x) / picture->scale,
                  (a->y - (double)picture->frame.y) / picture->scale},
                 {(b->x - (double)picture->frame.x) / picture->scale,
                  (b->y - (double)picture->frame.y) / picture->scale},
                 {0.0, 0.0},
                 0.0};
    double x = side.to.x - side.from.x, y = side.to.y - side.from.y;
    side.length = hypot(x, y);
    if (side.length > 0.0) {
        side.out[0] = turn * y / side.length;
        side.out[1] = -turn * x / side.length;
    }
    return side;
}

// ---- The profile -------------------------------------------------------------------

// Mean of the picture's pixels along the side, `out` pixels from it; false where it leaves the picture.
static bool read_line(const hw_picture *picture, const line *side, double out, hw_lab *lab)
{
    hw_xyz sum = {0, 0, 0};
    for (int i = 0; i < ALONG; i++) {
        double t = 0.5 * (1.0 - middle) + middle * (i + 0.5) / ALONG;
        double x = side->from.x + t * (side->to.x - side->from.x) + out * side->out[0];
        double y = side->from.y + t * (side->to.y - side->from.y) + out * side->out[1];
        if (!(x >= 0.0 && y >= 0.0 && x < (double)picture->width && y < (double)picture->height)) {
            return false;
        }
        hw_xyz one = hw_pixel_xyz(picture->xyz + 3 * ((size_t)y * picture->width + (size_t)x));
        sum = (hw_xyz){sum.X + one.X, sum.Y + one.Y, sum.Z + one.Z};
    }
    *lab = hw_lab_from_xyz((hw_xyz){sum.X / ALONG, sum.Y / ALONG, sum.Z / ALONG}, hw_white_d50);
    return true;
}

// From inside the side outward, past `most` so far that the other colour can be told; `deep`: no further in than that.
// Pixels of the picture.
static void read_profile(const hw_picture *picture, const line *side, double most, double deep,
                         profile *out)
{
    double in = fmin(fmax(inside_share * most, inside_least), deep);
    double far = most + fmax(0.5 * most, inside_least);
    out->count = 0;
    out->first = -in;
    for (double at = -in; at <= far && out->count < PROFILE_MOST; at += each) {
        if (!read_line(picture, side, at, &out->at[out->count])) {
            if (at >= 0.0) {
                break;
            }
            out->count = 0; // a mark that begins outside of the picture
            out->first = at + each;
            continue;
        }
        out->count++;
    }
}

static double median_of(const profile *p, size_t first, size_t end, int axis)
{
    double value[WINDOW];
    for (size_t i = first; i < end; i++) {
        value[i - first] = axis == 0 ? p->at[i].L : axis == 1 ? p->at[i].a : p->at[i].b;
    }
    return hw_select(value, end - first, (end - first) / 2);
}

// Running medians: a joint's dark line and lines of grain are gone where they are narrower than half of the window (four
// pixels), and a turn stays where it is.
static void smooth(profile *p)
{
    profile rough = *p;
    for (size_t i = 0; i < p->count; i++) {
        size_t half = WINDOW / 2, right = p->count - 1 - i;
        half = i < half ? i : half;
        half = right < half ? right : half;
        p->at[i] = (hw_lab){median_of(&rough, i - half, i + half + 1, 0),
                            median_of(&rough, i - half, i + half + 1, 1),
                            median_of(&rough, i - half, i + half + 1, 2)};
    }
}

// ---- Where it turns ----------------------------------------------------------------

// Means of what lies before a turn and of what follows up to `end`, and the scatter about both.
static double part_means(const profile *p, size_t turn, size_t end, hw_lab mean[2])
{
    double sum[2][3] = {{0}}, left = 0.0;
    for (size_t i = 0; i < end; i++) {
        double *to = sum[i >= turn];
        to[0] += p->at[i].L;
        to[1] += p->at[i].a;
        to[2] += p->at[i].b;
    }
    for (int k = 0; k < 2; k++) {
        double n = k ? (double)(end - turn) : (double)turn;
        mean[k] = (hw_lab){sum[k][0] / n, sum[k][1] / n, sum[k][2] / n};
    }
    for (size_t i = 0; i < end; i++) {
        const hw_lab *m = &mean[i >= turn], *at = &p->at[i];
        left += (at->L - m->L) * (at->L - m->L) + (at->a - m->a) * (at->a - m->a) +
                (at->b - m->b) * (at->b - m->b);
    }
    return sqrt(left / (double)end);
}

// Pixels of the picture by which the side moves outward: 0 where no turn is sure.
static double turn_of(const profile *p, double most)
{
    size_t beyond = (size_t)(fmax(beyond_share * most, beyond_least) / each);
    double best = 0.0, out = 0.0;
    for (size_t turn = part_least; turn + part_least <= p->count; turn++) {
        double at = p->first + each * ((double)turn - 0.5);
        size_t end = turn + beyond < p->count ? turn + beyond : p->count;
        hw_lab mean[2];
        if (at > most) {
            break;
        }
        double scatter = part_means(p, turn, end, mean);
        double x = mean[1].L - mean[0].L, y = mean[1].a - mean[0].a, z = mean[1].b - mean[0].b;
        double step = sqrt(x * x + y * y + z * z), n = (double)turn, m = (double)(end - turn);
        double stands_out = step / (scatter + noise) * sqrt(n * m / (n + m));
        if (stands_out > best) {
            bool good = step > sure * scatter && hw_ciede2000(mean[0], mean[1]) > seen;
            best = stands_out;
            out = good ? fmax(at, 0.0) : 0.0;
        }
    }
    return out;
}

// ---- The grown mark ----------------------------------------------------------------

// Where two moved sides meet; a pair that hardly turns meets at the mean of both moved ends.
static hw_point meet(const line *before, double out_before, const line *after, double out_after)
{
    hw_point at = after->from;
    double cross = before->out[0] * after->out[1] - before->out[1] * after->out[0];
    if (fabs(cross) < 0.2) { // 12 degrees
        return (hw_point){at.x + 0.5 * (out_before * before->out[0] + out_after * after->out[0]),
                          at.y + 0.5 * (out_before * before->out[1] + out_after * after->out[1])};
    }
    double x = (out_before * after->out[1] - out_after * before->out[1]) / cross;
    double y = (out_after * before->out[0] - out_before * after->out[0]) / cross;
    double far = hypot(x, y), most = 3.0 * fmax(out_before, out_after);
    double part = far > most ? most / far : 1.0; // a sharp corner does not run away
    return (hw_point){at.x + part * x, at.y + part * y};
}

// Half of what a mark is thick, pixels of the picture.
static double half_thick(const hw_picture *picture, const hw_mark *mark)
{
    double around = 0.0;
    for (size_t i = 0; i < mark->point_count; i++) {
        around += line_of(picture, mark, i).length;
    }
    double area = hw_mark_area(mark) / (picture->scale * picture->scale);
    return around > 0.0 ? area / around : 0.0;
}

static double side_out(const hw_picture *picture, const line *side, double most, double deep)
{
    profile p;
    if (side->length < side_least) {
        return 0.0;
    }
    read_profile(picture, side, most, deep, &p);
    smooth(&p);
    return turn_of(&p, most);
}

hw_status hw_picture_reach(const hw_picture *picture, const hw_mark *mark, double most_px,
                           hw_mark *out, hw_error *err)
{
    double most = fmin(fmax(most_px, 0.0) / picture->scale, each * PROFILE_MOST / 3.0);
    hw_mark made = {0};
    hw_status status = hw_mark_shrink(mark, 1.0, &made, err); // a copy
    size_t count = mark->point_count;
    if (status != HW_OK) {
        return status;
    }
    line before = line_of(picture, mark, count - 1);
    double deep = half_thick(picture, mark);
    double out_before = side_out(picture, &before, most, deep);
    for (size_t i = 0; i < count; i++) {
        line side = line_of(picture, mark, i);
        double out_side = side_out(picture, &side, most, deep);
        if (out_before > 0.0 || out_side > 0.0) {
            hw_point at = meet(&before, out_before, &side, out_side);
            at.x = fmin(fmax(at.x, 0.0), (double)picture->width);
            at.y = fmin(fmax(at.y, 0.0), (double)picture->height);
            made.points[i] = (hw_point){(double)picture->frame.x + at.x * picture->scale,
                                        (double)picture->frame.y + at.y * picture->scale};
        }
        before = side;
        out_before = out_side;
    }
    *out = made;
    return HW_OK;
}
