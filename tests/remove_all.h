// remove_all.h: a folder of a test with all that is in it.
#ifndef HUEWRIGHT_REMOVE_ALL_H
#define HUEWRIGHT_REMOVE_ALL_H

#include "base_internal.h"

#include <dirent.h>
#include <string.h>
#include <unistd.h>

static inline void remove_all(const char *path)
{
    DIR *dir = opendir(path);
    for (struct dirent *entry; dir && (entry = readdir(dir));) {
        char inside[1400];
        hw_format_text(inside, sizeof inside, "%s/%s", path, entry->d_name);
        bool self = strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0;
        if (!self && unlink(inside) != 0) {
            remove_all(inside);
        }
    }
    if (dir) {
        closedir(dir);
    }
    rmdir(path);
}

#endif
