#include "scene_marks.h"

#include <math.h>
#include <stdio.h>

static const double rim_px = 5.0; // of a step or a chart's patch: small, so nearly all of it

bool scene_marks(const scene *s, int right, int down, hw_marks *out)
{
    bool good = true;
    for (size_t i = 0; i < s->region_count; i++) {
        const scene_region *r = &s->region[i];
        hw_role role;
        double m[4];
        char text[160], name[HW_NAME_SIZE];
        if (!r->role || !hw_role_from_name(r->role, &role)) {
            continue;
        }
        scene_mark(r, m);
        if (role == HW_ROLE_CHART || role == HW_ROLE_NEUTRAL) {
            m[0] = r->x + rim_px, m[1] = r->y + rim_px;
            m[2] = r->width - 2.0 * rim_px, m[3] = r->height - 2.0 * rim_px;
        }
        scene_mark_name(r, name, sizeof name);
        snprintf(text, sizeof text, "%.0f,%.0f,%.0f,%.0f", floor(m[0]) + right, floor(m[1]) + down,
                 floor(m[2]), floor(m[3]));
        good = good && hw_marks_add(out, role, name, text, NULL, NULL) == HW_OK;
    }
    return good;
}
