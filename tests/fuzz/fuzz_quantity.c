// fuzz_quantity.c: any bytes as a volume, a weight, a length, sides, an area, a time, and as how a liquid was made; what is
// taken is a number that can be, and a mix of it adds up.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

static void must(bool holds)
{
    if (!holds) {
        abort();
    }
}

static bool is_above_nothing(double value)
{
    return isfinite(value) && value > 0.0;
}

static void mix(double volume_ml, const hw_made *made)
{
    hw_shelf shelf = {0};
    hw_mix mixed;
    hw_liquid liquid = {.dose = {{"red", 0.25}, {"black", 0.5}}, .count = 2};
    char words[1600];
    must(hw_shelf_guesses(&shelf, NULL) == HW_OK);
    for (size_t i = 0; i < shelf.count; i++) {
        shelf.dye[i].made = *made;
    }
    if (hw_tone_mix(&liquid, &shelf, volume_ml, &mixed, NULL) == HW_OK) {
        double board = mixed.board_thinner_ml, pure = mixed.concentrate_thinner_ml;
        for (size_t i = 0; i < mixed.count; i++) {
            board += mixed.part[i].board_ml;
            pure += mixed.part[i].concentrate_ml;
        }
        must(!mixed.from_board || fabs(board - mixed.volume_ml) < 1e-6 * mixed.volume_ml);
        must(!mixed.from_concentrate || fabs(pure - mixed.volume_ml) < 1e-6 * mixed.volume_ml);
        hw_mix_say(&mixed, words, sizeof words);
        must(hw_is_utf8(words, strlen(words)));
    }
    hw_shelf_free(&shelf);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    char text[400];
    double value = 0.0, sides[2] = {0.0, 0.0}, volume = 100.0;
    hw_made made = {0};
    size_t length = count < sizeof text - 1 ? count : sizeof text - 1;
    memcpy(text, bytes, length);
    text[length] = 0;
    must(hw_parse_weight(text, &value, NULL) != HW_OK || is_above_nothing(value));
    must(hw_parse_length(text, &value, NULL) != HW_OK || is_above_nothing(value));
    must(hw_parse_minutes(text, &value, NULL) != HW_OK || is_above_nothing(value));
    must(hw_parse_area(text, &value, NULL) != HW_OK || is_above_nothing(value));
    must(hw_parse_sides(text, sides, NULL) != HW_OK ||
         (is_above_nothing(sides[0]) && is_above_nothing(sides[1])));
    must(hw_parse_volume(text, &volume, NULL) != HW_OK || is_above_nothing(volume));
    if (hw_parse_made(text, &made, NULL) == HW_OK) {
        must((made.share > 0.0 && made.share <= 1.0) != (made.g_l > 0.0));
    }
    mix(volume, &made);
    return 0;
}
