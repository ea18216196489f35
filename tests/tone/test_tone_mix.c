// Quantities as they are typed, how a liquid was made, mixes, and what passes need. The tables of testdata/tone
// tell the sources of their numbers.
#include "check.h"
#include "huewright/tone.h"
#include "tone_internal.h"

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
    if (strcmp(kind, "time") == 0) {
        return hw_parse_minutes(text, out, err);
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
    static const char letters[] = "0123456789./,-+ xX*%inotperlbcutgmlqh\"\xc3\x97\xc2\xb2";
    const char *kinds[] = {"volume", "weight", "length", "area", "time", "made"};
    const size_t kind_count = sizeof kinds / sizeof *kinds;
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
        if (parse(text, kinds[(size_t)i % kind_count], &value, &err) == HW_OK &&
            !(value > 0.0 && value <= 1e6)) {
            check_text(text, "a quantity that can be");
        }
    }
    char *endless = malloc(1u << 20);
    memset(endless, '9', 1u << 20);
    endless[(1u << 20) - 1] = 0;
    for (size_t i = 0; i < kind_count; i++) {
        double value = 7.0;
        hw_error err = {0};
        check_true(parse(endless, kinds[i], &value, &err) == HW_ERR_CALL && value == 7.0);
    }
    free(endless);
}

// And back: a US quart is 946.352946 ml, 32 fl oz; two pounds are 907.18474 g, 32 ounces (as in quantities.tsv).
static void test_ounces(void)
{
    check_close(hw_fl_oz(946.352946), 32.0, 1e-9);
    check_close(hw_ounces(907.18474), 32.0, 1e-9);
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
// 200 x 0.00634 / 4 = 0.317 ml, 6 drops and a bit; black's 30 g/l: 3 g.
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
    check_holds(words, "makes it weaker by up to 5 %"); // 0.3 / 0.317
    check_holds(words, "the dyes at full strength");    // nobody made a board of them
    for (size_t i = 0; i < 2; i++) {
        dyes[i].has_wood = true;
    }
    check_true(hw_tone_mix(&liquid, &shelf, 200.0, &mix, NULL) == HW_OK);
    hw_mix_say(&mix, words, sizeof words);
    check_holds(words, "the dyes as their step boards were made");
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

// Is it no stronger in any part than asked for, and weaker by no more than told, a tenth at most?
static bool is_no_stronger(const hw_mix *mix, const double *asked, const double *got, double off)
{
    bool good = off <= 0.1 + 1e-9;
    for (size_t i = 0; i < mix->count; i++) {
        double share = got[i] / asked[i];
        good = good && share <= 1.0 + 1e-8 && share >= 1.0 - off - 1e-8;
    }
    return good;
}

// Whatever is asked for: volumes add up to it, none is below nothing, and no dye is more than asked for: rounding it up
// would be an overshoot that is laid as an order.
static void test_adds_up(void)
{
    hw_dye dyes[] = {dye_made("red", "15 drops in 4 fl oz"), dye_made("black", "1 part in 3"),
                     dye_made("powder", "30 g/l")};
    hw_shelf shelf = {.dye = dyes, .count = 3};
    double worst = 0.0;
    int small = 0, odd = 0;
    for (int i = 0; i < 40000; i++) {
        double volume = 3.0 * pow(1.00021, i), one = (1 + i % 16) / 16.0, other = (1 + i % 7) / 8.0;
        hw_liquid liquid = {{{"red", one}, {"black", other}}, 1 + (size_t)(i % 2)};
        snprintf(liquid.dose[1].dye, HW_NAME_SIZE, "%s", i % 3 == 0 ? "powder" : "black");
        hw_mix mix;
        hw_error err = {0};
        bool fits = liquid.count == 1 || one + other <= 1.0;
        if (hw_tone_mix(&liquid, &shelf, volume, &mix, &err) != HW_OK) {
            small++;
            odd += strcmp(err.code, "mix-small") != 0;
            continue;
        }
        odd += (!mix.from_board && !(mix.board_least_ml > 0.0)) == fits;
        odd += !mix.from_concentrate && !(mix.concentrate_least_ml > 0.0);
        odd += fabs(mix.volume_ml - volume) > 0.05 + 1e-9;
        double board[2], pure[2], asked_board[2], asked_pure[2];
        for (size_t k = 0; k < mix.count; k++) {
            const hw_mix_part *part = &mix.part[k];
            bool powder = part->made.g_l > 0.0;
            board[k] = part->board_ml;
            pure[k] = powder ? part->powder_g : part->concentrate_ml;
            asked_board[k] = part->strength * mix.volume_ml;
            asked_pure[k] = asked_board[k] * (powder ? part->made.g_l / 1000.0 : part->made.share);
        }
        if (mix.from_board) {
            worst = fmax(worst, fabs(board_sum(&mix) - mix.volume_ml) / mix.volume_ml);
            odd += mix.board_thinner_ml < 0.0 ||
                   !is_no_stronger(&mix, asked_board, board, mix.board_off);
        }
        if (mix.from_concentrate) {
            worst = fmax(worst, fabs(concentrate_sum(&mix) - mix.volume_ml) / mix.volume_ml);
            odd += mix.concentrate_thinner_ml < 0.0 ||
                   !is_no_stronger(&mix, asked_pure, pure, mix.concentrate_off);
        }
    }
    printf("volumes add up within %.1e; %d too small\n", worst, small);
    check_true(worst < 1e-9);
    check_true(odd == 0 && small > 0 && small < 4000);
}

// 5 drops in 4 fl oz are 0.25 / 118.294 = 0.2113 %; an eighth of it in 50 ml is a quarter of a drop. The least handy
// volume of which at most a tenth is lost is 200 ml: 1.057 drops (100 ml: half a drop; 150: 0.79).
static void test_too_little(void)
{
    hw_dye red = dye_made("red", "5 drops in 4 fl oz");
    hw_shelf shelf = {.dye = &red, .count = 1};
    hw_liquid weak = {{{"red", 0.125}}, 1}, strong = {{{"red", 1.5}}, 1};
    hw_mix mix, other;
    hw_error err = {0};
    char words[1600];
    check_true(hw_tone_mix(&weak, &shelf, 50.0, &mix, NULL) == HW_OK);
    check_true(mix.from_board && !mix.from_concentrate);
    check_close(mix.part[0].board_ml, 6.0, 1e-9); // of 6.25, in half millilitres
    check_close(mix.concentrate_least_ml, 200.0, 1e-9);
    hw_mix_say(&mix, words, sizeof words);
    printf("%s\n", words);
    check_holds(words, "From the concentrate: what can be measured out would leave it over a tenth "
                       "too weak at this volume: mix 200 ml");
    check_holds(words, "or thin a stronger mix");
    check_true(hw_tone_mix(&weak, &shelf, 200.0, &mix, NULL) == HW_OK && mix.from_concentrate);
    check_close(mix.part[0].concentrate_ml, 0.05, 1e-9);
    check_close(mix.concentrate_off, 1.0 - 118.29411825 * 8.0 / 5.0 / 200.0, 1e-6);
    hw_mix_say(&mix, words, sizeof words);
    printf("%s\n", words);
    check_holds(words, "weaker by up to 5 %");
    check_holds(words,
                "drop, 0.002 fl oz) red (full strength is 5 drops in 4 fl oz), thinner up to "
                "200 ml (6.8 fl oz).");
    // Stronger than full strength there is no other way: 0.32 drops in 5 ml, 1.27 in 20, 1.9 in 30, 3.17 in 50 (5 %
    // lost).
    check_true(hw_tone_mix(&strong, &shelf, 5.0, &mix, &err) == HW_ERR_CALL);
    check_text(err.code, "mix-small");
    check_holds(err.what, "at 5 ml (0.2 fl oz) a part of this mix is too little");
    check_holds(err.next, "Mix 50 ml (1.7 fl oz)");
    check_true(hw_tone_mix_at_least(&strong, &shelf, 5.0, &mix) && mix.from_concentrate);
    check_close(mix.volume_ml, 50.0, 1e-9);
    check_true(hw_tone_mix_at_least(&strong, &shelf, 100.0, &other) && other.volume_ml == 100.0);
    // In no volume that can be mixed; and one that is none.
    hw_dye faint = dye_made("red", "1 drop in 20 l");
    shelf.dye = &faint;
    strong.dose[0].strength = 1.0001;
    check_true(hw_tone_mix(&strong, &shelf, 5.0, &mix, NULL) == HW_ERR_CALL);
    check_true(hw_tone_mix_at_least(&strong, &shelf, 5.0, &mix)); // 20 l
    strong.dose[0].strength = 4.0;
    faint.made.share /= 10.0;
    err = (hw_error){0};
    check_true(hw_tone_mix(&strong, &shelf, 5.0, &mix, &err) == HW_ERR_CALL);
    check_text(err.code, "mix-small");
    check_text(err.next, "Mix it stronger and thin that.");
    check_true(!hw_tone_mix_at_least(&strong, &shelf, 5.0, &mix));
    check_true(!hw_tone_mix_at_least(&strong, &shelf, 1e6, &mix));
}

// What is read is what can be read: 8 fl oz are 236.588 ml. Ties go down as well: 10.25 ml of red, in half
// millilitres.
static void test_readable(void)
{
    hw_dye red = dye_made("red", NULL);
    hw_shelf shelf = {.dye = &red, .count = 1};
    hw_liquid weak = {{{"red", 0.375}}, 1}, full = {{{"red", 1.0}}, 1};
    hw_mix mix;
    char words[1600];
    check_true(hw_tone_mix(&weak, &shelf, 236.5882365, &mix, NULL) == HW_OK);
    hw_mix_say(&mix, words, sizeof words);
    printf("%s\n", words);
    check_holds(words,
                "236.6 ml (8.0 fl oz; US measures): 3 parts red, 5 parts thinner, the dye at full "
                "strength: 88 ml (3.0 fl oz) red, 148.6 ml (5.0 fl oz) thinner.");
    weak.dose[0].strength = 0.41;
    check_true(hw_tone_mix(&weak, &shelf, 25.0, &mix, NULL) == HW_OK);
    check_close(mix.part[0].board_ml, 10.0, 1e-9);
    check_true(hw_tone_mix(&full, &shelf, 236.5882365, &mix, NULL) == HW_OK);
    check_true(mix.part[0].board_ml == mix.volume_ml && mix.board_thinner_ml == 0.0);
    hw_mix_say(&mix, words, sizeof words);
    check_holds(words, "red at full strength, no thinner.");
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
    test_ounces();
    test_mix();
    test_stronger();
    test_adds_up();
    test_too_little();
    test_readable();
    test_need();
    return check_done();
}
