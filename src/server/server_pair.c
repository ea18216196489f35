// server_pair.c: which devices may ask, where others in the network can reach this server.
//
// A code of eight letters and digits stands in the terminal, also as a QR code. Who sends it gets a cookie of 256 random
// bits (RFC 6265), and the code is spent: a fresh one is shown for the next device. A code older than ten minutes is replaced
// when it is used. After twenty wrong ones nobody else can pair until the program starts again: twenty guesses among 2^40
// find a code with a chance of 2e-11. Paired devices go on.
//
// Of a cookie only its SHA-256 is kept (devices.json, in the folder of the user's own files), so that a restart asks nobody
// to pair again, and who reads that file cannot become one of the devices. Comparisons take as long for near misses as for
// far ones.
#include "huewright/report.h"
#include "server_internal.h"

#include <fcntl.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <unistd.h>

#define CODE_LENGTH    8
#define CODE_SECONDS   600
#define WRONG_MOST     20
#define DEVICES_MOST   32 // the oldest goes
#define COOKIE_NAME    "huewright-device"
#define COOKIE_LENGTH  64           // hexadecimal digits
#define COOKIE_SECONDS (90 * 86400) // 90 days

typedef struct device {
    char name[HW_NAME_SIZE];
    char sum[65]; // SHA-256 of its cookie
    int64_t at;
} device;

struct server_pairing {
    pthread_mutex_t lock;
    char code[CODE_LENGTH + 1];
    int64_t code_at;
    unsigned wrong; // codes since the last right one
    device devices[DEVICES_MOST];
    size_t count;
    char path[1024]; // of devices.json; empty: nowhere
};

static bool is_same(const char *one, const char *other, size_t length)
{
    unsigned differ = 0;
    for (size_t i = 0; i < length; i++) {
        differ |= (unsigned char)one[i] ^ (unsigned char)other[i];
    }
    return differ == 0;
}

// ---- Chance ------------------------------------------------------------------------

static hw_status fill_by_chance(unsigned char *bytes, size_t count, hw_error *err)
{
    for (size_t got = 0; got < count;) {
        ssize_t more = getrandom(bytes + got, count - got, 0);
        if (more <= 0) {
            return hw_fail(err, HW_ERR_STORAGE, "no-chance", "", "Start the computer again.",
                           "the system gives no random numbers, so no device can be paired");
        }
        got += (size_t)more;
    }
    return HW_OK;
}

// Five bits a character, of 32 that are not taken for each other.
static hw_status make_code(struct server_pairing *pairing, int64_t now, hw_error *err)
{
    static const char letters[] = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ";
    unsigned char bytes[CODE_LENGTH];
    hw_status status = fill_by_chance(bytes, sizeof bytes, err);
    for (size_t i = 0; status == HW_OK && i < CODE_LENGTH; i++) {
        pairing->code[i] = letters[bytes[i] % 32];
    }
    pairing->code_at = now;
    return status;
}

static hw_status make_cookie(char out[COOKIE_LENGTH + 1], hw_error *err)
{
    unsigned char bytes[COOKIE_LENGTH / 2];
    hw_status status = fill_by_chance(bytes, sizeof bytes, err);
    for (size_t i = 0; status == HW_OK && i < sizeof bytes; i++) {
        hw_format_text(out + 2 * i, 3, "%02x", bytes[i]);
    }
    return status;
}

// ---- The file of devices -----------------------------------------------------------

static bool find_path(char *out, size_t size)
{
    const char *data = getenv("XDG_DATA_HOME"), *home = getenv("HOME");
    if (data && data[0] == '/') { // the base directory specification asks for absolute paths
        return hw_format_text(out, size, "%s/huewright/devices.json", data);
    }
    return home && home[0] &&
           hw_format_text(out, size, "%s/.local/share/huewright/devices.json", home);
}

static void take_device(struct server_pairing *pairing, const hw_json *item)
{
    const char *name = hw_json_member_text(item, "name");
    const char *sum = hw_json_member_text(item, "sha256");
    const char *at = hw_json_member_text(item, "at");
    device *next = &pairing->devices[pairing->count];
    if (pairing->count < DEVICES_MOST && name && sum && strlen(sum) == 64 && at &&
        hw_parse_time(at, &next->at)) {
        hw_copy_text(next->name, sizeof next->name, name);
        hw_copy_text(next->sum, sizeof next->sum, sum);
        pairing->count++;
    }
}

static hw_status read_devices(hw_server *server, struct server_pairing *pairing, hw_error *err)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_json *tree = NULL;
    if (!pairing->path[0] || !hw_file_exists(pairing->path)) {
        return HW_OK;
    }
    hw_status status = hw_file_read(pairing->path, server->limits.json_bytes, &bytes, &count, err);
    if (status == HW_OK && count > 0) { // nothing: a run was killed while it made the file
        status =
            hw_json_parse((const char *)bytes, count, &server->limits, pairing->path, &tree, err);
    }
    const hw_json *list = hw_json_member(tree, "devices");
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        take_device(pairing, item);
    }
    hw_json_free(tree);
    hw_free(bytes);
    return status;
}

// Nobody else reads it. A new file starts with these rights; an old one that is replaced keeps its own.
static bool make_private(const char *path)
{
    int file = open(path, O_WRONLY | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600);
    bool good = file >= 0 && fchmod(file, 0600) == 0;
    if (file >= 0) {
        close(file);
    }
    return good;
}

static hw_status write_devices(const struct server_pairing *pairing, hw_error *err)
{
    char folder[sizeof pairing->path], when[40], *text = NULL;
    if (!pairing->path[0]) {
        return HW_OK; // no home: devices are forgotten at the end
    }
    hw_json *root = hw_json_new_object(), *list;
    hw_json_add_number(root, "format", 1);
    list = hw_json_add_array(root, "devices");
    for (size_t i = 0; i < pairing->count; i++) {
        hw_json *item = hw_json_add_object(list, NULL);
        hw_format_time(when, pairing->devices[i].at);
        hw_json_add_text(item, "name", pairing->devices[i].name);
        hw_json_add_text(item, "sha256", pairing->devices[i].sum);
        hw_json_add_text(item, "at", when);
    }
    hw_status status =
        root ? hw_json_print(root, true, &text, err) : hw_fail_memory(err, "keeping the device");
    hw_json_free(root);
    hw_copy_text(folder, sizeof folder, pairing->path);
    *strrchr(folder, '/') = 0;
    if (status == HW_OK) {
        status = hw_file_make_folder(folder, true, err);
    }
    if (status == HW_OK && !make_private(pairing->path)) {
        status = hw_fail(err, HW_ERR_STORAGE, "devices-unsaved", pairing->path,
                         "Make the file writable, or remove it.", "the device cannot be kept");
    }
    if (status == HW_OK) {
        status = hw_file_replace(pairing->path, text, strlen(text), err);
    }
    hw_free(text);
    return status;
}

// ---- Start and end -----------------------------------------------------------------

hw_status server_pairing_start(hw_server *server, hw_error *err)
{
    struct server_pairing *made = hw_alloc_array(1, sizeof *made);
    if (!made) {
        return hw_fail_memory(err, "starting the server");
    }
    if (pthread_mutex_init(&made->lock, NULL) != 0) {
        hw_free(made);
        return hw_fail_memory(err, "starting the server");
    }
    server->pairing = made;
    if (!find_path(made->path, sizeof made->path)) {
        made->path[0] = 0;
    }
    return server->options.lan ? read_devices(server, made, err) : HW_OK;
}

void server_pairing_stop(hw_server *server)
{
    if (server->pairing) {
        pthread_mutex_destroy(&server->pairing->lock);
        hw_free(server->pairing);
        server->pairing = NULL;
    }
}

hw_status server_pair_fresh(hw_server *server, int64_t now, char *code, size_t size, hw_error *err)
{
    pthread_mutex_lock(&server->pairing->lock);
    hw_status status = make_code(server->pairing, now, err);
    hw_copy_text(code, size, server->pairing->code);
    pthread_mutex_unlock(&server->pairing->lock);
    return status;
}

// ---- Cookies -----------------------------------------------------------------------

// A browser forgets a cookie after its time; who copied it would not.
static bool knows_cookie(const struct server_pairing *pairing, const char *cookie, int64_t now)
{
    char sum[65];
    bool known = false;
    hw_sha256_hex(cookie, COOKIE_LENGTH, sum);
    for (size_t i = 0; i < pairing->count; i++) {
        const device *one = &pairing->devices[i];
        known |= is_same(one->sum, sum, 64) && now - one->at <= COOKIE_SECONDS;
    }
    return known;
}

// RFC 6265, 4.2.1: name=value, parted by "; ". Other programs on this computer may have set cookies of the same name.
bool server_is_paired(hw_server *server, const server_request *request)
{
    static const char start[] = COOKIE_NAME "=";
    const char *at = server_header_of(request, "Cookie");
    bool known = !server->options.lan;
    pthread_mutex_lock(&server->pairing->lock);
    while (at && !known) {
        at += strspn(at, " ");
        const char *value = at + sizeof start - 1;
        if (strncmp(at, start, sizeof start - 1) == 0 && strcspn(value, "; ") == COOKIE_LENGTH) {
            known = knows_cookie(server->pairing, value, request->now);
        }
        at = strchr(at, ';');
        at = at ? at + 1 : NULL;
    }
    pthread_mutex_unlock(&server->pairing->lock);
    return known;
}

// What another run of the program has paired meanwhile. Where the file cannot be read, what is known stays.
static void read_again(hw_server *server, struct server_pairing *pairing)
{
    struct server_pairing *seen = hw_alloc_array(1, sizeof *seen);
    if (seen) {
        memcpy(seen->path, pairing->path, sizeof seen->path);
        if (read_devices(server, seen, NULL) == HW_OK && seen->count > 0) {
            memcpy(pairing->devices, seen->devices, sizeof seen->devices);
            pairing->count = seen->count;
        }
        hw_free(seen);
    }
}

static hw_status add_device(struct server_pairing *pairing, const char *name, int64_t now,
                            char cookie[COOKIE_LENGTH + 1], hw_error *err)
{
    device next = {.at = now};
    hw_status status = make_cookie(cookie, err);
    if (status != HW_OK) {
        return status;
    }
    hw_copy_text(next.name, sizeof next.name, name);
    hw_sha256_hex(cookie, COOKIE_LENGTH, next.sum);
    if (pairing->count == DEVICES_MOST) {
        memmove(pairing->devices, pairing->devices + 1, (DEVICES_MOST - 1) * sizeof next);
        pairing->count--;
    }
    pairing->devices[pairing->count++] = next;
    status = write_devices(pairing, err);
    pairing->count -= status != HW_OK;
    return status;
}

// ---- Codes -------------------------------------------------------------------------

// As people type it: small letters, blanks and hyphens between. False where it is no code.
static bool tidy_code(const char *typed, char out[CODE_LENGTH + 1])
{
    size_t count = 0;
    for (; *typed; typed++) {
        char c = *typed >= 'a' && *typed <= 'z' ? (char)(*typed - 'a' + 'A') : *typed;
        if (c == ' ' || c == '-') {
            continue;
        }
        if (count == CODE_LENGTH) {
            return false;
        }
        out[count++] = c;
    }
    out[count] = 0;
    return count == CODE_LENGTH;
}

// With the lock held. *fresh: another code must be shown.
static hw_status try_code(hw_server *server, const char *typed, const char *name, int64_t now,
                          char cookie[COOKIE_LENGTH + 1], bool *fresh, hw_error *err)
{
    struct server_pairing *pairing = server->pairing;
    char code[CODE_LENGTH + 1];
    if (pairing->wrong >= WRONG_MOST) {
        return hw_fail(err, HW_ERR_CALL, "pair-locked", "",
                       "Stop the program in the terminal and start it again.",
                       "too many wrong codes were sent, so no other device can be paired now");
    }
    if (!tidy_code(typed, code) || !is_same(code, pairing->code, CODE_LENGTH)) {
        pairing->wrong++;
        return hw_fail(err, HW_ERR_CALL, "pair-code", "",
                       "Look at the terminal once more: the code that stands there last counts.",
                       "this is not the code");
    }
    *fresh = true;
    pairing->code[0] = 0; // spent, before anybody else can try it: no code is empty
    if (now - pairing->code_at > CODE_SECONDS) {
        return hw_fail(err, HW_ERR_CALL, "pair-code", "", "The terminal shows a new one now.",
                       "this code is older than %d minutes", CODE_SECONDS / 60);
    }
    pairing->wrong = 0;
    read_again(server, pairing);
    return add_device(pairing, name, now, cookie, err);
}

static hw_status answer_paired(const char *cookie, server_answer *answer, hw_error *err)
{
    char set[200];
    hw_format_text(set, sizeof set,
                   COOKIE_NAME "=%s; Path=/; Max-Age=%d; HttpOnly; SameSite=Strict", cookie,
                   COOKIE_SECONDS);
    hw_json *root = hw_json_new_object();
    hw_json_add_bool(root, "paired", true);
    hw_status status = server_answer_tree(answer, root, err);
    if (status == HW_OK) {
        server_answer_header(answer, "Set-Cookie", set);
        answer->status = 201;
    }
    return status;
}

hw_status server_run_pair(hw_server *server, const server_request *request, server_answer *answer,
                          hw_error *err)
{
    const char *code = hw_json_member_text(request->json, "code");
    const char *name = hw_json_member_text(request->json, "device");
    char cookie[COOKIE_LENGTH + 1];
    bool fresh = false;
    if (!server->options.lan) {
        return hw_fail(err, HW_ERR_CALL, "pair-unasked", "", "Go on: nothing needs to be paired.",
                       "this server answers its own computer only");
    }
    if (!code || (name && !hw_name_is_usable(name))) {
        return hw_fail(err, HW_ERR_CALL, "body-member", code ? "device" : "code",
                       "Send the code as the terminal shows it, and a short name of the device.",
                       "it is missing, or no name");
    }
    pthread_mutex_lock(&server->pairing->lock);
    hw_status status =
        try_code(server, code, name ? name : "a device", request->now, cookie, &fresh, err);
    pthread_mutex_unlock(&server->pairing->lock);
    if (fresh) {
        server_show_code(server, request->now);
    }
    return status == HW_OK ? answer_paired(cookie, answer, err) : status;
}

// ---- Hello -------------------------------------------------------------------------

hw_status server_run_hello(hw_server *server, const server_request *request, server_answer *answer,
                           hw_error *err)
{
    hw_json *root = hw_json_new_object();
    hw_json_add_text(root, "program", "huewright");
    hw_json_add_text(root, "version", hw_version());
    hw_json_add_bool(root, "paired", server_is_paired(server, request));
    hw_json_add_bool(root, "lan", server->options.lan);
    hw_json *reads = hw_json_add_array(root, "reads");
    for (const char *const *format = hw_photo_formats(); *format; format++) {
        hw_json_add_text(reads, NULL, *format);
    }
    hw_json_add_bool(root, "png", hw_report_has_png());
    hw_json_add_number(root, "upload_bytes", (double)server->limits.file_bytes);
    return server_answer_tree(answer, root, err);
}
