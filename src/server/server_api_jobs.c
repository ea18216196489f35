// server_api_jobs.c: the jobs of the folder that is served, as a list.
//
// A long log takes milliseconds to open, a hundred of them too long to wait for. So what the list says of a job is
// remembered with the size and the time of its log, which only grows: it is opened again when either is another.
#include "server_api.h"
#include "server_routes.h"
#include "server_upload.h"

#include <sys/stat.h>

typedef struct known_job {
    char name[SERVER_SEGMENT_SIZE];
    struct stat log; // as it was
    int64_t last_at; // when something was logged last
    long last;       // its number
    hw_json *told;   // as the list tells it
} known_job;

struct server_jobs {
    pthread_mutex_t lock;
    known_job *job; // in the order of their names
    size_t count;
};

// Packed jobs that a killed server had not sent yet.
static void sweep(const hw_server *server)
{
    char folder[SERVER_PATH_SIZE], path[SERVER_PATH_SIZE + SERVER_SEGMENT_SIZE];
    hw_names names = {0};
    hw_format_text(folder, sizeof folder, "%s/" SERVER_OWN_FOLDER, server_folder(server));
    if (hw_folder_names(folder, &names, NULL) == HW_OK) {
        for (size_t i = 0; i < names.count; i++) {
            if (strncmp(names.name[i], "pack-", 5) == 0) {
                hw_format_text(path, sizeof path, "%s/%s", folder, names.name[i]);
                hw_file_remove(path);
            }
        }
        hw_names_free(&names);
    }
}

hw_status server_jobs_start(hw_server *server, hw_error *err)
{
    struct server_jobs *jobs = hw_alloc_array(1, sizeof *jobs);
    if (!jobs || pthread_mutex_init(&jobs->lock, NULL) != 0) {
        hw_free(jobs);
        return hw_fail_memory(err, "starting the server");
    }
    server->jobs = jobs;
    if (server->uploads->alone) {
        sweep(server);
    }
    return HW_OK;
}

static void forget(known_job *job)
{
    hw_json_free(job->told);
    *job = (known_job){0};
}

void server_jobs_stop(hw_server *server)
{
    struct server_jobs *jobs = server->jobs;
    if (jobs) {
        for (size_t i = 0; i < jobs->count; i++) {
            forget(&jobs->job[i]);
        }
        hw_free(jobs->job);
        pthread_mutex_destroy(&jobs->lock);
        hw_free(jobs);
        server->jobs = NULL;
    }
}

// ---- Which folder ------------------------------------------------------------------

// A link could lead anywhere.
static bool is_real_folder(const char *path)
{
    struct stat facts;
    return lstat(path, &facts) == 0 && S_ISDIR(facts.st_mode);
}

// Is that a job's folder? Fills its path and what is known of its log (all 0: there is none).
static bool look_at(const hw_server *server, const char *name, char path[SERVER_PATH_SIZE],
                    struct stat *log)
{
    char file[SERVER_PATH_SIZE + 16];
    *log = (struct stat){0};
    if (name[0] == '.' || strchr(name, '/') || strlen(name) >= SERVER_SEGMENT_SIZE ||
        !hw_is_utf8(name, strlen(name)) ||
        !hw_format_text(path, SERVER_PATH_SIZE, "%s/%s", server_folder(server), name) ||
        !is_real_folder(path)) {
        return false;
    }
    hw_format_text(file, sizeof file, "%s/log.jsonl", path);
    bool has_log = stat(file, log) == 0 && S_ISREG(log->st_mode);
    hw_format_text(file, sizeof file, "%s/job.json", path);
    return has_log || hw_file_exists(file);
}

static hw_status find_job(const hw_server *server, const char *name, char path[SERVER_PATH_SIZE],
                          struct stat *log, hw_error *err)
{
    return look_at(server, name, path, log)
               ? HW_OK
               : hw_fail(err, HW_ERR_CALL, "not-found", name, "Choose one from the list of jobs.",
                         "there is no such job");
}

hw_status server_find_job(const hw_server *server, const char *name, char path[SERVER_PATH_SIZE],
                          hw_error *err)
{
    struct stat log;
    return find_job(server, name, path, &log, err);
}

hw_status server_job_of(const hw_server *server, const server_request *request,
                        char path[SERVER_PATH_SIZE], hw_error *err)
{
    return server_find_job(server, request->segment[2], path, err); // api/jobs/J
}

// ---- What the list tells of one ----------------------------------------------------

static void add_time(hw_json *told, const char *name, int64_t at)
{
    char text[40];
    hw_format_time(text, at);
    hw_json_add_text(told, name, text);
}

static void tell(const hw_glance *glance, known_job *out)
{
    out->last = glance->last;
    out->last_at = glance->last_at;
    hw_json_add_text(out->told, "title", glance->title);
    if (glance->last > 0) {
        add_time(out->told, "made", glance->made);
        add_time(out->told, "last_at", glance->last_at);
    }
    hw_json_add_number(out->told, "last", (double)glance->last);
    hw_json_add_number(out->told, "photos", (double)glance->photos);
    hw_json *list = hw_json_add_array(out->told, "repairs");
    for (size_t i = 0; i < glance->repair_count; i++) {
        hw_json_add_text(list, NULL, glance->repair[i]);
    }
}

// One that cannot be opened is told of too, with the reason: it is a person's work.
static hw_status learn(const hw_server *server, const char *path, known_job *out, hw_error *err)
{
    hw_glance glance = {0};
    hw_error why = {0};
    char trouble[1000] = "";
    hw_status status = hw_job_glance(path, server_limits(server), &glance, &why);
    if (status == HW_ERR_STORAGE) {
        return hw_fail_as(err, &why);
    }
    if (status != HW_OK) {
        hw_format_text(trouble, sizeof trouble, "%s. %s", why.what, why.next);
    } else if (glance.odd) {
        hw_copy_text(trouble, sizeof trouble, "Something of it cannot be read: look into the job.");
    }
    out->told = hw_json_new_object();
    hw_json_add_text(out->told, "name", out->name);
    tell(&glance, out);
    hw_json_add_text(out->told, "trouble", trouble);
    hw_glance_free(&glance);
    return HW_OK;
}

static bool is_same_log(const struct stat *one, const struct stat *other)
{
    return one->st_size == other->st_size && one->st_ino == other->st_ino &&
           one->st_dev == other->st_dev && one->st_mtim.tv_sec == other->st_mtim.tv_sec &&
           one->st_mtim.tv_nsec == other->st_mtim.tv_nsec;
}

// What is known of the job of that name, moved into *out where it still holds, else made anew.
static hw_status refresh(const hw_server *server, const char *name, const char *path,
                         const struct stat *log, known_job *before, known_job *out, hw_error *err)
{
    if (before && before->told && is_same_log(&before->log, log)) {
        *out = *before;
        *before = (known_job){0};
        return HW_OK;
    }
    *out = (known_job){.log = *log};
    hw_copy_text(out->name, sizeof out->name, name);
    hw_status status = learn(server, path, out, err);
    if (status != HW_OK) {
        forget(out);
    }
    return status;
}

// ---- The list ----------------------------------------------------------------------

// Looks at all of them; both lists of names are sorted, so they are walked together.
static hw_status look_at_all(hw_server *server, hw_error *err)
{
    struct server_jobs *jobs = server->jobs, fresh = {.count = 0};
    hw_names names = {0};
    char path[SERVER_PATH_SIZE];
    struct stat log;
    size_t old = 0;
    hw_status status = hw_folder_names(server_folder(server), &names, err);
    fresh.job = status == HW_OK ? hw_alloc_array(names.count, sizeof *fresh.job) : NULL;
    if (status == HW_OK && !fresh.job) {
        status = hw_fail_memory(err, "listing the jobs");
    }
    for (size_t i = 0; status == HW_OK && i < names.count; i++) {
        const char *name = names.name[i];
        while (old < jobs->count && strcmp(jobs->job[old].name, name) < 0) {
            old++;
        }
        bool known = old < jobs->count && strcmp(jobs->job[old].name, name) == 0;
        if (look_at(server, name, path, &log)) {
            status = refresh(server, name, path, &log, known ? &jobs->job[old] : NULL,
                             &fresh.job[fresh.count], err);
            fresh.count += status == HW_OK;
        }
        old += known;
    }
    hw_names_free(&names);
    for (size_t i = 0; i < jobs->count; i++) {
        forget(&jobs->job[i]);
    }
    hw_free(jobs->job);
    jobs->job = fresh.job;
    jobs->count = fresh.count;
    return status;
}

static int newest_first(const void *one, const void *other)
{
    const known_job *const *a = one, *const *b = other;
    if ((*a)->last_at != (*b)->last_at) {
        return (*a)->last_at < (*b)->last_at ? 1 : -1;
    }
    return strcmp((*a)->name, (*b)->name);
}

static hw_status tell_all(const struct server_jobs *jobs, const char *folder, hw_json **out,
                          hw_error *err)
{
    const known_job **order = hw_alloc_array(jobs->count, sizeof *order);
    if (!order) {
        return hw_fail_memory(err, "listing the jobs");
    }
    for (size_t i = 0; i < jobs->count; i++) {
        order[i] = &jobs->job[i];
    }
    qsort(order, jobs->count, sizeof *order, newest_first);
    hw_json *root = hw_json_new_object(), *list = hw_json_add_array(root, "jobs");
    for (size_t i = 0; i < jobs->count; i++) {
        hw_json_add_tree(list, NULL, hw_json_copy(order[i]->told));
    }
    char name[SERVER_SEGMENT_SIZE];
    bool named = hw_folder_own_name(folder, name, sizeof name) && hw_is_utf8(name, strlen(name));
    hw_json_add_text(root, "folder", named ? name : "");
    hw_free(order);
    *out = root;
    return HW_OK;
}

hw_status server_run_jobs(hw_server *server, const server_request *request, server_answer *answer,
                          hw_error *err)
{
    hw_json *root = NULL;
    (void)request;
    pthread_mutex_lock(&server->jobs->lock);
    hw_status status = look_at_all(server, err);
    if (status == HW_OK) {
        status = tell_all(server->jobs, server_folder(server), &root, err);
    }
    pthread_mutex_unlock(&server->jobs->lock);
    return status == HW_OK ? server_answer_tree(answer, root, err) : status;
}

// ---- The highest number ------------------------------------------------------------

// The place of that name in the list, or where it belongs.
static size_t place_of(const struct server_jobs *jobs, const char *name)
{
    size_t at = 0;
    while (at < jobs->count && strcmp(jobs->job[at].name, name) < 0) {
        at++;
    }
    return at;
}

// A place for it in the list, an empty one where it is new; NULL: memory is out.
static known_job *place_for(struct server_jobs *jobs, const char *name)
{
    size_t at = place_of(jobs, name);
    if (at < jobs->count && strcmp(jobs->job[at].name, name) == 0) {
        return &jobs->job[at];
    }
    known_job *grown = hw_resize_array(jobs->job, jobs->count + 1, sizeof *grown);
    if (!grown) {
        return NULL;
    }
    jobs->job = grown;
    memmove(&grown[at + 1], &grown[at], (jobs->count - at) * sizeof *grown);
    grown[at] = (known_job){0};
    hw_copy_text(grown[at].name, sizeof grown[at].name, name);
    jobs->count++;
    return &grown[at];
}

static hw_status last_of(hw_server *server, const char *name, const char *path,
                         const struct stat *log, long *last, hw_error *err)
{
    known_job now = {0}, *known = place_for(server->jobs, name);
    if (!known) {
        return hw_fail_memory(err, "looking at the job");
    }
    hw_status status = refresh(server, name, path, log, known, &now, err);
    if (status == HW_OK) {
        forget(known);
        *known = now;
        *last = now.last;
    }
    return status;
}

hw_status server_job_last(hw_server *server, const char *name, long *last, hw_error *err)
{
    char path[SERVER_PATH_SIZE];
    struct stat log;
    hw_status status = find_job(server, name, path, &log, err);
    if (status == HW_OK) {
        pthread_mutex_lock(&server->jobs->lock);
        status = last_of(server, name, path, &log, last, err);
        pthread_mutex_unlock(&server->jobs->lock);
    }
    return status;
}

hw_status server_run_last(hw_server *server, const server_request *request, server_answer *answer,
                          hw_error *err)
{
    long last = 0;
    hw_status status = server_job_last(server, request->segment[2], &last, err);
    if (status != HW_OK) {
        return status;
    }
    hw_json *root = hw_json_new_object();
    hw_json_add_number(root, "last", (double)last);
    return server_answer_tree(answer, root, err);
}
