/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "clock.h"
#include "desk/people/accounts.h"
#include "desk/nursery/watching.h"
#include "http/http_inside.h"

#include "base/banned.h"

/* What the operator and the owner are told about refused requests. A line has words of this program and numbers only: the
 * route as in the table, the number of the account or key, its role, the reason. Nothing that a client sent is in it, no name
 * and no address (it is personal data), so there is nothing to inject and nothing to forget. Each reason has so many lines a
 * minute; what is beyond is counted, so that nobody can fill the journal or drown one reason in another. */
#define LINES_A_MINUTE 10
#define MINUTE_MS      60000LL
#define HOUR_MS        3600000LL

static void tell(cw_server *s, const char *line)
{
    if (s->how.say)
        s->how.say(line);
}

/* The word's place; the last one takes all that do not fit. Called with the lock held. */
static struct cw_watched *place_of(cw_watch *w, const char *word)
{
    size_t i = 0;
    while (i + 1 < CW_WATCH_WORDS && w->words[i].word && w->words[i].word != word)
        i++;
    w->words[i].word = word;
    return &w->words[i];
}

static void sum_up(cw_server *s, const char *word, unsigned lines)
{
    char line[120];
    if (lines <= LINES_A_MINUTE)
        return;
    snprintf(line, sizeof line, "refused: %s; and %u more within a minute", word, lines - LINES_A_MINUTE);
    tell(s, line);
}

/* May one more line of this word be written? */
static bool count(cw_server *s, const char *word)
{
    int64_t now = cw_clock_ticks();
    pthread_mutex_lock(&s->watch.lock);
    struct cw_watched *w = place_of(&s->watch, word);
    unsigned before = 0;
    if (w->lines == 0 || now - w->since > MINUTE_MS) {
        before = w->lines;
        w->lines = 0;
        w->since = now;
    }
    bool told = ++w->lines <= LINES_A_MINUTE;
    pthread_mutex_unlock(&s->watch.lock);
    sum_up(s, word, before);
    return told;
}

void cw_watch_sum_up(cw_server *s, bool all)
{
    int64_t now = cw_clock_ticks();
    for (size_t i = 0; i < CW_WATCH_WORDS; i++) {
        pthread_mutex_lock(&s->watch.lock);
        struct cw_watched *w = &s->watch.words[i];
        unsigned lines = all || now - w->since > MINUTE_MS ? w->lines : 0;
        const char *word = w->word;
        w->lines -= lines;
        pthread_mutex_unlock(&s->watch.lock);
        sum_up(s, word, lines);
    }
}

static void name_asker(const cw_request *q, char *out, size_t size)
{
    const char *role = cw_role_word(q->who.role);
    if (q->tried && q->person == 0)
        snprintf(out, size, "no account");
    else if (q->tried)
        snprintf(out, size, "account %lld", (long long)q->person);
    else if (q->program > 0)
        snprintf(out, size, "key %lld, %s", (long long)q->program, role);
    else if (q->person > 0)
        snprintf(out, size, "person %lld, %s", (long long)q->person, role);
    else
        snprintf(out, size, "%s", q->who.role == CW_ROLE_NONE ? "nobody" : "this machine");
}

void cw_watch_refused(const cw_request *q)
{
    static const char *const methods[] = { "GET", "POST", "PUT", "PATCH", "DELETE" };
    static const unsigned statuses[] = { 400, 401, 403, 411, 413, 415, 422, 429 };
    char line[240], asker[80];
    bool refused = false;
    for (size_t i = 0; i < sizeof statuses / sizeof statuses[0]; i++)
        refused = refused || q->status == statuses[i];
    const char *word = q->refusal ? q->refusal : q->problem;
    if (word && strcmp(word, "refused") == 0)
        word = "data"; /* as the desk found it, not as a line of the log reads */
    if (!refused || word == NULL || !count(q->server, word))
        return;
    name_asker(q, asker, sizeof asker);
    snprintf(line, sizeof line, "refused: %s; %s %s; %s", word, q->route ? methods[q->route->method] : "no",
             q->route ? q->route->path : "route", asker);
    tell(q->server, line);
}

static const char *const unusual_words[] = { "tries to sign in", "connections of one address" };

static cw_code note_tries(cw_request *q, cw_nursery *n, cw_error *err)
{
    return cw_watching_unusual(n, &q->who, unusual_words[CW_UNUSUAL_TRIES], err);
}

static cw_code note_connections(cw_request *q, cw_nursery *n, cw_error *err)
{
    return cw_watching_unusual(n, &q->who, unusual_words[CW_UNUSUAL_CONNECTIONS], err);
}

void cw_watch_unusual(cw_server *s, cw_unusual what)
{
    char line[120];
    atomic_store(&s->watch.unusual[what], true);
    if (!count(s, unusual_words[what]))
        return;
    snprintf(line, sizeof line, "unusual: many %s; held back", unusual_words[what]);
    tell(s, line);
}

static void put_note(cw_server *s, cw_handler note)
{
    static const cw_route none = { .access = CW_ROUTE_WORK };
    cw_request *q = calloc(1, sizeof *q);
    if (q == NULL)
        return;
    q->server = s;
    q->route = &none;
    q->then = note;
    q->to_the_end = true;
    q->who = (cw_asker){ .actor = "server", .role = CW_ROLE_OWNER, .now = cw_clock_now() };
    cw_jobs_put(&s->jobs, q);
}

/* The log is told each time (within its cap), the audit once an hour. Only the keeper comes here, which ends before the
 * writer does. */
void cw_watch_tick(cw_server *s)
{
    static const cw_handler notes[] = { note_tries, note_connections };
    int64_t now = cw_clock_ticks();
    cw_watch_sum_up(s, false);
    for (size_t i = 0; i < CW_UNUSUALS; i++) {
        if (s->watch.noted[i] != 0 && now - s->watch.noted[i] < HOUR_MS)
            continue;
        if (!atomic_exchange(&s->watch.unusual[i], false))
            continue;
        s->watch.noted[i] = now;
        put_note(s, notes[i]);
    }
}
