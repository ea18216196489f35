// keep_model.c: a disk that keeps only what was synced (keep_model.h). Files and folders are nodes;
// names lead to them from their folders, so that a link is a second name.
#include "keep_model.h"

#include <errno.h>
#include <sys/stat.h>

enum { NODES_MOST = 400, NAMES_MOST = 100, CHANGES_MOST = 100, NAME_MOST = 160 };

typedef struct name {
    char text[NAME_MOST];
    int node;
} name;

typedef struct names {
    name item[NAMES_MOST];
    size_t count;
} names;

// A change of a folder since its last sync: `add` (or none) now leads to node, `drop` (or none) is gone.
typedef struct name_change {
    char add[NAME_MOST], drop[NAME_MOST];
    int node;
} name_change;

// A change of a file since its last sync: bytes written at `offset`, or (none) a cut to `offset`.
typedef struct byte_change {
    size_t offset, count;
    const uint8_t *bytes; // of the tape
} byte_change;

typedef struct content {
    uint8_t *bytes;
    size_t count;
} content;

typedef struct node {
    bool is_folder;
    // A folder:
    names safe, now;
    name_change renamed[CHANGES_MOST];
    size_t renamed_count;
    // A file:
    content safe_bytes;
    size_t now_count;
    byte_change written[CHANGES_MOST];
    size_t written_count;
} node;

struct disk_model {
    char root[300];
    node *node[NODES_MOST];
    int count;
};

static void *made(size_t size)
{
    void *block = calloc(1, size ? size : 1);
    if (!block) {
        abort();
    }
    return block;
}

// A test that is too large for its tables is a fault of the test.
static void must(bool good)
{
    if (!good) {
        fprintf(stderr, "keep: the model is too small or was told nonsense\n");
        abort();
    }
}

// ---- Names -------------------------------------------------------------------------

static int find(const names *list, const char *text)
{
    for (size_t i = 0; i < list->count; i++) {
        if (strcmp(list->item[i].text, text) == 0) {
            return list->item[i].node;
        }
    }
    return -1;
}

static void drop(names *list, const char *text)
{
    for (size_t i = 0; i < list->count; i++) {
        if (strcmp(list->item[i].text, text) == 0) {
            list->item[i] = list->item[--list->count];
            return;
        }
    }
}

static void put(names *list, const char *text, int at)
{
    drop(list, text);
    must(list->count < NAMES_MOST && strlen(text) < NAME_MOST);
    hw_copy_text(list->item[list->count].text, NAME_MOST, text);
    list->item[list->count++].node = at;
}

static void apply_names(names *list, const name_change *change)
{
    if (change->drop[0]) {
        drop(list, change->drop);
    }
    if (change->add[0]) {
        put(list, change->add, change->node);
    }
}

// The folder that holds the path, and the last part of the path; -1 for one outside of the root.
static int folder_of(const disk_model *disk, const char *path, char last[NAME_MOST])
{
    size_t root = strlen(disk->root);
    int at = 0;
    if (strncmp(path, disk->root, root) != 0 || path[root] != '/') {
        return -1;
    }
    path += root;
    for (;;) {
        path += strspn(path, "/");
        size_t length = strcspn(path, "/");
        must(length > 0 && length < NAME_MOST);
        memcpy(last, path, length);
        last[length] = 0;
        path += length;
        if (path[strspn(path, "/")] == 0) {
            return at;
        }
        at = find(&disk->node[at]->now, last);
        must(at >= 0);
    }
}

static int file_at(const disk_model *disk, const char *path)
{
    char last[NAME_MOST];
    int folder = folder_of(disk, path, last);
    int file = folder < 0 ? -1 : find(&disk->node[folder]->now, last);
    must(file >= 0);
    return file;
}

static void change_names(disk_model *disk, int folder, const char *add, int at, const char *gone)
{
    node *in = disk->node[folder];
    must(in->renamed_count < CHANGES_MOST);
    name_change *change = &in->renamed[in->renamed_count++];
    *change = (name_change){.node = at};
    hw_copy_text(change->add, NAME_MOST, add);
    hw_copy_text(change->drop, NAME_MOST, gone);
    apply_names(&in->now, change);
}

static int new_node(disk_model *disk, bool is_folder)
{
    must(disk->count < NODES_MOST);
    disk->node[disk->count] = made(sizeof(node));
    disk->node[disk->count]->is_folder = is_folder;
    return disk->count++;
}

// ---- Bytes -------------------------------------------------------------------------

// Takes the first `count` bytes of the change; a gap before them reads as zeros.
static void apply_bytes(content *to, const byte_change *change, size_t count)
{
    size_t end = change->offset + count;
    if (!change->bytes && to->count > change->offset) {
        to->count = change->offset;
    }
    if (!change->bytes || count == 0) {
        return;
    }
    if (end > to->count) {
        uint8_t *grown = made(end);
        if (to->count) {
            memcpy(grown, to->bytes, to->count);
        }
        free(to->bytes);
        to->bytes = grown;
        to->count = end;
    }
    memcpy(to->bytes + change->offset, change->bytes, count);
}

static void change_bytes(node *file, byte_change change)
{
    must(file->written_count < CHANGES_MOST);
    file->written[file->written_count++] = change;
    file->now_count = change.offset + (change.bytes ? change.count : 0);
}

static void sync_file(node *file)
{
    for (size_t i = 0; i < file->written_count; i++) {
        apply_bytes(&file->safe_bytes, &file->written[i], file->written[i].count);
    }
    file->written_count = 0;
}

// ---- Calls -------------------------------------------------------------------------

disk_model *disk_new(const char *root)
{
    disk_model *disk = made(sizeof *disk);
    hw_copy_text(disk->root, sizeof disk->root, root);
    new_node(disk, true);
    return disk;
}

void disk_free(disk_model *disk)
{
    for (int i = 0; i < disk->count; i++) {
        free(disk->node[i]->safe_bytes.bytes);
        free(disk->node[i]);
    }
    free(disk);
}

static void take_name(disk_model *disk, const tape_entry *call)
{
    char last[NAME_MOST], to[NAME_MOST];
    int folder = folder_of(disk, call->path, last);
    must(folder >= 0);
    int at = find(&disk->node[folder]->now, last);
    if (call->to) {
        must(folder_of(disk, call->to, to) == folder && at >= 0);
        change_names(disk, folder, to, at, call->kind == HW_DISK_RENAME ? last : "");
    } else if (call->kind == HW_DISK_REMOVE) {
        change_names(disk, folder, "", -1, last);
    } else if (at < 0) {
        change_names(disk, folder, last, new_node(disk, call->kind == HW_DISK_MAKE_FOLDER), "");
    }
}

// Above the root nothing changes.
static void sync_folder(disk_model *disk, const char *path)
{
    char last[NAME_MOST];
    int above = folder_of(disk, path, last);
    int folder = above < 0 ? 0 : find(&disk->node[above]->now, last);
    must(folder >= 0);
    if (above >= 0 || strcmp(path, disk->root) == 0) {
        disk->node[folder]->safe = disk->node[folder]->now;
        disk->node[folder]->renamed_count = 0;
    }
}

void disk_take(disk_model *disk, const tape_entry *call)
{
    switch (call->kind) {
    case HW_DISK_CREATE:
    case HW_DISK_RENAME:
    case HW_DISK_LINK:
    case HW_DISK_REMOVE:
    case HW_DISK_MAKE_FOLDER:
        take_name(disk, call);
        break;
    case HW_DISK_WRITE: { // all writes of base_file.c go to the end of a file
        node *file = disk->node[file_at(disk, call->path)];
        change_bytes(file, (byte_change){file->now_count, call->count, call->bytes});
        break;
    }
    case HW_DISK_CUT:
        change_bytes(disk->node[file_at(disk, call->path)], (byte_change){call->count, 0, NULL});
        break;
    case HW_DISK_SYNC:
        sync_file(disk->node[file_at(disk, call->path)]);
        break;
    case HW_DISK_SYNC_FOLDER:
        sync_folder(disk, call->path);
        break;
    case HW_DISK_MODE:
    case HW_DISK_CLOSE:
        break;
    }
}

// ---- After the power cut -----------------------------------------------------------

static bool reached(uint32_t *state)
{
    return *state == 1 || (*state != 0 && chance(state) % 2 == 0);
}

static void write_file(const node *file, const char *to, uint32_t *state)
{
    content bytes = {made(file->safe_bytes.count), file->safe_bytes.count};
    if (bytes.count) {
        memcpy(bytes.bytes, file->safe_bytes.bytes, bytes.count);
    }
    for (size_t i = 0; i < file->written_count; i++) {
        const byte_change *change = &file->written[i];
        if (reached(state)) {
            bool torn = *state != 1 && change->count > 0 && chance(state) % 2 == 0;
            apply_bytes(&bytes, change, torn ? chance(state) % change->count : change->count);
        }
    }
    FILE *out = fopen(to, "wb");
    must(out && fwrite(bytes.bytes, 1, bytes.count, out) == bytes.count && fclose(out) == 0);
    free(bytes.bytes);
}

static void write_folder(const disk_model *disk, int folder, const char *to, uint32_t *state)
{
    const node *in = disk->node[folder];
    names list = in->safe;
    for (size_t i = 0; i < in->renamed_count; i++) {
        if (reached(state)) {
            apply_names(&list, &in->renamed[i]);
        }
    }
    must(mkdir(to, 0755) == 0 || errno == EEXIST);
    for (size_t i = 0; i < list.count; i++) {
        char inside[600];
        hw_format_text(inside, sizeof inside, "%s/%s", to, list.item[i].text);
        if (disk->node[list.item[i].node]->is_folder) {
            write_folder(disk, list.item[i].node, inside, state);
        } else {
            write_file(disk->node[list.item[i].node], inside, state);
        }
    }
}

void disk_write_out(const disk_model *disk, const char *to, uint32_t state)
{
    write_folder(disk, 0, to, &state);
}

// ---- Recording ---------------------------------------------------------------------

static tape_entry *new_entry(tape *run)
{
    if (run->count == run->room) {
        run->room = run->room ? 2 * run->room : 256;
        run->entry = realloc(run->entry, run->room * sizeof *run->entry);
        must(run->entry != NULL);
    }
    run->entry[run->count] = (tape_entry){0};
    return &run->entry[run->count++];
}

// One way to write a path: no slash twice, none at the end.
static char *plain_path(const char *path)
{
    char *plain = path ? made(strlen(path) + 1) : NULL;
    size_t length = 0;
    for (; path && *path; path++) {
        if (*path != '/' || (path[1] != '/' && path[1] != 0)) {
            plain[length++] = *path;
        }
    }
    return plain;
}

static void hear_call(void *context, const hw_disk_call *call)
{
    if (call->error) {
        return;
    }
    tape_entry *entry = new_entry(context);
    entry->kind = call->kind;
    entry->number = call->number;
    entry->path = plain_path(call->path);
    entry->to = plain_path(call->to);
    entry->count = call->count;
    if (call->bytes) {
        entry->bytes = made(call->count);
        memcpy(entry->bytes, call->bytes, call->count);
    }
}

static void hear_told(void *context, const told *what)
{
    tape_entry *entry = new_entry(context);
    entry->is_told = true;
    entry->told = *what;
}

void record(tape *out, const place *where, int day, hw_disk_fault fault, long at)
{
    hw_disk_plan plan = {
        .fault = fault, .at = at, .error = EIO, .watch = hear_call, .context = out};
    listener to = {.told = hear_told, .context = out};
    hw_test_disk(&plan);
    play(where, day, &to);
    hw_test_disk(NULL);
}

void tape_free(tape *run)
{
    for (size_t i = 0; i < run->count; i++) {
        free(run->entry[i].path);
        free(run->entry[i].to);
        free(run->entry[i].bytes);
    }
    free(run->entry);
    *run = (tape){0};
}
