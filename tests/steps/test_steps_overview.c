// test_steps_overview.c: a job as it stands, beside what was done in it: each number follows by hand from the steps before it.
// The same of many jobs at a glance: what the whole log says when all of it is read.
#include "one_job.h"

static hw_overview now_of(void)
{
    hw_overview overview = {0};
    check_true(hw_steps_overview(path_job, NULL, clock_now, &overview, NULL) == HW_OK);
    return overview;
}

static const hw_overview_part *part_of(const hw_overview *overview, const char *name)
{
    for (size_t i = 0; i < overview->part_count; i++) {
        if (strcmp(overview->part[i].now.name, name) == 0) {
            return &overview->part[i];
        }
    }
    static const hw_overview_part none = {.photo = -1};
    check_true(false);
    return &none;
}

static long undoable(char words[480])
{
    hw_overview overview = now_of();
    const hw_event *event = hw_job_event_numbered(overview.job, overview.undo);
    words[0] = 0;
    if (event) {
        hw_report_event_words(event, words, 480);
    }
    long undo = overview.undo;
    hw_overview_free(&overview);
    return undo;
}

static long note(hw_event event)
{
    hw_log_request request = {.folder = path_job, .event = &event};
    hw_warnings warnings = {0};
    hw_job *job = NULL;
    check_true(hw_steps_log(&request, NULL, clock_now, &job, &warnings, NULL) == HW_OK);
    long number = job ? hw_job_event(job, hw_job_event_count(job) - 1)->number : 0;
    hw_job_free(job);
    return number;
}

static long coat_on(const char *part)
{
    char parts[1][HW_NAME_SIZE];
    hw_event event = {.kind = HW_EVENT_COAT_LAID};
    snprintf(parts[0], HW_NAME_SIZE, "%s", part);
    event.of.coat = (hw_coat_event){.coat = HW_COAT_SEALER, .parts = parts, .part_count = 1};
    return note(event);
}

static void test_empty(void)
{
    char words[480];
    hw_overview overview = now_of();
    check_true(overview.part_count == 0 && hw_job_event_count(overview.job) == 1);
    check_true(undoable(words) == 0);
    hw_overview_free(&overview);
    hw_overview nothing = {0};
    check_true(hw_steps_overview("/nothing/there", NULL, 0, &nothing, NULL) == HW_ERR_INPUT);
    check_true(!nothing.job && !nothing.part);
}

// What the log keeps of that reading, untouched.
static void test_gap(void)
{
    photograph(shop_new, "bench", HW_STATE_UNKNOWN);
    hw_overview overview = now_of();
    const hw_overview_part *repair = part_of(&overview, "new"), *wood = part_of(&overview, "old");
    const hw_event *photo = hw_job_last_photo(overview.job, NULL);
    const hw_event *reading = hw_job_reading_of(overview.job, photo->number);
    const hw_logged_gap *gap = hw_reading_gap(&reading->of.reading, "new");
    const hw_logged_sample *old = hw_reading_sample(&reading->of.reading, HW_ROLE_TARGET, "old");
    check_true(repair->gap == gap && repair->photo == photo->number &&
               wood->photo == photo->number);
    check_true(
        fabs(repair->target.L - old->lab.L) < 0.01 && // one piece of old wood: it is the target
        fabs(repair->target.a - old->lab.a) < 0.01 && fabs(repair->target.b - old->lab.b) < 0.01);
    check_true(!wood->gap && !wood->waits && !repair->photo_is_old && repair->laid == 0);
    check_true(reading->of.reading.width_px == SHOP_WIDTH &&
               reading->of.reading.height_px == SHOP_HEIGHT);
    check_true(overview.undo == 0); // a photo is not undone
    hw_overview_free(&overview);
}

static void test_laid(void)
{
    char words[480];
    lay("red", 0.25, 2);
    hw_overview overview = now_of();
    const hw_overview_part *repair = part_of(&overview, "new");
    check_true(repair->laid == 2 && repair->since_photo == 2 && repair->photo_is_old);
    check_true(!repair->waits); // no recoat time was said
    hw_overview_free(&overview);
    check_true(undoable(words) > 0);
    check_text(words, "2 passes of red at a quarter strength on new");
    // passes say 60 minutes dried when they were logged (one_job.h), so of 90 minutes 30 are left
    hw_event setting = {.kind = HW_EVENT_SETTING, .of.setting = {.recoat_minutes = 90}};
    note(setting);
    overview = now_of();
    repair = part_of(&overview, "new");
    check_true(repair->waits && repair->until == clock_now + 30 * 60);
    check_true(!part_of(&overview, "old")->waits && overview.undo == 0);
    hw_overview_free(&overview);
    clock_now += 30 * 60;
    overview = now_of();
    check_true(!part_of(&overview, "new")->waits);
    hw_overview_free(&overview);
}

// A new photo shows what was laid; a coat on the old wood beside it makes it old too.
static void test_photo_is_old(void)
{
    photograph((hw_lab){54, 9.8, 25.8}, "bench", HW_STATE_UNKNOWN);
    hw_overview overview = now_of();
    const hw_overview_part *repair = part_of(&overview, "new");
    check_true(repair->laid == 2 && repair->since_photo == 0 && !repair->photo_is_old);
    long photo = repair->photo;
    hw_overview_free(&overview);
    coat_on("old");
    overview = now_of();
    check_true(part_of(&overview, "new")->photo_is_old && part_of(&overview, "old")->photo_is_old);
    hw_overview_free(&overview);
    clock_now += 90 * 60; // dry by then: what is wet looks like no other
    photograph((hw_lab){54, 9.8, 25.7}, "window", HW_STATE_UNKNOWN); // another lamp, another state
    overview = now_of();
    check_true(part_of(&overview, "new")->photo != photo);
    photo = part_of(&overview, "new")->photo;
    hw_overview_free(&overview);
    photograph((hw_lab){54, 9.8, 25.6}, "bench", HW_STATE_UNKNOWN);
    photograph((hw_lab){54, 9.8, 25.5}, "window",
               HW_STATE_UNKNOWN); // the same state as under the bench's
    overview = now_of();
    check_true(part_of(&overview, "new")->photo > photo &&
               strcmp(hw_job_photo_event(overview.job, part_of(&overview, "new")->photo)->lamp,
                      "bench") == 0);
    hw_overview_free(&overview);
}

// Who photographs it and says that it is dry waits no longer, whatever the recoat time.
static void test_seen_dry(void)
{
    coat_on("new");
    hw_overview overview = now_of();
    check_true(part_of(&overview, "new")->waits);
    hw_overview_free(&overview);
    photograph((hw_lab){54, 9.8, 25.4}, "bench", HW_STATE_NOT_DRY);
    overview = now_of();
    check_true(part_of(&overview, "new")->waits);
    hw_overview_free(&overview);
    photograph((hw_lab){54, 9.8, 25.3}, "bench", HW_STATE_SEALED);
    overview = now_of();
    check_true(!part_of(&overview, "new")->waits);
    hw_overview_free(&overview);
}

static void test_undo(void)
{
    char words[480];
    hw_event jar = {.kind = HW_EVENT_JAR_MIXED,
                    .of.jar.liquid = {.dose = {{"red", 0.25}}, .count = 1}};
    hw_event said = {.kind = HW_EVENT_NOTE, .of.note = {.text = "hinges off"}};
    hw_event approval = {.kind = HW_EVENT_APPROVAL, .of.approval = {"customer", "window", ""}};
    check_true(note(jar) == undoable(words));
    check_text(words, "jar 1 mixed: red at a quarter strength");
    check_true(note(said) == undoable(words));
    check_text(words, "note: hinges off");
    check_true(note(approval) == undoable(words));
    check_text(words, "approved by customer under the lamp window");
    long coat = coat_on("new");
    check_true(coat == undoable(words));
    check_text(words, "sealer coat laid on new");
    hw_fix_request fix = {.folder = path_job, .event = coat, .withdraw = true};
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    long number = 0;
    check_true(hw_steps_fix(&fix, NULL, clock_now, &job, &number, &warnings, NULL) == HW_OK);
    hw_job_free(job);
    check_true(undoable(words) == 0); // one step back, and no more
}

// ---- At a glance -------------------------------------------------------------------

static long fix(hw_fix_request request)
{
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    long number = 0;
    request.folder = path_job;
    check_true(hw_steps_fix(&request, NULL, clock_now, &job, &number, &warnings, NULL) == HW_OK);
    hw_job_free(job);
    return number;
}

// Against the job read whole.
static void check_glance(void)
{
    hw_glance glance = {0};
    hw_job *job = NULL;
    hw_part_now *parts = NULL;
    size_t count = 0, photos = 0, repairs = 0;
    check_true(hw_job_glance(path_job, NULL, &glance, NULL) == HW_OK);
    check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK &&
               hw_job_parts(job, &parts, &count, NULL) == HW_OK);
    size_t events = hw_job_event_count(job);
    for (size_t i = 0; i < events; i++) {
        photos += hw_job_event(job, i)->kind == HW_EVENT_PHOTO_ADDED;
    }
    for (size_t i = 0; i < count; i++) {
        bool listed = false;
        for (size_t k = 0; k < glance.repair_count; k++) {
            listed = listed || strcmp(glance.repair[k], parts[i].name) == 0;
        }
        check_true(listed == (parts[i].role == HW_ROLE_PATCH));
        repairs += parts[i].role == HW_ROLE_PATCH;
    }
    check_text(glance.title, hw_job_title(job));
    check_true(glance.photos == photos && glance.repair_count == repairs && !glance.odd);
    check_true(glance.last == hw_job_event(job, events - 1)->number &&
               glance.last_at == hw_job_event(job, events - 1)->at &&
               glance.made == hw_job_event(job, 0)->at);
    hw_job_parts_free(parts);
    hw_job_free(job);
    hw_glance_free(&glance);
}

static void test_glance(void)
{
    hw_rename_request rename = {.folder = path_job, .was = "new", .part = "lid strip"};
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    check_glance();
    fix((hw_fix_request){.event = 1, .title = "Another title"});
    check_glance();
    fix((hw_fix_request){.event = 2, .withdraw = true}); // the first photo
    check_glance();
    check_true(hw_steps_rename(&rename, NULL, clock_now, &job, &warnings, NULL) == HW_OK);
    hw_job_free(job);
    check_glance();
    hw_glance glance = {0};
    check_true(hw_job_glance("/nothing/there", NULL, &glance, NULL) == HW_ERR_INPUT);
}

// A photo of the same wood with its repair under another name; the photo's number.
static long photograph_as(const char *repair)
{
    hw_photo_result result = {0};
    hw_photo_request request = {.folder = path_job,
                                .view = "door",
                                .read = {.photo_path = path_photo, .marks = shop_marks()}};
    for (size_t i = 0; i < request.read.marks.count; i++) {
        hw_mark *mark = &request.read.marks.mark[i];
        if (mark->role == HW_ROLE_PATCH) {
            snprintf(mark->name, sizeof mark->name, "%s", repair);
        }
    }
    clock_now += 600;
    check_true(hw_steps_photo(&request, NULL, clock_now, &result, NULL) == HW_OK);
    hw_photo_news news = hw_photo_result_news(&result);
    long number = news.number;
    hw_marks_free(&request.read.marks);
    hw_photo_result_free(&result);
    return number;
}

static bool glance_lists(const char *repair)
{
    hw_glance glance = {0};
    bool listed = false;
    check_true(hw_job_glance(path_job, NULL, &glance, NULL) == HW_OK);
    for (size_t i = 0; i < glance.repair_count; i++) {
        listed = listed || strcmp(glance.repair[i], repair) == 0;
    }
    hw_glance_free(&glance);
    return listed;
}

// A repair is one while a photo shows it that was not withdrawn, or toner lies on it.
static void test_withdrawn_photo(void)
{
    long first = photograph_as("door strip"), second = photograph_as("door strip");
    check_true(glance_lists("door strip"));
    fix((hw_fix_request){.event = first, .withdraw = true});
    check_true(glance_lists("door strip"));
    check_glance();
    long gone = fix((hw_fix_request){.event = second, .withdraw = true});
    check_true(!glance_lists("door strip") && glance_lists("lid strip"));
    check_glance();
    fix((hw_fix_request){.event = gone, .withdraw = true}); // it was there after all
    check_true(glance_lists("door strip"));
    check_glance();
}

// A damaged line is told as odd, whatever its kind, and the others still count.
static void test_damaged(void)
{
    char path[600];
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_glance whole = {0}, glance = {0};
    snprintf(path, sizeof path, "%s/log.jsonl", path_job);
    check_true(hw_job_glance(path_job, NULL, &whole, NULL) == HW_OK);
    check_true(hw_file_read(path, 1 << 24, &bytes, &count, NULL) == HW_OK);
    char *note_line = strstr((char *)bytes, "hinges off");
    if (check_true(note_line != NULL)) {
        note_line[0] = 'H';
        check_true(hw_file_replace(path, bytes, count, NULL) == HW_OK);
        check_true(hw_job_glance(path_job, NULL, &glance, NULL) == HW_OK && glance.odd);
        check_true(glance.photos == whole.photos && glance.last == whole.last);
    }
    hw_free(bytes);
    hw_glance_free(&whole);
    hw_glance_free(&glance);
}

int main(void)
{
    name_places("steps_overview");
    make_clean();
    start("Walnut gramophone");
    test_empty();
    test_gap();
    test_laid();
    test_photo_is_old();
    test_seen_dry();
    test_undo();
    test_glance();
    test_withdrawn_photo();
    test_damaged();
    return check_done();
}
