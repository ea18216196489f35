// fuzz_main.c: runs a fuzz target without a fuzzer: over every seed of a folder, then over a
// bounded number of mutations of each, so that a plain test run covers it. The mutations of a seed
// follow from its bytes alone: they are the same on every machine, whatever else is in the folder.
// With clang and HW_FUZZ the same target is built with libFuzzer.
//
//   fuzz_TARGET FOLDER [MUTATIONS]
#include "picture.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

#define SIZE_MOST 65536

static void mutate(uint8_t *bytes, size_t *count, uint64_t *seed)
{
    int changes = 1 + (int)(6.0 * picture_random(seed));
    for (int i = 0; i<changes && * count> 0; i++) {
        size_t at = (size_t)(picture_random(seed) * (double)*count);
        switch ((int)(5.0 * picture_random(seed))) {
        case 0:
            bytes[at] = (uint8_t)(256.0 * picture_random(seed));
            break;
        case 1:
            bytes[at] = (uint8_t)(bytes[at] ^ 1u << (int)(8.0 * picture_random(seed)));
            break;
        case 2:
            bytes[at] = picture_random(seed) < 0.5 ? 0 : 255;
            break;
        case 3: // cut
            *count = at;
            break;
        default: // a piece stands twice
            if (*count + 16 < SIZE_MOST && at + 16 < *count) {
                memmove(bytes + at + 16, bytes + at, *count - at);
                *count += 16;
            }
            break;
        }
    }
}

int main(int count, char **arguments)
{
    long mutations = count > 2 ? strtol(arguments[2], NULL, 10) : 2000;
    static uint8_t seed_bytes[SIZE_MOST], bytes[SIZE_MOST];
    long runs = 0;
    DIR *dir = count > 1 ? opendir(arguments[1]) : NULL;
    for (struct dirent *entry; dir && (entry = readdir(dir));) {
        char path[1400];
        snprintf(path, sizeof path, "%s/%s", arguments[1], entry->d_name);
        FILE *file = entry->d_name[0] == '.' ? NULL : fopen(path, "rb");
        if (!file) {
            continue;
        }
        size_t size = fread(seed_bytes, 1, sizeof seed_bytes, file);
        fclose(file);
        uint64_t seed = crc32(0, seed_bytes, (uInt)size);
        for (long i = 0; i <= mutations; i++) {
            size_t length = size;
            memcpy(bytes, seed_bytes, size);
            if (i > 0) {
                mutate(bytes, &length, &seed);
            }
            // A block of its own size, so that the address sanitizer sees a byte too far.
            uint8_t *exact = malloc(length ? length : 1);
            memcpy(exact, bytes, length);
            LLVMFuzzerTestOneInput(exact, length);
            free(exact);
            runs++;
        }
    }
    if (dir) {
        closedir(dir);
    }
    printf("%ld inputs\n%d passed, %d failed\n", runs, runs > 0, runs == 0);
    return runs > 0 ? 0 : 1;
}
