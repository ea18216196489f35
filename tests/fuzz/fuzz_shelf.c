// fuzz_shelf.c: any bytes as a shelf file: read, learned from, and what is taken is changed and read again.
#include "base_internal.h"
#include "huewright/job.h"

#include <unistd.h>

#include <math.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

// Whatever a file says, what is learned is finite, and no dye gives light.
static void learn(const hw_shelf *shelf)
{
    hw_known known = {0};
    if (shelf->count > 12 || shelf->seen_count > 40) { // as large ones take their time
        return;
    }
    if (hw_tone_learn(shelf, "here", (hw_lab){50, 12, 25}, &known, NULL) != HW_OK) {
        abort();
    }
    for (size_t i = 0; i < known.count; i++) {
        for (int band = 0; band < 3; band++) {
            if (!(known.dye[i].density[band] >= 0.0) || !isfinite(known.dye[i].density[band])) {
                abort();
            }
        }
        if (!isfinite(known.dye[i].exponent) || !isfinite(known.dye[i].u_strength)) {
            abort();
        }
    }
    hw_known_free(&known);
}

// And no coat lightens. (Of the job that coats.json in the corpus names, so that its coats count as its own.)
static void learn_coats(const hw_shelf *shelf)
{
    hw_coat_belief belief = hw_coats_learn(shelf->coat, shelf->coat_count, "j");
    for (int band = 0; band < 3; band++) {
        if (!(belief.resin[band] >= 0.0) || !isfinite(belief.resin[band]) ||
            !(belief.wet[band] >= 0.0) || !isfinite(belief.wet[band]) ||
            !(belief.covariance[band][band] > 0.0) || !isfinite(belief.covariance[band][band])) {
            abort();
        }
    }
}

// What it keeps of a board (the entry that board.json in the corpus names), if that can be read at all.
static void tell_board(const char *path)
{
    hw_taught taught = {0};
    if (hw_shelf_taught(path, NULL, "entry-of-a-board-1", &taught, NULL) == HW_OK) {
        for (size_t i = 0; i < taught.count; i++) {
            if (!hw_dye_change_name(taught.change[i]) || !taught.board[i].dye[0]) {
                abort();
            }
        }
    }
    hw_taught_free(&taught);
}

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
        size_t before = shelf.count, seen = shelf.seen_count, coats = shelf.coat_count;
        learn(&shelf);
        learn_coats(&shelf);
        tell_board(path);
        bool there = hw_shelf_find(&shelf, dye.name) != NULL, full = before == 200;
        hw_shelf_free(&shelf);
        if (hw_shelf_put_dye(path, NULL, &dye, NULL) == HW_OK) {
            // What one call writes the next one reads, and nothing else has changed.
            if (hw_shelf_load(path, NULL, &shelf, NULL) != HW_OK ||
                shelf.count != before + !there || shelf.seen_count != seen ||
                shelf.coat_count != coats) {
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
