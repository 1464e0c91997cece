/* SPDX-License-Identifier: MIT */
#include "model/stops.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Effort for one tangle, and for all of them, in needs looked at: a bound on time that does not depend on the machine's
 * speed. A node looks at every need of its tangle, so large tangles, where a search gets nowhere, cost no more. */
enum { EFFORT_EACH = 1000000, EFFORT_ALL = 2000000 };

typedef enum standing { OPEN, TAKEN, BARRED } standing;

typedef struct search {
    const cw_cell_map *m;
    int64_t *left;     /* [variety] need still open */
    standing *stands;  /* [place]; places outside the tangle are not touched */
    size_t *varieties; /* of the tangle */
    size_t variety_count;
    size_t *places; /* of the tangle */
    size_t place_count;
    unsigned *mark; /* [place] stamp of the bound that last used it */
    unsigned stamp;
    size_t taken, best_count;
    bool *best; /* [place] best choice within the tangle */
    bool found;
    long effort; /* left to spend */
} search;

static void take(search *s, size_t place, bool in)
{
    s->stands[place] = in ? TAKEN : OPEN;
    s->taken += in ? 1 : (size_t)-1;
    for (size_t k = s->m->at[place]; k < s->m->at[place + 1]; k++)
        s->left[s->m->cells[k].variety] += in ? -s->m->cells[k].quantity : s->m->cells[k].quantity;
}

/* Least number of open places that can meet what is left of v, SIZE_MAX if all together cannot; *open = how
 * many there are; *apart = none of them carries the current stamp. */
static size_t places_for(const search *s, size_t v, size_t *open, bool *apart)
{
    int64_t left = s->left[v];
    size_t n = 0;
    *open = 0;
    *apart = true;
    for (size_t k = s->m->from[v]; k < s->m->from[v + 1]; k++) {
        const cw_cell *cell = &s->m->cells[s->m->sources[k]];
        if (s->stands[cell->place] != OPEN)
            continue;
        ++*open;
        *apart = *apart && s->mark[cell->place] != s->stamp;
        if (left > 0) {
            left -= cell->quantity;
            n++;
        }
    }
    return left > 0 ? SIZE_MAX : n;
}

/* Lower bound on the places still to be taken: needs that share no open place add up. `*branch` becomes the
 * open need with fewest sources (or the number of varieties if none is open). SIZE_MAX = it cannot be done.
 */
static size_t bound(search *s, size_t *branch)
{
    size_t sum = 0, fewest = SIZE_MAX;
    *branch = s->m->varieties;
    s->stamp++;
    for (size_t i = 0; i < s->variety_count; i++) {
        size_t v = s->varieties[i], open = 0;
        bool apart = false;
        if (s->left[v] <= 0)
            continue;
        size_t n = places_for(s, v, &open, &apart);
        if (n == SIZE_MAX)
            return SIZE_MAX;
        if (open - n < fewest) { /* the least choice first */
            fewest = open - n;
            *branch = v;
        }
        if (!apart)
            continue;
        sum += n;
        for (size_t k = s->m->from[v]; k < s->m->from[v + 1]; k++)
            s->mark[s->m->cells[s->m->sources[k]].place] = s->stamp;
    }
    return sum;
}

/* Either the largest source of the tightest need is taken, or it is barred. */
static void descend(search *s)
{
    size_t v = 0;
    if (s->effort <= 0)
        return;
    s->effort -= (long)s->variety_count;
    size_t more = bound(s, &v);
    if (more == SIZE_MAX || s->taken + more >= s->best_count)
        return;
    if (v == s->m->varieties) {
        s->best_count = s->taken;
        s->found = true;
        for (size_t i = 0; i < s->place_count; i++)
            s->best[s->places[i]] = s->stands[s->places[i]] == TAKEN;
        return;
    }
    size_t k = s->m->from[v];
    while (s->stands[s->m->cells[s->m->sources[k]].place] != OPEN)
        k++;
    size_t place = s->m->cells[s->m->sources[k]].place;
    take(s, place, true);
    descend(s);
    take(s, place, false);
    s->stands[place] = BARRED;
    descend(s);
    s->stands[place] = OPEN;
}

/* What is left to do when the forced places are taken. A place that could give nothing more stays barred. */
static void prepare(search *s, const int64_t *need, const bool *forced)
{
    const cw_cell_map *m = s->m;
    memcpy(s->left, need, m->varieties * sizeof *s->left);
    for (size_t p = 0; p < m->places; p++)
        for (size_t k = m->at[p]; forced[p] && k < m->at[p + 1]; k++)
            s->left[m->cells[k].variety] -= m->cells[k].quantity;
    for (size_t p = 0; p < m->places; p++) {
        s->stands[p] = BARRED;
        for (size_t k = m->at[p]; !forced[p] && k < m->at[p + 1]; k++)
            if (s->left[m->cells[k].variety] > 0)
                s->stands[p] = OPEN;
    }
}

/* Gathers the tangle of one place: all places and open needs that hang together with it. */
static void gather(search *s, size_t first, bool *place_seen, bool *variety_seen)
{
    const cw_cell_map *m = s->m;
    s->place_count = s->variety_count = 0;
    s->places[s->place_count++] = first;
    place_seen[first] = true;
    for (size_t i = 0; i < s->place_count; i++) {
        for (size_t k = m->at[s->places[i]]; k < m->at[s->places[i] + 1]; k++) {
            size_t v = m->cells[k].variety;
            if (variety_seen[v] || s->left[v] <= 0)
                continue;
            variety_seen[v] = true;
            s->varieties[s->variety_count++] = v;
            for (size_t j = m->from[v]; j < m->from[v + 1]; j++) {
                size_t p = m->cells[m->sources[j]].place;
                if (place_seen[p] || s->stands[p] != OPEN)
                    continue;
                place_seen[p] = true;
                s->places[s->place_count++] = p;
            }
        }
    }
}

/* Searches one tangle and puts a smaller choice, if there is one, in place of the present one. */
static bool solve(search *s, bool *chosen, long *budget)
{
    size_t present = 0;
    for (size_t i = 0; i < s->place_count; i++)
        present += chosen[s->places[i]];
    long spend = *budget < EFFORT_EACH ? *budget : EFFORT_EACH;
    s->taken = 0;
    s->best_count = present;
    s->found = false;
    s->effort = spend;
    descend(s);
    *budget -= spend - s->effort;
    for (size_t i = 0; s->found && i < s->place_count; i++)
        chosen[s->places[i]] = s->best[s->places[i]];
    return s->found;
}

cw_code cw_stops_search(const cw_cell_map *m, const int64_t *need, const bool *forced, bool *chosen,
                        bool *improved, cw_error *err)
{
    search s = { .m = m };
    cw_code code = CW_OK;
    long budget = EFFORT_ALL;
    bool *place_seen = calloc(m->places + 1, sizeof *place_seen);
    bool *variety_seen = calloc(m->varieties + 1, sizeof *variety_seen);
    *improved = false;
    s.left = calloc(m->varieties + 1, sizeof *s.left);
    s.stands = calloc(m->places + 1, sizeof *s.stands);
    s.varieties = calloc(m->varieties + 1, sizeof *s.varieties);
    s.places = calloc(m->places + 1, sizeof *s.places);
    s.mark = calloc(m->places + 1, sizeof *s.mark);
    s.best = calloc(m->places + 1, sizeof *s.best);
    if (!place_seen || !variety_seen || !s.left || !s.stands || !s.varieties || !s.places || !s.mark ||
        !s.best) {
        code = cw_error_memory(err);
        goto done;
    }
    prepare(&s, need, forced);
    for (size_t p = 0; p < m->places && budget > 0; p++) {
        if (s.stands[p] != OPEN || place_seen[p])
            continue;
        gather(&s, p, place_seen, variety_seen);
        if (solve(&s, chosen, &budget))
            *improved = true;
    }
done:
    free(place_seen);
    free(variety_seen);
    free(s.left);
    free(s.stands);
    free(s.varieties);
    free(s.places);
    free(s.mark);
    free(s.best);
    return code;
}
