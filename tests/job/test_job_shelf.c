// The shelf file: round trips, old files, damaged files, writers at once, a disk that refuses, memory that
// runs out. No outside reference: the format is our own (src/job/job_shelf_json.c).
#include "base_internal.h"
#include "check.h"
#include "job_internal.h"

#include <math.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <signal.h>
#include <unistd.h>

static char path[600];

static void write_shelf(const char *text)
{
    check_true(hw_file_replace(path, text, strlen(text), NULL) == HW_OK);
}

static void remove_shelf(void)
{
    char lock[700];
    unlink(path);
    snprintf(lock, sizeof lock, "%s.lock", path);
    unlink(lock);
}

static hw_shelf loaded(void)
{
    hw_shelf shelf = {0};
    hw_error err = {0};
    if (!check_true(hw_shelf_load(path, NULL, &shelf, &err) == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
    }
    return shelf;
}

static hw_dye dye_of(const char *name)
{
    hw_dye dye = hw_dye_guess(HW_FAMILY_BROWN);
    snprintf(dye.name, sizeof dye.name, "%s", name);
    dye.tool = HW_TOOL_SPRAY;
    dye.density[0] = 1.0 / 3.0;
    dye.exponent = 0.91;
    dye.guess = false;
    dye.has_wood = true;
    dye.wood = (hw_lab){62, 12, 28};
    dye.board_passes = 4;
    dye.learned_at = 1780000000;
    snprintf(dye.note, sizeof dye.note, "a third of \"dark\" \xc3\xa9\n");
    return dye;
}

static hw_observation seen_of(const char *job, long event, int64_t at)
{
    hw_observation seen = {.event = event,
                           .photo_before = 2,
                           .photo_after = 9,
                           .at = at,
                           .tool = HW_TOOL_BRUSH,
                           .wood = {50, 12, 25},
                           .laid_count = 2,
                           .density = {0.02, -0.01, 1.0 / 7.0},
                           .covariance = {{{0.01, 0.001, 0}, {0.001, 0.02, 0}, {0, 0, 0.03}}},
                           .questioned = true};
    snprintf(seen.job, sizeof seen.job, "%s", job);
    snprintf(seen.patch, sizeof seen.patch, "lid strip");
    snprintf(seen.question, sizeof seen.question, "Was it dry?");
    seen.laid[0] = (hw_laid){.dye = "walnut", .before = 0.5, .amount = 0.25, .squares = 0.0625};
    seen.laid[1] = (hw_laid){.dye = "red", .before = 0.0, .amount = 2.0, .squares = 2.0};
    return seen;
}

static hw_status keep(hw_observation *seen, size_t count)
{
    return hw_shelf_keep_seen(path, NULL, &(hw_shelf){.seen = seen, .seen_count = count}, NULL);
}

// ---- Round trips -------------------------------------------------------------------

static void test_round_trip(void)
{
    hw_dye dye = dye_of("walnut");
    hw_observation seen = seen_of("a job", 7, 1780000001);
    check_true(hw_parse_made("15 drops in 4 fl oz", &dye.made, NULL) == HW_OK);
    snprintf(seen.laid[1].jar, sizeof seen.laid[1].jar, "0123456789abcdef/2");
    remove_shelf();
    check_true(hw_shelf_put_dye(path, NULL, &dye, NULL) == HW_OK);
    check_true(keep(&seen, 1) == HW_OK);
    hw_shelf shelf = loaded();
    if (check_true(shelf.count == 1 && shelf.seen_count == 1)) {
        const hw_dye *d = &shelf.dye[0];
        check_text(d->name, "walnut");
        check_text(d->note, dye.note);
        check_true(d->family == HW_FAMILY_BROWN && d->tool == HW_TOOL_SPRAY && !d->guess);
        check_close(d->density[0], 1.0 / 3.0, 1e-15);
        check_close(d->density[2], dye.density[2], 1e-15);
        for (int r = 0; r < 3; r++) {
            for (int c = r; c < 3; c++) {
                // (The JSON library may drop the last bit.)
                check_close(d->covariance.m[r][c], dye.covariance.m[r][c], 1e-15);
                check_true(d->covariance.m[c][r] == d->covariance.m[r][c]);
            }
        }
        check_true(d->exponent == 0.91);
        check_close(d->u_exponent, dye.u_exponent, 1e-15);
        check_close(d->u_strength, dye.u_strength, 1e-15);
        check_true(d->has_wood && d->wood.b == 28 && d->board_passes == 4 &&
                   d->learned_at == 1780000000);
        const hw_observation *s = &shelf.seen[0];
        check_true(s->event == 7 && s->photo_before == 2 && s->photo_after == 9 &&
                   s->at == 1780000001 && s->tool == HW_TOOL_BRUSH && s->questioned);
        check_text(s->job, "a job");
        check_text(s->patch, "lid strip");
        check_text(s->question, "Was it dry?");
        check_close(s->density[1], -0.01, 0.0);
        check_close(s->density[2], 1.0 / 7.0, 1e-15);
        check_true(memcmp(&s->covariance, &seen.covariance, sizeof s->covariance) == 0);
        check_true(s->laid_count == 2 && s->laid[0].before == 0.5 && s->laid[0].amount == 0.25 &&
                   s->laid[0].squares == 0.0625);
        check_text(s->laid[1].dye, "red");
        check_text(s->laid[1].jar, "0123456789abcdef/2");
        check_text(s->laid[0].jar, "");
        check_text(d->made.words, "15 drops in 4 fl oz");
        check_close(d->made.share, 0.75 / 118.29411825, 1e-12);
        check_true(d->made.g_l == 0.0);
    }
    hw_shelf_free(&shelf);
}

static uint8_t *bytes_of(size_t *count)
{
    uint8_t *bytes = NULL;
    check_true(hw_file_read(path, 1 << 26, &bytes, count, NULL) == HW_OK);
    return bytes;
}

static void test_changes(void)
{
    hw_observation seen[3] = {seen_of("a job", 7, 100), seen_of("a job", 8, 200),
                              seen_of("another", 7, 300)};
    hw_dye dyes[2] = {dye_of("walnut"), dye_of("cherry")};
    size_t count = 0, gone = 99;
    struct stat before, after;
    hw_error err = {0};
    remove_shelf();
    snprintf(seen[2].laid[0].dye, HW_NAME_SIZE, "cherry");
    check_true(keep(seen, 3) == HW_OK);
    check_true(hw_shelf_put_dye(path, NULL, &dyes[0], NULL) == HW_OK);
    check_true(hw_shelf_put_dye(path, NULL, &dyes[1], NULL) == HW_OK);
    // The same again changes nothing: the file is the very same one.
    uint8_t *bytes = bytes_of(&count);
    check_true(stat(path, &before) == 0);
    check_true(keep(seen, 3) == HW_OK);
    check_true(stat(path, &after) == 0 && before.st_ino == after.st_ino);
    hw_free(bytes);
    // One of them learned anew takes the old one's place.
    seen[1].density[0] = 0.5;
    check_true(keep(&seen[1], 1) == HW_OK);
    dyes[0].exponent = 0.8;
    dyes[0].has_wood = false;
    dyes[0].note[0] = 0;
    check_true(hw_shelf_put_dye(path, NULL, &dyes[0], NULL) == HW_OK);
    hw_shelf shelf = loaded();
    if (check_true(shelf.count == 2 && shelf.seen_count == 3)) {
        check_true(shelf.dye[0].exponent == 0.8 && !shelf.dye[0].has_wood && !shelf.dye[0].note[0]);
        check_true(shelf.seen[2].event == 8 && shelf.seen[2].density[0] == 0.5);
    }
    hw_shelf_free(&shelf);
    // Removing a dye takes what names it along, also in company.
    check_true(hw_shelf_remove_dye(path, NULL, "walnut", &gone, NULL) == HW_OK && gone == 2);
    check_true(hw_shelf_remove_dye(path, NULL, "red", &gone, NULL) == HW_OK && gone == 1);
    shelf = loaded();
    check_true(shelf.count == 1 && shelf.seen_count == 3);
    for (size_t i = 0; i < shelf.seen_count;
         i++) { // kept by name alone, so that no job brings it back
        check_true(shelf.seen[i].forgotten);
    }
    hw_shelf_free(&shelf);
    check_true(keep(seen, 3) == HW_OK);
    shelf = loaded();
    for (size_t i = 0; i < shelf.seen_count; i++) {
        check_true(shelf.seen[i].forgotten);
    }
    hw_shelf_free(&shelf);
    // A shelf that is a link: what it points at is changed, the link stays.
    char real[640];
    struct stat link_facts;
    snprintf(real, sizeof real, "%s.real", path);
    check_true(rename(path, real) == 0 && symlink(real, path) == 0);
    hw_dye linked = dyes[0];
    snprintf(linked.name, sizeof linked.name, "linked");
    check_true(hw_shelf_put_dye(path, NULL, &linked, NULL) == HW_OK);
    check_true(lstat(path, &link_facts) == 0 && S_ISLNK(link_facts.st_mode));
    check_true(unlink(path) == 0 && rename(real, path) == 0);
    hw_shelf through = loaded();
    check_true(hw_shelf_find(&through, "linked") != NULL); // in the file that it points at
    hw_shelf_free(&through);
    check_true(hw_shelf_remove_dye(path, NULL, "walnut", &gone, &err) == HW_ERR_CALL);
    check_text(err.code, "dye-unknown");
    remove_shelf();
    err = (hw_error){0};
    check_true(hw_shelf_remove_dye(path, NULL, "walnut", &gone, &err) == HW_ERR_CALL);
    check_true(access(path, F_OK) != 0); // asking made no file
}

// ---- Coats -------------------------------------------------------------------------

static hw_coat_seen coat_of(const char *job, long event, int64_t at)
{
    hw_coat_seen seen = {.event = event,
                         .photo_before = 2,
                         .photo_after = 9,
                         .at = at,
                         .before = 1,
                         .coats = 2,
                         .clear = true,
                         .density = {0.03, -0.01, 1.0 / 7.0},
                         .covariance = {{{0.01, 0.001, 0}, {0.001, 0.02, 0}, {0, 0, 0.03}}}};
    snprintf(seen.job, sizeof seen.job, "%s", job);
    snprintf(seen.part, sizeof seen.part, "lid strip");
    return seen;
}

static hw_status keep_coats(hw_coat_seen *coat, size_t count)
{
    return hw_shelf_keep_seen(path, NULL, &(hw_shelf){.coat = coat, .coat_count = count}, NULL);
}

static void test_coats(void)
{
    hw_coat_seen coat[3] = {coat_of("a job", 7, 100), coat_of("a job", 8, 200),
                            coat_of("another", 7, 300)};
    hw_observation pass = seen_of("a job", 7, 100);
    hw_shelf shown = {.seen = &pass, .seen_count = 1, .coat = coat, .coat_count = 3};
    hw_error err = {0};
    struct stat before, after;
    size_t gone = 9;
    remove_shelf();
    coat[1].shared = hw_covariance_diagonal(4e-4, 3e-4, 1.0 / 7.0);
    check_true(hw_shelf_remove_coats(path, NULL, &gone, &err) == HW_ERR_CALL);
    check_text(err.code, "coats-unseen");
    check_true(access(path, F_OK) != 0);
    check_true(hw_shelf_keep_seen(path, NULL, &shown, NULL) == HW_OK); // both at once
    check_true(stat(path, &before) == 0);
    check_true(hw_shelf_keep_seen(path, NULL, &shown, NULL) == HW_OK);
    check_true(keep_coats(coat, 3) == HW_OK);
    check_true(stat(path, &after) == 0 && before.st_ino == after.st_ino); // the same again
    hw_shelf shelf = loaded();
    if (check_true(shelf.seen_count == 1 && shelf.coat_count == 3)) {
        const hw_coat_seen *c = &shelf.coat[1];
        check_text(c->job, "a job");
        check_text(c->part, "lid strip");
        check_true(c->event == 8 && c->photo_before == 2 && c->photo_after == 9 && c->at == 200);
        check_true(c->before == 1 && c->coats == 2 && c->clear && !c->forgotten);
        check_close(c->density[2], 1.0 / 7.0, 1e-15);
        check_true(memcmp(&c->covariance, &coat[1].covariance, sizeof c->covariance) == 0);
        check_close(c->shared.m[2][2], 1.0 / 7.0, 1e-15);
        check_true(shelf.coat[0].shared.m[0][0] == 0.0);
    }
    hw_shelf_free(&shelf);
    // One told anew takes the old one's place, one that is gone is taken out; the pass stays.
    coat[0].coats = 1;
    coat[2].gone = true;
    check_true(keep_coats(coat, 3) == HW_OK);
    shelf = loaded();
    check_true(shelf.seen_count == 1 && shelf.coat_count == 2);
    check_true(shelf.coat[0].event == 8 && shelf.coat[1].coats == 1);
    hw_shelf_free(&shelf);
    // Forgotten, they come back from no job; another job's do.
    check_true(hw_shelf_remove_coats(path, NULL, &gone, NULL) == HW_OK && gone == 2);
    coat[2].gone = false;
    check_true(keep_coats(coat, 3) == HW_OK);
    shelf = loaded();
    check_true(shelf.seen_count == 1 && shelf.coat_count == 3);
    for (size_t i = 0; i < shelf.coat_count; i++) {
        check_true(shelf.coat[i].forgotten == (strcmp(shelf.coat[i].job, "a job") == 0));
    }
    hw_shelf_free(&shelf);
    check_true(hw_shelf_remove_coats(path, NULL, &gone, NULL) == HW_OK && gone == 1);
    check_true(hw_shelf_remove_coats(path, NULL, &gone, NULL) == HW_ERR_CALL);
}

static void test_many_coats(void)
{
    enum { MANY = 503 };
    static hw_coat_seen coat[MANY];
    for (int i = 0; i < MANY; i++) { // the oldest in the middle
        coat[i] = coat_of("a job", i + 1, 1000 + (i + 250) % MANY);
    }
    remove_shelf();
    check_true(keep_coats(coat, 500) == HW_OK && keep_coats(coat + 500, 3) == HW_OK);
    hw_shelf shelf = loaded();
    int64_t oldest = INT64_MAX;
    for (size_t i = 0; i < shelf.coat_count; i++) {
        oldest = shelf.coat[i].at < oldest ? shelf.coat[i].at : oldest;
    }
    check_true(shelf.coat_count == 500 && oldest == 1003);
    hw_shelf_free(&shelf);
}

// What a newer version has written beside ours stays, in the file, in a dye that is replaced, in an
// observation that is replaced.
static void test_unknown_members(void)
{
    write_shelf(
        "{\"format\":1,\"Mood\":[1,{\"a\":2}],\"dyes\":[{\"name\":\"walnut\",\"family\":\"brown\","
        "\"density\":[0.1,0.1,0.1],\"smell\":\"tar\",\"note\":\"old\"},"
        "{\"name\":\"x\",\"family\":\"red\",\"Tool\":7}],\"seen\":[],\"coats\":[{\"job\":\"a job\","
        "\"event\":7,\"part\":\"lid strip\",\"photo_before\":1,\"photo_after\":2,\"at\":"
        "\"2026-05-03T10:27:36Z\",\"before\":0,\"coats\":1,\"clear\":true,\"density\":[0,0,0],"
        "\"covariance\":[1,0,0,1,0,1],\"shared\":[1,0,0,1,0,1],\"gloss\":\"satin\"}]}");
    hw_dye dye = dye_of("walnut");
    dye.note[0] = 0;
    hw_observation seen = seen_of("a job", 7, 100);
    check_true(hw_shelf_put_dye(path, NULL, &dye, NULL) == HW_OK);
    check_true(keep(&seen, 1) == HW_OK);
    hw_coat_seen coat = coat_of("a job", 7, 100);
    check_true(keep_coats(&coat, 1) == HW_OK);
    dye = dye_of("x");
    check_true(hw_shelf_put_dye(path, NULL, &dye, NULL) == HW_OK);
    size_t count = 0;
    char *text = (char *)bytes_of(&count);
    check_holds(text, "\"Mood\"");
    check_holds(text, "\"a\"");
    check_holds(text, "\"smell\":\t\"tar\"");
    check_holds(text, "\"satin\"");
    check_true(!strstr(text, "\"shared\"")); // this coat has none any more
    check_true(!strstr(text, "\"old\""));    // our own member, and no longer so
    check_true(!strstr(text, "\"Tool\""));   // would be a twin of "tool", and the file unreadable
    hw_free(text);
    hw_shelf shelf = loaded();
    check_true(shelf.count == 2 && shelf.dye[1].tool == HW_TOOL_SPRAY);
    hw_shelf_free(&shelf);
}

// ---- Old files, damaged files ------------------------------------------------------

static void test_old_format(void)
{
    write_shelf(
        "{\"format\":1,\"dyes\":[{\"name\":\"walnut\",\"family\":\"brown\",\"density\":[0.06,0.08,"
        "0.1],\"exponent\":0.9,\"u_strength\":0.1,\"guess\":false},"
        "{\"name\":\"red\",\"family\":\"red\",\"u_strength\":0.2}]}");
    hw_shelf shelf = loaded();
    if (check_true(shelf.count == 2 && shelf.seen_count == 0)) {
        const hw_dye *d = &shelf.dye[0];
        // u_strength along the density and 15 % a band (chosen).
        check_close(d->covariance.m[0][1], 0.01 * 0.06 * 0.08, 1e-12);
        check_close(d->covariance.m[1][1], (0.01 + 0.0225) * 0.08 * 0.08, 1e-12);
        check_true(!d->guess && d->exponent == 0.9 && d->tool == HW_TOOL_UNSAID && !d->has_wood);
        // A guess said to be surer than usual.
        hw_dye guess = hw_dye_guess(HW_FAMILY_RED);
        check_true(shelf.dye[1].guess);
        check_close(shelf.dye[1].covariance.m[1][1],
                    guess.covariance.m[1][1] + (0.04 - guess.u_strength * guess.u_strength) *
                                                   guess.density[1] * guess.density[1],
                    1e-12);
    }
    hw_shelf_free(&shelf);
    write_shelf("{\"format\":1,\"seen\":[]}"); // no dyes yet
    shelf = loaded();
    check_true(shelf.count == 0);
    hw_shelf_free(&shelf);
}

static void bad(const char *text, const char *what)
{
    hw_shelf shelf = {0};
    hw_error err = {0};
    hw_dye dye = dye_of("new");
    size_t count = 0;
    write_shelf(text);
    check_true(hw_shelf_load(path, NULL, &shelf, &err) == HW_ERR_INPUT && !shelf.dye &&
               !shelf.seen);
    check_true(err.next[0] != 0);
    check_holds(err.what, what);
    check_true(hw_shelf_put_dye(path, NULL, &dye, NULL) == HW_ERR_INPUT); // not touched either
    char *kept = (char *)bytes_of(&count);
    check_text(kept, text);
    hw_free(kept);
}

#define DYE(members) "{\"format\":1,\"dyes\":[{\"name\":\"x\",\"family\":\"red\"," members "}]}"
#define SEEN(at, wood, laid, covariance)                                                           \
    "{\"job\":\"j\",\"event\":1,\"patch\":\"p\",\"photo_before\":1,\"photo_after\":2,\"at\":" at   \
    ",\"wood\":" wood ",\"laid\":" laid ",\"density\":[0,0,0],\"covariance\":" covariance "}"
#define LAID        "[{\"dye\":\"red\",\"before\":0,\"amount\":1,\"squares\":1}]"
#define TIME        "\"2026-05-03T10:27:36Z\""
#define COATS(list) "{\"format\":1,\"dyes\":[],\"coats\":[" list "]}"
#define COAT(at, before, coats, clear, density, covariance)                                        \
    "{\"job\":\"j\",\"event\":1,\"part\":\"p\",\"photo_before\":1,\"photo_after\":2," at           \
    ",\"before\":" before ",\"coats\":" coats ",\"clear\":" clear ",\"density\":[" density         \
    ",0,0],\"covariance\":" covariance "}"
#define AT        "\"at\":" TIME
#define FAIR_COAT COAT(AT, "0", "1", "true", "0.1", "[1,0,0,1,0,1]")

static void test_damaged(void)
{
    bad("", "ends too early");
    bad("{\"format\":1,\"dyes\":[", "too early");
    bad("{\"format\":2,\"dyes\":[]}", "a newer huewright wrote this");
    bad("{\"format\":1}", "no shelf");
    bad("{\"format\":1,\"dyes\":{}}", "no shelf");
    bad("{\"format\":1,\"dyes\":[],\"seen\":7}", "no shelf");
    bad("{\"format\":1,\"dyes\":[7]}", "no family");
    bad("{\"format\":1,\"dyes\":[{\"name\":\" \",\"family\":\"red\"}]}", "no usable name");
    bad(DYE("\"density\":[1,2]"), "dye 1 has a density");
    bad(DYE("\"density\":[1,2,3,4]"), "density");
    bad(DYE("\"density\":[1,-1,0]"), "density");
    bad(DYE("\"density\":\"red\""), "density");
    bad(DYE("\"exponent\":0"), "exponent");
    bad(DYE("\"u_strength\":-1"), "exponent or a doubt");
    bad(DYE("\"covariance\":[1,0,0,1,0]"), "covariance");
    bad(DYE("\"covariance\":[1,2,0,1,0,1]"), "covariance");          // correlation above 1
    bad(DYE("\"covariance\":[-1,0,0,1,0,1]"), "covariance");         // negative variance
    bad(DYE("\"covariance\":[1,-0.9,-0.9,1,-0.9,1]"), "covariance"); // three that cannot all be
    bad(DYE("\"tool\":\"spoon\""), "tool");
    bad(DYE("\"wood\":[101,0,0]"), "wood");
    bad(DYE("\"board_passes\":2.5"), "board_passes");
    bad(DYE("\"learned_at\":\"yesterday\""), "learned_at");
    bad(DYE("\"note\":7"), "note");
    bad(DYE("\"made\":7"), "made");
    bad(DYE("\"made\":{\"words\":\"\",\"share\":0.1}"), "made");
    bad(DYE("\"made\":{\"words\":\"neat\"}"), "made");
    bad(DYE("\"made\":{\"words\":\"neat\",\"share\":1.5}"), "made");
    bad(DYE("\"made\":{\"words\":\"neat\",\"share\":0.5,\"g_l\":3}"), "made");
    bad("{\"format\":1,\"dyes\":[],\"coats\":7}", "no shelf");
    bad("{\"format\":1,\"coats\":[]}", "no shelf");
    bad(COATS("{}"), "coat 1 does not say of which coat");
    bad(COATS(COAT("\"at\":0", "0", "1", "true", "0", "[1,0,0,1,0,1]")), "which coat");
    bad(COATS(COAT(AT, "-1", "1", "true", "0", "[1,0,0,1,0,1]")), "coats that cannot be");
    bad(COATS(COAT(AT, "0", "0", "true", "0", "[1,0,0,1,0,1]")), "coats that cannot be");
    bad(COATS(COAT(AT, "0", "1e9", "true", "0", "[1,0,0,1,0,1]")), "coats that cannot be");
    bad(COATS(COAT(AT, "0", "1.5", "true", "0", "[1,0,0,1,0,1]")), "coats that cannot be");
    bad(COATS(COAT(AT, "0", "1", "1", "0", "[1,0,0,1,0,1]")), "coats that cannot be");
    bad(COATS(COAT(AT, "0", "1", "true", "11", "[1,0,0,1,0,1]")), "density or a covariance");
    bad(COATS(COAT(AT, "0", "1", "true", "0", "[1,2,0,1,0,1]")), "density or a covariance");
    bad(COATS(COAT(AT, "0", "1", "true", "0", "[1,0,0,1,0,1],\"shared\":[-1,0,0,1,0,1]")),
        "density or a covariance");
    bad(COATS(FAIR_COAT "," FAIR_COAT), "coat 2 is there twice");
    bad("{\"format\":1,\"seen\":[{}]}", "observation 1");
    bad("{\"format\":1,\"seen\":[" SEEN("0", "[50,0,0]", LAID, "[1,0,0,1,0,1]") "]}", "which pass");
    bad("{\"format\":1,\"seen\":[" SEEN(TIME, "[50,0]", LAID, "[1,0,0,1,0,1]") "]}", "wood");
    bad("{\"format\":1,\"seen\":[" SEEN(TIME, "[50,0,0]", "[]", "[1,0,0,1,0,1]") "]}", "no dye");
    bad("{\"format\":1,\"seen\":[" SEEN(TIME, "[50,0,0]", "[7]", "[1,0,0,1,0,1]") "]}", "layer");
    bad("{\"format\":1,\"seen\":[" SEEN(TIME, "[50,0,0]", LAID, "[1,0,0,1,0]") "]}", "covariance");
    bad("{\"format\":1,\"seen\":[" SEEN(TIME, "[50,0,0]", LAID, "[1,0,0,1,0,1]") "," SEEN(
            TIME, "[50,0,0]", LAID, "[1,0,0,1,0,1]") "]}",
        "is there twice");
}

// What could not be read again is not written.
static void test_wrong_calls(void)
{
    hw_error err = {0};
    hw_dye dye = dye_of("walnut");
    remove_shelf();
    dye.covariance.m[0][0] = NAN;
    check_true(hw_shelf_put_dye(path, NULL, &dye, &err) == HW_ERR_CALL);
    check_text(err.code, "shelf-change");
    dye = dye_of("walnut");
    snprintf(dye.note, sizeof dye.note, "broken \xc3");
    check_true(hw_shelf_put_dye(path, NULL, &dye, NULL) == HW_ERR_CALL);
    hw_observation seen = seen_of("", 7, 1);
    check_true(keep(&seen, 1) == HW_ERR_CALL);
    check_true(access(path, F_OK) != 0);
}

// ---- How many ----------------------------------------------------------------------

static void test_many(void)
{
    enum { MANY = 5003 };
    hw_observation *seen = hw_alloc_array(MANY, sizeof *seen);
    hw_error err = {0};
    remove_shelf();
    if (!check_true(seen != NULL)) {
        return;
    }
    for (int i = 0; i < MANY; i++) { // the oldest in the middle
        seen[i] = seen_of("a job", i + 1, 1000 + (i + 2500) % MANY);
    }
    check_true(keep(seen, 5000) == HW_OK);
    check_true(keep(seen + 5000, 3) == HW_OK);
    hw_shelf shelf = loaded();
    check_true(shelf.seen_count == 5000);
    int64_t oldest = INT64_MAX;
    for (size_t i = 0; i < shelf.seen_count; i++) {
        oldest = shelf.seen[i].at < oldest ? shelf.seen[i].at : oldest;
    }
    check_true(oldest == 1003); // 1000 to 1002 went
    hw_shelf_free(&shelf);
    hw_free(seen);
    remove_shelf();
    char name[40];
    hw_text text = {0};
    hw_text_add(&text, "{\"format\":1,\"dyes\":[");
    for (int i = 0; i < 200; i++) {
        hw_text_add(&text, "%s{\"name\":\"dye %d\",\"family\":\"red\"}", i ? "," : "", i);
    }
    hw_text_add(&text, "]}");
    write_shelf(text.bytes);
    hw_text_free(&text);
    hw_dye dye = dye_of("one more");
    check_true(hw_shelf_put_dye(path, NULL, &dye, &err) == HW_ERR_CALL);
    check_text(err.code, "shelf-full");
    snprintf(name, sizeof name, "dye 7");
    dye = dye_of(name);
    check_true(hw_shelf_put_dye(path, NULL, &dye, NULL) == HW_OK);
    remove_shelf();
}

// ---- Step boards -------------------------------------------------------------------

#define ENTRY(n) "entry-of-a-board-" #n

// A board of two dyes, one of them under a clear coat too; freed with hw_taught_free.
static hw_taught board_of(const char *first, const char *second)
{
    const char *names[2] = {first, second};
    hw_taught taught = {.count = 2};
    taught.board = hw_alloc_array(2, sizeof *taught.board);
    taught.dye = hw_alloc_array(2, sizeof *taught.dye);
    taught.change = hw_alloc_array(2, sizeof *taught.change);
    for (int i = 0; i < 2; i++) {
        taught.dye[i] = dye_of(names[i]);
        taught.change[i] = i ? HW_DYE_REPLACED : HW_DYE_ADDED;
        hw_board *board = &taught.board[i];
        *board = (hw_board){.count = 3, .saturates = i == 1, .fit_off = 0.25};
        snprintf(board->dye, sizeof board->dye, "%s", names[i]);
        board->strip = hw_alloc_array(3, sizeof *board->strip);
        for (int n = 0; n < 3; n++) {
            board->strip[n] = (hw_strip){.passes = n, .lab = {62.0 - 4.1 * n, 12, 28.7}};
            board->strip[n].fitted = (hw_lab){61.9 - 4 * n, 12.1, 28.5};
        }
        board->strip[2].out_of_line = true;
        board->strip[2].deviate = 3.5;
        board->strip[2].off = 1.25;
        snprintf(board->strip[2].why, sizeof board->strip[2].why, "darker: a \"lap\"?");
    }
    taught.board[1].has_coat = true;
    taught.board[1].coat_shift = (hw_lab){-3.5, 0.5, 2};
    taught.board[1].strip[1].coated = true;
    taught.board[1].under_coat_count = 1;
    taught.board[1].under_coat = 0.875;
    taught.board[1].u_under_coat = INFINITY; // hardly any dye can be seen under that coat
    hw_warn(&taught.warnings, "One strip is left aside. Lay it anew.");
    return taught;
}

static void check_board(const hw_taught *kept, const hw_taught *was)
{
    check_true(kept->again && kept->count == was->count && kept->warnings.count == 1);
    check_text(kept->warnings.text[0], was->warnings.text[0]);
    for (size_t i = 0; i < was->count && i < kept->count; i++) {
        const hw_board *is = &kept->board[i], *then = &was->board[i];
        check_text(is->dye, then->dye);
        check_text(kept->dye[i].note, was->dye[i].note);
        check_true(kept->change[i] == was->change[i] && is->count == then->count &&
                   is->saturates == then->saturates && is->fit_off == then->fit_off &&
                   is->has_coat == then->has_coat && is->coat_shift.L == then->coat_shift.L &&
                   is->under_coat_count == then->under_coat_count &&
                   is->under_coat == then->under_coat && is->u_under_coat == then->u_under_coat);
        check_close(is->density[2], was->dye[i].density[2], 1e-15);
        for (size_t n = 0; n < then->count && n < is->count; n++) {
            const hw_strip *strip = &is->strip[n], *old = &then->strip[n];
            check_true(strip->passes == old->passes && strip->coated == old->coated &&
                       strip->off == old->off && strip->deviate == old->deviate &&
                       strip->out_of_line == old->out_of_line);
            check_close(strip->lab.L, old->lab.L, 1e-12);
            check_close(strip->fitted.b, old->fitted.b, 1e-12);
            check_text(strip->why, old->why);
        }
    }
}

static void test_board(void)
{
    hw_taught first = board_of("walnut", "cherry"), other = board_of("walnut", "ebony");
    hw_taught kept = {0}, same = board_of("oak", "pine");
    hw_error err = {0};
    size_t count = 0;
    remove_shelf();
    check_true(hw_shelf_taught(path, NULL, ENTRY(1), &kept, NULL) == HW_OK && !kept.again);
    check_true(hw_shelf_put_board(path, NULL, "short", 1780000001, &first, &err) == HW_ERR_CALL);
    check_text(err.code, "entry-name");
    check_true(hw_shelf_taught(path, NULL, "../../x/../../../", &kept, NULL) == HW_ERR_CALL);
    check_true(hw_shelf_put_board(path, NULL, ENTRY(1), 1780000001, &first, NULL) == HW_OK);
    check_true(!first.again);
    check_true(hw_shelf_taught(path, NULL, ENTRY(1), &kept, NULL) == HW_OK);
    check_board(&kept, &first);
    hw_taught_free(&kept);
    // Said again, whatever else comes with it: what was learned then, and the file is the very same one.
    uint8_t *before = bytes_of(&count);
    check_true(hw_shelf_put_board(path, NULL, ENTRY(1), 1780000009, &same, NULL) == HW_OK);
    check_board(&same, &first);
    uint8_t *after = bytes_of(&count);
    check_text((char *)after, (char *)before);
    hw_free(before);
    hw_free(after);
    // Other changes leave it there; a board without an entry is put on the shelf and not kept.
    hw_dye dye = dye_of("sienna");
    check_true(hw_shelf_put_dye(path, NULL, &dye, NULL) == HW_OK);
    check_true(hw_shelf_remove_dye(path, NULL, "walnut", NULL, NULL) == HW_OK);
    check_true(hw_shelf_put_board(path, NULL, NULL, 1780000002, &other, NULL) == HW_OK);
    check_true(hw_shelf_taught(path, NULL, ENTRY(1), &kept, NULL) == HW_OK);
    check_board(&kept, &first);
    hw_taught_free(&kept);
    hw_shelf shelf = loaded();
    check_true(shelf.count == 4 && hw_shelf_find(&shelf, "ebony") &&
               hw_shelf_find(&shelf, "walnut"));
    hw_shelf_free(&shelf);
    hw_taught_free(&first);
    hw_taught_free(&other);
    hw_taught_free(&same);
}

// The latest are kept; all dyes of a board or none.
static void test_many_boards(void)
{
    char entry[HW_ENTRY_SIZE];
    hw_taught taught = board_of("walnut", "cherry"), kept = {0};
    hw_error err = {0};
    remove_shelf();
    for (int i = 0; i < HW_BOARDS_KEPT_MOST + 2; i++) {
        snprintf(entry, sizeof entry, "entry-of-a-board-%d", i);
        check_true(hw_shelf_put_board(path, NULL, entry, 1780000000 + i, &taught, NULL) == HW_OK);
    }
    check_true(hw_shelf_taught(path, NULL, ENTRY(1), &kept, NULL) == HW_OK && !kept.again);
    check_true(hw_shelf_taught(path, NULL, ENTRY(2), &kept, NULL) == HW_OK && kept.again);
    hw_taught_free(&kept);
    // A shelf of another version that keeps more of them is a shelf.
    hw_shelf shelf = {0};
    hw_text text = {0};
    hw_text_add(&text, "{\"format\":1,\"dyes\":[],\"boards\":[7");
    for (int i = 0; i < HW_BOARDS_KEPT_MOST + 9; i++) {
        hw_text_add(&text, ",{}");
    }
    hw_text_add(&text, "]}");
    write_shelf(text.bytes);
    check_true(hw_shelf_load(path, NULL, &shelf, NULL) == HW_OK);
    hw_shelf_free(&shelf);
    hw_text_free(&text);
    text = (hw_text){0};
    hw_text_add(&text, "{\"format\":1,\"dyes\":[");
    for (int i = 0; i < 199; i++) {
        hw_text_add(&text, "%s{\"name\":\"dye %d\",\"family\":\"red\"}", i ? "," : "", i);
    }
    hw_text_add(&text, "]}");
    write_shelf(text.bytes);
    check_true(hw_shelf_put_board(path, NULL, ENTRY(1), 1780000001, &taught, &err) == HW_ERR_CALL);
    check_text(err.code, "shelf-full");
    size_t count = 0;
    char *as_it_is = (char *)bytes_of(&count);
    check_text(as_it_is, text.bytes);
    hw_free(as_it_is);
    hw_text_free(&text);
    hw_taught_free(&taught);
}

// A board that cannot be read is told to whoever asks for it, and the shelf is read without it.
static void test_damaged_boards(void)
{
#define KEPT(rows, warnings)                                                                       \
    "{\"format\":1,\"dyes\":[{\"name\":\"x\",\"family\":\"red\"}],\"boards\":[7,{\"entry\":"       \
    "\"" ENTRY(1) "\",\"at\":0,\"dyes\":" rows ",\"warnings\":" warnings "}]}"
#define ROW(strips, more)                                                                          \
    "[{\"dye\":{\"name\":\"x\",\"family\":\"red\"},\"change\":\"added\",\"strips\":" strips        \
    ",\"saturates\":true,\"first_differs\":true,\"fit_off\":0" more "}]"
#define STRIP(passes, lab)                                                                         \
    "[{\"passes\":" passes ",\"coated\":false,\"lab\":" lab                                        \
    ",\"fitted\":[1,2,3],\"off\":0,\"deviate\":0,\"out_of_line\":false,\"why\":\"\"}]"
    static const char *const bad_ones[] = {
        KEPT("7", "[]"),
        KEPT("[]", "{}"),
        KEPT("[7]", "[]"),
        KEPT("[]", "[7]"),
        KEPT(ROW("{}", ""), "[]"),
        KEPT(ROW("[7]", ""), "[]"),
        KEPT(ROW(STRIP("51", "[1,2,3]"), ""), "[]"),
        KEPT(ROW(STRIP("1", "[1,2]"), ""), "[]"),
        KEPT(ROW(STRIP("1", "[1,2,3]"), ",\"coat_shift\":7"), "[]"),
        KEPT(ROW(STRIP("1", "[1,2,3]"), ",\"under_coat\":{\"strips\":0}"), "[]"),
    };
    hw_taught taught = {0};
    hw_dye dye = dye_of("new");
    for (size_t i = 0; i < sizeof bad_ones / sizeof *bad_ones; i++) {
        hw_error err = {0};
        write_shelf(bad_ones[i]);
        check_true(hw_shelf_taught(path, NULL, ENTRY(1), &taught, &err) == HW_ERR_INPUT &&
                   !taught.again);
        check_text(err.code, "shelf-format");
        check_true(hw_shelf_taught(path, NULL, ENTRY(2), &taught, NULL) == HW_OK && !taught.again);
        check_true(hw_shelf_put_dye(path, NULL, &dye, NULL) == HW_OK);
        hw_shelf shelf = loaded();
        check_true(shelf.count == 2);
        hw_shelf_free(&shelf);
    }
    write_shelf(KEPT(ROW(STRIP("1", "[1,2,3]"), ""), "[\"w\"]"));
    check_true(hw_shelf_taught(path, NULL, ENTRY(1), &taught, NULL) == HW_OK && taught.again);
    check_true(taught.count == 1 && taught.board[0].count == 1 && !taught.board[0].has_coat);
    hw_taught_free(&taught);
    bad("{\"format\":1,\"dyes\":[],\"boards\":{}}", "no shelf");
}

static void test_board_memory(void)
{
    bool done = false;
    for (long n = 0; n < 5000 && !done; n++) {
        hw_taught taught = board_of("walnut", "cherry"), kept = {0};
        remove_shelf();
        hw_test_fail_alloc(n);
        hw_status status = hw_shelf_put_board(path, NULL, ENTRY(1), 1780000001, &taught, NULL);
        status = status == HW_OK ? hw_shelf_taught(path, NULL, ENTRY(1), &kept, NULL) : status;
        status =
            status == HW_OK ? hw_shelf_put_board(path, NULL, ENTRY(1), 9, &taught, NULL) : status;
        hw_test_fail_alloc(-1);
        done = status == HW_OK;
        check_true(done || status == HW_ERR_STORAGE);
        check_true(!done || (kept.again && taught.again));
        hw_taught_free(&taught);
        hw_taught_free(&kept);
    }
    check_true(done);
    remove_shelf();
}

// ---- Two at once -------------------------------------------------------------------

static void test_writers_at_once(void)
{
    enum { WRITERS = 4, TURNS = 12 };
    remove_shelf();
    pid_t child[WRITERS];
    for (int w = 0; w < WRITERS; w++) {
        child[w] = fork();
        if (child[w] == 0) {
            int failed = 0;
            for (int i = 0; i < TURNS; i++) {
                char name[40];
                snprintf(name, sizeof name, "dye %d of %d", i, w);
                hw_dye dye = dye_of(name);
                hw_observation seen = seen_of("a job", 1 + i + 100 * w, 1000 + i);
                failed += hw_shelf_put_dye(path, NULL, &dye, NULL) != HW_OK;
                failed += keep(&seen, 1) != HW_OK;
            }
            _exit(failed > 0);
        }
    }
    for (int w = 0; w < WRITERS; w++) {
        int state = 0;
        check_true(child[w] > 0 && waitpid(child[w], &state, 0) == child[w]);
        check_true(WIFEXITED(state) && WEXITSTATUS(state) == 0);
    }
    hw_shelf shelf = loaded();
    check_true(shelf.count == WRITERS * TURNS && shelf.seen_count == WRITERS * TURNS);
    hw_shelf_free(&shelf);
}

// ---- The disk, the memory ----------------------------------------------------------

// A disk with no room, by a limit on the size of files, in a child; and a folder that may not be written.
static void test_disk(void)
{
    write_shelf("{\"format\":1,\"dyes\":[]}");
    pid_t child = fork();
    if (child == 0) {
        struct rlimit limit = {10, 10};
        hw_dye dye = dye_of("walnut");
        signal(SIGXFSZ, SIG_IGN);
        bool good = setrlimit(RLIMIT_FSIZE, &limit) == 0 &&
                    hw_shelf_put_dye(path, NULL, &dye, NULL) == HW_ERR_STORAGE;
        _exit(good ? 0 : 1);
    }
    int state = 0;
    check_true(child > 0 && waitpid(child, &state, 0) == child);
    check_true(WIFEXITED(state) && WEXITSTATUS(state) == 0);
    hw_shelf shelf = loaded(); // as it was
    check_true(shelf.count == 0);
    hw_shelf_free(&shelf);
    hw_error err = {0};
    hw_dye dye = dye_of("walnut");
    check_true(hw_shelf_put_dye("/dev/null/none/shelf.json", NULL, &dye, &err) == HW_ERR_STORAGE);
    check_true(err.next[0] != 0);
    // A folder that is missing is made, with those above it.
    char deep[700];
    snprintf(deep, sizeof deep, "%s.d/one/two/shelf.json", path);
    check_true(hw_shelf_put_dye(deep, NULL, &dye, NULL) == HW_OK && access(deep, F_OK) == 0);
}

static void test_memory(void)
{
    hw_dye dye = dye_of("cherry");
    hw_observation seen = seen_of("a job", 8, 2);
    hw_coat_seen coat = coat_of("a job", 9, 2);
    hw_shelf shelf = {0};
    bool done = false;
    for (long n = 0; n < 5000 && !done; n++) {
        remove_shelf();
        write_shelf(
            "{\"format\":1,\"more\":[1],\"dyes\":[{\"name\":\"walnut\",\"family\":\"brown\"}],"
            "\"seen\":[" SEEN(TIME, "[50,0,0]", LAID, "[1,0,0,1,0,1]") "]}");
        hw_test_fail_alloc(n);
        hw_status status = hw_shelf_put_dye(path, NULL, &dye, NULL);
        hw_shelf shown = {.seen = &seen, .seen_count = 1, .coat = &coat, .coat_count = 1};
        status = status == HW_OK ? hw_shelf_keep_seen(path, NULL, &shown, NULL) : status;
        status = status == HW_OK ? hw_shelf_remove_coats(path, NULL, NULL, NULL) : status;
        status = status == HW_OK ? hw_shelf_remove_dye(path, NULL, "red", NULL, NULL) : status;
        hw_test_fail_alloc(-1);
        done = status == HW_OK;
        check_true(done || status == HW_ERR_STORAGE);
        check_true(hw_shelf_load(path, NULL, &shelf, NULL) == HW_OK); // whole at any point
        hw_shelf_free(&shelf);
    }
    check_true(done);
    remove_shelf();
}

int main(void)
{
    snprintf(path, sizeof path, "%s/own shelf %ld.json", HW_SCRATCH, (long)getpid());
    test_round_trip();
    test_changes();
    test_coats();
    test_many_coats();
    test_unknown_members();
    test_old_format();
    test_damaged();
    test_wrong_calls();
    test_many();
    test_board();
    test_many_boards();
    test_damaged_boards();
    test_board_memory();
    test_writers_at_once();
    test_disk();
    test_memory();
    return check_done();
}
