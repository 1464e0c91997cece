/* SPDX-License-Identifier: MIT */
#include "support/failing.h"

#include "base/json.h"
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

void *__real_malloc(size_t n);
void *__real_calloc(size_t n, size_t size);
void *__real_realloc(void *p, size_t n);
char *__real_strdup(const char *s);
void __real_free(void *p);
json_t *__real_json_loads(const char *text, size_t flags, json_error_t *where);
json_t *__real_json_loadb(const char *bytes, size_t n, size_t flags, json_error_t *where);
json_t *__wrap_json_loadb(const char *bytes, size_t n, size_t flags, json_error_t *where);
void *__wrap_malloc(size_t n);
void *__wrap_calloc(size_t n, size_t size);
void *__wrap_realloc(void *p, size_t n);
char *__wrap_strdup(const char *s);
void __wrap_free(void *p);
json_t *__wrap_json_loads(const char *text, size_t flags, json_error_t *where);
int __real_oath_base32_encode(const char *bytes, size_t n, char **out, size_t *length);
int __wrap_oath_base32_encode(const char *bytes, size_t n, char **out, size_t *length);

static _Thread_local bool none_left;

/* The models work on several threads. */
static atomic_long seen, hits, outstanding, fails_at = -1;
static atomic_uint armed;
static atomic_bool for_ever, counting;

void failing_arm(unsigned whose, long n, bool ever)
{
    seen = 0;
    hits = 0;
    fails_at = n;
    for_ever = ever;
    armed = whose;
    counting = false; /* until failing_resume */
}

void failing_pause(void)
{
    counting = false;
}

void failing_resume(void)
{
    counting = true;
}

long failing_count(void)
{
    return seen;
}

long failing_hits(void)
{
    return hits;
}

long failing_outstanding(void)
{
    return outstanding;
}

bool failing_now(failing_whose whose)
{
    if (!counting || !(armed & (unsigned)whose))
        return false;
    long n = atomic_fetch_add(&seen, 1), at = fails_at;
    bool now = at >= 0 && (n == at || (for_ever && n > at));
    hits += now;
    return now;
}

void *__wrap_malloc(size_t n)
{
    void *p = none_left || failing_now(FAILING_OURS) ? NULL : __real_malloc(n);
    outstanding += p != NULL;
    return p;
}

void *__wrap_calloc(size_t n, size_t size)
{
    void *p = failing_now(FAILING_OURS) ? NULL : __real_calloc(n, size);
    outstanding += p != NULL;
    return p;
}

void *__wrap_realloc(void *p, size_t n)
{
    void *q = failing_now(FAILING_OURS) ? NULL : __real_realloc(p, n);
    outstanding += p == NULL && q != NULL;
    return q;
}

char *__wrap_strdup(const char *s)
{
    char *p = failing_now(FAILING_OURS) ? NULL : __real_strdup(s);
    outstanding += p != NULL;
    return p;
}

void __wrap_free(void *p)
{
    outstanding -= p != NULL;
    __real_free(p);
}

/* Its answer is freed by us, so it counts as ours. */
int __wrap_oath_base32_encode(const char *bytes, size_t n, char **out, size_t *length)
{
    int code = failing_now(FAILING_OURS) ? -1 : __real_oath_base32_encode(bytes, n, out, length);
    outstanding += code == 0;
    return code;
}

/* The reader of jansson 2.14 does not notice when the room for a long word cannot grow, and then reads past its end. So it
 * fails here at its first allocation or not at all. */
json_t *__wrap_json_loads(const char *text, size_t flags, json_error_t *where)
{
    if (failing_now(FAILING_OURS))
        return NULL;
    bool was = atomic_exchange(&counting, false);
    json_t *document = __real_json_loads(text, flags, where);
    counting = was;
    return document;
}

/* The same of a body: without memory for the first piece of it. */
json_t *__wrap_json_loadb(const char *bytes, size_t n, size_t flags, json_error_t *where)
{
    bool was = atomic_load(&counting);
    none_left = failing_now(FAILING_OURS);
    counting = false;
    json_t *document = __real_json_loadb(bytes, n, flags, where);
    counting = was;
    none_left = false;
    return document;
}

void failing_install(void)
{
    cw_json_careful(); /* by way of our own malloc */
}
