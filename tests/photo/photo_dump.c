// photo_dump.c: facts, codes and X, Y, Z of a photo, for tests in Python.
//
//   photo_dump FILE [CODES XYZ]    facts as lines "name value"; codes as uint16, X, Y, Z as double
#include "huewright/photo.h"

#include <stdio.h>
#include <stdlib.h>

static void print_facts(const hw_photo_facts *facts)
{
    const hw_shot *shot = &facts->shot;
    double exposure = 0.0;
    printf("format %s\nwidth %zu\nheight %zu\nbits %u\n", facts->format, facts->width_px,
           facts->height_px, facts->bits);
    printf("clip_low %u\nclip_high %u\norientation %d\n", facts->clip_low, facts->clip_high,
           facts->orientation);
    printf("colour %s\nassumed %d\nown_tables %d\n", facts->colour, facts->colour_assumed,
           facts->own_tables);
    printf("camera %s\ntaken %s\noffset %s\n", facts->camera, facts->taken, shot->offset);
    printf("sandboxed %d\nphotosites %u\nlinear %d\n", facts->sandboxed, facts->photosites,
           facts->linear);
    printf("gain_map %d\n", shot->gain_map);
    printf("flash %d\nwhite_balance %d\nexposure %d\nprocessing %d\n", shot->flash,
           shot->white_balance, shot->exposure, shot->processing);
    printf("exposure_s %.17g\nf_number %.17g\niso %.17g\nfocal_mm %.17g\n", shot->exposure_s,
           shot->f_number, shot->iso, shot->focal_mm);
    printf("digital_zoom %.17g\nhas_bias %d\nbias_ev %.17g\n", shot->digital_zoom, shot->has_bias,
           shot->bias_ev);
    if (hw_shot_exposure(shot, &exposure)) {
        printf("log_exposure %.17g\n", exposure);
    }
    for (size_t i = 0; i < facts->warnings.count; i++) {
        printf("warning %s\n", facts->warnings.text[i]);
    }
}

static int write_pixels(const hw_photo *photo, const char *codes_path, const char *xyz_path)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    FILE *codes = fopen(codes_path, "wb"), *colours = fopen(xyz_path, "wb");
    uint16_t *row = calloc(facts->width_px, 3 * sizeof *row);
    hw_xyz *xyz = calloc(facts->width_px, sizeof *xyz);
    int good = codes && colours && row && xyz;
    for (size_t y = 0; good && y < facts->height_px; y++) {
        hw_photo_codes_xyz(photo, 0, y, facts->width_px, row, xyz);
        good = fwrite(row, 3 * sizeof *row, facts->width_px, codes) == facts->width_px &&
               fwrite(xyz, sizeof *xyz, facts->width_px, colours) == facts->width_px;
    }
    free(row);
    free(xyz);
    if (codes) {
        good = fclose(codes) == 0 && good;
    }
    if (colours) {
        good = fclose(colours) == 0 && good;
    }
    return good ? 0 : 4;
}

int main(int count, char **arguments)
{
    hw_error err = {0};
    hw_photo *photo = NULL;
    if (count < 2) {
        return 2;
    }
    if (hw_photo_load(arguments[1], NULL, &photo, &err) != HW_OK) {
        printf("refused %s: %s. %s\n", err.code, err.what, err.next);
        return (int)err.status;
    }
    print_facts(hw_photo_facts_of(photo));
    int result = count > 3 ? write_pixels(photo, arguments[2], arguments[3]) : 0;
    hw_photo_free(photo);
    return result;
}
