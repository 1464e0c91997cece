/* SPDX-License-Identifier: MIT */
/* Does a fuzz target still hold for every input that it kept? Calls it with each file of the folders named, as libFuzzer does, so that
 * any compiler can link it: under the sanitizers `scripts/test` needs no build of clang's for that. */
#include "must.h"

#include <dirent.h>
#include <string.h>
#include <sys/stat.h>

#define MOST_BYTES 4096 /* as scripts/fuzz asks of libFuzzer */

#pragma weak LLVMFuzzerInitialize

/* In a block of just its size, so that a sanitizer sees what reads past it. */
static void replay_file(const char *path)
{
    unsigned char bytes[MOST_BYTES];
    FILE *f = fopen(path, "rb");
    must(f != NULL);
    size_t n = fread(bytes, 1, sizeof bytes, f);
    must(!ferror(f));
    fclose(f);
    unsigned char *exact = malloc(n ? n : 1);
    must(exact != NULL);
    memcpy(exact, bytes, n);
    fprintf(stderr, "%s\n", path); /* the last one named is the find */
    LLVMFuzzerTestOneInput(exact, n);
    free(exact);
}

static long replay_folder(const char *folder)
{
    struct dirent **names = NULL;
    long done = 0;
    int found = scandir(folder, &names, NULL, alphasort);
    must(found >= 0);
    for (int i = 0; i < found; i++) {
        char path[1024];
        struct stat s;
        snprintf(path, sizeof path, "%s/%s", folder, names[i]->d_name);
        if (stat(path, &s) == 0 && S_ISREG(s.st_mode)) {
            replay_file(path);
            done++;
        }
        free(names[i]);
    }
    free(names);
    return done;
}

int main(int argc, char **argv)
{
    long done = 0;
    if (LLVMFuzzerInitialize)
        LLVMFuzzerInitialize(&argc, &argv);
    LLVMFuzzerTestOneInput((const uint8_t *)"", 0);
    for (int i = 1; i < argc; i++)
        done += replay_folder(argv[i]);
    must(done > 0);
    printf("%ld inputs, no find\n", done);
    return 0;
}
