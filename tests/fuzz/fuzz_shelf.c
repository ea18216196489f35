// fuzz_shelf.c: any bytes as a shelf file: read, and what is taken is changed and read again.
#include "base_internal.h"
#include "huewright/job.h"

#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    char path[600];
    hw_shelf shelf = {0};
    snprintf(path, sizeof path, "%s/fuzz shelf %ld.json", HW_SCRATCH, (long)getpid());
    FILE *file = fopen(path, "wb");
    if (!file || fwrite(bytes, 1, count, file) != count || fclose(file) != 0) {
        abort();
    }
    if (hw_shelf_load(path, NULL, &shelf, NULL) == HW_OK) {
        hw_dye dye = hw_dye_guess(HW_FAMILY_RED);
        size_t before = shelf.count, seen = shelf.seen_count;
        bool there = hw_shelf_find(&shelf, dye.name) != NULL, full = before == 200;
        hw_shelf_free(&shelf);
        if (hw_shelf_put_dye(path, NULL, &dye, NULL) == HW_OK) {
            // What one call writes the next one reads, and nothing else has changed.
            if (hw_shelf_load(path, NULL, &shelf, NULL) != HW_OK ||
                shelf.count != before + !there || shelf.seen_count != seen) {
                abort();
            }
        } else if (!full) {
            abort();
        }
    }
    hw_shelf_free(&shelf);
    unlink(path);
    return 0;
}
