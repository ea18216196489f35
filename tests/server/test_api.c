// test_api.c: a whole job by the addresses of API.md, as a page plays it, without a network. What must come back is told by
// API.md and by what was sent: counts and names follow from it by hand. Sources of other checks are named beside them.
#include "requests.h"

#include "one_job.h"

#include <sys/stat.h>
#include <unistd.h>

static const char entry_of[] = "\"entry\":\"0123456789abcdef-";

static unsigned got(const char *address)
{
    server_request request = asking(SERVER_GET, address);
    request.now = clock_now;
    return answered(&request);
}

static unsigned sent(const char *address, const char *json)
{
    server_request request = asking(SERVER_POST, address);
    request.now = clock_now;
    return posted(&request, json);
}

// The answer as a tree, to be freed.
static hw_json *answer_tree(void)
{
    hw_json *root = NULL;
    check_true(test_answer.body && hw_json_parse(test_answer.body, strlen(test_answer.body), NULL,
                                                 "answer", &root, NULL) == HW_OK);
    return root;
}

static double number_in(const hw_json *object, const char *member)
{
    double value = (double)NAN;
    hw_json_member_number(object, member, &value);
    return value;
}

static double answer_number(const char *member)
{
    hw_json *root = answer_tree();
    double value = number_in(root, member);
    hw_json_free(root);
    return value;
}

static const hw_json *named(const hw_json *list, const char *member, const char *name)
{
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        const char *text = hw_json_member_text(item, member);
        if (text && strcmp(text, name) == 0) {
            return item;
        }
    }
    return NULL;
}

// ---- Jobs --------------------------------------------------------------------------

// Chosen: letters and digits stay, small where they are Latin; what stands between words is one hyphen.
static void test_folder_names(void)
{
    static const char *const name[][2] = {
        {"Walnut gramophone, 1925", "walnut-gramophone-1925"},
        {"  K\xc3\xbc"
         "che / T\xc3\xbcr ",
         "k\xc3\xbc"
         "che-t\xc3\xbcr"},
        {"../../etc/passwd", "etc-passwd"},
        {".hidden", "hidden"},
        {"<b>Otto's oak</b>", "b-ottos-oak-b"},
        {"?!", "job-2"}, // "job" is there
    };
    for (size_t i = 0; i < sizeof name / sizeof *name; i++) {
        char body[300];
        snprintf(body, sizeof body, "{\"title\":\"%s\"}", name[i][0]);
        check_true(sent("/api/jobs", body) == 201);
        hw_json *root = answer_tree();
        check_text(hw_json_member_text(hw_json_member(root, "job"), "name"), name[i][1]);
        check_text(hw_json_member_text(hw_json_member(root, "job"), "title"), name[i][0]);
        hw_json_free(root);
    }
    // a sign that turns the reading direction (U+202E) stands in no name, nor in what is shown of a title
    check_true(sent("/api/jobs", "{\"title\":\"\xe2\x80\xae"
                                 "evil\"}") == 201);
    check_true(says("\"name\":\"evil\"") && says("\"title\":\"?evil\""));
    check_true(sent("/api/jobs", "{\"title\":\"Oak  bench\",\"entry\":\"0123456789abcdef-oak\"}") ==
               201);
    check_true(says("\"oak-bench\""));
    check_true(sent("/api/jobs", "{\"title\":\"Oak  bench\",\"entry\":\"0123456789abcdef-oak\"}") ==
               201);
    check_true(says("\"oak-bench\"")); // said again, it is the same job
    check_true(sent("/api/jobs", "{\"title\":\"Oak bench\",\"from\":\"job\"}") == 201);
    check_true(says("\"oak-bench-2\"") && says("\"from\""));
    check_true(sent("/api/jobs", "{\"title\":\"x\",\"from\":\"nothing\"}") == 404);
    check_true(sent("/api/jobs", "{\"title\":\" \"}") == 400 && has_code("title"));
    check_true(sent("/api/jobs", "{}") == 400 && has_code("body-member"));
    check_true(sent("/api/jobs", "{\"title\":7}") == 400 && has_code("body-member"));
}

// Only a real folder of ours with a job in it is one.
static void test_which_folders(void)
{
    char path[700], link[700];
    static const char *const none[] = {"nothing", "plain", "loose", ".secret", "away"};
    snprintf(path, sizeof path, "%s/plain", folder);
    check_true(mkdir(path, 0700) == 0);
    snprintf(path, sizeof path, "%s/loose", folder);
    check_true(hw_file_replace(path, "x", 1, NULL) == HW_OK);
    snprintf(path, sizeof path, "%s/.secret", folder);
    check_true(hw_steps_start(path, "secret", clock_now, NULL) == HW_OK);
    snprintf(path, sizeof path, "%s/plain/inside", folder);
    check_true(hw_steps_start(path, "inside", clock_now, NULL) == HW_OK);
    snprintf(link, sizeof link, "%s/away", folder);
    check_true(symlink(path, link) == 0);
    for (size_t i = 0; i < sizeof none / sizeof *none; i++) {
        snprintf(path, sizeof path, "/api/jobs/%s", none[i]);
        check_true(got(path) == 404 && has_code("not-found"));
        snprintf(path, sizeof path, "/api/jobs/%s/passes", none[i]);
        check_true(sent(path, "{}") == 404 && has_code("not-found"));
    }
    check_true(got("/api/jobs/plain%2finside") == 400);
    check_true(got("/api/jobs") == 200 && !says("secret") && !says("inside") && !says("plain"));
}

static void test_list(void)
{
    check_true(got("/api/jobs") == 200);
    hw_json *root = answer_tree();
    const hw_json *job = named(hw_json_member(root, "jobs"), "name", "job");
    check_true(job && number_in(job, "photos") == 1.0);
    check_text(hw_json_member_text(job, "title"), "Walnut <script>alert(1)</script>");
    check_text(hw_json_member_text(job, "trouble"), "");
    check_true(hw_json_count(hw_json_member(job, "repairs")) == 1);
    check_text(hw_json_text(hw_json_first(hw_json_member(job, "repairs"))), "new");
    double last = number_in(job, "last");
    hw_json_free(root);
    check_true(got("/api/jobs/job/last") == 200 && answer_number("last") == last);
    check_true(got("/api/jobs/job") == 200 && answer_number("last") == last);
}

// One that cannot be opened stands in the list with the reason.
static void test_damaged(void)
{
    char path[700];
    snprintf(path, sizeof path, "%s/broken", folder);
    check_true(mkdir(path, 0700) == 0);
    snprintf(path, sizeof path, "%s/broken/job.json", folder);
    check_true(hw_file_replace(path, "no job", 6, NULL) == HW_OK);
    check_true(got("/api/jobs") == 200);
    hw_json *root = answer_tree();
    const hw_json *job = named(hw_json_member(root, "jobs"), "name", "broken");
    const char *trouble = hw_json_member_text(job, "trouble");
    check_true(trouble && trouble[0]);
    hw_json_free(root);
    check_true(got("/api/jobs/broken") == 422 && has_code("job-damaged"));
}

// ---- The way through a job ---------------------------------------------------------

static const hw_json *part_of(const hw_json *root, const char *name)
{
    return named(hw_json_member(root, "parts"), "name", name);
}

static void test_photographed(void)
{
    check_true(got("/api/jobs/job") == 200);
    hw_json *root = answer_tree();
    const hw_json *photo = hw_json_first(hw_json_member(root, "photos"));
    const hw_json *repair = part_of(root, "new"), *wood = part_of(root, "old");
    check_text(hw_json_member_text(root, "name"), "job");
    check_true(number_in(photo, "number") == 2.0 && number_in(photo, "width") == SHOP_WIDTH &&
               number_in(photo, "height") == SHOP_HEIGHT);
    check_text(hw_json_member_text(photo, "lamp"), "bench");
    check_text(hw_json_member_text(repair, "role"), "patch");
    check_text(hw_json_member_text(wood, "role"), "target");
    check_text(hw_json_member_text(repair, "verdict"), "tone");
    check_true(strncmp(hw_json_member_text(repair, "says"), "Tone it. ", 9) == 0);
    check_true(number_in(repair, "photo") == 2.0 && number_in(repair, "since_photo") == 0.0);
    check_true(hw_json_is_null(hw_json_member(wood, "gap")));
    // L* 55, a* 9.5, b* 26 under D50 is 158, 125, 87 in sRGB (IEC 61966-2-1, Bradford's adaptation as in ICC.1 annex E, by
    // hand), and a photo tells a single colour only within a few steps
    check_true(hw_json_is_null(hw_json_member(hw_json_member(root, "settings"), "over")));
    const hw_json *screen = hw_json_member(repair, "screen");
    const char *patch = hw_json_member_text(screen, "patch");
    unsigned long colour = patch ? strtoul(patch + 1, NULL, 16) : 0;
    check_true(patch && patch[0] == '#' && strlen(patch) == 7);
    check_true(labs((long)(colour >> 16) - 158) < 8 && labs((long)(colour & 255) - 87) < 8);
    hw_json_free(root);
}

static void test_pass(void)
{
    char body[400];
    snprintf(body, sizeof body,
             "{%sjar\",\"liquid\":[{\"dye\":\"red\",\"strength\":0.25}],"
             "\"volume_ml\":100}",
             entry_of);
    check_true(sent("/api/jobs/job/jars", body) == 201 && says("\"mix\""));
    long seen = (long)answer_number("last");
    snprintf(body, sizeof body,
             "{%sone\",\"seen\":%ld,\"patches\":[\"new\"],\"jar\":1,\"passes\":2}", entry_of, seen);
    check_true(sent("/api/jobs/job/passes", body) == 201 && !says("\"again\""));
    check_true((long)answer_number("last") == seen + 1);
    check_true(sent("/api/jobs/job/passes", body) == 201 && says("\"again\":true"));
    check_true((long)answer_number("last") == seen + 1); // and nothing more is logged
    // nor anything else: its entry is mixed up, and that is said
    snprintf(body, sizeof body, "{%sone\",\"text\":\"hinge side\"}", entry_of);
    check_true(sent("/api/jobs/job/notes", body) == 400 && has_code("entry-name"));
    snprintf(body, sizeof body, "{%sone\",\"event\":%ld}", entry_of, seen);
    check_true(sent("/api/jobs/job/withdraw", body) == 400 && has_code("entry-name"));
    check_true(got("/api/jobs/job/last") == 200 && (long)answer_number("last") == seen + 1);
    // another device that has not seen it
    clock_now += 240;
    snprintf(body, sizeof body,
             "{%stwo\",\"seen\":%ld,\"patches\":[\"new\"],\"jar\":1,\"passes\":2}", entry_of, seen);
    check_true(sent("/api/jobs/job/passes", body) == 409 && has_code("moved-on"));
    check_true(says("2 passes of jar 1 on new") && says("4 minutes ago"));
    snprintf(body, sizeof body, "{%scoat\",\"seen\":%ld,\"kind\":\"sealer\"}", entry_of, seen);
    check_true(sent("/api/jobs/job/coats", body) == 409); // the whole piece holds that part
    snprintf(body, sizeof body, "{%swipe\",\"seen\":%ld,\"how\":\"wiped\",\"parts\":[\"new\"]}",
             entry_of, seen);
    check_true(sent("/api/jobs/job/takeoffs", body) == 409);
    // nor the photo that shows it
    snprintf(body, sizeof body,
             "{%sfour\",\"seen\":1,\"patches\":[\"old\"],\"jar\":1,\"passes\":1}", entry_of);
    check_true(sent("/api/jobs/job/passes", body) == 409 && says("a photo of the view front"));
    // of another part nothing was logged behind it but the photo
    snprintf(body, sizeof body,
             "{%sthree\",\"seen\":%ld,\"patches\":[\"door\"],\"jar\":1,\"passes\":1}", entry_of,
             seen);
    check_true(sent("/api/jobs/job/passes", body) == 201);
    check_true(got("/api/jobs/job/last") == 200 && (long)answer_number("last") == seen + 2);
}

static void test_after_pass(void)
{
    char body[300];
    snprintf(body, sizeof body, "{%sset\",\"coats\":1,\"over\":\"all\",\"recoat_minutes\":30}",
             entry_of);
    check_true(sent("/api/jobs/job/settings", body) == 201);
    check_true(got("/api/jobs/job") == 200);
    hw_json *root = answer_tree();
    const hw_json *repair = part_of(root, "new"), *wait = hw_json_member(repair, "wait");
    const hw_json *jar = hw_json_first(hw_json_member(root, "jars"));
    bool old = false;
    check_true(number_in(repair, "passes") == 2.0 && number_in(repair, "since_photo") == 2.0);
    check_true(hw_json_bool(hw_json_member(repair, "photo_is_old"), &old) && old);
    check_true(number_in(wait, "minutes") == 26.0); // laid 4 minutes ago, 30 to wait
    check_true(number_in(jar, "laid") == 3.0);
    check_text(hw_json_member_text(jar, "words"), "red at a quarter strength");
    check_true(number_in(hw_json_member(root, "settings"), "coats") == 1.0);
    check_true(hw_json_is_null(hw_json_member(root, "undo"))); // a setting lies behind it
    hw_json_free(root);
    clock_now += 26 * 60;
    check_true(got("/api/jobs/job") == 200);
    root = answer_tree();
    check_true(hw_json_is_null(hw_json_member(part_of(root, "new"), "wait")));
    hw_json_free(root);
}

static void test_undo(void)
{
    char body[300];
    snprintf(body, sizeof body, "{%snote\",\"text\":\"hinges off\",\"hours\":0.5}", entry_of);
    check_true(sent("/api/jobs/job/notes", body) == 201);
    long note = (long)answer_number("last");
    check_true(sent("/api/jobs/job/advice", "{}") ==
               200); // a plan that is shown stands in nobody's way
    check_true(got("/api/jobs/job") == 200);
    hw_json *root = answer_tree();
    const hw_json *undo = hw_json_member(root, "undo");
    check_true((long)number_in(undo, "event") == note);
    check_text(hw_json_member_text(undo, "words"), "note: hinges off");
    hw_json_free(root);
    snprintf(body, sizeof body, "{%sundo\",\"event\":%ld}", entry_of, note);
    check_true(sent("/api/jobs/job/withdraw", body) == 201 && says("\"withdraw\":true"));
    check_true(got("/api/jobs/job") == 200);
    root = answer_tree();
    check_true(hw_json_is_null(hw_json_member(root, "undo")));
    hw_json_free(root);
    snprintf(body, sizeof body, "{%swhat\",\"event\":9999}", entry_of);
    check_true(sent("/api/jobs/job/withdraw", body) == 400 && has_code("event-unknown"));
}

static void test_other_events(void)
{
    char body[300];
    snprintf(body, sizeof body, "{%scoat\",\"kind\":\"sealer\",\"parts\":[\"new\"]}", entry_of);
    check_true(sent("/api/jobs/job/coats", body) == 201 && says("\"coat\":\"sealer\""));
    snprintf(body, sizeof body, "{%swipe\",\"how\":\"wiped\",\"parts\":[\"door\"]}", entry_of);
    check_true(sent("/api/jobs/job/takeoffs", body) == 201 && says("\"how\":\"wiped\""));
    snprintf(body, sizeof body, "{%syes\",\"by\":\"customer\",\"lamp\":\"window\"}", entry_of);
    check_true(sent("/api/jobs/job/approvals", body) == 201);
    snprintf(body, sizeof body, "{%sname\",\"was\":\"door\",\"part\":\"left door\"}", entry_of);
    check_true(sent("/api/jobs/job/rename", body) == 201);
    check_true(got("/api/jobs/job") == 200 && says("left door") && !says("\"door\""));
    check_true(got("/api/jobs/job/history") == 200 && says("\"text\":\"") && says("\"events\":["));
    check_true(got("/api/jobs/job/lamps") == 200 && says("\"text\":\""));
}

// ---- Advice, pictures, report, pack ------------------------------------------------

static void test_advice(void)
{
    photograph((hw_lab){54.0, 9.8, 25.8}, "bench", HW_STATE_SEALED);
    check_true(sent("/api/jobs/job/advice", "{\"patch\":\"new\"}") == 200);
    hw_json *root = answer_tree();
    const hw_json *says = hw_json_member(root, "says"), *next = hw_json_member(root, "next");
    const char *head = hw_json_member_text(says, "head");
    check_true(number_in(next, "passes") >= 1.0 && head && strncmp(head, "Lay ", 4) == 0);
    // the same sentences as the text of the command line has
    hw_advise_request wanted = {.folder = path_job, .patch = "new"};
    hw_report_style style = {0};
    hw_day day = {0};
    char *text = NULL;
    check_true(hw_steps_advise(&wanted, NULL, clock_now, &day, NULL) == HW_OK &&
               hw_report_advice_text(&day, &style, &text, NULL) == HW_OK);
    const char *after = hw_json_member_text(says, "after");
    check_true(after && strncmp(after, "After it: gap ", 14) == 0);
    char middle[200];
    snprintf(middle, sizeof middle, "%.*s", after ? (int)strlen(after) - 1 : 0,
             after); // without the full stop
    check_holds(text, middle);
    check_holds(text, hw_json_member_text(says, "why"));
    check_holds(text, head && strstr(head, "of ") ? strstr(head, "of ") : "no head");
    check_true(hw_json_count(hw_json_member(says, "mix")) > 0);
    check_true(hw_json_count(hw_json_member(root, "cautions_in_full")) > 3);
    hw_report_free(text);
    hw_day_free(&day);
    hw_json_free(root);
    check_true(sent("/api/jobs/job/advice", "{\"patch\":\"nobody\"}") == 400 &&
               has_code("patch-unknown"));
}

static void test_shown(void)
{
    check_true(got("/api/jobs/job/pictures/swatches?patch=new") == 200);
    check_text(header_out("Content-Type"), "image/svg+xml");
    check_true(says("<svg"));
    check_true(got("/api/jobs/job/pictures/photograph") == 404 && has_code("not-found"));
    check_true(got("/api/jobs/job/pictures/swatches?photo=x") == 400 && has_code("body-member"));
    check_true(got("/api/jobs/job/pictures/swatches?photo=999") == 400 &&
               has_code("photo-unknown"));
    check_true(got("/api/jobs/job/report/customer?download=1") == 200);
    check_text(header_out("Content-Type"), "text/html; charset=utf-8");
    check_text(header_out("Content-Disposition"), "attachment; filename=\"job-customer.html\"");
    check_true(says("Walnut ") && !says("<script>alert"));
    check_true(got("/api/jobs/job/report/friend") == 404);
}

static void test_pack(void)
{
    char path[700];
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_names names = {0};
    check_true(got("/api/jobs/job/pack") == 200 && test_answer.file);
    check_text(header_out("Content-Type"), "application/zip");
    check_true(test_answer.file &&
               hw_file_read(test_answer.file, 1 << 20, &bytes, &count, NULL) == HW_OK &&
               count > 1000 && memcmp(bytes, "PK\3\4", 4) == 0); // APPNOTE.TXT 4.3.7
    hw_free(bytes);
    server_answer_free(&test_answer);
    snprintf(path, sizeof path, "%s/.huewright-page", folder);
    check_true(hw_folder_names(path, &names, NULL) == HW_OK && names.count == 0); // nothing stays
    hw_names_free(&names);
    check_true(got("/api/jobs/nothing/pack") == 404);
}

// ---- Shelf -------------------------------------------------------------------------

static void test_shelf(void)
{
    check_true(got("/api/shelf") == 200 && says("\"families\":[\"amber\"") && says("\"tools\":["));
    check_true(sent("/api/shelf", "{\"name\":\"Kassel <i>\",\"family\":\"brown\"}") == 201);
    check_true(got("/api/shelf") == 200 && says("Kassel <i>"));
    check_true(sent("/api/shelf", "{\"name\":\"x\",\"family\":\"mud\"}") == 400 &&
               has_code("family-unknown"));
    server_request request = asking(SERVER_DELETE, "/api/shelf/Kassel%20%3Ci%3E");
    check_true(answered(&request) == 200);
    request = asking(SERVER_DELETE, "/api/shelf/Kassel%20%3Ci%3E");
    check_true(answered(&request) == 400 && has_code("dye-unknown"));
    check_true(got("/api/cameras") == 200 && says("\"cameras\""));
}

// ---- What is no request ------------------------------------------------------------

// A list of 300 parts, as they stand in that member.
static bool is_refused_long(const char *address, const char *before, const char *item)
{
    hw_text body = {0};
    hw_text_add(&body, "{%slong\",%s:[%s", entry_of, before, item);
    for (int i = 1; i < 300; i++) {
        hw_text_add(&body, ",%s", item);
    }
    hw_text_add(&body, "]}");
    bool refused = !body.failed && sent(address, body.bytes) == 400 && has_code("body-member") &&
                   says("at most 256");
    hw_text_free(&body);
    return refused;
}

// Each name is compared with each: a pass on 300,000 parts kept the log for minutes.
static void test_long_lists(void)
{
    check_true(
        is_refused_long("/api/jobs/job/passes", "\"jar\":1,\"passes\":1,\"patches\"", "\"p\""));
    check_true(is_refused_long("/api/jobs/job/coats", "\"kind\":\"sealer\",\"parts\"", "\"p\""));
    check_true(is_refused_long("/api/jobs/job/takeoffs", "\"how\":\"wiped\",\"parts\"", "\"p\""));
    check_true(
        is_refused_long("/api/jobs/job/settings", "\"areas\"", "{\"part\":\"p\",\"cm2\":2}"));
}

static void test_bodies(void)
{
    static const struct {
        const char *address, *body, *code;
    } bad[] = {
        {"passes", "{\"patches\":[\"new\"],\"jar\":1,\"passes\":1}", "body-member"}, // no entry
        {"passes", "{%\",\"patches\":\"new\",\"jar\":1,\"passes\":1}", "body-member"},
        {"passes", "{%\",\"patches\":[7],\"jar\":1,\"passes\":1}", "body-member"},
        {"passes", "{%\",\"patches\":[\"new\"],\"jar\":1}", "body-member"},
        {"passes", "{%\",\"patches\":[\"new\"],\"jar\":1.5,\"passes\":1}", "body-member"},
        {"passes", "{%\",\"patches\":[\"new\"],\"jar\":1,\"passes\":-1}", "body-member"},
        {"passes", "{%\",\"patches\":[\"new\"],\"jar\":1,\"passes\":1e300}", "body-member"},
        {"passes", "{%\",\"patches\":[\"new\"],\"jar\":1,\"passes\":500}", "pass-count"},
        {"passes", "{%\",\"patches\":[],\"jar\":1,\"passes\":1}", "patch-missing"},
        {"passes", "{%\",\"patches\":[\"new\"],\"jar\":77,\"passes\":1}", "jar-unknown"},
        {"passes", "{%\",\"patches\":[\"new\"],\"liquid\":{},\"passes\":1}", "body-member"},
        {"passes", "{%\",\"patches\":[\"new\"],\"liquid\":[1,2],\"passes\":1}", "body-member"},
        {"passes",
         "{%\",\"patches\":[\"new\"],\"jar\":1,\"liquid\":[{\"dye\":\"red\",\"strength\":1}],"
         "\"passes\":1}",
         "body-member"},
        {"coats", "{%\",\"kind\":\"paint\"}", "coat-unknown"},
        {"takeoffs", "{%\",\"how\":\"sanded\",\"parts\":[\"new\"]}", "takeoff-how"},
        {"takeoffs", "{%\",\"how\":\"wiped\",\"parts\":[]}", "part-missing"},
        {"jars", "{%\"}", "body-member"},
        {"notes", "{%\",\"text\":\" \"}", "note-text"},
        {"notes", "{%\",\"text\":[]}", "body-member"},
        {"approvals", "{%\",\"by\":\"me\"}", "body-member"},
        {"settings", "{%\"}", "setting-missing"},
        {"settings", "{%\",\"coats\":2}", "coats-over"},
        {"settings", "{%\",\"coats\":99,\"over\":\"all\"}", "setting-value"},
        {"settings", "{%\",\"card_mm\":[86]}", "body-member"},
        {"settings", "{%\",\"areas\":[{\"part\":\"new\"}]}", "body-member"},
        {"settings", "{%\",\"areas\":7,\"recoat_minutes\":\"x\"}", "body-member"},
        {"rename", "{%\",\"was\":\"nobody\",\"part\":\"x\"}", "part-unknown"},
        {"withdraw", "{%\",\"event\":0}", "body-member"},
        {"advice", "[]", ""},
    };
    check_true(got("/api/jobs/job/last") == 200);
    double last = answer_number("last");
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        char address[100], body[400];
        const char *mark = strchr(bad[i].body, '%');
        snprintf(address, sizeof address, "/api/jobs/job/%s", bad[i].address);
        snprintf(body, sizeof body, "%.*s%s%s%s", mark ? (int)(mark - bad[i].body) : 400,
                 bad[i].body, mark ? entry_of : "", mark ? "bad" : "", mark ? mark + 1 : "");
        bool good = bad[i].code[0] == 0 ||
                    (sent(address, body) == 400 && has_code(bad[i].code) && says("\"next\""));
        if (!check_true(good)) {
            printf("    %s %s: %.300s\n", address, body, test_answer.body ? test_answer.body : "");
        }
    }
    check_true(got("/api/jobs/job/last") == 200 &&
               answer_number("last") == last); // nothing of it logged
    check_true(sent("/api/jobs/job/notes", "{\"entry\":\"short\",\"text\":\"x\"}") == 400 &&
               has_code("entry-name"));
}

int main(void)
{
    name_places("server_api");
    make_clean();
    start_server(folder, false);
    check_true(got("/api/jobs") == 200 && says("\"jobs\":[]"));
    start("Walnut <script>alert(1)</script>");
    photograph(shop_new, "bench", HW_STATE_UNKNOWN);
    test_list();
    test_photographed();
    test_pass();
    test_after_pass();
    test_undo();
    test_other_events();
    test_advice();
    test_shown();
    test_pack();
    test_shelf();
    test_bodies();
    test_long_lists();
    test_folder_names();
    test_which_folders();
    test_damaged();
    stop_server();
    return check_done();
}
