// job_look.c: what the last photo of a view is recognised by, kept so that it need not be looked at again for the
// next one: look-<16 digits of the SHA-256 of the view's name>, the photo's stored name in its first line, then the
// bytes as the stage mark packs them.
//
// It can always be made again from the photo. So where it cannot be read or written nothing is lost, and nobody is
// told; it is not packed.
#include "job_internal.h"

static const size_t bytes_most = (size_t)16
                                 << 20; // some thousand features and a small picture take 2 MiB

static hw_status path_of(const hw_job *job, const char *view, hw_text *out, hw_error *err)
{
    char sum[65], name[32];
    hw_sha256_hex(view, strlen(view), sum);
    hw_format_text(name, sizeof name, "look-%.16s", sum);
    return hw_job_path(hw_job_folder(job), name, out, err);
}

void hw_job_keep_look(const hw_job *job, const char *view, const char *stored, const void *bytes,
                      size_t count)
{
    hw_text path = {0}, whole = {0};
    hw_error unheard = {0};
    hw_text_add(&whole, "%s\n", stored);
    size_t start = whole.length;
    uint8_t *file = whole.failed ? NULL : hw_alloc_array(start + count, 1);
    if (file && path_of(job, view, &path, &unheard) == HW_OK) {
        memcpy(file, whole.bytes, start);
        memcpy(file + start, bytes, count);
        hw_status kept = hw_file_replace(path.bytes, file, start + count, &unheard);
        (void)kept;
    }
    hw_free(file);
    hw_text_free(&whole);
    hw_text_free(&path);
}

bool hw_job_look(const hw_job *job, const char *view, const char *stored, uint8_t **bytes,
                 size_t *count)
{
    hw_text path = {0};
    hw_error unheard = {0};
    uint8_t *file = NULL;
    size_t length = 0, start = strlen(stored);
    bool read = path_of(job, view, &path, &unheard) == HW_OK &&
                hw_file_read(path.bytes, bytes_most, &file, &length, &unheard) == HW_OK;
    bool same = read && length > start && memcmp(file, stored, start) == 0 && file[start] == '\n';
    if (same) {
        *count = length - start - 1;
        memmove(file, file + start + 1, *count);
        *bytes = file;
    } else {
        hw_free(file);
    }
    hw_text_free(&path);
    return same;
}
