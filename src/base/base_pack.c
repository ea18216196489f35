// base_pack.c: a job in one zip file, by libarchive. The only file that knows it; bytes come and go
// through callbacks, so that nothing here touches the disk.
//
// A zip file is what everybody can open in ten years. Written: names in UTF-8, photos stored (they
// are compressed already), texts deflated, ZIP64 where it must be, no owner. Read: by the list of
// entries at its end, which is what other programs show.
//
// What always holds, whatever the bytes are:
//  (1) The list of entries is read up to a bound, so that its index in memory is bounded too.
//  (2) Only stored and deflated entries are given out as readable: both need little memory.
//  (3) An entry's end is told only where its size and its CRC-32 are what its head says.
#include "base_internal.h"

#include <archive.h>
#include <archive_entry.h>
#include <errno.h>
#include <locale.h>

// ---- Names -------------------------------------------------------------------------
// libarchive converts names by the thread's locale; "C" has no letter beyond ASCII. While it works on
// a name this thread reads UTF-8; where the system has no such locale, names go as bytes.

typedef struct letters {
    locale_t utf8, before;
} letters;

static void letters_make(letters *use)
{
    use->utf8 = newlocale(LC_CTYPE_MASK, "C.UTF-8", (locale_t)0);
}

static void letters_begin(letters *use)
{
    use->before = use->utf8 ? uselocale(use->utf8) : (locale_t)0;
}

static void letters_end(letters *use)
{
    if (use->utf8) {
        uselocale(use->before);
    }
}

static void letters_free(letters *use)
{
    if (use->utf8) {
        freelocale(use->utf8);
    }
}

// ---- Writing -----------------------------------------------------------------------

struct hw_pack_writer {
    struct archive *zip;
    struct archive_entry *entry;
    letters use;
    hw_pack_put put;
    void *to;
    bool stopped; // nothing more is put
    hw_error why; // what the callback said
};

// Once bytes were refused, the rest is dropped and `why` tells: libarchive 3.6 loses memory where its
// callback fails.
static la_ssize_t put_bytes(struct archive *zip, void *data, const void *bytes, size_t count)
{
    (void)zip;
    hw_pack_writer *pack = data;
    if (!pack->stopped) {
        pack->stopped = pack->put(pack->to, bytes, count, &pack->why) != HW_OK;
    }
    return (la_ssize_t)count;
}

static bool went_well(const hw_pack_writer *pack, int said)
{
    return said == ARCHIVE_OK && !pack->stopped;
}

static hw_status refuse_packing(const hw_pack_writer *pack, hw_error *err)
{
    if (pack->why.status != HW_OK) {
        return hw_fail_as(err, &pack->why);
    }
    if (archive_errno(pack->zip) == ENOMEM) {
        return hw_fail_memory(err, "packing");
    }
    const char *words = archive_error_string(pack->zip);
    return hw_fail(err, HW_ERR_STORAGE, "pack-failed", "the pack",
                   "Try again; if it stays, copy the job's folder as it is.",
                   "it could not be made (%s)", words ? words : "no reason given");
}

void hw_pack_writer_free(hw_pack_writer **pack)
{
    if (pack && *pack) {
        if ((*pack)->zip) {
            (*pack)->stopped = true; // freeing closes, which would put what is left
            archive_write_free((*pack)->zip);
        }
        archive_entry_free((*pack)->entry);
        letters_free(&(*pack)->use);
        hw_free(*pack);
        *pack = NULL;
    }
}

hw_status hw_pack_start(hw_pack_put put, void *to, hw_pack_writer **out, hw_error *err)
{
    const int block = 1 << 16;
    hw_pack_writer *pack = hw_alloc_array(1, sizeof *pack);
    if (!pack) {
        return hw_fail_memory(err, "packing");
    }
    *pack = (hw_pack_writer){.put = put, .to = to};
    letters_make(&pack->use);
    pack->zip = archive_write_new();
    pack->entry = archive_entry_new();
    hw_status status = HW_OK;
    letters_begin(&pack->use);
    if (!pack->zip || !pack->entry) {
        status = hw_fail_memory(err, "packing");
    } else if (archive_write_set_format_zip(pack->zip) != ARCHIVE_OK ||
               (pack->use.utf8 && archive_write_set_format_option(pack->zip, "zip", "hdrcharset",
                                                                  "UTF-8") != ARCHIVE_OK) ||
               archive_write_set_bytes_per_block(pack->zip, block) != ARCHIVE_OK ||
               archive_write_set_bytes_in_last_block(pack->zip, 1) != ARCHIVE_OK ||
               archive_write_open(pack->zip, pack, NULL, put_bytes, NULL) != ARCHIVE_OK) {
        status = refuse_packing(pack, err);
    }
    letters_end(&pack->use);
    if (status != HW_OK) {
        hw_pack_writer_free(&pack);
        return status;
    }
    *out = pack;
    return HW_OK;
}

// What zip can hold: its own times begin in 1980, and its seconds since 1970 have 31 bits.
static time_t time_for_zip(int64_t at)
{
    const int64_t first = 315619200, last = INT32_MAX; // 1980-01-02, so in every time zone
    return (time_t)(at < first ? first : at > last ? last : at);
}

static hw_status write_head(hw_pack_writer *pack, const char *name, bool folder, uint64_t size,
                            int64_t at, hw_error *err)
{
    struct archive_entry *entry = archive_entry_clear(pack->entry);
    letters_begin(&pack->use);
    if (pack->use.utf8) {
        archive_entry_set_pathname_utf8(entry, name);
    } else {
        archive_entry_set_pathname(entry, name); // its bytes, as they are
    }
    archive_entry_set_filetype(entry, folder ? AE_IFDIR : AE_IFREG);
    archive_entry_set_perm(entry, folder ? 0755 : 0644);
    archive_entry_set_size(entry, (la_int64_t)size);
    archive_entry_set_mtime(entry, time_for_zip(at), 0);
    errno = 0; // as in hw_pack_next
    int said = archive_write_header(pack->zip, entry);
    letters_end(&pack->use);
    return went_well(pack, said) ? HW_OK : refuse_packing(pack, err);
}

hw_status hw_pack_add_folder(hw_pack_writer *pack, const char *name, int64_t at, hw_error *err)
{
    return write_head(pack, name, true, 0, at, err);
}

hw_status hw_pack_add_file(hw_pack_writer *pack, const char *name, const void *bytes, size_t count,
                           int64_t at, bool deflate, hw_error *err)
{
    int said = deflate ? archive_write_zip_set_compression_deflate(pack->zip)
                       : archive_write_zip_set_compression_store(pack->zip);
    if (said != ARCHIVE_OK) {
        return refuse_packing(pack, err);
    }
    hw_status status = write_head(pack, name, false, count, at, err);
    for (size_t done = 0; status == HW_OK && done < count;) {
        la_ssize_t put = archive_write_data(pack->zip, (const char *)bytes + done, count - done);
        if (put <= 0 || pack->stopped) {
            status = refuse_packing(pack, err);
        } else {
            done += (size_t)put;
        }
    }
    if (status == HW_OK && !went_well(pack, archive_write_finish_entry(pack->zip))) {
        status = refuse_packing(pack, err);
    }
    return status;
}

hw_status hw_pack_finish(hw_pack_writer *pack, hw_error *err)
{
    letters_begin(&pack->use);
    int said = archive_write_close(pack->zip);
    letters_end(&pack->use);
    return went_well(pack, said) ? HW_OK : refuse_packing(pack, err);
}

// ---- Reading -----------------------------------------------------------------------

#define PIECE ((size_t)1 << 16)

// Bytes that may be read to come to the next entry. A job's entry takes some 200 bytes in the list
// at the end, a head of an entry little more (chosen; some 70 MB of index at the very worst).
static const uint64_t list_most = (uint64_t)HW_PACK_ENTRIES_MOST * 320;
static const uint64_t head_most = (uint64_t)1 << 20;

struct hw_pack_reader {
    struct archive *zip;
    letters use;
    hw_pack_source source;
    const char *subject;
    uint64_t at;
    uint64_t may_read; // before the next entry must be there
    bool any;          // an entry was there
    bool too_large;
    hw_error why; // what the source said
    uint8_t piece[PIECE];
};

static la_ssize_t give_bytes(struct archive *zip, void *data, const void **bytes)
{
    hw_pack_reader *pack = data;
    size_t got = 0;
    if (pack->may_read < PIECE) {
        pack->too_large = true;
        archive_set_error(zip, EFBIG, "too much to read");
        return -1;
    }
    if (pack->source.read(pack->source.from, pack->at, pack->piece, PIECE, &got, &pack->why) !=
        HW_OK) {
        archive_set_error(zip, EIO, "the bytes could not be read");
        return -1;
    }
    pack->may_read -= PIECE;
    pack->at += got;
    *bytes = pack->piece;
    return (la_ssize_t)got;
}

static la_int64_t skip_bytes(struct archive *zip, void *data, la_int64_t count)
{
    (void)zip;
    hw_pack_reader *pack = data;
    uint64_t left = pack->at < pack->source.size ? pack->source.size - pack->at : 0;
    if (count < 0 || (uint64_t)count > left) {
        count = (la_int64_t)left;
    }
    pack->at += (uint64_t)count;
    return count;
}

static la_int64_t seek_bytes(struct archive *zip, void *data, la_int64_t offset, int whence)
{
    hw_pack_reader *pack = data;
    la_int64_t size = (la_int64_t)pack->source.size;
    la_int64_t start = whence == SEEK_SET ? 0 : whence == SEEK_END ? size : (la_int64_t)pack->at;
    if (offset < -start || offset > size - start) { // also where a sum would be too large
        archive_set_error(zip, EINVAL, "a place outside the file");
        return ARCHIVE_FATAL;
    }
    pack->at = (uint64_t)(start + offset);
    return start + offset;
}

static hw_status refuse_pack(const hw_pack_reader *pack, hw_error *err)
{
    if (pack->why.status != HW_OK) {
        return hw_fail_as(err, &pack->why);
    }
    if (archive_errno(pack->zip) == ENOMEM) {
        return hw_fail_memory(err, "reading the pack");
    }
    if (pack->too_large) {
        return hw_fail(err, HW_ERR_INPUT, "pack-large", pack->subject,
                       "Unpack it with another program if you trust it, and look at what is in it.",
                       "its list of entries is longer than that of any job");
    }
    if (!pack->any) {
        return hw_fail(
            err, HW_ERR_INPUT, "pack-unknown", pack->subject,
            "Copy or fetch it again, or name the file that huewright pack has made.",
            "this is no zip file with something in it: it is cut short, empty, or another "
            "kind of file");
    }
    return hw_fail(err, HW_ERR_INPUT, "pack-damaged", pack->subject,
                   "Copy or fetch it again from where it came.", "the pack is damaged");
}

void hw_pack_reader_free(hw_pack_reader **pack)
{
    if (pack && *pack) {
        archive_read_free((*pack)->zip);
        letters_free(&(*pack)->use);
        hw_free(*pack);
        *pack = NULL;
    }
}

hw_status hw_pack_open(const hw_pack_source *source, const char *subject, hw_pack_reader **out,
                       hw_error *err)
{
    hw_pack_reader *pack = hw_alloc_array(1, sizeof *pack);
    if (!pack) {
        return hw_fail_memory(err, "reading the pack");
    }
    pack->source = *source;
    pack->subject = subject;
    pack->may_read = list_most;
    letters_make(&pack->use);
    pack->zip = archive_read_new();
    hw_status status = HW_OK;
    if (!pack->zip) {
        status = hw_fail_memory(err, "reading the pack");
    } else if (archive_read_support_format_zip_seekable(pack->zip) != ARCHIVE_OK ||
               archive_read_set_seek_callback(pack->zip, seek_bytes) != ARCHIVE_OK ||
               archive_read_open2(pack->zip, pack, NULL, give_bytes, skip_bytes, NULL) !=
                   ARCHIVE_OK) {
        status = refuse_pack(pack, err);
    }
    if (status != HW_OK) {
        hw_pack_reader_free(&pack);
        return status;
    }
    *out = pack;
    return HW_OK;
}

static hw_pack_kind kind_of(struct archive_entry *entry)
{
    if (archive_entry_hardlink(entry) || archive_entry_symlink(entry)) {
        return HW_PACK_LINK;
    }
    switch (archive_entry_filetype(entry)) {
    case AE_IFREG:
        return HW_PACK_FILE;
    case AE_IFDIR:
        return HW_PACK_FOLDER;
    case AE_IFLNK:
        return HW_PACK_LINK;
    default:
        return HW_PACK_OTHER;
    }
}

// Stored or deflated, as libarchive names them.
static bool is_readable(struct archive *zip)
{
    const char *way = archive_format_name(zip);
    return way && (strstr(way, "(uncompressed)") || strstr(way, "(deflation)"));
}

hw_status hw_pack_next(hw_pack_reader *pack, hw_pack_entry *entry, bool *there, hw_error *err)
{
    struct archive_entry *head = NULL;
    pack->may_read = pack->any ? head_most : list_most;
    letters_begin(&pack->use);
    errno =
        0; // where a name cannot be read it ends the program if ENOMEM still stands here from before
    int said = archive_read_next_header(pack->zip, &head);
    const char *name =
        said == ARCHIVE_OK || said == ARCHIVE_WARN ? archive_entry_pathname(head) : NULL;
    letters_end(&pack->use);
    if (said == ARCHIVE_EOF) {
        *there = false;
        return HW_OK;
    }
    if (said != ARCHIVE_OK && said != ARCHIVE_WARN) {
        return refuse_pack(pack, err);
    }
    pack->any = true;
    *there = true;
    *entry = (hw_pack_entry){
        .name = name ? name : "",
        .kind = kind_of(head),
        .encrypted =
            archive_entry_is_data_encrypted(head) || archive_entry_is_metadata_encrypted(head),
        .readable = is_readable(pack->zip),
        .size = archive_entry_size_is_set(head) && archive_entry_size(head) >= 0
                    ? (uint64_t)archive_entry_size(head)
                    : (uint64_t)-1,
    };
    return HW_OK;
}

hw_status hw_pack_read(hw_pack_reader *pack, void *bytes, size_t room, size_t *got, hw_error *err)
{
    pack->may_read = UINT64_MAX; // the caller bounds what comes out
    la_ssize_t count = archive_read_data(pack->zip, bytes, room);
    if (count >= 0) {
        *got = (size_t)count;
        return HW_OK;
    }
    if (pack->why.status != HW_OK || archive_errno(pack->zip) == ENOMEM) {
        return refuse_pack(pack, err);
    }
    return hw_fail(err, HW_ERR_INPUT, "pack-entry-damaged", pack->subject,
                   "Copy or fetch the pack again from where it came.",
                   "what is in it does not fit its checksum");
}
