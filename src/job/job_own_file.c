// job_own_file.c: what the finisher's own files (the shelf, the learned cameras) share: where they lie, one writer at
// a time, and members of a newer version that survive a change.
#include "job_internal.h"

static const unsigned wait_ms = 10000; // for another program that writes

bool hw_own_path(const char *name, char *out, size_t size)
{
    const char *data = getenv("XDG_DATA_HOME"), *home = getenv("HOME");
    if (data && data[0] == '/') { // the base directory specification asks for absolute paths
        return hw_format_text(out, size, "%s/huewright/%s", data, name);
    }
    return home && home[0] && hw_format_text(out, size, "%s/.local/share/huewright/%s", home, name);
}

// Where the file is there but holds nothing yet, a run may have been killed before it synced the folder's name:
// hw_file_make_folder does then.
hw_status hw_own_make_folder(const char *path, hw_error *err)
{
    const char *slash = strrchr(path, '/');
    hw_text folder = {0};
    if (!slash || slash == path || hw_file_exists(path)) {
        return HW_OK;
    }
    hw_text_add_bytes(&folder, path, (size_t)(slash - path));
    hw_status status = folder.failed ? hw_fail_memory(err, "writing a file of your own")
                                     : hw_file_make_folder(folder.bytes, true, err);
    hw_text_free(&folder);
    return status;
}

hw_status hw_own_lock(const char *path, hw_append **lock, hw_error *err)
{
    hw_text name = {0};
    hw_text_add(&name, "%s.lock", path);
    hw_status status = name.failed ? hw_fail_memory(err, "writing a file of your own")
                                   : hw_append_open(name.bytes, wait_ms, lock, err);
    hw_text_free(&name);
    return status;
}

hw_status hw_own_read(const char *path, const hw_limits *bounds, hw_json **tree, hw_error *err)
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
    hw_free(bytes);
    return status;
}

// ---- Members of a newer version ----------------------------------------------------

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

static bool is_ours(const char *name, const char *const *ours)
{
    for (; *ours; ours++) {
        if (names_meet(name, *ours)) {
            return true;
        }
    }
    return false;
}

void hw_own_keep_unknown(const hw_json *old, hw_json *made, const char *const *ours)
{
    for (const hw_json *item = hw_json_first(old); item; item = hw_json_next(item)) {
        const char *name = hw_json_name(item);
        if (name && !is_ours(name, ours) && !has_member(made, name)) {
            hw_json_add_tree(made, name, hw_json_copy(item));
        }
    }
}
