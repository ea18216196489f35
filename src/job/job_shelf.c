// job_shelf.c: the finisher's dyes and what was seen of them, one file for all jobs:
//
//   {"format":1,"dyes":[a dye, ...],"seen":[an observation, ...]}     (both in job_shelf_json.c)
//
// What always holds:
//  (1) A change reads the file under a lock (shelf.json.lock beside it, which stays), changes it and
//      replaces it whole: two programs at once lose nothing, a power cut leaves the old or the new one.
//  (2) Only what is to be changed changes: the new tree is the old one copied, with members that this
//      version does not know.
//  (3) What is written was read again first: no call here can make a file that the next one refuses.
//
// At most 200 dyes. At most 5000 observations: beyond that the oldest go first, since a dye's present
// strength is what counts.
#include "job_internal.h"

#define DYES_MOST 200
#define SEEN_MOST 5000
static const size_t shelf_times = 4;   // a shelf may be so many times as large as a marks file
static const unsigned wait_ms = 10000; // for another program that writes

bool hw_shelf_user_path(char *out, size_t size)
{
    const char *data = getenv("XDG_DATA_HOME"), *home = getenv("HOME");
    if (data && data[0] == '/') { // the base directory specification asks for absolute paths
        return hw_format_text(out, size, "%s/huewright/shelf.json", data);
    }
    return home && home[0] &&
           hw_format_text(out, size, "%s/.local/share/huewright/shelf.json", home);
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

static hw_status read_seen(const hw_json *list, const char *path, hw_shelf *shelf, hw_error *err)
{
    shelf->seen = hw_alloc_array(hw_json_count(list), sizeof *shelf->seen);
    if (!shelf->seen) {
        return hw_fail_memory(err, "reading the shelf");
    }
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        hw_observation *seen = &shelf->seen[shelf->seen_count];
        const char *why = hw_shelf_read_seen(item, seen);
        for (size_t i = 0; !why && i < shelf->seen_count; i++) {
            why = hw_observation_is_same(&shelf->seen[i], seen) ? "is there twice" : NULL;
        }
        if (why) {
            return bad_shelf(path, "observation", shelf->seen_count + 1, why, err);
        }
        shelf->seen_count++;
    }
    return HW_OK;
}

static hw_status read_tree(const hw_json *root, const char *path, hw_shelf *shelf, hw_error *err)
{
    const hw_json *dyes = hw_json_member(root, "dyes"), *seen = hw_json_member(root, "seen");
    double format = 0.0;
    if (hw_json_member_number(root, "format", &format) && format > 1.0) {
        return hw_fail(err, HW_ERR_INPUT, "shelf-format", path,
                       "Use that version of huewright, or name another file with --shelf.",
                       "a newer huewright wrote this shelf (format %g, this one reads 1)", format);
    }
    if (format != 1.0 || (dyes && !hw_json_is_array(dyes)) || (seen && !hw_json_is_array(seen)) ||
        (!dyes && !seen) || hw_json_count(dyes) > DYES_MOST || hw_json_count(seen) > SEEN_MOST) {
        return hw_fail(err, HW_ERR_INPUT, "shelf-format", path,
                       "Mend the file, or move it away to start with an empty shelf.",
                       "this is no shelf that this version can read");
    }
    hw_status status = read_dyes(dyes, path, shelf, err);
    return status == HW_OK ? read_seen(seen, path, shelf, err) : status;
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
    uint8_t *bytes = NULL;
    size_t count = 0;
    if (!hw_file_exists(path)) {
        return HW_OK;
    }
    hw_status status = hw_file_read(path, bounds->json_bytes, &bytes, &count, err);
    if (status == HW_OK) {
        status = hw_json_parse((const char *)bytes, count, bounds, path, tree, err);
    }
    if (status == HW_OK) {
        status = read_tree(*tree, path, shelf, err);
    }
    hw_free(bytes);
    return status;
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

// ---- Changing the tree -------------------------------------------------------------

static int lower(char c)
{
    return c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c;
}

// Whatever their case: two names that differ in it only may not stand in one object.
static bool names_meet(const char *one, const char *other)
{
    while (*one && lower(*one) == lower(*other)) {
        one++;
        other++;
    }
    return lower(*one) == lower(*other);
}

static bool has_member(const hw_json *object, const char *name)
{
    for (const hw_json *item = hw_json_first(object); item; item = hw_json_next(item)) {
        if (names_meet(hw_json_name(item), name)) {
            return true;
        }
    }
    return false;
}

// Members of ours that may be missing: what an old object says there is no longer so.
static bool is_ours(const char *name)
{
    static const char *const ours[] = {"tool", "wood",     "board_passes", "learned_at",
                                       "note", "question", "made"};
    for (size_t i = 0; i < sizeof ours / sizeof *ours; i++) {
        if (names_meet(name, ours[i])) {
            return true;
        }
    }
    return false;
}

// Carries what this version does not know from the old object into the new one.
static void keep_unknown(const hw_json *old, hw_json *made)
{
    for (const hw_json *item = hw_json_first(old); item; item = hw_json_next(item)) {
        const char *name = hw_json_name(item);
        if (name && !is_ours(name) && !has_member(made, name)) {
            hw_json_add_tree(made, name, hw_json_copy(item));
        }
    }
}

// One change. `replaces` and `drops` ask for each item of the list.
typedef struct change {
    const hw_dye *put;          // or NULL
    const char *remove;         // a dye's name, or NULL
    const hw_observation *seen; // new ones
    size_t seen_count;
    const bool *drop_seen; // an entry an old observation; NULL: none
    const bool *drop_new;  // an entry a new one; NULL: none
} change;

static void build_dyes(const hw_json *old, const hw_shelf *shelf, const change *what, hw_json *list)
{
    bool there = false;
    size_t i = 0;
    for (const hw_json *item = hw_json_first(old); item; item = hw_json_next(item), i++) {
        const char *name = shelf->dye[i].name;
        if (what->put && strcmp(name, what->put->name) == 0) {
            hw_json *made = hw_shelf_dye_json(what->put);
            keep_unknown(item, made);
            hw_json_add_tree(list, NULL, made);
            there = true;
        } else if (!what->remove || strcmp(name, what->remove) != 0) {
            hw_json_add_tree(list, NULL, hw_json_copy(item));
        }
    }
    if (what->put && !there) {
        hw_json_add_tree(list, NULL, hw_shelf_dye_json(what->put));
    }
}

// Index of the last of the new ones that is of the same pass, or their count.
static size_t find_new(const change *what, const hw_observation *old)
{
    size_t at = what->seen_count;
    while (at > 0 && !hw_observation_is_same(&what->seen[at - 1], old)) {
        at--;
    }
    return at > 0 ? at - 1 : what->seen_count;
}

static void build_seen(const hw_json *old, const hw_shelf *shelf, const change *what, hw_json *list)
{
    size_t i = 0;
    for (const hw_json *item = hw_json_first(old); item; item = hw_json_next(item), i++) {
        if (!what->drop_seen || !what->drop_seen[i]) {
            hw_json_add_tree(list, NULL, hw_json_copy(item));
        }
    }
    for (size_t k = 0; k < what->seen_count; k++) {
        if (what->drop_new && what->drop_new[k]) {
            continue;
        }
        hw_json *made = hw_shelf_seen_json(&what->seen[k]);
        i = 0;
        for (const hw_json *item = hw_json_first(old); item; item = hw_json_next(item), i++) {
            if (hw_observation_is_same(&shelf->seen[i], &what->seen[k])) {
                keep_unknown(item, made);
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
    build_seen(hw_json_member(old, "seen"), shelf, what, hw_json_add_array(root, "seen"));
    keep_unknown(old, root);
    return root;
}

// ---- Changing the file -------------------------------------------------------------

// The folder that holds the file, where the path names one. (Where it is there but holds no shelf yet,
// a run may have been killed before it synced the folder's name: hw_file_make_folder does then.)
static hw_status make_folder_of(const char *path, hw_error *err)
{
    const char *slash = strrchr(path, '/');
    hw_text folder = {0};
    if (!slash || slash == path || hw_file_exists(path)) {
        return HW_OK;
    }
    hw_text_add_bytes(&folder, path, (size_t)(slash - path));
    hw_status status = folder.failed ? hw_fail_memory(err, "writing the shelf")
                                     : hw_file_make_folder(folder.bytes, true, err);
    hw_text_free(&folder);
    return status;
}

static hw_status lock_shelf(const char *path, hw_append **lock, hw_error *err)
{
    hw_text name = {0};
    hw_text_add(&name, "%s.lock", path);
    hw_status status = name.failed ? hw_fail_memory(err, "writing the shelf")
                                   : hw_append_open(name.bytes, wait_ms, lock, err);
    hw_text_free(&name);
    return status;
}

// Reads the text again as the next call will, then puts it in the file's place.
static hw_status write_checked(const char *path, const char *text, const hw_limits *bounds,
                               hw_error *err)
{
    hw_json *tree = NULL;
    hw_shelf again = {0};
    hw_error why = {0};
    hw_status status = hw_json_parse(text, strlen(text), bounds, path, &tree, &why);
    if (status == HW_OK) {
        status = read_tree(tree, path, &again, &why);
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
    hw_shelf_free(&again);
    hw_json_free(tree);
    return status;
}

// Decides the change on what the file holds under the lock, as *what; *nothing: leave the file alone.
typedef hw_status (*decide)(const hw_shelf *shelf, void *wish, change *what, bool *nothing,
                            hw_error *err);

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
    hw_status status = make_folder_of(path, err);
    if (status == HW_OK) {
        status = lock_shelf(path, &lock, err);
    }
    if (status == HW_OK) {
        status = read_file(path, &bounds, &tree, &shelf, err);
    }
    if (status == HW_OK) {
        status = decide_it(&shelf, wish, &what, &nothing, err);
    }
    if (status == HW_OK && !nothing) {
        made = build(tree, &shelf, &what);
        status =
            made ? hw_json_print(made, true, &text, err) : hw_fail_memory(err, "writing the shelf");
    }
    if (status == HW_OK && !nothing) {
        status = write_checked(path, text, &bounds, err);
    }
    hw_free(text);
    hw_json_free(made);
    hw_json_free(tree);
    hw_shelf_free(&shelf);
    hw_append_close(&lock);
    return status;
}

// ---- The three changes -------------------------------------------------------------

static hw_status decide_put(const hw_shelf *shelf, void *wish, change *what, bool *nothing,
                            hw_error *err)
{
    *nothing = false;
    what->put = wish;
    if (shelf->count >= DYES_MOST && !hw_shelf_find(shelf, what->put->name)) {
        return hw_fail(err, HW_ERR_CALL, "shelf-full", what->put->name,
                       "Remove a dye that is not in use, or use another shelf file.",
                       "the shelf holds %d dyes already", DYES_MOST);
    }
    return HW_OK;
}

hw_status hw_shelf_put_dye(const char *path, const hw_limits *limits, const hw_dye *dye,
                           hw_error *err)
{
    hw_dye own = *dye;
    return change_shelf(path, limits, decide_put, &own, err);
}

typedef struct removal {
    const char *name;
    bool *drop;
    hw_observation *forgotten; // in place of those dropped, so that no job brings them back
    size_t gone;
} removal;

static hw_status decide_remove(const hw_shelf *shelf, void *wish, change *what, bool *nothing,
                               hw_error *err)
{
    removal *wanted = wish;
    *nothing = false;
    wanted->drop = hw_alloc_array(shelf->seen_count, sizeof *wanted->drop);
    wanted->forgotten = hw_alloc_array(shelf->seen_count, sizeof *wanted->forgotten);
    if (!wanted->drop || !wanted->forgotten) {
        return hw_fail_memory(err, "changing the shelf");
    }
    for (size_t i = 0; i < shelf->seen_count; i++) {
        wanted->drop[i] =
            !shelf->seen[i].forgotten && hw_observation_names(&shelf->seen[i], wanted->name);
        if (wanted->drop[i]) {
            wanted->forgotten[wanted->gone] = shelf->seen[i];
            wanted->forgotten[wanted->gone++].forgotten = true;
        }
    }
    what->seen = wanted->forgotten;
    what->seen_count = wanted->gone;
    what->remove = wanted->name;
    what->drop_seen = wanted->drop;
    if (!hw_shelf_find(shelf, wanted->name) && wanted->gone == 0) {
        return hw_fail(err, HW_ERR_CALL, "dye-unknown", wanted->name,
                       "Use a dye of the shelf (huewright shelf show lists them).",
                       "there is no dye of this name on the shelf");
    }
    return HW_OK;
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
        *seen_gone = wanted.gone;
    }
    hw_free(wanted.drop);
    hw_free(wanted.forgotten);
    return status;
}

typedef struct keeping {
    const hw_observation *seen;
    size_t count;
    bool *drop; // old ones, then new ones
} keeping;

// The same in a file?
static hw_status says_the_same(const hw_observation *one, const hw_observation *other, bool *same,
                               hw_error *err)
{
    hw_json *json[2] = {hw_shelf_seen_json(one), hw_shelf_seen_json(other)};
    char *text[2] = {NULL, NULL};
    hw_status status = hw_json_print(json[0], false, &text[0], err);
    if (status == HW_OK) {
        status = hw_json_print(json[1], false, &text[1], err);
    }
    *same = status == HW_OK && strcmp(text[0], text[1]) == 0;
    for (int i = 0; i < 2; i++) {
        hw_free(text[i]);
        hw_json_free(json[i]);
    }
    return status;
}

// Drops the oldest of those that are left until they are few enough.
static void drop_oldest(const hw_shelf *shelf, const keeping *wish)
{
    size_t all = shelf->seen_count + wish->count, left = 0;
    for (size_t i = 0; i < all; i++) {
        left += !wish->drop[i];
    }
    for (; left > SEEN_MOST; left--) {
        size_t oldest = all;
        int64_t at = INT64_MAX;
        for (size_t i = 0; i < all; i++) {
            const hw_observation *one =
                i < shelf->seen_count ? &shelf->seen[i] : &wish->seen[i - shelf->seen_count];
            if (!wish->drop[i] && (oldest == all || one->at < at)) {
                oldest = i;
                at = one->at;
            }
        }
        wish->drop[oldest] = true;
    }
}

static hw_status decide_keep(const hw_shelf *shelf, void *wish, change *what, bool *nothing,
                             hw_error *err)
{
    keeping *wanted = wish;
    size_t old = shelf->seen_count;
    wanted->drop = hw_alloc_array(old + wanted->count, sizeof *wanted->drop);
    if (!wanted->drop) {
        return hw_fail_memory(err, "changing the shelf");
    }
    what->seen = wanted->seen;
    what->seen_count = wanted->count;
    what->drop_seen = wanted->drop;
    what->drop_new = wanted->drop + old;
    for (size_t k = 0; k < wanted->count; k++) { // of twins the last one counts
        wanted->drop[old + k] = find_new(what, &wanted->seen[k]) != k || wanted->seen[k].gone;
    }
    for (size_t i = 0; i < old; i++) {
        size_t k = find_new(what, &shelf->seen[i]);
        bool same = false;
        if (k == wanted->count) {
            continue;
        }
        if (wanted->seen[k].gone) {
            wanted->drop[i] = !shelf->seen[i].forgotten;
            continue;
        }
        hw_status status = says_the_same(&shelf->seen[i], &wanted->seen[k], &same, err);
        if (status != HW_OK) {
            return status;
        }
        same = same || shelf->seen[i].forgotten;
        wanted->drop[same ? old + k : i] = true;
    }
    drop_oldest(shelf, wanted);
    *nothing = true;
    for (size_t i = 0; i < old + wanted->count; i++) {
        *nothing = *nothing && wanted->drop[i] == (i >= old);
    }
    return HW_OK;
}

hw_status hw_shelf_keep_seen(const char *path, const hw_limits *limits, const hw_observation *seen,
                             size_t count, hw_error *err)
{
    keeping wanted = {.seen = seen, .count = count};
    if (count == 0) {
        return HW_OK;
    }
    hw_status status = change_shelf(path, limits, decide_keep, &wanted, err);
    hw_free(wanted.drop);
    return status;
}
