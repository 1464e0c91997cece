/* SPDX-License-Identifier: MIT */
#include "post/smtp.h"

#include "base/text.h"
#include "clock.h"
#include <curl/curl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define CONNECT_MS  30000L
#define PATIENCE_MS 600000L
#define GRACE_MS    1500

/* One conversation, as its lines go to and fro. */
typedef struct talk {
    const cw_post_letter *letter;
    size_t sent;    /* bytes of the message that the line was given */
    bool whole;     /* all of them, and the end */
    bool recipient; /* RCPT was sent: what is refused from then on is this letter */
    int code;       /* of the last answer, 0: none yet */
    bool answered;  /* an answer came after the whole letter */
    char last[CW_MAX_NAME + 1];
    cw_go_on go_on;
    int64_t stop_at; /* ticks when a stop was first asked for; 0: not yet */
    bool stopped;
} talk;

static size_t give(char *to, size_t size, size_t count, void *self)
{
    talk *t = self;
    size_t room = size * count, left = t->letter->message.length - t->sent;
    size_t n = left < room ? left : room;
    memcpy(to, t->letter->message.data + t->sent, n);
    t->sent += n;
    t->whole = t->whole || n == 0; /* the library writes the end of the letter now */
    return n;
}

/* A line of an answer: "250-SIZE", "250 OK". The last one of several counts. */
static size_t hear(char *line, size_t size, size_t count, void *self)
{
    talk *t = self;
    size_t n = size * count;
    int64_t code = 0;
    if (n < 3 || !cw_parse_int(line, 3, 200, 599, &code) || code == 221)
        return n; /* 221 answers the farewell, which is said after a refusal, too */
    t->code = (int)code;
    t->answered = t->answered || (t->whole && (n == 3 || line[3] != '-'));
    while (n > 0 && (line[n - 1] == '\r' || line[n - 1] == '\n'))
        n--;
    size_t kept = n < sizeof t->last ? n : sizeof t->last - 1;
    for (size_t i = 0; i < kept; i++)
        t->last[i] = (unsigned char)line[i] < 0x20 || (unsigned char)line[i] > 0x7e ? '?' : line[i];
    t->last[kept] = '\0';
    return size * count;
}

/* Which command is on its way? Nothing of it is kept: it may be the password. */
static int watch(CURL *curl, curl_infotype type, char *data, size_t n, void *self)
{
    talk *t = self;
    (void)curl;
    if (type == CURLINFO_HEADER_OUT && n >= 5 && strncmp(data, "RCPT ", 5) == 0)
        t->recipient = true;
    return 0;
}

static int still_wanted(void *self, curl_off_t a, curl_off_t b, curl_off_t c, curl_off_t d)
{
    talk *t = self;
    (void)a, (void)b, (void)c, (void)d;
    if (t->stop_at == 0 && !cw_wanted(t->go_on))
        t->stop_at = cw_clock_ticks();
    /* A stop between the letter's end and its answer leaves a doubt: the answer has a little time yet. */
    t->stopped = t->stop_at != 0 && (!t->whole || cw_clock_ticks() - t->stop_at > GRACE_MS);
    return t->stopped;
}

static cw_carried judge(const talk *t, CURLcode how, const char *why, cw_carry_words *said)
{
    bool temporary = t->code / 100 == 4;
    if (t->answered && t->code / 100 == 2) {
        cw_copy(said->text, sizeof said->text, t->last);
        return CW_CARRIED_TAKEN; /* whatever became of the farewell */
    }
    if (t->answered || (t->code >= 400 && !t->stopped)) {
        cw_copy(said->text, sizeof said->text, t->last);
        if (t->code == 421 || !t->recipient)
            return CW_CARRIED_DOWN; /* the sign-in, the sender, the service */
        return temporary ? CW_CARRIED_LATER : CW_CARRIED_REFUSED;
    }
    if (t->whole) {
        snprintf(said->text, sizeof said->text,
                 "the letter was handed over and no answer came (%.100s); it may have left", why);
        return CW_CARRIED_UNSURE;
    }
    cw_copy(said->text, sizeof said->text, why[0] ? why : curl_easy_strerror(how));
    return t->stopped ? CW_CARRIED_STOPPED : CW_CARRIED_DOWN;
}

/* smtp[s]://host[:port]/our-name: with what is behind the "@" we greet, not with the machine's name. */
static bool set_where(CURL *c, const cw_post_letter *l, const cw_place *place)
{
    char url[2 * CW_MAX_NAME + 80];
    const char *domain = strrchr(l->from, '@');
    int port = place->port ? place->port : strcmp(place->scheme, "smtps") == 0 ? 465 : 587;
    snprintf(url, sizeof url, "%s://%s:%d/%s", place->scheme, place->host, port, domain ? domain + 1 : "");
    return curl_easy_setopt(c, CURLOPT_URL, url) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_PROTOCOLS_STR, "smtp,smtps") == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_PROXY, "") == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_NETRC, (long)CURL_NETRC_IGNORED) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_USE_SSL, (long)(place->loopback ? CURLUSESSL_NONE : CURLUSESSL_ALL)) ==
               CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_SSLVERSION, (long)CURL_SSLVERSION_TLSv1_2) == CURLE_OK;
}

static bool set_who(CURL *c, const cw_post_letter *l, const struct curl_slist *to)
{
    const cw_mail_account *a = &l->account;
    bool well = curl_easy_setopt(c, CURLOPT_MAIL_FROM, l->from) == CURLE_OK &&
                curl_easy_setopt(c, CURLOPT_MAIL_RCPT, to) == CURLE_OK &&
                curl_easy_setopt(c, CURLOPT_UPLOAD, 1L) == CURLE_OK;
    if (well && a->authority[0])
        well = curl_easy_setopt(c, CURLOPT_CAINFO, a->authority) == CURLE_OK;
    if (well && a->user[0])
        well = curl_easy_setopt(c, CURLOPT_USERNAME, a->user) == CURLE_OK &&
               curl_easy_setopt(c, CURLOPT_PASSWORD, a->password) == CURLE_OK;
    return well;
}

static bool set_ears(CURL *c, talk *t, long patience, char why[CURL_ERROR_SIZE])
{
    return curl_easy_setopt(c, CURLOPT_NOSIGNAL, 1L) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_CONNECTTIMEOUT_MS, patience < CONNECT_MS ? patience : CONNECT_MS) ==
               CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_SERVER_RESPONSE_TIMEOUT, (patience + 999) / 1000) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_LOW_SPEED_LIMIT, 1L) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_LOW_SPEED_TIME, (patience + 999) / 1000) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_READFUNCTION, give) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_READDATA, t) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_HEADERFUNCTION, hear) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_HEADERDATA, t) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_DEBUGFUNCTION, watch) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_DEBUGDATA, t) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_VERBOSE, 1L) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_XFERINFOFUNCTION, still_wanted) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_XFERINFODATA, t) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_NOPROGRESS, 0L) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_ERRORBUFFER, why) == CURLE_OK;
}

cw_carried cw_smtp_carry(const cw_post_letter *letter, long patience_ms, cw_go_on go_on, cw_carry_words *said)
{
    char why[CURL_ERROR_SIZE] = "", recipient[260];
    talk t = { .letter = letter, .go_on = go_on };
    cw_place place;
    *said = (cw_carry_words){ "" };
    if (!cw_place_parse(letter->account.server, "smtps|smtp", false, &place)) {
        snprintf(said->text, sizeof said->text, "the account's server is no smtps:// or smtp:// address");
        return CW_CARRIED_DOWN;
    }
    snprintf(recipient, sizeof recipient, "<%.255s>", letter->to);
    struct curl_slist *to = curl_slist_append(NULL, recipient);
    CURL *c = to ? curl_easy_init() : NULL;
    CURLcode how = CURLE_OUT_OF_MEMORY;
    if (c && set_where(c, letter, &place) && set_who(c, letter, to) &&
        set_ears(c, &t, patience_ms ? patience_ms : PATIENCE_MS, why))
        how = curl_easy_perform(c);
    cw_carried out = judge(&t, how, why, said);
    curl_easy_cleanup(c);
    curl_slist_free_all(to);
    return out;
}
