// photo_to_lab.c: code values and L*a*b* D50 of pixels of a photo, by the photo stage, for
// check_transicc.sh.
//
//   photo_to_lab FILE        every pixel of its first row: R G B L* a* b*
#include "huewright/photo.h"

#include <stdio.h>

int main(int count, char **arguments)
{
    hw_photo *photo = NULL;
    hw_error err = {0};
    if (count != 2 || hw_photo_load(arguments[1], NULL, &photo, &err) != HW_OK) {
        fprintf(stderr, "%s\n", err.what);
        return 1;
    }
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    fprintf(stderr, "%s, %s\n", facts->colour,
            facts->own_tables ? "own tables" : "through LittleCMS");
    for (size_t x = 0; x < facts->width_px; x++) {
        uint16_t code[3];
        hw_xyz xyz;
        hw_photo_codes(photo, x, 0, 1, code);
        hw_photo_xyz(photo, x, 0, 1, &xyz);
        hw_lab lab = hw_lab_from_xyz(xyz, hw_white_d50);
        printf("%u %u %u %.6f %.6f %.6f\n", code[0], code[1], code[2], lab.L, lab.a, lab.b);
    }
    hw_photo_free(photo);
    return 0;
}
