/* SPDX-License-Identifier: MIT */
#include "base/json.h"

#include <malloc.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static _Thread_local bool starved; /* the library hands its allocator no context */

static void *allocate(size_t n)
{
    void *block = malloc(n);
    starved = starved || block == NULL;
    return block;
}

static void wipe_and_free(void *block)
{
    if (block)
        explicit_bzero(block, malloc_usable_size(block));
    free(block);
}

void cw_json_careful(void)
{
    json_set_alloc_funcs(allocate, wipe_and_free);
}

bool cw_json_starved(void)
{
    bool was = starved;
    starved = false;
    return was;
}

static void drop(json_t **document)
{
    json_decref(*document);
    *document = NULL;
}

void cw_json_put_take(json_t **object, const char *name, json_t *value)
{
    if (*object == NULL)
        json_decref(value);
    else if (json_object_set_new(*object, name, value) != 0) /* takes the value also when it fails */
        drop(object);
}

void cw_json_append_take(json_t **list, json_t *value)
{
    if (*list == NULL)
        json_decref(value);
    else if (json_array_append_new(*list, value) != 0)
        drop(list);
}

json_t *cw_json_known(const char *s)
{
    return s && s[0] ? json_string(s) : json_null();
}

char *cw_json_text(const json_t *document, size_t flags)
{
    size_t n = document ? json_dumpb(document, NULL, 0, flags) : 0;
    char *text = n > 0 ? malloc(n + 1) : NULL;
    if (text && json_dumpb(document, text, n, flags) != n) {
        free(text);
        return NULL;
    }
    if (text)
        text[n] = '\0';
    return text;
}
