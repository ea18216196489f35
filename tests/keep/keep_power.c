// keep_power.c: the order of write, sync, rename and folder sync before anything is said to be saved, and
// what that order is for: the power cut after any call.
#include "keep_model.h"

// ---- The order ---------------------------------------------------------------------

enum { NOT_THERE = -1 };

static bool is_folder_of(const char *folder, const char *path)
{
    const char *end = strrchr(path, '/');
    return strlen(folder) == (size_t)(end - path) && memcmp(folder, path, strlen(folder)) == 0;
}

// Where, before `end`, the last such call was. (A folder's sync is asked for by what lies in it.)
static long last_of(const tape *run, long end, hw_disk_kind kind, const char *path)
{
    for (long i = end - 1; i >= 0; i--) {
        const tape_entry *call = &run->entry[i];
        bool names = call->kind == HW_DISK_RENAME || call->kind == HW_DISK_LINK;
        if (!call->is_told && call->kind == kind &&
            (kind == HW_DISK_SYNC_FOLDER ? is_folder_of(call->path, path)
                                         : strcmp(names ? call->to : call->path, path) == 0)) {
            return i;
        }
    }
    return NOT_THERE;
}

// Appended: written since `start`, then synced, then its folder.
static void appended(const tape *run, long start, long end, const char *path)
{
    long written = last_of(run, end, HW_DISK_WRITE, path);
    long synced = last_of(run, end, HW_DISK_SYNC, path);
    long folder = last_of(run, end, HW_DISK_SYNC_FOLDER, path);
    expect(written > start && synced > written && folder > synced,
           "%s: written at call %ld, synced at %ld, its folder at %ld, told at %ld", path, written,
           synced, folder, end);
}

// A whole file: written beside, synced, renamed or linked, then its folder. Or it was there and was
// synced now, with its folder.
static void put_whole(const tape *run, long start, long end, const char *path)
{
    long renamed = last_of(run, end, HW_DISK_RENAME, path);
    long linked = last_of(run, end, HW_DISK_LINK, path);
    long named = renamed > linked ? renamed : linked;
    long folder = last_of(run, end, HW_DISK_SYNC_FOLDER, path);
    if (!expect(named >= 0, "%s: said saved and never put there", path)) {
        return;
    }
    const char *beside = run->entry[named].path;
    long written = last_of(run, end, HW_DISK_WRITE, beside);
    long synced = last_of(run, end, HW_DISK_SYNC, beside);
    expect(written >= 0 && written < synced && synced < named && named < folder,
           "%s: written beside at call %ld, synced at %ld, named at %ld, its folder at %ld", path,
           written, synced, named, folder);
    expect(named > start || (last_of(run, end, HW_DISK_SYNC, path) > start && folder > start),
           "%s: found and said saved unsynced", path);
}

// Whatever is written to, and whatever gets a name: synced when something is told. (A lock file may go.)
static void nothing_open(const tape *run, long end)
{
    for (long i = 0; i < end; i++) {
        const tape_entry *call = &run->entry[i];
        if (call->is_told || strstr(call->path, ".lock")) {
            continue;
        }
        if (call->kind == HW_DISK_WRITE || call->kind == HW_DISK_CUT ||
            call->kind == HW_DISK_MODE) {
            expect(last_of(run, end, HW_DISK_SYNC, call->path) > i, "%s: call %ld is not synced",
                   call->path, i);
        }
        bool names = call->kind == HW_DISK_CREATE || call->kind == HW_DISK_RENAME ||
                     call->kind == HW_DISK_LINK || call->kind == HW_DISK_MAKE_FOLDER;
        if (names) {
            expect(last_of(run, end, HW_DISK_SYNC_FOLDER, call->path) > i,
                   "%s: call %ld is in no synced folder", call->path, i);
        }
    }
}

static void look_at(const tape *run, const place *where, long start, long end)
{
    const told *what = &run->entry[end].told;
    char log[400], whole[600];
    hw_format_text(log, sizeof log, "%slog.jsonl", where->job);
    switch (what->what) {
    case TOLD_JOB:
        hw_format_text(whole, sizeof whole, "%sjob.json", where->job);
        put_whole(run, start, end, whole);
        appended(run, start, end, log);
        break;
    case TOLD_EVENT:
        appended(run, start, end, log);
        break;
    case TOLD_PHOTO:
        hw_format_text(whole, sizeof whole, "%s%s", where->job, what->name);
        put_whole(run, start, end, whole);
        break;
    case TOLD_DYE:
    case TOLD_SEEN:
        put_whole(run, start, end, where->shelf);
        break;
    }
    nothing_open(run, end);
    keep_counts.orders++;
}

void test_order(void)
{
    place where = new_place();
    tape run = {0};
    record(&run, &where, 0, HW_FAULT_NONE, 0);
    record(&run, &where, 1, HW_FAULT_NONE, 0); // what is there is found
    long start = -1, told_count = 0;
    for (long i = 0; i < (long)run.count; i++) {
        if (run.entry[i].is_told) {
            look_at(&run, &where, start, i);
            start = i;
            told_count++;
        }
    }
    expect(told_count > 30, "too little was told: %ld", told_count);
    tape_free(&run);
    remove_tree(where.root);
}

// ---- The power cut -----------------------------------------------------------------

// Opens one state that a power cut may leave.
static void open_state(const disk_model *disk, uint32_t state, const told_list *list, long call)
{
    char root[300], during[100];
    hw_format_text(root, sizeof root, "%s/after the cut", keep_folder);
    hw_format_text(during, sizeof during, "power cut after call %ld, state %u", call, state);
    make_empty(root);
    disk_write_out(disk, root, state);
    place where = place_at(root);
    told_list own = {0};
    for (size_t i = 0; i < list->count; i++) {
        told_add(&own, &list->item[i]);
    }
    if (all_there(&where, &own, during)) {
        go_on(&where, &own, during);
    }
    told_free(&own);
    keep_counts.power_cuts++;
}

// Replays a run and cuts the power after its calls from `first` on, every `step` calls and whenever
// something was told: the state with only what is safe, the one with all, and `more` by chance.
static void cut_power(const tape *run, const place *where, size_t first, size_t step, uint32_t more)
{
    disk_model *model = disk_new(where->root);
    told_list list = {0};
    for (size_t i = 0; i < run->count; i++) {
        const tape_entry *entry = &run->entry[i];
        if (entry->is_told) {
            told_add(&list, &entry->told);
        } else {
            disk_take(model, entry);
        }
        if (i < first || (!entry->is_told && (i - first) % step != 0)) {
            continue;
        }
        for (uint32_t state = 0; state < 2 + more; state++) {
            // Far from each other, for the generator's sake.
            uint32_t seed = state < 2 ? state : state * 2654435761u + (uint32_t)i;
            open_state(model, seed, &list, (long)i);
        }
    }
    disk_free(model);
    told_free(&list);
}

// A run that is killed at call `at`, then another one, and the power cut during that: what the second
// finds may never have been synced by the first.
static void cut_after_kill(long at, size_t step, uint32_t more)
{
    place where = new_place();
    tape run = {0};
    record(&run, &where, 0, HW_FAULT_FAIL_ON, at);
    size_t first = run.count;
    record(&run, &where, 0, HW_FAULT_NONE, 0);
    cut_power(&run, &where, first, step, more);
    tape_free(&run);
    remove_tree(where.root);
}

// The short form: killed before what has just got a name is synced.
static void kill_and_cut(void)
{
    place where = new_place();
    tape run = {0};
    record(&run, &where, 0, HW_FAULT_NONE, 0);
    for (size_t i = 0, turn = 0; i < run.count; i++) {
        const tape_entry *call = &run.entry[i];
        bool names =
            !call->is_told && (call->kind == HW_DISK_MAKE_FOLDER || call->kind == HW_DISK_LINK ||
                               (call->kind == HW_DISK_RENAME && turn++ < 2));
        if (!call->is_told && (!keep_short || names)) {
            cut_after_kill(call->number + 1, keep_short ? 1000 : 4, keep_short ? 0 : 1);
        }
    }
    tape_free(&run);
    remove_tree(where.root);
}

void test_power_cuts(void)
{
    place where = new_place();
    tape run = {0};
    record(&run, &where, 0, HW_FAULT_NONE, 0);
    record(&run, &where, 1, HW_FAULT_NONE, 0);
    cut_power(&run, &where, 0, (size_t)every(5), keep_short ? 1 : 60);
    tape_free(&run);
    remove_tree(where.root);
    kill_and_cut();
}
