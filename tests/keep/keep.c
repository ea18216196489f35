// keep.c: is anything ever lost that a person was told is saved? Plays a job and breaks what can break:
// the program is killed at every call that changes the disk, each call fails, the power goes after each
// (in a model of a disk that keeps only what was synced), bytes are cut and bits flipped, the disk
// fills, several programs write at once, folders are moved, replaced and copied.
//
//   keep [--short] [--only TEXT] [--folder FOLDER]
//
// The long form tries every point; --short every so many. Prints how many points of each kind were tried;
// exits 1 when anything was lost, or a call that failed was said to be saved.
//
// What should hold is POSIX' word on fsync (keep_model.h) and the promises in base_file.c, job_log.c and
// job.h; kill, limits and permissions are the system's own.
#include "keep.h"

#include <dirent.h>
#include <errno.h>
#include <sys/stat.h>
#include <unistd.h>

counts keep_counts;
bool keep_short;
char keep_folder[200];

bool expect(bool good, const char *format, ...)
{
    const long told_most = 40;
    if (!good && keep_counts.lost++ < told_most) {
        va_list arguments;
        va_start(arguments, format);
        printf("LOST: ");
        vprintf(format, arguments);
        printf("\n");
        va_end(arguments);
    }
    return good;
}

uint32_t chance(uint32_t *state)
{
    *state ^= *state << 13;
    *state ^= *state >> 17;
    *state ^= *state << 5;
    return *state;
}

// ---- Places ------------------------------------------------------------------------

void remove_tree(const char *path)
{
    chmod(path, 0755);
    DIR *folder = opendir(path);
    for (struct dirent *entry; folder && (entry = readdir(folder)) != NULL;) {
        char inside[700];
        hw_format_text(inside, sizeof inside, "%s/%s", path, entry->d_name);
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0 &&
            unlink(inside) != 0) {
            remove_tree(inside);
        }
    }
    if (folder) {
        closedir(folder);
    }
    rmdir(path);
}

void make_empty(const char *folder)
{
    remove_tree(folder);
    if (mkdir(folder, 0755) != 0) {
        perror(folder);
        exit(2);
    }
}

place place_at(const char *root)
{
    place where = {0};
    hw_copy_text(where.root, sizeof where.root, root);
    hw_format_text(where.job, sizeof where.job, "%s/walnut cabinet/", root);
    hw_format_text(where.shelf, sizeof where.shelf, "%s/data/own/shelf.json", root);
    return where;
}

place new_place(void)
{
    static int number;
    char root[300];
    hw_format_text(root, sizeof root, "%s/%d", keep_folder, number++);
    make_empty(root);
    return place_at(root);
}

// ---- The program -------------------------------------------------------------------

static const struct {
    const char *name;
    void (*run)(void);
} tests[] = {
    {"kills", test_kills},           {"failures", test_failures},   {"order", test_order},
    {"power cuts", test_power_cuts}, {"cuts", test_cuts},           {"flips", test_flips},
    {"photos", test_photos},         {"full disk", test_full_disk}, {"read only", test_read_only},
    {"writers", test_writers},       {"clock", test_clock},         {"moved", test_moved},
    {"replaced", test_replaced},     {"copied", test_copied},       {"said again", test_said_again},
};

static void show(void)
{
    const counts *n = &keep_counts;
    printf("killed at a call            %7ld points, %ld survived\n", n->kill_points,
           n->kills_survived);
    printf("a call failed               %7ld, %ld refused in words, %ld made good unseen\n",
           n->calls_failed, n->calls_refused, n->calls_mended);
    printf("order of calls looked at    %7ld times before something was told\n", n->orders);
    printf("power cut                   %7ld states opened\n", n->power_cuts);
    printf("log cut                     %7ld places\n", n->bytes_cut);
    printf("bit flipped                 %7ld bits\n", n->bits_flipped);
    printf("full or closed disk         %7ld times\n", n->full_disks);
    printf("several writers             %7ld programs, %ld of them killed\n", n->writers,
           n->writers_killed);
    printf("folder moved or replaced    %7ld times\n", n->folders_moved);
    printf("folder copied while written %7ld copies\n", n->copies);
    printf("photo missing or changed    %7ld times\n", n->photos);
    printf("lost                        %7ld\n", n->lost);
}

// A disk in memory, where there is one: fsync costs nothing there, and nothing here rests on what it does
// to a real disk (that is what the model is for).
static void choose_folder(const char *given)
{
    const char *above = given ? given : access("/dev/shm", W_OK) == 0 ? "/dev/shm" : HW_SCRATCH;
    hw_format_text(keep_folder, sizeof keep_folder, "%s/huewright keep %ld \xc3\xa9", above,
                   (long)getpid());
    make_empty(keep_folder);
}

int main(int count, char **argument)
{
    const char *only = "", *folder = NULL;
    for (int i = 1; i < count; i++) {
        if (strcmp(argument[i], "--short") == 0) {
            keep_short = true;
        } else if (strcmp(argument[i], "--only") == 0 && i + 1 < count) {
            only = argument[++i];
        } else if (strcmp(argument[i], "--folder") == 0 && i + 1 < count) {
            folder = argument[++i];
        } else {
            fprintf(stderr, "keep [--short] [--only TEXT] [--folder FOLDER]\n");
            return 2;
        }
    }
    choose_folder(folder);
    bool any = false;
    for (size_t i = 0; i < sizeof tests / sizeof *tests; i++) {
        if (strstr(tests[i].name, only)) {
            clock_t start = clock();
            tests[i].run();
            any = true;
            printf("%-10s done, %.1f s of processor\n", tests[i].name,
                   (double)(clock() - start) / CLOCKS_PER_SEC);
            fflush(stdout);
        }
    }
    show();
    if (keep_counts.lost == 0) {
        remove_tree(keep_folder);
    } else {
        printf("what is left lies in %s\n", keep_folder);
    }
    return any && keep_counts.lost == 0 ? 0 : 1;
}
