/* SPDX-License-Identifier: MIT */
#include "desk/sheets/sheets_inside.h"

#include "store/fits.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Puts index + 1 at the key, or -1 where another has it already. */
static bool put(cw_map *m, const char *key, size_t n, size_t index)
{
    bool is_new = false;
    if (n == 0)
        return true;
    int64_t *at = cw_map_put(m, key, n, &is_new);
    if (at == NULL)
        return false;
    if (is_new)
        *at = (int64_t)index + 1;
    else if (*at != (int64_t)index + 1)
        *at = -1;
    return true;
}

static bool grow(cw_known *k)
{
    if (k->count < k->room)
        return true;
    size_t room = k->room ? 2 * k->room : 256;
    void *codes = realloc(k->codes, room * sizeof *k->codes);
    if (codes)
        k->codes = codes;
    void *names = realloc(k->names, room * sizeof *k->names);
    if (names)
        k->names = names;
    void *prices = realloc(k->prices, room * sizeof *k->prices);
    if (prices)
        k->prices = prices;
    if (codes && names && prices)
        k->room = room;
    return codes && names && prices;
}

bool cw_known_add(cw_known *k, const char *code, const char *name)
{
    char folded[CW_FOLD_BYTES];
    char *copy = name ? strdup(name) : NULL;
    if (!grow(k) || (name && copy == NULL)) {
        free(copy);
        return false;
    }
    size_t at = k->count++;
    cw_copy(k->codes[at], sizeof k->codes[at], code);
    k->names[at] = copy;
    k->prices[at] = -1;
    bool fine = put(&k->by_code, code, strlen(code), at);
    size_t n = cw_fold(code, strlen(code), '\0', folded);
    fine = put(&k->by_folded, folded, n, at) && fine;
    if (name) {
        fine = put(&k->by_name, name, strlen(name), at) && fine;
        n = cw_fold(name, strlen(name), '\0', folded);
        fine = put(&k->by_folded, folded, n, at) && fine;
    }
    return fine;
}

void cw_known_free(cw_known *k)
{
    for (size_t i = 0; i < k->count; i++)
        free(k->names[i]);
    free(k->codes);
    free(k->names);
    free(k->prices);
    cw_map_free(&k->by_code);
    cw_map_free(&k->by_name);
    cw_map_free(&k->by_folded);
    *k = (cw_known){ 0 };
}

static cw_found look(const cw_map *m, const char *s, size_t n, cw_found found, size_t *index)
{
    const int64_t *at = n ? cw_map_get(m, s, n) : NULL;
    if (at == NULL)
        return CW_FOUND_NONE;
    if (*at < 0)
        return CW_FOUND_SEVERAL;
    *index = (size_t)(*at - 1);
    return found;
}

static cw_found find_plain(const cw_known *k, const char *s, size_t n, size_t *index)
{
    char folded[CW_FOLD_BYTES];
    cw_found found = look(&k->by_code, s, n, CW_FOUND, index);
    if (found == CW_FOUND_NONE)
        found = look(&k->by_name, s, n, CW_FOUND, index);
    if (found != CW_FOUND_NONE)
        return found;
    size_t length = cw_fold(s, n, '\0', folded);
    return look(&k->by_folded, folded, length, CW_FOUND_FOLDED, index);
}

/* "Amber Lantern (AMB)", "AMB - Amber Lantern", "AMB Amber Lantern": both halves, which must not speak of two. */
static cw_found find_halves(const cw_known *k, const char *s, size_t n, size_t *index)
{
    static const char *const parts[] = { "(", "[", " - ", " \xE2\x80\x93 ", ": ", "/" };
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        const char *at = memmem(s, n, parts[i], strlen(parts[i]));
        size_t a = 0, b = 0;
        if (at == NULL || at == s)
            continue;
        const char *rest = at + strlen(parts[i]);
        size_t left = (size_t)(s + n - rest), front = (size_t)(at - s);
        while (front > 0 && s[front - 1] == ' ')
            front--;
        while (left > 0 && (rest[left - 1] == ')' || rest[left - 1] == ']' || rest[left - 1] == ' '))
            left--;
        cw_found one = find_plain(k, s, front, &a), two = find_plain(k, rest, left, &b);
        bool first = one == CW_FOUND || one == CW_FOUND_FOLDED,
             second = two == CW_FOUND || two == CW_FOUND_FOLDED;
        if (first && second && a != b)
            return CW_FOUND_SEVERAL;
        if (first || second) {
            *index = first ? a : b;
            return CW_FOUND_FOLDED;
        }
    }
    return CW_FOUND_NONE;
}

cw_found cw_known_find(const cw_known *k, const char *s, size_t n, size_t *index)
{
    cw_found found = find_plain(k, s, n, index);
    return found == CW_FOUND_NONE ? find_halves(k, s, n, index) : found;
}

bool cw_known_near(const cw_known *k, const char *s, size_t n, size_t near[5], size_t *count)
{
    char folded[CW_FOLD_BYTES], other[CW_FOLD_BYTES];
    size_t length = cw_fold(s, n, '\0', folded);
    int most = length < 5 ? 1 : length < 10 ? 2 : 3, distance[5] = { 0 };
    *count = 0;
    for (size_t i = 0; i < k->count && length > 2; i++) {
        if (k->names[i] == NULL)
            continue;
        cw_fold(k->names[i], strlen(k->names[i]), '\0', other);
        int d = cw_distance(folded, other, most);
        if (d > most)
            continue;
        size_t at = *count < 5 ? (*count)++ : 4;
        if (*count == 5 && at == 4 && distance[4] != 0 && d >= distance[4])
            continue;
        for (; at > 0 && distance[at - 1] > d; at--) {
            distance[at] = distance[at - 1];
            near[at] = near[at - 1];
        }
        distance[at] = d;
        near[at] = i;
    }
    return *count > 0;
}

static bool taken(const cw_known *k, const char *code)
{
    char folded[CW_FOLD_BYTES];
    size_t n = cw_fold(code, strlen(code), '\0', folded);
    return cw_map_get(&k->by_folded, folded, n) != NULL;
}

/* Three letters of the first word and two of the second, or five of the only one; then a number. */
void cw_known_propose(const cw_known *k, const char *s, size_t n, char code[CW_MAX_CODE + 1])
{
    char words[CW_FOLD_BYTES], base[8];
    size_t length = cw_fold(s, n, ' ', words), used = 0, in_word = 0, word = 0;
    bool several = strchr(words, ' ') != NULL;
    for (size_t i = 0; i < length && used < 5; i++) {
        if (words[i] == ' ') {
            word++;
            in_word = 0;
            continue;
        }
        bool plain = (words[i] >= 'a' && words[i] <= 'z') || (words[i] >= '0' && words[i] <= '9');
        if (plain && (!several || in_word < (word == 0 ? 3 : 2)))
            base[used++] = (char)(words[i] >= 'a' ? words[i] - 'a' + 'A' : words[i]);
        in_word += plain;
    }
    if (used == 0)
        base[used++] = 'V';
    base[used] = '\0';
    snprintf(code, CW_MAX_CODE + 1, "%s", base);
    for (int i = 2; taken(k, code); i++)
        snprintf(code, CW_MAX_CODE + 1, "%s%d", base, i);
}

static bool take_variety(void *context, const char *code, const char *name, int64_t price)
{
    cw_known *k = &((cw_fitting *)context)->varieties;
    bool fine = cw_known_add(k, code, name);
    if (fine)
        k->prices[k->count - 1] = price;
    return fine;
}

static bool take_lot(void *context, const char *code, const char *name, int64_t walk)
{
    cw_fitting *f = context;
    (void)walk;
    return cw_known_add(&f->lots, code, name);
}

/* Places that stand for none have numbers beyond what a walk has. */
#define LAST_WALK 999999000

static bool take_place(void *context, const char *code, const char *name, int64_t walk)
{
    cw_fitting *f = context;
    if (walk > f->last_walk && walk < LAST_WALK)
        f->last_walk = walk;
    return cw_known_add(&f->places, code, name);
}

cw_code cw_known_load(cw_fitting *f, cw_error *err)
{
    cw_code code = cw_fits_varieties(f->n->db, take_variety, f, err);
    f->varieties.on_record = f->varieties.count;
    if (code == CW_OK)
        code = cw_fits_lots(f->n->db, take_lot, f, err);
    f->lots.on_record = f->lots.count;
    if (code == CW_OK)
        code = cw_fits_places(f->n->db, take_place, f, err);
    f->places.on_record = f->places.count;
    return code;
}
