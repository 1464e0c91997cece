/* SPDX-License-Identifier: MIT */
#include "post/webhook.h"

#include "base/text.h"
#include "clock.h"
#include <curl/curl.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define PATIENCE_MS 10000L
#define HEARD       200

typedef struct heard {
    char text[HEARD + 1];
    size_t length;
    cw_go_on go_on;
    bool stopped;
} heard;

bool cw_webhook_sign(const char *secret, const char *id, long long seconds, const char *body, size_t n,
                     char out[64])
{
    unsigned char key[96], mac[crypto_auth_hmacsha256_BYTES];
    crypto_auth_hmacsha256_state state;
    char time[32];
    size_t length = 0;
    if (strncmp(secret, "whsec_", 6) != 0 ||
        sodium_base642bin(key, sizeof key, secret + 6, strlen(secret + 6), NULL, &length, NULL,
                          sodium_base64_VARIANT_ORIGINAL) != 0)
        return false;
    snprintf(time, sizeof time, ".%lld.", seconds);
    crypto_auth_hmacsha256_init(&state, key, length);
    crypto_auth_hmacsha256_update(&state, (const unsigned char *)id, strlen(id));
    crypto_auth_hmacsha256_update(&state, (const unsigned char *)time, strlen(time));
    crypto_auth_hmacsha256_update(&state, (const unsigned char *)body, n);
    crypto_auth_hmacsha256_final(&state, mac);
    memcpy(out, "v1,", 3);
    sodium_bin2base64(out + 3, 61, mac, sizeof mac, sodium_base64_VARIANT_ORIGINAL);
    sodium_memzero(key, sizeof key);
    sodium_memzero(&state, sizeof state);
    return true;
}

/* The beginning of what the shop says; more is read and passed over, up to what the time allows. */
static size_t hear(char *bytes, size_t size, size_t count, void *self)
{
    heard *h = self;
    for (size_t i = 0; i < size * count && h->length < HEARD; i++) {
        unsigned char c = (unsigned char)bytes[i];
        h->text[h->length++] = c < 0x20 || c > 0x7e ? ' ' : bytes[i];
    }
    return size * count;
}

static int still_wanted(void *self, curl_off_t a, curl_off_t b, curl_off_t c, curl_off_t d)
{
    heard *h = self;
    (void)a, (void)b, (void)c, (void)d;
    h->stopped = h->stopped || !cw_wanted(h->go_on);
    return h->stopped;
}

static bool add(struct curl_slist **list, const char *line)
{
    struct curl_slist *longer = curl_slist_append(*list, line);
    if (longer)
        *list = longer;
    return longer != NULL;
}

static bool set_headers(CURL *c, const cw_hook_message *m, struct curl_slist **list)
{
    char line[160], signature[64];
    long long seconds = (long long)(cw_clock_now() / 1000);
    if (!cw_webhook_sign(m->account.secret, m->name, seconds, m->body.data, m->body.length, signature))
        return false;
    bool well = add(list, "content-type: application/json") && add(list, "expect:");
    snprintf(line, sizeof line, "webhook-id: %s", m->name);
    well = well && add(list, line);
    snprintf(line, sizeof line, "webhook-timestamp: %lld", seconds);
    well = well && add(list, line);
    snprintf(line, sizeof line, "webhook-signature: %s", signature);
    return well && add(list, line) && curl_easy_setopt(c, CURLOPT_HTTPHEADER, *list) == CURLE_OK;
}

static bool set_all(CURL *c, const cw_hook_message *m, bool loopback, long patience, heard *h,
                    char why[CURL_ERROR_SIZE])
{
    return curl_easy_setopt(c, CURLOPT_URL, m->account.address) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_PROTOCOLS_STR, loopback ? "http,https" : "https") == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_FOLLOWLOCATION, 0L) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_PROXY, "") == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_NETRC, (long)CURL_NETRC_IGNORED) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_SSLVERSION, (long)CURL_SSLVERSION_TLSv1_2) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_NOSIGNAL, 1L) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_TIMEOUT_MS, patience) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_POSTFIELDSIZE, (long)m->body.length) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_POSTFIELDS, m->body.data) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_USERAGENT, "clumpwise/" CW_VERSION) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_WRITEFUNCTION, hear) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_WRITEDATA, h) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_XFERINFOFUNCTION, still_wanted) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_XFERINFODATA, h) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_NOPROGRESS, 0L) == CURLE_OK &&
           curl_easy_setopt(c, CURLOPT_ERRORBUFFER, why) == CURLE_OK;
}

/* A status counts only with the whole answer: one that broke off may be half of another. */
static cw_hook_carried judge(const heard *h, CURLcode how, long status, const char *why)
{
    cw_hook_carried out = { .how = CW_CARRIED_LATER };
    if (how != CURLE_OK) {
        cw_copy(out.said.text, sizeof out.said.text, why[0] ? why : curl_easy_strerror(how));
        out.how = h->stopped ? CW_CARRIED_STOPPED : CW_CARRIED_LATER;
        return out;
    }
    snprintf(out.said.text, sizeof out.said.text, "%ld%s%.*s", status, h->length ? " " : "", (int)h->length,
             h->text);
    out.gone = status == 410;
    if (status / 100 == 2)
        out.how = CW_CARRIED_TAKEN;
    else if (status == 400 || status == 410 || status == 413 || status == 415 || status == 422)
        out.how = CW_CARRIED_REFUSED;
    return out;
}

cw_hook_carried cw_webhook_carry(const cw_hook_message *m, long patience_ms, cw_go_on go_on)
{
    char why[CURL_ERROR_SIZE] = "";
    long status = 0;
    heard h = { .go_on = go_on };
    cw_place place;
    struct curl_slist *headers = NULL;
    CURLcode how = CURLE_OUT_OF_MEMORY;
    if (!cw_place_parse(m->account.address, "https|http", true, &place) ||
        (!place.loopback && strcmp(place.scheme, "https") != 0))
        return (cw_hook_carried){ .how = CW_CARRIED_LATER,
                                  .said = { "the shop's address is no https:// address" } };
    CURL *c = curl_easy_init();
    if (c && set_headers(c, m, &headers) &&
        set_all(c, m, place.loopback, patience_ms ? patience_ms : PATIENCE_MS, &h, why))
        how = curl_easy_perform(c);
    if (how == CURLE_OK)
        how = curl_easy_getinfo(c, CURLINFO_RESPONSE_CODE, &status);
    cw_hook_carried out = judge(&h, how, status, why);
    curl_easy_cleanup(c);
    curl_slist_free_all(headers);
    return out;
}
