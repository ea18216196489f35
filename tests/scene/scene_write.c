// scene_write.c: the picture as a JPEG, its truth and its marks as JSON beside it.
#include "scene.h"
#include "write_jpeg.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// The next marked region from *at on, with its mark in whole pixels; *at moves past it. NULL: no more.
static const scene_region *next_marked(const scene *s, size_t *at, double mark[4])
{
    while (*at < s->region_count) {
        const scene_region *r = &s->region[(*at)++];
        if (r->role) {
            scene_mark(r, mark);
            for (int i = 0; i < 4; i++) {
                mark[i] = floor(mark[i]);
            }
            return r;
        }
    }
    return NULL;
}

static hw_lab target_mean(const scene *s, const scene_truth *truth)
{
    hw_xyz sum = {0, 0, 0};
    double n = 0.0;
    for (size_t i = 0; i < s->region_count; i++) {
        if (s->region[i].role && strcmp(s->region[i].role, "target") == 0) {
            hw_xyz one = hw_xyz_from_lab(truth->lab[i], hw_white_d50);
            sum = (hw_xyz){sum.X + one.X, sum.Y + one.Y, sum.Z + one.Z};
            n += 1.0;
        }
    }
    return hw_lab_from_xyz((hw_xyz){sum.X / n, sum.Y / n, sum.Z / n}, hw_white_d50);
}

static void write_truth(const scene *s, const scene_truth *truth, FILE *file)
{
    fprintf(file, "{\n \"shows\": \"%s\",\n \"picture\": [%zu, %zu],\n \"regions\": [", s->shows,
            s->width, s->height);
    const char *comma = "";
    double m[4];
    size_t at = 0;
    char name[HW_NAME_SIZE];
    for (const scene_region *r; (r = next_marked(s, &at, m)) != NULL; comma = ",") {
        const hw_lab *lab = &truth->lab[at - 1];
        scene_mark_name(r, name, sizeof name);
        fprintf(file,
                "%s\n  {\"name\": \"%s\", \"role\": \"%s\", \"rect\": [%.0f, %.0f, %.0f, %.0f], "
                "\"lab\": [%.3f, %.3f, %.3f]}",
                comma, name, r->role, m[0], m[1], m[2], m[3], lab->L, lab->a, lab->b);
    }
    hw_lab target = target_mean(s, truth);
    fprintf(file, "\n ],\n");
    if (isfinite(target.L)) { // a step board has no old wood
        fprintf(file, " \"target_lab\": [%.3f, %.3f, %.3f],\n", target.L, target.a, target.b);
    }
    fprintf(file, " \"patches\": [");
    comma = "";
    for (size_t i = 0; i < s->region_count; i++) {
        const scene_region *r = &s->region[i];
        if (r->role && strcmp(r->role, "patch") == 0) {
            hw_difference gap = hw_difference_of(target, truth->lab[i]);
            fprintf(
                file,
                "%s\n  {\"name\": \"%s\", \"minus_target\": [%.3f, %.3f, %.3f], \"de00\": %.3f}",
                comma, r->name, gap.L, gap.a, gap.b, gap.de00);
            comma = ",";
        }
    }
    fprintf(file, "\n ]");
    if (s->bound_de00 > 0.0) {
        fprintf(file, ",\n \"bound_de00\": %g", s->bound_de00);
    }
    fprintf(file, "\n}\n");
}

static void write_marks(const scene *s, FILE *file)
{
    fprintf(file, "{\"picture\":[%zu,%zu],\"marks\":[", s->width, s->height);
    const char *comma = "";
    double m[4];
    size_t at = 0;
    for (const scene_region *r; (r = next_marked(s, &at, m)) != NULL; comma = ",") {
        double right = m[0] + m[2], below = m[1] + m[3];
        char name[HW_NAME_SIZE];
        scene_mark_name(r, name, sizeof name);
        fprintf(file,
                "%s\n  {\"role\":\"%s\",\"name\":\"%s\",\"polygon\":[[%.0f,%.0f],[%.0f,%.0f],"
                "[%.0f,%.0f],[%.0f,%.0f]]%s}",
                comma, r->role, name, m[0], m[1], right, m[1], right, below, m[0], below,
                r->whole_board ? ",\"kind\":\"board\"" : "");
    }
    fprintf(file, "]}\n");
}

static bool write_text(const scene *s, const scene_truth *truth, const char *folder,
                       const char *name, bool marks)
{
    char path[1024];
    snprintf(path, sizeof path, "%s/%s%s.json", folder, name, marks ? "-marks" : "");
    FILE *file = fopen(path, "w");
    if (!file) {
        return false;
    }
    if (marks) {
        write_marks(s, file);
    } else {
        write_truth(s, truth, file);
    }
    return fclose(file) == 0;
}

bool scene_write(const scene *s, const char *folder, const char *name, int quality)
{
    char path[1024];
    scene_truth truth = {{{0}}};
    uint8_t *codes = scene_render(s, &truth);
    snprintf(path, sizeof path, "%s/%s.jpg", folder, name);
    bool good = codes && write_jpeg(path, s->width, s->height, codes, quality) &&
                write_text(s, &truth, folder, name, false) &&
                write_text(s, &truth, folder, name, true);
    free(codes);
    return good;
}

bool scene_write_photo(const scene *s, const char *folder, const char *name, int quality)
{
    char path[1024];
    scene_truth unused = {{{0}}};
    uint8_t *codes = scene_render(s, &unused);
    snprintf(path, sizeof path, "%s/%s.jpg", folder, name);
    bool good = codes && write_jpeg(path, s->width, s->height, codes, quality);
    free(codes);
    return good;
}
