// The report of a job as HTML for its three readers: golden pages, what each reader is told and spared, hostile names, jobs
// with hardly anything in them.
//
//   test_report_html                    checks
//   test_report_html --remake           writes testdata/report/*.html anew: look at the difference before it is committed
//   test_report_html --write FOLDER     writes whole pages for tests/outside/check_html.py
//
// In a golden page each picture's data are left out: pictures have tests of their own.
#include "html_job.h"
#include "report_html.h"

static char *page_of(const hw_account *account, hw_reader reader)
{
    char *html = NULL;
    hw_error err = {0};
    if (!check_true(hw_report_html(account, reader, &html, &err) == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
    }
    return html;
}

static void says_not(const char *text, const char *part)
{
    if (!check_true(text && !strstr(text, part))) {
        printf("it says: %s\n", part);
    }
}

// ---- Golden pages ------------------------------------------------------------------

static const char picture_start[] = "base64,";

// Without the data of pictures. Free with hw_text_free.
static hw_text without_pictures(const char *html)
{
    hw_text out = {0};
    for (const char *at; (at = strstr(html, picture_start)); html = at + strcspn(at, "\"")) {
        hw_text_add_bytes(&out, html, (size_t)(at - html));
        hw_text_add(&out, "base64,...");
    }
    hw_text_add(&out, "%s", html);
    return out;
}

static void golden(const char *name, const char *html, bool remake)
{
    char path[1024];
    hw_text lean = without_pictures(html);
    snprintf(path, sizeof path, "%s/report/%s.html", HW_TESTDATA, name);
    if (remake) {
        check_true(hw_file_replace(path, lean.bytes, lean.length, NULL) == HW_OK);
    } else if (!check_true(holds(path, lean.bytes))) {
        printf("%s differs: run test_report_html --remake, then look at git diff\n", path);
    }
    hw_text_free(&lean);
}

static void test_golden(bool remake)
{
    hw_account account = html_account(&plain_words);
    for (int reader = 0; reader < HW_READER_COUNT; reader++) {
        char *html = page_of(&account, (hw_reader)reader);
        golden(hw_reader_name((hw_reader)reader), html ? html : "", remake);
        hw_report_free(html);
    }
    hw_account_free(&account);
}

// ---- What each is told -------------------------------------------------------------

static void test_readers(void)
{
    hw_reader reader = HW_FOR_CUSTOMER;
    check_true(hw_reader_from_name("spray-room", &reader) && reader == HW_FOR_SPRAY_ROOM);
    check_true(hw_reader_from_name("shop", &reader) && reader == HW_FOR_SHOP);
    check_true(!hw_reader_from_name("SHOP", &reader) && reader == HW_FOR_SHOP);

    hw_account account = html_account(&plain_words);
    char *customer = page_of(&account, HW_FOR_CUSTOMER), *shop = page_of(&account, HW_FOR_SHOP),
         *slip = page_of(&account, HW_FOR_SPRAY_ROOM);
    check_holds(customer, "2 thin layers of transparent dye were laid on it (<bdi>red</bdi>)");
    check_holds(customer,
                "Approved by <bdi>the customer</bdi> under the lamp “<bdi>living room</bdi>”");
    check_holds(customer, "2 hours of work"); // 1.5 and 0.5; what was withdrawn does not count
    check_holds(customer, "Under “<bdi>living room</bdi>” the repair looks redder");
    says_not(customer, "CIEDE2000");
    says_not(customer, "L*");
    says_not(customer, "strength");
    check_holds(shop, "CIEDE2000");
    check_holds(shop, "<tr><th scope=\"row\">Recoat time</th><td>45 minutes</td></tr>");
    check_holds(shop, "WITHDRAWN by event");
    check_holds(shop, "It did 1.2 times the forecast.");
    check_holds(shop, "jar 1: red at a quarter strength");
    check_holds(slip, "GUESS: try it on scrap first");
    check_holds(slip, "Then stop, let it dry, photograph it.");
    check_holds(slip, hw_caution_lead());
    const char *first = strstr(slip ? slip : "", "Phone, lamp and charger out before you spray.");
    check_true(first && strstr(first + 1, "Phone, lamp and charger out before you spray."));
    hw_report_free(customer);
    hw_report_free(shop);
    hw_report_free(slip);
    hw_account_free(&account);
}

// ---- Why nothing more is laid ------------------------------------------------------

static const struct {
    const char *words; // NULL: nothing is said
    bool natural;
} stop_told[HW_STOP_COUNT] = {
    [HW_STOP_LEAVE] = {"on purpose: the old wood beside it differs from itself by as much.", true},
    [HW_STOP_DONE] = {"as near to the old wood as can be seen", true},
    [HW_STOP_HARM] = {"one more layer would as likely harm as help.", false},
    [HW_STOP_TOO_DARK] = {"It is darker than the old wood. Dye can darken wood", false},
    [HW_STOP_NO_DEPTH] = {"one more layer might make it too dark", false},
    [HW_STOP_NO_DYE] = {"no dye at hand brings it nearer", false},
    [HW_STOP_NO_CHROMA] = {"it is duller than the old wood", false},
    [HW_STOP_FILM] = {"many layers lie on it already", false},
    [HW_STOP_BASE_COLOUR] = {"It is still far off the old wood", false},
    [HW_STOP_CANNOT_TELL] = {"The photo cannot tell yet", false},
    [HW_STOP_ASK_FIRST] = {"Something has to be cleared up", false},
};

static void check_stop(hw_account *account, size_t part, hw_stop stop)
{
    static const char natural[] = "Old wood is nowhere of one colour";
    account->part[part].advice = &account->day.advice[1];
    account->part[1 - part].advice = NULL;
    account->day.advice[1].stop = stop != HW_STOP_NOT;
    account->day.advice[1].stop_reason = stop;
    char *html = page_of(account, HW_FOR_CUSTOMER);
    for (int i = 0; i < HW_STOP_COUNT; i++) {
        const char *words = stop_told[i].words;
        if (words && (hw_stop)i == stop) {
            check_holds(html, words);
        } else if (words) {
            says_not(html, words);
        }
    }
    check_true(html && (strstr(html, natural) != NULL) == stop_told[stop].natural);
    if (part == 1) {
        says_not(html, "The rest of the difference"); // no dye lies on it
    } else {
        says_not(html, "<dd>All of it");
    }
    hw_report_free(html);
}

// One sentence for each reason; that it belongs to the wood only where it does.
static void test_stops(void)
{
    hw_account account = html_account(&plain_words);
    account.part[0].last.verdict = account.part[1].last.verdict = HW_VERDICT_TONE;
    for (size_t part = 0; part < 2; part++) {
        for (int stop = 0; stop < HW_STOP_COUNT; stop++) {
            check_stop(&account, part, (hw_stop)stop);
        }
    }
    hw_account_free(&account);
}

// ---- Hostile names -----------------------------------------------------------------

// Each tries to set the page's title where it is not escaped.
static const typed hostile_words = {
    .title = "</title><script>document.title='RAN'</script><h1>&amp; cabinet",
    .strip = "\"><img src=x onerror=\"document.title='RAN'\">",
    .door = "</style><svg onload=\"document.title='RAN'\">",
    .left = "'><body onload='document.title=1'>",
    .view = "--><script>document.title='RAN'</script>",
    .lamp = "</bdi></h3><iframe src=javascript:alert(1)>",
    .other_lamp = "<a href=\"https://example.org/\">lamp</a>",
    .dye = "<b onclick=x>red & black</b>",
    .note = "</li></ul></section><script src=//example.org/x.js></script>",
    .by = "<link rel=stylesheet href=//example.org/x.css>"};

// Text that a person cannot type here but a file of another program may hold.
static void spoil(hw_account *account)
{
    snprintf(account->view[0].same, sizeof account->view[0].same,
             "bell \a, broken \xff\xc3, turned \xe2\x80\xae around, none \xef\xbf\xbf, line\nend");
    hw_warn(&account->warnings, "<script>document.title='RAN'</script>");
    snprintf(account->day.advice[1].why, sizeof account->day.advice[1].why,
             "</span><script>document.title='RAN'</script>");
    memset(account->part[1].last.why, 'w', sizeof account->part[1].last.why - 1); // one long word
}

static void test_hostile(void)
{
    hw_account account = html_account(&hostile_words);
    spoil(&account);
    for (int reader = 0; reader < HW_READER_COUNT; reader++) {
        char *html = page_of(&account, (hw_reader)reader);
        says_not(html, "<script");
        says_not(html, "<img src=x");
        says_not(html, "<svg");
        says_not(html, "<iframe");
        says_not(html, "<a href=\"http");
        says_not(html, "<link");
        says_not(html, "\a");
        says_not(html, "\xff");
        says_not(html, "\xe2\x80\xae");
        says_not(html, "\xef\xbf\xbf");
        check_holds(html, "&lt;script&gt;document.title=&#39;RAN&#39;&lt;/script&gt;");
        check_true(html && hw_is_utf8(html, strlen(html)));
        hw_report_free(html);
    }
    hw_account_free(&account);
}

// ---- Hardly anything there ---------------------------------------------------------

static hw_account bare_account(void)
{
    html_new_job("");
    hw_account account = {.job = html_job, .at = 1790100000};
    snprintf(account.no_day, sizeof account.no_day, "No photo of the job shows a repair yet.");
    html_job = NULL;
    return account;
}

// Measured by an instrument alone: no pictures, no joint, one reading.
static hw_account measured_account(void)
{
    hw_account account = html_account(&plain_words);
    hw_shown_free(&account.view[0].before);
    hw_shown_free(&account.view[0].after);
    hw_shown_free(&account.part[0].strip);
    hw_looks_free(&account.part[0].looks);
    account.part[0].has_seam = account.part[0].has_looks = false;
    account.part[0].first_photo = account.part[0].last_photo;
    account.part[1].read_first = account.part[1].read_last = false;
    account.part[0].advice = account.part[1].advice = NULL;
    hw_day_free(&account.day);
    account.has_day = false;
    return account;
}

static void test_bare(void)
{
    hw_account account = bare_account();
    char *html = page_of(&account, HW_FOR_CUSTOMER);
    check_holds(html, "<h1><bdi>a piece without a name</bdi></h1>");
    check_holds(html, "There is no picture to show.");
    check_holds(html, "Nobody has approved the colour as it is now yet.");
    hw_report_free(html);
    html = page_of(&account, HW_FOR_SPRAY_ROOM);
    check_holds(html, ">Lay nothing</h2>");
    check_holds(html, "No photo of the job shows a repair yet.");
    says_not(html, "Mix</h2>");
    hw_report_free(html);
    hw_account_free(&account);
    check_true(!account.job && account.part_count == 0);

    account = measured_account();
    html = page_of(&account, HW_FOR_CUSTOMER);
    check_holds(html, "There is no picture to show.");
    check_holds(html, "It was not photographed again since.");
    hw_report_free(html);
    html = page_of(&account, HW_FOR_SHOP);
    check_holds(html, "It was not read in a photo.");
    hw_report_free(html);
    hw_account_free(&account);
}

// Six repairs to be laid out of one jar.
static hw_account busy_account(void)
{
    enum { REPAIRS = 6 };
    hw_account account = html_account(&plain_words);
    hw_day *day = &account.day;
    hw_advice *advice = hw_alloc_array(REPAIRS, sizeof *advice);
    hw_day_part *part = hw_alloc_array(REPAIRS, sizeof *part);
    hw_sheet_step *step = hw_alloc_array(REPAIRS, sizeof *step);
    if (!check_true(advice && part && step)) {
        exit(1);
    }
    for (size_t i = 0; i < REPAIRS; i++) {
        advice[i] = day->advice[0];
        snprintf(advice[i].patch, sizeof advice[i].patch, "moulding %zu", i + 1);
        advice[i].next.passes = 1 + (int)(i % 3);
        part[i] = day->part[0];
        step[i] = (hw_sheet_step){i, 0};
    }
    hw_free(day->advice);
    hw_free(day->part);
    hw_free(day->sheet.step);
    day->advice = advice;
    day->part = part;
    day->sheet.step = step;
    day->count = day->sheet.step_count = REPAIRS;
    account.part[0].advice = account.part[1].advice = NULL;
    return account;
}

// A line as a later version may write it, with its sum.
static const char later_line[] =
    "{\"event\":\"rainbow_seen\",\"number\":2,\"crc32\":\"eebdc32a\"}\n";

static void add_later_line(void)
{
    char path[1200];
    snprintf(path, sizeof path, "%s/log.jsonl", hw_job_folder(html_job));
    FILE *log = fopen(path, "ab");
    check_true(log && fputs(later_line, log) >= 0 && fclose(log) == 0);
    hw_job *again = NULL;
    check_true(hw_job_open(hw_job_folder(html_job), NULL, &again, NULL) == HW_OK);
    hw_job_free(html_job);
    html_job = again;
}

// The kinds of event that html_play has none of.
static void play_others(void)
{
    long number, photo;
    char parts[1][HW_NAME_SIZE] = {"lid strip"};
    hw_plan_event plan = {.patch = "lid strip",
                          .has_next = true,
                          .next = {.liquid = html_liquid(&plain_words, 0.25), .passes = 2},
                          .forecast_de00 = 1.5};
    hw_takeoff_event wiped = {.parts = parts, .part_count = 1, .note = "a little too far"};
    hw_part_event renamed = {.role = HW_ROLE_PATCH, .part = "lid inlay", .was = "lid strip"};
    hw_mark named = {.role = HW_ROLE_PATCH, .name = "lid strip"}; // names and no corners
    hw_photo_event measured = {.measured = true,
                               .original = "spots.txt",
                               .instrument = "Alder S1",
                               .view = "instrument",
                               .marks = {.mark = &named, .count = 1}};
    photo = html_photo(&plain_words, "shop lamp", html_first, 0.4);
    check_true(hw_job_add_plan(html_job, &plan, html_now++, &number, NULL) == HW_OK);
    html_pass(&plain_words, html_first, html_last);
    check_true(hw_job_add_takeoff(html_job, &wiped, html_now++, &number, NULL) == HW_OK);
    wiped.stripped = true;
    check_true(hw_job_add_takeoff(html_job, &wiped, html_now++, &number, NULL) == HW_OK);
    check_true(hw_job_add_photo(html_job, &measured, html_now++, &number, NULL) == HW_OK);
    hw_event changed = *hw_job_event_numbered(html_job, photo);
    snprintf(changed.of.photo.view, sizeof changed.of.photo.view, "lid <b>");
    check_true(hw_job_add_correction(html_job, photo, &changed, NULL, html_now++, &number, NULL) ==
               HW_OK);
    check_true(hw_job_add_part(html_job, &renamed, html_now++, &number, NULL) == HW_OK);
}

static hw_account many_account(void)
{
    hw_note_event note = {0};
    long number;
    html_new_job("Oak hall bench");
    add_later_line();
    play_others();
    memset(note.text, 'n', sizeof note.text - 1);
    check_true(hw_job_add_note(html_job, &note, html_now++, &number, NULL) == HW_OK);
    for (int i = 0; i < 200; i++) {
        html_photo(&plain_words, i % 2 ? "shop lamp" : "window", html_first, 0.4);
    }
    hw_account account = {.job = html_job,
                          .at = html_now,
                          .part = hw_alloc_array(1, sizeof *account.part),
                          .part_count = 1};
    if (!check_true(account.part)) {
        exit(1);
    }
    snprintf(account.part[0].name, sizeof account.part[0].name, "lid inlay");
    html_job = NULL;
    return account;
}

static void test_many(void)
{
    char line[40], word[1000];
    hw_account account = many_account();
    char *html = page_of(&account, HW_FOR_SHOP);
    snprintf(line, sizeof line, "photo %ld, front", hw_job_last_photo(account.job, NULL)->number);
    memset(word, 'n', sizeof word - 1);
    word[sizeof word - 1] = 0;
    check_holds(html, line);
    check_holds(html, word);
    check_holds(html, "something that this version of huewright does not know");
    check_holds(html, "1 line of the job&#39;s log is not understood");
    check_holds(html, "spots.txt; instrument: Alder S1");
    check_holds(html, "view lid &lt;b&gt;, was front");
    check_holds(html, "lid strip is called lid inlay from now on");
    check_holds(html, "; taken off since");
    hw_report_free(html);
    html = page_of(&account, HW_FOR_CUSTOMER);
    check_holds(html, "None of it lies there today. Colour was wiped off again once. "
                      "It was stripped to the wood once. ");
    hw_report_free(html);
    hw_account_free(&account);
}

// ---- Memory that runs out ----------------------------------------------------------

// One allocation fails: there is no report, or it is the same; never one that lacks something.
static void test_memory(void)
{
    hw_account account = html_account(&plain_words);
    for (int reader = 0; reader < HW_READER_COUNT; reader++) {
        char *whole = page_of(&account, (hw_reader)reader);
        long refused = 0;
        for (long n = 0;; n += 1 + n / 50) {
            char *html = NULL;
            hw_error err = {0};
            hw_test_fail_alloc_once(n);
            hw_status status = hw_report_html(&account, (hw_reader)reader, &html, &err);
            bool failed = hw_test_allocations() > n;
            hw_test_fail_alloc(-1);
            if (status == HW_OK ? !check_true(strcmp(html, whole) == 0)
                                : !check_true(status == HW_ERR_STORAGE && err.code[0] && !html)) {
                printf("%s, allocation %ld\n", hw_reader_name((hw_reader)reader), n);
            }
            refused += status != HW_OK;
            hw_report_free(html);
            if (!failed) {
                break;
            }
        }
        check_true(refused > 20);
        hw_report_free(whole);
    }
    hw_account_free(&account);
}

// What failed first stays told, whatever fails after it.
static void test_first_error(void)
{
    hw_account account = html_account(&plain_words);
    hw_error err = {.what = "the first"};
    hw_page page = {.account = &account, .status = HW_ERR_INPUT, .err = &err};
    hw_test_fail_alloc(0);
    hw_page_views(&page);
    hw_page_shop(&page);
    hw_test_fail_alloc(-1);
    check_text(err.what, "the first");
    check_true(page.status == HW_ERR_INPUT && page.text.failed);
    hw_text_free(&page.text);
    hw_account_free(&account);
}

// ---- Whole pages for others to check -----------------------------------------------

static void write_pages(const char *folder, const char *name, hw_account *account)
{
    for (int reader = 0; reader < HW_READER_COUNT; reader++) {
        char path[1200];
        char *html = page_of(account, (hw_reader)reader);
        snprintf(path, sizeof path, "%s/%s-%s.html", folder, name,
                 hw_reader_name((hw_reader)reader));
        check_true(html && hw_file_replace(path, html, strlen(html), NULL) == HW_OK);
        hw_report_free(html);
    }
    hw_account_free(account);
}

static void write_all(const char *folder)
{
    hw_account account = html_account(&plain_words);
    write_pages(folder, "plain", &account);
    account = html_account(&hostile_words);
    spoil(&account);
    write_pages(folder, "hostile", &account);
    account = bare_account();
    write_pages(folder, "bare", &account);
    account = measured_account();
    write_pages(folder, "measured", &account);
    account = busy_account();
    write_pages(folder, "busy", &account);
    account = many_account();
    write_pages(folder, "many", &account);
}

int main(int count, char **argument)
{
    scratch_start("report html");
    if (count > 2 && strcmp(argument[1], "--write") == 0) {
        write_all(argument[2]);
        return check_done();
    }
    test_golden(count > 1 && strcmp(argument[1], "--remake") == 0);
    test_readers();
    test_stops();
    test_hostile();
    test_bare();
    test_many();
    test_memory();
    test_first_error();
    return check_done();
}
