// Quantities as they are typed, how a liquid was made, mixes, and what passes need. The tables of testdata/tone
// tell the sources of their numbers.
#include "check.h"
#include "huewright/tone.h"

// ---- Quantities --------------------------------------------------------------------

static hw_status parse(const char *text, const char *kind, double *out, hw_error *err)
{
    hw_made made = {.share = 0.0};
    hw_status status;
    if (strcmp(kind, "volume") == 0) {
        return hw_parse_volume(text, out, err);
    }
    if (strcmp(kind, "weight") == 0) {
        return hw_parse_weight(text, out, err);
    }
    if (strcmp(kind, "length") == 0) {
        return hw_parse_length(text, out, err);
    }
    if (strcmp(kind, "area") == 0) {
        return hw_parse_area(text, out, err);
    }
    status = hw_parse_made(text, &made, err);
    if (status == HW_OK) {
        *out = strcmp(kind, "made_g") == 0 ? made.g_l : 100.0 * made.share;
        check_true(made.words[0] && (made.g_l > 0.0) != (made.share > 0.0));
    }
    return status;
}

static void one_quantity(const check_row *row)
{
    double value = (double)NAN;
    hw_error err = {0};
    bool good = parse(row->text[0], row->text[1], &value, &err) == HW_OK;
    check_report(good, row->file, row->line, err.what);
    check_near(row, value, row->num[2], row->num[3]);
    hw_made made;
    if (strncmp(row->text[1], "made", 4) == 0 &&
        hw_parse_made(row->text[0], &made, NULL) == HW_OK) {
        check_text(made.words, row->text[0]);
    }
}

static void one_refused(const check_row *row)
{
    double value = 7.0;
    hw_error err = {0};
    hw_status status = parse(row->text[0], row->text[1], &value, &err);
    check_report(status == HW_ERR_CALL && value == 7.0, row->file, row->line, row->text[0]);
    check_report(strcmp(err.code, row->text[2]) == 0, row->file, row->line, err.code);
    check_report(err.what[0] && err.next[0], row->file, row->line, "says what to do");
}

// Nothing that can be typed reads past its end or gives what cannot be.
static void test_hostile(void)
{
    static const char letters[] = "0123456789./,-+ xX*%inotperlbcutgmlq\"\xc3\x97\xc2\xb2";
    const char *kinds[] = {"volume", "weight", "length", "area", "made"};
    char text[120];
    unsigned state = 1;
    for (int i = 0; i < 200000; i++) {
        size_t length = (state = state * 1103515245u + 12345u) >> 16 & (i % 50 == 0 ? 63 : 15);
        for (size_t k = 0; k < length; k++) {
            state = state * 1103515245u + 12345u;
            text[k] = letters[(state >> 16) % (sizeof letters - 1)];
        }
        text[length] = 0;
        double value = (double)NAN;
        hw_error err = {0};
        if (parse(text, kinds[i % 5], &value, &err) == HW_OK && !(value > 0.0 && value <= 1e6)) {
            check_text(text, "a quantity that can be");
        }
    }
    char *endless = malloc(1u << 20);
    memset(endless, '9', 1u << 20);
    endless[(1u << 20) - 1] = 0;
    for (size_t i = 0; i < 5; i++) {
        double value = 7.0;
        hw_error err = {0};
        check_true(parse(endless, kinds[i], &value, &err) == HW_ERR_CALL && value == 7.0);
    }
    free(endless);
}

static void test_sides(void)
{
    double mm[2] = {0.0, 0.0};
    check_true(hw_parse_sides("3 1/2 x 2in", mm, NULL) == HW_OK);
    check_close(mm[0], 88.9, 1e-9);
    check_close(mm[1], 50.8, 1e-9);
}

// ---- Mixes -------------------------------------------------------------------------

static hw_dye dye_made(const char *name, const char *words)
{
    hw_dye dye = {.exponent = 1.0};
    snprintf(dye.name, sizeof dye.name, "%s", name);
    if (words) {
        check_true(hw_parse_made(words, &dye.made, NULL) == HW_OK);
    }
    return dye;
}

static double board_sum(const hw_mix *mix)
{
    double sum = mix->board_thinner_ml;
    for (size_t i = 0; i < mix->count; i++) {
        sum += mix->part[i].board_ml;
    }
    return sum;
}

static double concentrate_sum(const hw_mix *mix)
{
    double sum = mix->concentrate_thinner_ml;
    for (size_t i = 0; i < mix->count; i++) {
        sum += mix->part[i].concentrate_ml;
    }
    return sum;
}

// 200 ml of red at 1/4 with black at 1/2: 50, 100 and 50 ml. Red's full strength is 0.634 % (15 drops in 4 fl oz):
// 200 x 0.00634 / 4 = 0.317 ml, 6 drops; black's 30 g/l: 3 g.
static void test_mix(void)
{
    hw_dye dyes[] = {dye_made("red", "15 drops in 4 fl oz"), dye_made("black", "30 g/l"),
                     dye_made("brown", NULL)};
    hw_shelf shelf = {.dye = dyes, .count = 3};
    hw_liquid liquid = {{{"red", 0.25}, {"black", 0.5}}, 2};
    hw_mix mix;
    char words[1600];
    check_true(hw_tone_mix(&liquid, &shelf, 200.0, &mix, NULL) == HW_OK);
    check_true(mix.from_board && mix.from_concentrate);
    check_close(mix.part[0].board_ml, 50.0, 1e-9);
    check_close(mix.part[1].board_ml, 100.0, 1e-9);
    check_close(mix.board_thinner_ml, 50.0, 1e-9);
    check_close(mix.part[0].concentrate_ml, 0.30, 1e-9);
    check_close(mix.part[1].concentrate_ml, 0.0, 1e-9);
    check_close(mix.part[1].powder_g, 3.0, 1e-9);
    check_close(mix.concentrate_thinner_ml, 199.7, 1e-9);
    hw_mix_say(&mix, words, sizeof words);
    printf("%s\n", words);
    check_holds(words, "1 part red, 2 parts black, 1 part thinner");
    check_holds(words, "50 ml (1.7 fl oz) red");
    check_holds(words, "0.3 ml (6 drops, 0.01 fl oz) red");
    check_holds(words, "3.0 g (0.11 oz) black powder");
    check_holds(words, "199.7 ml (6.8 fl oz) thinner");
    check_holds(words, "US measures");
    // Nobody knows how brown was made: only thinned.
    hw_liquid brown = {{{"brown", 0.125}}, 1};
    check_true(hw_tone_mix(&brown, &shelf, 100.0, &mix, NULL) == HW_OK);
    check_true(mix.from_board && !mix.from_concentrate);
    check_close(mix.part[0].board_ml, 12.5, 1e-9);
    check_close(mix.board_thinner_ml, 87.5, 1e-9);
}

// Twice the strength of the board: only from concentrate, 1 part in 10; and there is none of brown.
static void test_stronger(void)
{
    hw_dye dyes[] = {dye_made("red", "1 part in 20"), dye_made("brown", NULL),
                     dye_made("thick", "1 part in 3")};
    hw_shelf shelf = {.dye = dyes, .count = 3};
    hw_mix mix;
    char words[1600];
    hw_liquid red = {{{"red", 2.0}}, 1}, brown = {{{"brown", 2.0}}, 1},
              thick = {{{"thick", 4.0}}, 1};
    check_true(hw_tone_mix(&red, &shelf, 100.0, &mix, NULL) == HW_OK);
    check_true(!mix.from_board && mix.from_concentrate);
    check_close(mix.part[0].concentrate_ml, 10.0, 1e-9);
    check_close(mix.concentrate_thinner_ml, 90.0, 1e-9);
    hw_mix_say(&mix, words, sizeof words);
    printf("%s\n", words);
    check_holds(words, "from concentrate only");
    check_true(hw_tone_mix(&brown, &shelf, 100.0, &mix, NULL) == HW_OK);
    check_true(!mix.from_board && !mix.from_concentrate);
    hw_mix_say(&mix, words, sizeof words);
    printf("%s\n", words);
    check_holds(words, "needs concentrate");
    check_holds(words, "huewright shelf add \"brown\" --made");
    check_true(hw_tone_mix(&thick, &shelf, 100.0, &mix, NULL) == HW_OK);
    check_true(!mix.from_board && !mix.from_concentrate);
    hw_mix_say(&mix, words, sizeof words);
    printf("%s\n", words);
    check_holds(words, "more of that than there is room for");
    hw_error err = {0};
    const double bad[] = {0.0, -1.0, (double)NAN, (double)INFINITY, 1e9};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        err = (hw_error){0};
        check_true(hw_tone_mix(&red, &shelf, bad[i], &mix, &err) == HW_ERR_CALL);
        check_text(err.code, "mix-volume");
    }
}

// Whatever is asked for: volumes add up to it, none is below nothing, and each is what can be measured.
static void test_adds_up(void)
{
    hw_dye dyes[] = {dye_made("red", "15 drops in 4 fl oz"), dye_made("black", "1 part in 3")};
    hw_shelf shelf = {.dye = dyes, .count = 2};
    double worst = 0.0;
    for (int i = 0; i < 40000; i++) {
        double volume = 3.0 * pow(1.00021, i), one = (1 + i % 16) / 16.0, other = (1 + i % 7) / 8.0;
        hw_liquid liquid = {{{"red", one}, {"black", other}}, 1 + (size_t)(i % 2)};
        hw_mix mix;
        check_true(hw_tone_mix(&liquid, &shelf, volume, &mix, NULL) == HW_OK);
        bool fits = liquid.count == 1 || one + other <= 1.0;
        if (mix.from_board != fits || !mix.from_concentrate) {
            check_true(false);
        }
        if (fits) {
            worst = fmax(worst, fabs(board_sum(&mix) - volume) / volume);
        }
        worst = fmax(worst, fabs(concentrate_sum(&mix) - volume) / volume);
        bool none_below = mix.board_thinner_ml >= 0.0 && mix.concentrate_thinner_ml >= 0.0;
        for (size_t k = 0; k < mix.count; k++) {
            none_below =
                none_below && mix.part[k].board_ml >= 0.0 && mix.part[k].concentrate_ml > 0.0;
        }
        if (!none_below) {
            check_true(none_below);
        }
    }
    printf("volumes add up within %.1e\n", worst);
    check_true(worst < 1e-9);
}

// Two drops where 1.6 are wanted are 26 % too many, and that is said.
static void test_too_little(void)
{
    hw_dye red = dye_made("red", "15 drops in 4 fl oz");
    hw_shelf shelf = {.dye = &red, .count = 1};
    hw_liquid liquid = {{{"red", 0.125}}, 1};
    hw_mix mix;
    char words[1600];
    check_true(hw_tone_mix(&liquid, &shelf, 100.0, &mix, NULL) == HW_OK);
    check_close(mix.concentrate_off, 2.0 / (15.0 / 8.0 * 100.0 / 118.29411825) - 1.0, 1e-6);
    hw_mix_say(&mix, words, sizeof words);
    check_holds(words, "by up to 26 %");
    check_holds(words, "mix more of it");
}

// ---- What passes need ----------------------------------------------------------------

// 12 x 90 cm, three passes: 0.108 m2. A film of 0.04 mm is 40 ml a m2; from a gun twice that, 8.64 ml a pass, and 3 x
// 8.64 + 30 = 55.9, so 75 ml; from a pad 50 ml a m2, 5.4 ml a pass, 26.2, so 30 ml. Said: 100 ml a m2, 10.8 a pass.
static void test_need(void)
{
    hw_need gun = hw_tone_need(1080.0, 3, (double)NAN, HW_TOOL_SPRAY);
    hw_need pad = hw_tone_need(1080.0, 3, (double)NAN, HW_TOOL_PAD);
    hw_need said = hw_tone_need(1080.0, 1, 100.0, HW_TOOL_BRUSH);
    hw_need unknown = hw_tone_need((double)NAN, 3, (double)NAN, HW_TOOL_UNSAID);
    check_close(gun.pass_ml, 8.64, 1e-9);
    check_close(gun.mix_ml, 75.0, 1e-9);
    check_close(pad.pass_ml, 5.4, 1e-9);
    check_close(pad.mix_ml, 30.0, 1e-9);
    check_close(said.pass_ml, 10.8, 1e-9);
    check_close(said.mix_ml, 30.0, 1e-9);
    check_true(said.said && !gun.said && isnan(unknown.pass_ml) && isnan(unknown.mix_ml));
    check_close(unknown.ml_m2, 80.0, 1e-9);
    check_holds(gun.assumption, "0.04 mm");
    check_holds(gun.assumption, "half or twice");
    check_holds(unknown.assumption, "not said");
    check_holds(said.assumption, "as you said");
    check_close(hw_tone_need(1e6, 50, 1000.0, HW_TOOL_SPRAY).mix_ml, 7.5e6, 1e-6);
}

int main(void)
{
    check_table("tone/quantities.tsv", 4, one_quantity);
    check_table("tone/quantities-refused.tsv", 3, one_refused);
    test_hostile();
    test_sides();
    test_mix();
    test_stronger();
    test_adds_up();
    test_too_little();
    test_need();
    return check_done();
}
