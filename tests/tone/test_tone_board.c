// Step boards: the law found again on strips made by formulas of their own, a strip out of line named,
// boards that cannot be refused.
#include "base_internal.h"
#include "check.h"
#include "picture.h"
#include "tone_internal.h"

static const hw_lab oak = {62.0, 12.0, 28.0};

// As typed readings are taken to be: 0.3 each (chosen); `u` otherwise.
static hw_strip strip_of(double passes, hw_lab lab, double u)
{
    return (hw_strip){
        .passes = passes, .lab = lab, .covariance = hw_covariance_diagonal(u * u, u * u, u * u)};
}

// Bradford (Lam 1985), with the matrix as printed in ICC.1:2022 annex E, and CIE 15's L*a*b*, both
// written out again here.
static const double bradford[3][3] = {
    {0.8951, 0.2664, -0.1614}, {-0.7502, 1.7135, 0.0367}, {0.0389, -0.0685, 1.0296}};
static const double d50[3] = {0.9642, 1.0, 0.8249};

static void bands_of(hw_lab lab, double out[3])
{
    double fy = (lab.L + 16.0) / 116.0, f[3] = {fy + lab.a / 500.0, fy, fy - lab.b / 200.0}, xyz[3];
    for (int i = 0; i < 3; i++) {
        xyz[i] =
            d50[i] * (f[i] > 6.0 / 29.0 ? f[i] * f[i] * f[i] : (f[i] - 4.0 / 29.0) * 108.0 / 841.0);
    }
    for (int i = 0; i < 3; i++) {
        out[i] = bradford[i][0] * xyz[0] + bradford[i][1] * xyz[1] + bradford[i][2] * xyz[2];
    }
}

static hw_lab lab_of(const double bands[3])
{
    return hw_lab_from_xyz(hw_unsharpen(bands), hw_white_d50);
}

// The wood under n passes by the law itself.
static hw_lab law(hw_lab wood, const double d[3], double n, double g)
{
    double s[3];
    bands_of(wood, s);
    for (int band = 0; band < 3; band++) {
        s[band] *= exp(-d[band] * pow(n, g));
    }
    return lab_of(s);
}

static bool fitted(const char *dye, const hw_strip *strips, size_t count, hw_board *out)
{
    hw_error err = {0};
    bool good = hw_board_fit(dye, strips, count, out, &err) == HW_OK;
    if (!check_true(good)) {
        printf("%s: %s\n", err.code, err.what);
    }
    return good;
}

// ---- The law -----------------------------------------------------------------------

// Worked example, computed apart from this program (numpy, with the published Bradford matrix): L*a*b* (62,
// 12, 28) and after one pass (59.6, 12.9, 29.0).
static void test_worked_example(void)
{
    const double s0[3] = {0.352400, 0.281204, 0.120022}, d[3] = {0.081436, 0.104518, 0.150918};
    const hw_lab later[3] = {
        {57.2785, 13.7395, 29.8852}, {55.0328, 14.5201, 30.6630}, {52.8602, 15.2434, 31.3407}};
    double bands[3];
    bands_of(oak, bands);
    hw_strip strips[5] = {strip_of(1, (hw_lab){59.6, 12.9, 29.0}, 0.3), strip_of(0, oak, 0.3)};
    hw_board board = {0};
    if (!fitted("walnut", strips, 2, &board)) {
        return;
    }
    for (int band = 0; band < 3; band++) {
        check_close(bands[band], s0[band], 1e-6);
        check_close(board.density[band], d[band], 2e-6);
    }
    check_close(board.exponent, 1.0,
                1e-9); // one strip says nothing of it: the prior, 0.10 (chosen)
    check_close(board.u_exponent, 0.10, 1e-6);
    check_true(!board.saturates && !board.has_coat && board.count == 2);
    check_true(board.strip[0].passes == 0.0 && board.strip[1].deviate == 0.0);
    hw_dye dye = hw_board_dye(&board);
    check_true(!dye.guess && dye.has_wood && dye.board_passes == 1 && dye.wood.L == 62.0);
    check_text(dye.name, "walnut");
    // Three readings each 0.3 apart in a band of d 0.08 to 0.15, and 12 % of the hand: over 12 %, under 40 %.
    check_true(dye.u_strength > 0.12 && dye.u_strength < 0.40);
    double one_strip = dye.u_strength;
    hw_board_free(&board);
    // With the later strips that it predicts, the same law, and surer.
    for (int i = 0; i < 3; i++) {
        strips[2 + i] = strip_of(2 + i, later[i], 0.3);
    }
    if (!fitted("walnut", strips, 5, &board)) {
        return;
    }
    for (int band = 0; band < 3; band++) {
        check_close(board.density[band], d[band], 2e-5);
    }
    check_close(board.exponent, 1.0, 1e-4);
    check_true(board.fit_off < 0.001 && !board.saturates && !board.first_differs);
    for (size_t i = 0; i < board.count; i++) {
        check_true(!board.strip[i].out_of_line && board.strip[i].why[0] == 0);
        check_true(board.strip[i].passes == (double)i);
    }
    check_true(hw_board_dye(&board).u_strength < one_strip);
    check_true(hw_board_dye(&board).board_passes == 4);
    hw_board_free(&board);
}

// Noise as it is claimed to be: the true density lies within 1.645 s.d. in about 9 of 10 boards, the
// strips are in line in nearly all.
static void test_range_holds(void)
{
    const double d[3] = {0.06, 0.09, 0.14}, u = 0.3;
    uint64_t seed = 5;
    int inside = 0, all = 0, out = 0, exponent_inside = 0;
    for (int board_number = 0; board_number < 300; board_number++) {
        hw_strip strips[5];
        double amount = 0.0;
        for (int n = 0; n < 5; n++) {
            double with_pass = 1.0 + 0.12 * sqrt(0.5) * picture_normal(&seed);
            double own = n > 0 ? 0.12 * sqrt(0.5 * n) * picture_normal(&seed) : 0.0;
            amount += n > 0 ? with_pass : 0.0;
            hw_lab lab = law(oak, d, fmax(amount + own, 0.0), 1.0);
            lab.L += u * picture_normal(&seed);
            lab.a += u * picture_normal(&seed);
            lab.b += u * picture_normal(&seed);
            strips[n] = strip_of(n, lab, u);
        }
        hw_board board = {0};
        if (!fitted("walnut", strips, 5, &board)) {
            continue;
        }
        for (int band = 0; band < 3; band++) {
            double half = 1.645 * sqrt(board.covariance.m[band][band]);
            inside += fabs(board.density[band] - d[band]) < half;
            all++;
        }
        exponent_inside += fabs(board.exponent - 1.0) < 1.645 * board.u_exponent;
        for (size_t i = 0; i < board.count; i++) {
            out += board.strip[i].out_of_line;
        }
        hw_board_free(&board);
    }
    double share = (double)inside / all;
    printf("true density inside its 90 %% range: %.3f; exponent: %.3f; strips wrongly named: %d of "
           "1200\n",
           share, exponent_inside / 300.0, out);
    check_true(share > 0.86 && share < 0.97);
    check_true(exponent_inside > 255);
    check_true(out < 12); // 1 in 100
}

// A dye inside the wood: its absorption adds as K/S = (1-R)^2/(2R) (Kubelka and Munk 1931) in each band, so
// later passes do less: the exponent says so, and is nearer to the strips than the best straight law.
static hw_lab in_the_wood(hw_lab wood, const double k[3], double n)
{
    double s[3];
    bands_of(wood, s);
    for (int band = 0; band < 3; band++) {
        double q = (1.0 - s[band]) * (1.0 - s[band]) / (2.0 * s[band]) + n * k[band];
        s[band] = 1.0 + q - sqrt(q * q + 2.0 * q);
    }
    return lab_of(s);
}

static void test_dye_in_the_wood(void)
{
    // The formula itself: R 0.4 has K/S 0.45; 0.3 more gives R 0.313859 (worked by hand).
    check_close(1.0 + 0.75 - sqrt(0.75 * 0.75 + 1.5), 0.313859, 1e-6);
    const double k[3] = {0.15, 0.35, 1.2};
    hw_strip strips[7];
    double bands[7][3], d[3], squares = 0.0, straight = 0.0;
    for (int n = 0; n < 7; n++) {
        strips[n] = strip_of(n, in_the_wood((hw_lab){70, 8, 24}, k, n), 0.1);
        bands_of(strips[n].lab, bands[n]);
        squares += n * n;
    }
    for (int band = 0; band < 3; band++) { // the best straight law
        d[band] = 0.0;
        for (int n = 1; n < 7; n++) {
            d[band] += n * log(bands[0][band] / bands[n][band]) / squares;
        }
    }
    for (int n = 1; n < 7; n++) {
        straight += hw_ciede2000(strips[n].lab, law(strips[0].lab, d, n, 1.0)) / 6.0;
    }
    hw_board board = {0};
    if (fitted("walnut", strips, 7, &board)) {
        printf("dye in the wood: exponent %.3f +- %.3f, off by %.2f, a straight law by %.2f\n",
               board.exponent, board.u_exponent, board.fit_off, straight);
        check_true(board.exponent < 0.90 && board.saturates);
        check_true(board.fit_off < 0.5 * straight);
        for (size_t i = 0; i < board.count; i++) {
            check_true(!board.strip[i].out_of_line);
        }
        hw_board_free(&board);
    }
}

// A band that the dye leaves alone is read a little too light: density 0 there, not below.
static void test_band_at_zero(void)
{
    const double d[3] = {-0.004, 0.09, 0.14};
    hw_strip strips[4];
    for (int n = 0; n < 4; n++) {
        strips[n] = strip_of(n, law(oak, d, n, 1.0), 0.3);
    }
    hw_board board = {0};
    if (fitted("red", strips, 4, &board)) {
        check_true(board.density[0] == 0.0 && board.covariance.m[0][0] > 0.0);
        check_close(board.density[1], 0.09, 0.008);
        hw_board_free(&board);
    }
}

// ---- Strips out of line ------------------------------------------------------------

static hw_board board_with(int strip, double laid, bool *good)
{
    const double d[3] = {0.06, 0.09, 0.14};
    hw_strip strips[6];
    hw_board board = {0};
    for (int n = 0; n < 6; n++) {
        strips[n] = strip_of(n, law(oak, d, n == strip ? laid : n, 1.0), 0.2);
    }
    *good = fitted("walnut", strips, 6, &board);
    return board;
}

static void test_out_of_line(void)
{
    static const struct {
        int strip;
        double laid;
        const char *why;
    } rows[] = {{2, 3.1, "darker than the other strips say, by about 1."},
                {3, 1.9, "a pass was forgotten"},
                {1, 2.0, "wood that drank the first pass"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        bool good;
        hw_board board = board_with(rows[i].strip, rows[i].laid, &good);
        for (size_t k = 0; good && k < board.count; k++) {
            check_true(board.strip[k].out_of_line == ((int)k == rows[i].strip));
        }
        if (good) {
            const hw_strip *wrong = &board.strip[rows[i].strip];
            check_holds(wrong->why, rows[i].why);
            check_true(wrong->deviate > 3.0 && wrong->off > 1.0);
            check_close(board.density[1], 0.09, 0.002); // as without it
            check_true(board.first_differs == (rows[i].strip == 1));
        }
        hw_board_free(&board);
    }
    // Another colour, as deep: named as such.
    const double d[3] = {0.06, 0.09, 0.14};
    hw_strip strips[5];
    for (int n = 0; n < 5; n++) {
        strips[n] = strip_of(n, law(oak, d, n, 1.0), 0.2);
    }
    strips[2].lab.a += 3.0;
    strips[2].lab.b -= 3.0;
    hw_board board = {0};
    if (fitted("walnut", strips, 5, &board)) {
        check_true(board.strip[2].out_of_line);
        check_holds(board.strip[2].why, "off in colour");
        hw_board_free(&board);
    }
    // Two that do not agree: none is blamed, the doubt grows.
    hw_strip two[3] = {strips[0], strips[1], strip_of(2, law(oak, d, 4.5, 1.0), 0.2)};
    hw_board sure = {0};
    hw_strip agree[3] = {strips[0], strips[1], strip_of(2, law(oak, d, 2, 1.0), 0.2)};
    if (fitted("walnut", two, 3, &board) && fitted("walnut", agree, 3, &sure)) {
        check_true(!board.strip[1].out_of_line && !board.strip[2].out_of_line);
        check_holds(board.strip[1].why, "too few to tell");
        check_true(hw_board_dye(&board).u_strength > 1.3 * hw_board_dye(&sure).u_strength);
    }
    hw_board_free(&board);
    hw_board_free(&sure);
}

// ---- Under the clear coat ----------------------------------------------------------

// The coat is another transparent layer (a made-up one): the dye does under it what it does without.
static void test_coat(void)
{
    const double d[3] = {0.06, 0.09, 0.14}, coat[3] = {0.05, 0.08, 0.16};
    hw_lab wet = law(oak, coat, 1.0, 1.0);
    hw_strip strips[8];
    for (int n = 0; n < 4; n++) {
        strips[n] = strip_of(n, law(oak, d, n, 1.0), 0.2);
        strips[4 + n] = strip_of(n, law(wet, d, 1.2 * n, 1.0), 0.2);
        strips[4 + n].coated = true;
    }
    hw_board board = {0};
    if (fitted("walnut", strips, 8, &board)) {
        check_true(board.has_coat && board.under_coat_count == 3);
        check_close(board.coat_shift.L, wet.L - oak.L, 1e-9);
        check_close(board.coat_shift.b, wet.b - oak.b, 1e-9);
        check_close(board.under_coat, 1.2, 0.01);
        check_true(board.u_under_coat > 0.05 && board.u_under_coat < 0.4);
        check_close(board.density[2], 0.14, 1e-4); // of the bare strips
        hw_board_free(&board);
    }
    if (fitted("walnut", strips, 5, &board)) { // the coated strip of 0 passes alone
        check_true(board.has_coat && board.under_coat_count == 0);
        hw_board_free(&board);
    }
    strips[4] = strips[5];
    if (fitted("walnut", strips, 5, &board)) { // a coated one without it
        check_true(!board.has_coat && board.under_coat_count == 0);
        check_holds(board.strip[4].why, "not used");
        hw_board_free(&board);
    }
}

// ---- Refusals ----------------------------------------------------------------------

static void refused(const hw_strip *strips, size_t count, hw_status status, const char *code)
{
    hw_board board = {0};
    hw_error err = {0};
    check_true(hw_board_fit("walnut", strips, count, &board, &err) == status);
    check_text(err.code, code);
    check_text(err.subject, "walnut");
    check_true(err.what[0] && err.next[0] && !board.strip);
}

static void test_refusals(void)
{
    const hw_lab one = {59.6, 12.9, 29.0};
    hw_strip strips[3] = {strip_of(0, oak, 0.3), strip_of(1, one, 0.3), strip_of(1, one, 0.3)};
    refused(strips, 0, HW_ERR_CALL, "board-no-zero");
    refused(strips + 1, 1, HW_ERR_CALL, "board-no-zero");
    refused(strips, 1, HW_ERR_CALL, "board-few");
    refused(strips, 3, HW_ERR_CALL, "board-strip-twice");
    strips[2].coated = true;
    strips[1].coated = true;
    refused(strips, 2, HW_ERR_CALL, "board-few");
    strips[1] = strip_of(0.5, one, 0.3);
    refused(strips, 2, HW_ERR_CALL, "board-strip");
    strips[1] = strip_of(51, one, 0.3);
    refused(strips, 2, HW_ERR_CALL, "board-strip");
    strips[1] = strip_of(1, (hw_lab){NAN, 0, 0}, 0.3);
    refused(strips, 2, HW_ERR_CALL, "board-strip");
    strips[1] = strip_of(1, (hw_lab){65.0, 12.0, 28.0}, 0.3); // lighter than without toner
    refused(strips, 2, HW_ERR_INPUT, "board-impossible");
    strips[1] = strip_of(1, (hw_lab){62.1, 12.0, 28.0}, 0.3); // a reading's own scatter
    refused(strips, 2, HW_ERR_INPUT, "board-nothing");
    // Under the coat it is the coated part alone that is not used; the bare one tells all the same.
    hw_strip coated[4] = {strip_of(0, oak, 0.3), strip_of(1, one, 0.3),
                          strip_of(0, (hw_lab){50.0, 14.0, 30.0}, 0.3),
                          strip_of(3, (hw_lab){56.0, 13.0, 29.0}, 0.3)};
    coated[2].coated = coated[3].coated = true;
    hw_board board = {0};
    check_true(hw_board_fit("walnut", coated, 4, &board, NULL) == HW_OK);
    check_true(board.under_coat_count == 0 && board.count == 4);
    check_holds(board.strip[3].why, "not used: lighter than the strip without toner");
    hw_board_free(&board);
    strips[1] = strip_of(1, (hw_lab){38.0, 16.0, 20.0}, 0.3);
    refused(strips, 2, HW_ERR_INPUT, "board-too-strong");
}

// Every allocation failing in turn: refused, or done; nothing lost.
static void test_memory(void)
{
    bool done = false;
    const double d[3] = {0.06, 0.09, 0.14};
    hw_strip strips[6];
    for (int n = 0; n < 4; n++) {
        strips[n] = strip_of(n, law(oak, d, n, 1.0), 0.2);
    }
    strips[4] = strip_of(0, law(oak, d, 0.2, 1.0), 0.2);
    strips[5] = strip_of(2, law(oak, d, 2.3, 1.0), 0.2);
    strips[4].coated = strips[5].coated = true;
    for (long n = 0; n < 100 && !done; n++) {
        hw_board board = {0};
        hw_test_fail_alloc(n);
        hw_status status = hw_board_fit("walnut", strips, 6, &board, NULL);
        hw_test_fail_alloc(-1);
        done = status == HW_OK;
        check_true(done || status == HW_ERR_STORAGE);
        hw_board_free(&board);
    }
    check_true(done);
}

int main(void)
{
    test_worked_example();
    test_range_holds();
    test_dye_in_the_wood();
    test_band_at_zero();
    test_out_of_line();
    test_coat();
    test_refusals();
    test_memory();
    return check_done();
}
