/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_BYTES_H
#define CW_TESTS_SUPPORT_BYTES_H

/* Looking for words in the bytes of files, wherever in them they stand: rows, free pages, what is left of old rows. */
#include "support/nursery.h"

#include <strings.h>

static inline bool bytes_hold(const char *bytes, size_t n, const char *mark)
{
    size_t m = strlen(mark);
    for (size_t i = 0; i + m <= n; i++)
        if (strncasecmp(bytes + i, mark, m) == 0)
            return true;
    return false;
}

/* Whether a file of the folder whose name begins with `name` holds the mark, in any case. Without such a file the test fails. */
static inline bool files_hold(const test_nursery *t, const char *name, const char *mark)
{
    char path[400];
    struct dirent *entry = NULL;
    int files = 0;
    bool found = false;
    DIR *folder = opendir(t->folder);
    assert_non_null(folder);
    while ((entry = readdir(folder)) != NULL) {
        if (strncmp(entry->d_name, name, strlen(name)) != 0)
            continue;
        snprintf(path, sizeof path, "%s/%s", t->folder, entry->d_name);
        FILE *f = fopen(path, "re");
        assert_non_null(f);
        fseek(f, 0, SEEK_END);
        size_t n = (size_t)ftell(f);
        char *bytes = malloc(n + 1);
        assert_non_null(bytes);
        rewind(f);
        assert_int_equal(fread(bytes, 1, n, f), n);
        fclose(f);
        if (bytes_hold(bytes, n, mark)) {
            print_message("  %s is in %s\n", mark, entry->d_name);
            found = true;
        }
        free(bytes);
        files++;
    }
    closedir(folder);
    assert_true(files > 0);
    return found;
}

#endif
