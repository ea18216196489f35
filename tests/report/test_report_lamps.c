// A repair under two lamps in words and as JSON: what is said for each outcome, and that no number is said of a lamp that
// no photo was taken under.
#include "report_internal.h"
#include "scratch.h"

static hw_job *job;
static int64_t now = 1790000000;

static void new_job(void)
{
    static int number;
    char name[40];
    snprintf(name, sizeof name, "job %d", ++number);
    hw_job_free(job);
    job = NULL;
    check_true(hw_job_start(in("%s", name), "Lid", now++, NULL) == HW_OK &&
               hw_job_open(in("%s", name), NULL, &job, NULL) == HW_OK);
}

// A photo whose repair reads `L` lighter and `a` redder than the old wood, each axis within `half`.
static long add(const char *lamp, double L, double a, double half)
{
    static int number;
    hw_photo_event event = {.original = "x.jpg", .view = "lid"};
    hw_text text = {0};
    long photo = 0;
    const hw_lab old = {50, 12, 25}, patch = {50 + L, 12 + a, 25};
    double gap = hw_ciede2000(old, patch);
    snprintf(event.stored, sizeof event.stored, "photos/%d.jpg", ++number);
    snprintf(event.lamp, sizeof event.lamp, "%s", lamp);
    check_true(
        hw_marks_add(&event.marks, HW_ROLE_PATCH, "strip", "10,10,50,50", NULL, NULL) == HW_OK &&
        hw_marks_add(&event.marks, HW_ROLE_TARGET, "rail", "10,80,50,50", NULL, NULL) == HW_OK);
    hw_text_add(&text,
                "{\"samples\":[{\"name\":\"strip\",\"role\":\"patch\",\"lab\":[%.3f,%.3f,25],"
                "\"standard_error\":[0.1,0.1,0.1]}],\"comparisons\":[{\"patch\":\"strip\","
                "\"target\":\"beside\",\"de00\":%.3f,\"de00_low\":%.3f,\"de00_high\":%.3f,"
                "\"delta\":{\"L\":%.3f,\"a\":%.3f,\"b\":0},\"delta_low\":{\"L\":%.3f,\"a\":%.3f,"
                "\"b\":%.3f},\"delta_high\":{\"L\":%.3f,\"a\":%.3f,\"b\":%.3f},"
                "\"verdict\":\"tone\"}]}",
                patch.L, patch.a, gap, fmax(gap - half, 0), gap + half, L, a, L - half, a - half,
                -half, L + half, a + half, half);
    check_true(hw_job_add_photo_read(job, &event, text.bytes, now++, &photo, NULL) == HW_OK);
    hw_text_free(&text);
    hw_marks_free(&event.marks);
    return photo;
}

static void pass(void)
{
    char patches[1][HW_NAME_SIZE] = {"strip"};
    long number;
    hw_pass_event laid = {.patches = patches,
                          .patch_count = 1,
                          .liquid = {{{"red", 0.25}}, 1},
                          .passes = 1,
                          .minutes = (double)NAN};
    check_true(hw_job_add_pass(job, &laid, now++, &number, NULL) == HW_OK);
}

static char shown[4000];

static const char *text_of(const char *patch, bool quiet)
{
    hw_report_style style = {.quiet = quiet};
    char *text = NULL;
    shown[0] = 0;
    if (check_true(hw_report_lamps_text(job, patch, &style, &text, NULL) == HW_OK)) {
        snprintf(shown, sizeof shown, "%s", text);
        hw_report_free(text);
    }
    return shown;
}

static void says_not(const char *text, const char *part)
{
    if (!check_true(!strstr(text, part))) {
        printf("it says: %s\n", part);
    }
}

static void test_nothing_yet(void)
{
    new_job();
    check_holds(text_of(NULL, false), "No photo of this job shows a repair yet.");
    add("", 2, 0, 0.3);
    check_holds(text_of(NULL, false), "No photo of it says which lamp it was taken under.");
    new_job();
    add("Shop lamp", 2, 0, 0.3);
    const char *text = text_of("strip", false);
    check_holds(text, "strip, judged by Shop lamp\n");
    check_holds(text, "huewright photo JOB FILE --lamp \"customer's lamp\"");
    check_holds(text, "Strong red, green and blue part most, brown and black least.");
    says_not(text, "gap"); // nothing is foretold
    says_not(text, "HOLDS");
    says_not(text, "PARTS");
    check_text(text_of("nobody", true), "No photo of this job shows a repair yet.\n");
}

static void test_outcomes(void)
{
    new_job();
    long shop = add("Shop lamp", 2, 0, 0.05);
    long home = add("customer's lamp", 2, 9, 0.05);
    char row[120];
    const char *text = text_of(NULL, false);
    snprintf(row, sizeof row, "    under Shop lamp (photo %ld): TONE IT, gap ", shop);
    check_holds(text, row);
    snprintf(row, sizeof row, "    under customer's lamp (photo %ld): TONE IT, gap ", home);
    check_holds(text, row);
    check_holds(text, "too red");
    check_holds(text, "    PARTS under customer's lamp: the change of lamp alone makes ");
    check_holds(text, ": redder there.\n"); // surely, and nothing else surely
    check_holds(text, "Judge by the lamp that it will stand under");
    says_not(text_of(NULL, true), "Judge by");

    pass();
    check_holds(text_of(NULL, false), "it says nothing of today");
    check_holds(text_of(NULL, false), "Before the last pass photograph it under a second lamp too");

    new_job();
    add("Shop lamp", 2, 0, 3);
    add("bulb", 2, 1, 3);
    check_holds(text_of(NULL, false),
                "CANNOT BE TOLD for bulb: the change of lamp alone makes below ");
    check_holds(text_of(NULL, false), "a black and a white step beside the card");

    new_job();
    add("Shop lamp", 2, 0, 0.05);
    pass();
    add("bu\x1blb", 2, 1, 0.05); // what came from outside moves no cursor
    check_holds(text_of(NULL, false), "bu?lb (photo ");
    check_holds(text_of(NULL, false), "cannot be set beside Shop lamp");
    check_holds(text_of(NULL, false), "a pass was laid on it between photos");
}

static void test_json(void)
{
    char *json = NULL;
    new_job();
    add("Shop lamp", 2, 0, 0.05);
    long home = add("bulb", 2, 9, 0.05);
    if (!check_true(hw_report_lamps_json(job, "strip", &json, NULL) == HW_OK)) {
        return;
    }
    hw_json *root = NULL;
    hw_error err = {0};
    hw_limits limits = hw_limits_default();
    if (check_true(hw_json_parse(json, strlen(json), &limits, "lamps", &root, &err) == HW_OK)) {
        const hw_json *patch = hw_json_first(hw_json_member(root, "patches"));
        const hw_json *pair = hw_json_first(hw_json_member(patch, "pairs"));
        const hw_json *index = hw_json_member(pair, "index");
        double photo = 0, de00 = 0, low = 0;
        check_text(hw_json_member_text(patch, "main_lamp"), "Shop lamp");
        check_text(hw_json_member_text(pair, "verdict"), "parts");
        check_true(hw_json_member_number(hw_json_member(pair, "other"), "photo", &photo));
        check_close(photo, (double)home, 0);
        check_true(hw_json_member_number(index, "de00", &de00) &&
                   hw_json_member_number(index, "de00_low", &low) && low < de00 && low > 0.8);
        check_text(hw_json_text(hw_json_first(hw_json_member(pair, "directions"))), "redder");
        check_holds(hw_json_member_text(patch, "to_do"), "Judge by");
        hw_json_free(root);
    }
    hw_report_free(json);
}

int main(void)
{
    scratch_start("report lamps");
    test_nothing_yet();
    test_outcomes();
    test_json();
    hw_job_free(job);
    return check_done();
}
