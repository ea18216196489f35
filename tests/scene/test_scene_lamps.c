// The index of metamerism read from two photos, one under daylight and one under a warm lamp, beside the truth
// from the spectra: how far off, and how often its 90 % range holds it.
//
//   test_scene_lamps [SCENES [CONDITION]]
#include "check.h"
#include "job_internal.h"
#include "scene.h"
#include "scene_marks.h"
#include "steps_internal.h"
#include "write_jpeg.h"

// ---- The truth ---------------------------------------------------------------------

static hw_xyz under(const hw_spectrum *reflectance, const hw_spectrum *lamp, hw_xyz white)
{
    return hw_adapt_bradford(hw_xyz_of_reflectance(reflectance, lamp), white, hw_white_d50);
}

static hw_pair true_pair(const scene *s, const hw_spectrum *lamp)
{
    hw_pair pair = {{0, 0, 0}, {0, 0, 0}};
    hw_spectrum perfect;
    double targets = 0;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        perfect.at[i] = 1.0;
    }
    hw_xyz white = hw_xyz_of_reflectance(&perfect, lamp);
    for (size_t i = 0; i < s->region_count; i++) {
        const scene_region *region = &s->region[i];
        bool patch = region->role && strcmp(region->role, "patch") == 0;
        if (!patch && !(region->role && strcmp(region->role, "target") == 0)) {
            continue;
        }
        scene_grain grain = scene_grain_of(s, i);
        hw_spectrum mean = scene_mean_reflectance(region, &grain);
        hw_xyz colour = under(&mean, lamp, white);
        if (patch) {
            pair.patch = colour;
        } else {
            pair.target.X += colour.X;
            pair.target.Y += colour.Y;
            pair.target.Z += colour.Z;
            targets++;
        }
    }
    pair.target =
        (hw_xyz){pair.target.X / targets, pair.target.Y / targets, pair.target.Z / targets};
    return pair;
}

// ---- A photo -----------------------------------------------------------------------

static bool look(const scene *s, int quality, hw_lamp_look *out)
{
    scene_truth truth;
    hw_photo *photo = NULL;
    hw_marks marks = {0};
    hw_reading reading = {0};
    size_t count = 0;
    uint8_t *codes = scene_render(s, &truth);
    uint8_t *bytes = codes ? write_jpeg_memory(s->width, s->height, codes, quality, &count) : NULL;
    bool good =
        bytes && hw_photo_decode(bytes, count, "scene", NULL, &photo, NULL) == HW_OK &&
        scene_marks(s, 0, 0, &marks) &&
        hw_steps_read_decoded(photo, &marks, false, NULL, NULL, NULL, &reading, NULL) == HW_OK;
    const hw_comparison *gap = good ? hw_comparison_beside(&reading.comparisons, "strip") : NULL;
    if (gap) {
        out->target = gap->target_lab;
        out->patch = gap->patch_lab;
        const double low[3] = {gap->low.L, gap->low.a, gap->low.b};
        const double high[3] = {gap->high.L, gap->high.a, gap->high.b};
        for (int i = 0; i < 3; i++) {
            out->gap.u[i] = (high[i] - low[i]) / (2 * HW_NINETY);
        }
        memcpy(out->gap.doubt, gap->doubt, sizeof out->gap.doubt);
    }
    hw_reading_free(&reading);
    hw_marks_free(&marks);
    hw_photo_free(photo);
    free(bytes);
    free(codes);
    return gap != NULL;
}

// ---- Many --------------------------------------------------------------------------

static void dye_strip(scene *s, unsigned seed)
{
    static const char *const family[] = {"red", "green", "blue", "brown", "amber", "black"};
    for (size_t i = 0; i < s->region_count; i++) {
        scene_region *region = &s->region[i];
        if (region->role && strcmp(region->role, "patch") == 0) {
            region->layer[0] = (scene_layer){family[seed % 6], 1 + seed % 3, NULL};
            region->layer[1] = (scene_layer){family[(seed / 6) % 6], 1, NULL};
            region->layer_count = 2;
            region->colour.L += 3; // as before it was dyed
        }
    }
}

static void many(unsigned scenes, const char *condition)
{
    double n = 0, held = 0, sum = 0, held_axis[3] = {0}, half = 0, truths = 0;
    int told[3] = {0}, wrong = 0;
    for (unsigned seed = 1; seed <= scenes; seed++) {
        scene s;
        int quality;
        hw_lamp_pair pair = {.known = true};
        check_true(scene_random(condition, seed, &s, &quality));
        dye_strip(&s, seed);
        hw_spectrum other = seed % 2 ? hw_planckian(2800) : scene_led(0.4, 0.6);
        hw_spectrum main_lamp = hw_daylight(5200);
        hw_pair day = true_pair(&s, &main_lamp), warm = true_pair(&s, &other);
        hw_difference truth = hw_metamerism_index(&day, &warm, hw_white_d50).index;
        s.lamp = main_lamp;
        bool good = look(&s, quality, &pair.main);
        s.lamp = other;
        s.noise_seed += 1000;
        s.exposure *= 0.9;
        if (!good || !look(&s, quality, &pair.other)) {
            continue;
        }
        hw_lamp_pair_fill(&pair, true, true);
        const double want[3] = {truth.L, truth.a, truth.b};
        const double low[3] = {pair.low.L, pair.low.a, pair.low.b};
        const double high[3] = {pair.high.L, pair.high.a, pair.high.b};
        for (int i = 0; i < 3; i++) {
            held_axis[i] += low[i] <= want[i] && want[i] <= high[i];
        }
        n++;
        held += pair.de00_low <= truth.de00 && truth.de00 <= pair.de00_high;
        sum += fabs(pair.index.de00 - truth.de00);
        half += (pair.de00_high - pair.de00_low) / 2;
        truths += truth.de00;
        told[pair.verdict]++;
        wrong += (pair.verdict == HW_LAMP_HOLDS && truth.de00 > 1.0) ||
                 (pair.verdict == HW_LAMP_PARTS && truth.de00 < 0.8);
    }
    printf("%s: %.0f pairs, true index %.2f in the mean; read wrong by %.2f; range held %.0f %%, "
           "half of it %.2f; L* %.0f, a* "
           "%.0f, b* %.0f %%; holds %d, parts %d, untold %d, wrong %d\n",
           condition, n, truths / n, sum / n, 100 * held / n, half / n, 100 * held_axis[0] / n,
           100 * held_axis[1] / n, 100 * held_axis[2] / n, told[HW_LAMP_HOLDS], told[HW_LAMP_PARTS],
           told[HW_LAMP_UNTOLD], wrong);
    check_true(n >= 0.8 * scenes);
    // 90 % with room for chance: of 6 so ranged, 4 or fewer come 1 in 9 times; of 100 all were held.
    check_true(held >= 0.8 * n);
    check_true(wrong <= 0.1 * n);
}

int main(int count, char **words)
{
    unsigned scenes = count > 1 ? (unsigned)strtoul(words[1], NULL, 10) : 6;
    many(scenes, count > 2 ? words[2] : "good lamp");
    if (count <= 2) {
        many(scenes, "shop, three steps");
    }
    return check_done();
}
