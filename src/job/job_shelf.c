// job_shelf.c: the finisher's dyes and what was seen of them and of clear coats, one file for all jobs:
//
//   {"format":1,"dyes":[a dye, ...],"seen":[of passes, ...],"coats":[of coats, ...],
//    "boards":[what a step board taught, ...]}     (each in job_shelf_json.c)
//
// What always holds:
//  (1) A change reads the file under a lock (shelf.json.lock beside it, which stays), changes it and
//      replaces it whole: two programs at once lose nothing, a power cut leaves the old or the new one.
//  (2) Only what is to be changed changes: the new tree is the old one copied, with members that this
//      version does not know.
//  (3) What is written was read again first: no call here can make a file that the next one refuses.
//
// At most 200 dyes. At most 5000 observations of passes and 500 of coats: beyond that the oldest go first, since what
// a dye or a finish does at present is what counts. Of step boards the latest HW_BOARDS_KEPT_MOST; one is only looked
// at where its own device asks again, so one that cannot be read is no reason to refuse the shelf.
#include "job_internal.h"

#define DYES_MOST 200
static const char boards_member[] = "boards";
static const size_t shelf_times = 4; // a shelf may be so many times as large as a marks file

bool hw_shelf_user_path(char *out, size_t size)
{
    return hw_own_path("shelf.json", out, size);
}

// ---- What was seen in jobs ---------------------------------------------------------

// Passes and coats are kept alike: each observation is named by its job, event and part.
typedef struct seen_item {
    const char *job, *part; // borrowed
    long event;
    int64_t at;
    bool forgotten, gone;
} seen_item;

typedef struct seen_kind {
    const char *member, *called; // in the file; to a person
    size_t most;
    bool (*make_room)(hw_shelf *shelf, size_t count); // of an empty list
    const char *(*read_next)(const hw_json *json, hw_shelf *shelf);
    size_t (*count)(const hw_shelf *shelf);
    seen_item (*item)(const hw_shelf *shelf, size_t at);
    hw_json *(*json)(const hw_shelf *shelf, size_t at);
} seen_kind;

static bool make_room_of_passes(hw_shelf *shelf, size_t count)
{
    return (shelf->seen = hw_alloc_array(count, sizeof *shelf->seen)) != NULL;
}

static const char *read_pass(const hw_json *json, hw_shelf *shelf)
{
    const char *why = hw_shelf_read_seen(json, &shelf->seen[shelf->seen_count]);
    shelf->seen_count += !why;
    return why;
}

static size_t count_passes(const hw_shelf *shelf)
{
    return shelf->seen_count;
}

static seen_item pass_item(const hw_shelf *shelf, size_t at)
{
    const hw_observation *one = &shelf->seen[at];
    return (seen_item){one->job, one->patch, one->event, one->at, one->forgotten, one->gone};
}

static hw_json *pass_json(const hw_shelf *shelf, size_t at)
{
    return hw_shelf_seen_json(&shelf->seen[at]);
}

static bool make_room_of_coats(hw_shelf *shelf, size_t count)
{
    return (shelf->coat = hw_alloc_array(count, sizeof *shelf->coat)) != NULL;
}

static const char *read_coat(const hw_json *json, hw_shelf *shelf)
{
    const char *why = hw_shelf_read_coat(json, &shelf->coat[shelf->coat_count]);
    shelf->coat_count += !why;
    return why;
}

static size_t count_coats(const hw_shelf *shelf)
{
    return shelf->coat_count;
}

static seen_item coat_item(const hw_shelf *shelf, size_t at)
{
    const hw_coat_seen *one = &shelf->coat[at];
    return (seen_item){one->job, one->part, one->event, one->at, one->forgotten, one->gone};
}

static hw_json *coat_json(const hw_shelf *shelf, size_t at)
{
    return hw_shelf_coat_json(&shelf->coat[at]);
}

enum { PASSES, COATS, KINDS };

static const seen_kind kinds[KINDS] = {
    [PASSES] = {"seen", "observation", 5000, make_room_of_passes, read_pass, count_passes,
                pass_item, pass_json},
    [COATS] = {"coats", "coat", 500, make_room_of_coats, read_coat, count_coats, coat_item,
               coat_json},
};

static bool is_same(const seen_item *one, const seen_item *other)
{
    return one->event == other->event && strcmp(one->job, other->job) == 0 &&
           strcmp(one->part, other->part) == 0;
}

// Index of the last that is of the same coats or passes as `wanted`, before `count`; or `count`.
static size_t find_item(const seen_kind *kind, const hw_shelf *shelf, size_t count,
                        const seen_item *wanted)
{
    for (size_t at = count; at > 0; at--) {
        seen_item one = kind->item(shelf, at - 1);
        if (is_same(&one, wanted)) {
            return at - 1;
        }
    }
    return count;
}

// ---- Reading -----------------------------------------------------------------------

static hw_status bad_shelf(const char *path, const char *what, size_t number, const char *why,
                           hw_error *err)
{
    return hw_fail(err, HW_ERR_INPUT, "shelf-format", path,
                   "Mend the file, or move it away to start with an empty shelf.", "%s %zu %s",
                   what, number, why);
}

static hw_status read_dyes(const hw_json *list, const char *path, hw_shelf *shelf, hw_error *err)
{
    shelf->dye = hw_alloc_array(hw_json_count(list), sizeof *shelf->dye);
    if (!shelf->dye) {
        return hw_fail_memory(err, "reading the shelf");
    }
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        hw_dye dye;
        const char *why = hw_shelf_read_dye(item, &dye);
        why = !why && hw_shelf_find(shelf, dye.name) ? "has the name of another" : why;
        if (why) {
            return bad_shelf(path, "dye", shelf->count + 1, why, err);
        }
        shelf->dye[shelf->count++] = dye;
    }
    return HW_OK;
}

static hw_status read_seen(const seen_kind *kind, const hw_json *list, const char *path,
                           hw_shelf *shelf, hw_error *err)
{
    size_t number = 0;
    if (!kind->make_room(shelf, hw_json_count(list))) {
        return hw_fail_memory(err, "reading the shelf");
    }
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item), number++) {
        const char *why = kind->read_next(item, shelf);
        if (!why) {
            seen_item read = kind->item(shelf, number);
            why = find_item(kind, shelf, number, &read) < number ? "is there twice" : NULL;
        }
        if (why) {
            return bad_shelf(path, kind->called, number + 1, why, err);
        }
    }
    return HW_OK;
}

static hw_status read_tree(const hw_json *root, const char *path, hw_shelf *shelf, hw_error *err)
{
    const hw_json *dyes = hw_json_member(root, "dyes"), *list[KINDS];
    bool good = !dyes || (hw_json_is_array(dyes) && hw_json_count(dyes) <= DYES_MOST);
    double format = 0.0;
    for (int k = 0; k < KINDS; k++) {
        list[k] = hw_json_member(root, kinds[k].member);
        good = good &&
               (!list[k] || (hw_json_is_array(list[k]) && hw_json_count(list[k]) <= kinds[k].most));
    }
    const hw_json *boards = hw_json_member(root, boards_member);
    good = good && (!boards || hw_json_is_array(boards)); // another version may keep more of them
    if (hw_json_member_number(root, "format", &format) && format > 1.0) {
        return hw_fail(err, HW_ERR_INPUT, "shelf-format", path,
                       "Use that version of huewright, or name another file with --shelf.",
                       "a newer huewright wrote this shelf (format %g, this one reads 1)", format);
    }
    if (format != 1.0 || !good || (!dyes && !list[PASSES])) {
        return hw_fail(err, HW_ERR_INPUT, "shelf-format", path,
                       "Mend the file, or move it away to start with an empty shelf.",
                       "this is no shelf that this version can read");
    }
    hw_status status = read_dyes(dyes, path, shelf, err);
    for (int k = 0; status == HW_OK && k < KINDS; k++) {
        status = read_seen(&kinds[k], list[k], path, shelf, err);
    }
    return status;
}

static hw_limits shelf_limits(const hw_limits *limits)
{
    hw_limits bounds = limits ? *limits : hw_limits_default();
    bounds.json_bytes *= shelf_times;
    return bounds;
}

// The file as a tree and as a shelf; a missing file is an empty shelf and *tree NULL.
static hw_status read_file(const char *path, const hw_limits *bounds, hw_json **tree,
                           hw_shelf *shelf, hw_error *err)
{
    hw_status status = hw_own_read(path, bounds, tree, err);
    return status == HW_OK && *tree ? read_tree(*tree, path, shelf, err) : status;
}

hw_status hw_shelf_load(const char *path, const hw_limits *limits, hw_shelf *out, hw_error *err)
{
    hw_limits bounds = shelf_limits(limits);
    hw_json *tree = NULL;
    hw_shelf shelf = {0};
    hw_status status = read_file(path, &bounds, &tree, &shelf, err);
    if (status == HW_OK) {
        *out = shelf;
    } else {
        hw_shelf_free(&shelf);
    }
    hw_json_free(tree);
    return status;
}

// ---- Step boards -------------------------------------------------------------------

// What that list keeps of the board of that entry; NULL: nothing.
static const hw_json *find_board(const hw_json *boards, const char *entry)
{
    for (const hw_json *item = hw_json_first(boards); item; item = hw_json_next(item)) {
        const char *name = hw_json_member_text(item, "entry");
        if (name && strcmp(name, entry) == 0) {
            return item;
        }
    }
    return NULL;
}

// *found false: there is none, and *out stays as it is.
static hw_status take_board(const hw_json *tree, const char *entry, const char *path,
                            hw_taught *out, bool *found, hw_error *err)
{
    const hw_json *board = find_board(hw_json_member(tree, boards_member), entry);
    hw_taught taught = {0};
    hw_status status = board ? hw_shelf_read_board(board, path, &taught, err) : HW_OK;
    *found = board && status == HW_OK;
    if (*found) {
        *out = taught;
    } else {
        hw_taught_free(&taught);
    }
    return status;
}

hw_status hw_shelf_taught(const char *path, const hw_limits *limits, const char *entry,
                          hw_taught *out, hw_error *err)
{
    hw_limits bounds = shelf_limits(limits);
    hw_json *tree = NULL;
    bool found = false;
    hw_status status = hw_job_check_entry(entry, err);
    if (status == HW_OK) {
        status = hw_own_read(path, &bounds, &tree, err);
    }
    if (status == HW_OK) {
        status = take_board(tree, entry, path, out, &found, err);
    }
    hw_json_free(tree);
    return status;
}

void hw_taught_free(hw_taught *taught)
{
    if (taught) {
        for (size_t i = 0; taught->board && i < taught->count; i++) {
            hw_board_free(&taught->board[i]);
        }
        hw_free(taught->board);
        hw_free(taught->dye);
        hw_free(taught->change);
        *taught = (hw_taught){0};
    }
}

// ---- Changing the tree -------------------------------------------------------------

// Members of ours that may be missing: what an old object says there is no longer so.
static const char *const ours[] = {"tool",     "wood", "board_passes", "learned_at", "note",
                                   "question", "made", "shared",       NULL};

// One change.
typedef struct change {
    const hw_dye *put; // so many dyes
    size_t put_count;
    const char *entry;     // of the step board that they come from, or NULL
    hw_json *board;        // what it taught, where it has an entry. Owned.
    const char *remove;    // a dye's name, or NULL
    const hw_shelf *shown; // what was seen anew, or NULL
    bool *drop[KINDS];     // an entry an old observation, then each new one; NULL: none. Owned.
} change;

static const hw_dye *find_put(const change *what, const char *name)
{
    for (size_t i = 0; i < what->put_count; i++) {
        if (strcmp(what->put[i].name, name) == 0) {
            return &what->put[i];
        }
    }
    return NULL;
}

static void build_dyes(const hw_json *old, const hw_shelf *shelf, const change *what, hw_json *list)
{
    size_t i = 0;
    for (const hw_json *item = hw_json_first(old); item; item = hw_json_next(item), i++) {
        const char *name = shelf->dye[i].name;
        const hw_dye *put = find_put(what, name);
        if (put) {
            hw_json *made = hw_shelf_dye_json(put);
            hw_own_keep_unknown(item, made, ours);
            hw_json_add_tree(list, NULL, made);
        } else if (!what->remove || strcmp(name, what->remove) != 0) {
            hw_json_add_tree(list, NULL, hw_json_copy(item));
        }
    }
    for (i = 0; i < what->put_count; i++) {
        if (!hw_shelf_find(shelf, what->put[i].name)) {
            hw_json_add_tree(list, NULL, hw_shelf_dye_json(&what->put[i]));
        }
    }
}

// The new one behind the latest of those that are there.
static void build_boards(const hw_json *old, const hw_json *board, hw_json *list)
{
    size_t over = hw_json_count(old) + 1;
    for (const hw_json *item = hw_json_first(old); item; item = hw_json_next(item)) {
        if (over-- <= HW_BOARDS_KEPT_MOST) {
            hw_json_add_tree(list, NULL, hw_json_copy(item));
        }
    }
    hw_json_add_tree(list, NULL, hw_json_copy(board));
}

static void build_seen(const seen_kind *kind, const hw_json *old, const hw_shelf *shelf,
                       const hw_shelf *shown, const bool *drop, hw_json *list)
{
    const size_t before = kind->count(shelf), more = shown ? kind->count(shown) : 0;
    size_t i = 0;
    for (const hw_json *item = hw_json_first(old); item; item = hw_json_next(item), i++) {
        if (!drop || !drop[i]) {
            hw_json_add_tree(list, NULL, hw_json_copy(item));
        }
    }
    for (size_t k = 0; k < more; k++) {
        if (drop && drop[before + k]) {
            continue;
        }
        seen_item one = kind->item(shown, k);
        hw_json *made = kind->json(shown, k);
        size_t at = find_item(kind, shelf, before, &one);
        i = 0;
        for (const hw_json *item = hw_json_first(old); item; item = hw_json_next(item), i++) {
            if (i == at) {
                hw_own_keep_unknown(item, made, ours);
            }
        }
        hw_json_add_tree(list, NULL, made);
    }
}

static hw_json *build(const hw_json *old, const hw_shelf *shelf, const change *what)
{
    hw_json *root = hw_json_new_object();
    hw_json_add_number(root, "format", 1.0);
    build_dyes(hw_json_member(old, "dyes"), shelf, what, hw_json_add_array(root, "dyes"));
    for (int k = 0; k < KINDS; k++) {
        build_seen(&kinds[k], hw_json_member(old, kinds[k].member), shelf, what->shown,
                   what->drop[k], hw_json_add_array(root, kinds[k].member));
    }
    if (what->board) {
        build_boards(hw_json_member(old, boards_member), what->board,
                     hw_json_add_array(root, boards_member));
    }
    hw_own_keep_unknown(old, root, ours); // the boards too, where there is no new one
    return root;
}

// ---- Changing the file -------------------------------------------------------------

// Reads the text again as the next call will, then puts it in the file's place.
static hw_status write_checked(const char *path, const char *text, const char *entry,
                               const hw_limits *bounds, hw_error *err)
{
    hw_json *tree = NULL;
    hw_shelf again = {0};
    hw_taught taught = {0};
    hw_error why = {0};
    bool found = false;
    hw_status status = hw_json_parse(text, strlen(text), bounds, path, &tree, &why);
    if (status == HW_OK) {
        status = read_tree(tree, path, &again, &why);
    }
    if (status == HW_OK && entry) {
        status = take_board(tree, entry, path, &taught, &found, &why);
    }
    if (status == HW_ERR_STORAGE) {
        status = hw_fail_memory(err, "writing the shelf");
    } else if (status != HW_OK) {
        status = hw_fail(err, HW_ERR_CALL, "shelf-change", path,
                         "Check what was entered; the shelf is as it was.",
                         "this cannot be put on the shelf: %s", why.what);
    } else {
        status = hw_file_replace(path, text, strlen(text), err);
    }
    hw_taught_free(&taught);
    hw_shelf_free(&again);
    hw_json_free(tree);
    return status;
}

// Decides the change on what the file holds under the lock, as *what; *nothing: leave the file alone. `tree`: the file, NULL
// where there is none.
typedef hw_status (*decide)(const hw_shelf *shelf, const hw_json *tree, void *wish, change *what,
                            bool *nothing, hw_error *err);

static hw_status change_shelf(const char *path, const hw_limits *limits, decide decide_it,
                              void *wish, hw_error *err)
{
    hw_limits bounds = shelf_limits(limits);
    hw_append *lock = NULL;
    hw_json *tree = NULL, *made = NULL;
    hw_shelf shelf = {0};
    change what = {0};
    char *text = NULL;
    bool nothing = false;
    hw_status status = hw_own_make_folder(path, err);
    if (status == HW_OK) {
        status = hw_own_lock(path, &lock, err);
    }
    if (status == HW_OK) {
        status = read_file(path, &bounds, &tree, &shelf, err);
    }
    if (status == HW_OK) {
        status = decide_it(&shelf, tree, wish, &what, &nothing, err);
    }
    if (status == HW_OK && !nothing) {
        made = build(tree, &shelf, &what);
        status =
            made ? hw_json_print(made, true, &text, err) : hw_fail_memory(err, "writing the shelf");
    }
    if (status == HW_OK && !nothing) {
        status = write_checked(path, text, what.entry, &bounds, err);
    }
    for (int k = 0; k < KINDS; k++) {
        hw_free(what.drop[k]);
    }
    hw_json_free(what.board);
    hw_free(text);
    hw_json_free(made);
    hw_json_free(tree);
    hw_shelf_free(&shelf);
    hw_append_close(&lock);
    return status;
}

// ---- The five changes --------------------------------------------------------------

static hw_status put_dyes(const hw_shelf *shelf, const hw_dye *dyes, size_t count, change *what,
                          hw_error *err)
{
    size_t all = shelf->count;
    what->put = dyes;
    what->put_count = count;
    for (size_t i = 0; i < count; i++) {
        all += !hw_shelf_find(shelf, dyes[i].name);
        if (all > DYES_MOST) {
            return hw_fail(err, HW_ERR_CALL, "shelf-full", dyes[i].name,
                           "Remove a dye that is not in use, or use another shelf file.",
                           "the shelf has room for %d dyes", DYES_MOST);
        }
    }
    return HW_OK;
}

static hw_status decide_put(const hw_shelf *shelf, const hw_json *tree, void *wish, change *what,
                            bool *nothing, hw_error *err)
{
    (void)tree;
    *nothing = false;
    return put_dyes(shelf, wish, 1, what, err);
}

hw_status hw_shelf_put_dye(const char *path, const hw_limits *limits, const hw_dye *dye,
                           hw_error *err)
{
    hw_dye own = *dye;
    return change_shelf(path, limits, decide_put, &own, err);
}

// A step board on its way to the shelf.
typedef struct new_board {
    const char *path, *entry; // the entry may be NULL
    int64_t at;
    hw_taught *taught;
} new_board;

// Was that entry said before? Then *one is what was learned then.
static hw_status was_taught(const hw_json *tree, new_board *one, bool *was, hw_error *err)
{
    hw_taught before = {0};
    hw_status status = take_board(tree, one->entry, one->path, &before, was, err);
    if (*was) {
        hw_taught_free(one->taught);
        *one->taught = before;
    }
    return status;
}

static hw_status decide_board(const hw_shelf *shelf, const hw_json *tree, void *wish, change *what,
                              bool *nothing, hw_error *err)
{
    new_board *one = wish;
    *nothing = false;
    hw_status status = one->entry ? was_taught(tree, one, nothing, err) : HW_OK;
    if (status != HW_OK || *nothing) {
        return status;
    }
    if (one->entry) {
        what->entry = one->entry;
        what->board = hw_shelf_board_json(one->entry, one->at, one->taught);
        status = what->board ? HW_OK : hw_fail_memory(err, "writing the shelf");
    }
    return status == HW_OK ? put_dyes(shelf, one->taught->dye, one->taught->count, what, err)
                           : status;
}

hw_status hw_shelf_put_board(const char *path, const hw_limits *limits, const char *entry,
                             int64_t at, hw_taught *taught, hw_error *err)
{
    new_board one = {.path = path, .entry = entry, .at = at, .taught = taught};
    hw_status status = entry ? hw_job_check_entry(entry, err) : HW_OK;
    return status == HW_OK ? change_shelf(path, limits, decide_board, &one, err) : status;
}

static hw_status make_drop(const seen_kind *kind, const hw_shelf *shelf, size_t more, bool **drop,
                           hw_error *err)
{
    *drop = hw_alloc_array(kind->count(shelf) + more, sizeof **drop);
    return *drop ? HW_OK : hw_fail_memory(err, "changing the shelf");
}

// What is forgotten takes the place of what was seen, so that no job brings it back.
typedef struct removal {
    const char *name; // of the dye, or of the shelf where its coats are forgotten
    hw_shelf forgotten;
} removal;

static hw_status begin_removal(const seen_kind *kind, const hw_shelf *shelf, removal *wanted,
                               change *what, bool **drop, hw_error *err)
{
    size_t count = kind->count(shelf);
    what->shown = &wanted->forgotten;
    return kind->make_room(&wanted->forgotten, count) ? make_drop(kind, shelf, count, drop, err)
                                                      : hw_fail_memory(err, "changing the shelf");
}

static hw_status decide_remove(const hw_shelf *shelf, const hw_json *tree, void *wish, change *what,
                               bool *nothing, hw_error *err)
{
    (void)tree;
    removal *wanted = wish;
    hw_shelf *forgotten = &wanted->forgotten;
    bool **drop = &what->drop[PASSES];
    hw_status status = begin_removal(&kinds[PASSES], shelf, wanted, what, drop, err);
    for (size_t i = 0; status == HW_OK && i < shelf->seen_count; i++) {
        (*drop)[i] =
            !shelf->seen[i].forgotten && hw_observation_names(&shelf->seen[i], wanted->name);
        if ((*drop)[i]) {
            forgotten->seen[forgotten->seen_count] = shelf->seen[i];
            forgotten->seen[forgotten->seen_count++].forgotten = true;
        }
    }
    *nothing = false;
    what->remove = wanted->name;
    if (status == HW_OK && !hw_shelf_find(shelf, wanted->name) && forgotten->seen_count == 0) {
        return hw_fail(err, HW_ERR_CALL, "dye-unknown", wanted->name,
                       "Use a dye of the shelf (huewright shelf show lists them).",
                       "there is no dye of this name on the shelf");
    }
    return status;
}

hw_status hw_shelf_remove_dye(const char *path, const hw_limits *limits, const char *name,
                              size_t *seen_gone, hw_error *err)
{
    removal wanted = {.name = name};
    if (!hw_file_exists(path)) {
        return hw_fail(err, HW_ERR_CALL, "dye-unknown", name,
                       "The shelf is empty: there is nothing to remove.",
                       "there is no dye of this name on the shelf");
    }
    hw_status status = change_shelf(path, limits, decide_remove, &wanted, err);
    if (status == HW_OK && seen_gone) {
        *seen_gone = wanted.forgotten.seen_count;
    }
    hw_shelf_free(&wanted.forgotten);
    return status;
}

static hw_status refuse_unseen(const char *path, hw_error *err)
{
    return hw_fail(err, HW_ERR_CALL, "coats-unseen", path,
                   "There is nothing to forget: coats are a guess.",
                   "nothing is known of clear coats on this shelf");
}

static hw_status decide_forget(const hw_shelf *shelf, const hw_json *tree, void *wish, change *what,
                               bool *nothing, hw_error *err)
{
    (void)tree;
    removal *wanted = wish;
    hw_shelf *forgotten = &wanted->forgotten;
    bool **drop = &what->drop[COATS];
    hw_status status = begin_removal(&kinds[COATS], shelf, wanted, what, drop, err);
    for (size_t i = 0; status == HW_OK && i < shelf->coat_count; i++) {
        (*drop)[i] = !shelf->coat[i].forgotten;
        if ((*drop)[i]) {
            forgotten->coat[forgotten->coat_count] = shelf->coat[i];
            forgotten->coat[forgotten->coat_count++].forgotten = true;
        }
    }
    *nothing = false;
    return status == HW_OK && forgotten->coat_count == 0 ? refuse_unseen(wanted->name, err)
                                                         : status;
}

hw_status hw_shelf_remove_coats(const char *path, const hw_limits *limits, size_t *seen_gone,
                                hw_error *err)
{
    removal wanted = {.name = path};
    if (!hw_file_exists(path)) {
        return refuse_unseen(path, err);
    }
    hw_status status = change_shelf(path, limits, decide_forget, &wanted, err);
    if (status == HW_OK && seen_gone) {
        *seen_gone = wanted.forgotten.coat_count;
    }
    hw_shelf_free(&wanted.forgotten);
    return status;
}

// Drops the oldest of those that are left until they are few enough.
static void drop_oldest(const seen_kind *kind, const hw_shelf *shelf, const hw_shelf *shown,
                        bool *drop)
{
    const size_t before = kind->count(shelf), all = before + kind->count(shown);
    size_t left = 0;
    for (size_t i = 0; i < all; i++) {
        left += !drop[i];
    }
    for (; left > kind->most; left--) {
        size_t oldest = all;
        int64_t at = INT64_MAX;
        for (size_t i = 0; i < all; i++) {
            int64_t then = i < before ? kind->item(shelf, i).at : kind->item(shown, i - before).at;
            if (!drop[i] && (oldest == all || then < at)) {
                oldest = i;
                at = then;
            }
        }
        drop[oldest] = true;
    }
}

// *news: something becomes other than it is in the file.
static void decide_kind(const seen_kind *kind, const hw_shelf *shelf, const hw_shelf *shown,
                        bool *drop, bool *news)
{
    const size_t before = kind->count(shelf), more = kind->count(shown);
    for (size_t k = 0; k < more; k++) { // of twins the last one counts
        seen_item one = kind->item(shown, k);
        drop[before + k] = find_item(kind, shown, more, &one) != k || one.gone;
    }
    for (size_t i = 0; i < before; i++) {
        seen_item old = kind->item(shelf, i);
        size_t k = find_item(kind, shown, more, &old);
        if (k == more) {
            continue;
        }
        if (kind->item(shown, k).gone) {
            drop[i] = !old.forgotten;
            continue;
        }
        hw_json *was = kind->json(shelf, i), *is = kind->json(shown, k);
        bool same = old.forgotten || hw_json_is_same(was, is);
        hw_json_free(was);
        hw_json_free(is);
        drop[same ? before + k : i] = true;
    }
    drop_oldest(kind, shelf, shown, drop);
    for (size_t i = 0; i < before + more; i++) {
        *news = *news || drop[i] != (i >= before);
    }
}

static hw_status decide_keep(const hw_shelf *shelf, const hw_json *tree, void *wish, change *what,
                             bool *nothing, hw_error *err)
{
    (void)tree;
    const hw_shelf *shown = *(const hw_shelf **)wish;
    bool news = false;
    hw_status status = HW_OK;
    what->shown = shown;
    for (int k = 0; status == HW_OK && k < KINDS; k++) {
        status = make_drop(&kinds[k], shelf, kinds[k].count(shown), &what->drop[k], err);
        if (status == HW_OK) {
            decide_kind(&kinds[k], shelf, shown, what->drop[k], &news);
        }
    }
    *nothing = !news;
    return status;
}

hw_status hw_shelf_keep_seen(const char *path, const hw_limits *limits, const hw_shelf *shown,
                             hw_error *err)
{
    if (shown->seen_count == 0 && shown->coat_count == 0) {
        return HW_OK;
    }
    return change_shelf(path, limits, decide_keep, &shown, err);
}
