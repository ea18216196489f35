// bench_find.c: how long it takes to find the card in a photo of 12 megapixels, without and with decoding it.
//
//   bench_find FOLDER [RUNS] [SCENES]    leaves the photos there as scene-N.jpg, with the card's true corners in scene-N.txt
//
// Processor time, median and longest, milliseconds. To reach: 300 ms beside decoding. bench_find.sh runs a search by
// OpenCV over the same files.
#include "base_internal.h"
#include "bench.h"
#include "find_scene.h"
#include "huewright/mark.h"
#include "write_jpeg.h"

#include <sys/resource.h>

enum { RUNS_MOST = 99 };

// Processor time of this program and of the child that decodes, which is over when its picture is there.
static double now_with_children_ms(void)
{
    struct rusage of_children;
    getrusage(RUSAGE_CHILDREN, &of_children);
    return now_ms() + 1e3 * (double)(of_children.ru_utime.tv_sec + of_children.ru_stime.tv_sec) +
           1e-3 * (double)(of_children.ru_utime.tv_usec + of_children.ru_stime.tv_usec);
}

static bool save(const char *folder, unsigned number, const find_scene *scene, char path[600])
{
    char text_path[620];
    snprintf(text_path, sizeof text_path, "%s/scene-%u.txt", folder, number);
    snprintf(path, 600, "%s/scene-%u.jpg", folder, number);
    FILE *file = fopen(text_path, "w");
    if (!file) {
        return false;
    }
    for (int i = 0; i < 4; i++) {
        fprintf(file, "%.2f %.2f\n", scene->corner[i][0], scene->corner[i][1]);
    }
    fclose(file);
    return write_jpeg(path, scene->width, scene->height, scene->rgb, 92);
}

static bool bench(const char *path, size_t runs)
{
    double decoding[RUNS_MOST], finding[RUNS_MOST], both[RUNS_MOST];
    for (size_t i = 0; i < runs; i++) {
        hw_photo *photo = NULL;
        hw_card_find find = {0};
        double start = now_with_children_ms();
        if (hw_photo_load(path, NULL, &photo, NULL) != HW_OK) {
            return false;
        }
        double decoded = now_with_children_ms();
        bool good = hw_marks_find_card(photo, &find, NULL) == HW_OK;
        double found = now_with_children_ms();
        decoding[i] = decoded - start;
        finding[i] = found - decoded;
        both[i] = found - start;
        if (i == 0) {
            printf("%s: %s %.2f%s", path, hw_find_kind_name(find.what), find.confidence,
                   find.sure ? ", sure" : "");
        }
        hw_card_find_free(&find);
        hw_photo_free(photo);
        if (!good) {
            return false;
        }
    }
    show_times("find ms", finding, runs);
    show_times("decode ms", decoding, runs);
    show_times("both ms", both, runs);
    printf("\n");
    return true;
}

int main(int count, char **arguments)
{
    if (count < 2) {
        printf("bench_find FOLDER [RUNS] [SCENES]\n");
        return 2;
    }
    size_t runs = count > 2 ? strtoul(arguments[2], NULL, 10) : 11;
    unsigned scenes = count > 3 ? (unsigned)strtoul(arguments[3], NULL, 10) : 4;
    runs = runs < 1 ? 1 : runs > RUNS_MOST ? RUNS_MOST : runs;
    for (unsigned number = 1; number <= scenes; number++) {
        find_scene scene;
        char path[600];
        if (!find_scene_render(9000 + number, MIX_CARD_ALONE, 4000, 3000, &scene) ||
            !save(arguments[1], number, &scene, path)) {
            return 4;
        }
        free(scene.rgb);
        if (!bench(path, runs)) {
            return 3;
        }
    }
    return 0;
}
