/* SPDX-License-Identifier: MIT */
#include "fleet/called.h"
#include "must.h"

#include <string.h>

/* The first bytes of a connection to a fleet: "h" and a head of HTTP, or "t" and what a TLS client says first. What is told is the
 * same however much has come since, it is a host name, and that name's own letters have come; nothing beyond what came is read. */

typedef cw_called (*reader)(const unsigned char *bytes, size_t n, char host[CW_CALLED_NAME]);

/* In a block of just its size, so that a sanitizer sees what reads past it. */
static cw_called read_exactly(reader read, const uint8_t *bytes, size_t n, char host[CW_CALLED_NAME])
{
    unsigned char *exact = malloc(n ? n : 1);
    must(exact != NULL);
    memcpy(exact, bytes, n);
    memset(host, 0, CW_CALLED_NAME);
    cw_called told = read(exact, n, host);
    must(memcmp(exact, bytes, n) == 0);
    free(exact);
    return told;
}

static unsigned char lower(unsigned char c)
{
    return c >= 'A' && c <= 'Z' ? (unsigned char)(c + ('a' - 'A')) : c;
}

static bool has_come(const uint8_t *bytes, size_t n, const char *host)
{
    size_t letters = strlen(host);
    for (size_t at = 0; at + letters <= n; at++) {
        size_t same = 0;
        while (same < letters && lower(bytes[at + same]) == (unsigned char)host[same])
            same++;
        if (same == letters)
            return true;
    }
    return false;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    char host[CW_CALLED_NAME], before[CW_CALLED_NAME];
    if (n == 0 || (bytes[0] != 'h' && bytes[0] != 't'))
        return 0;
    reader read = bytes[0] == 'h' ? cw_called_http : cw_called_tls;
    bytes++;
    n--;
    cw_called told = read_exactly(read, bytes, n, host);
    must(told <= CW_CALLED_BROKEN);
    if (told == CW_CALLED_HOST)
        must(cw_called_is_name(host) && has_come(bytes, n, host));
    for (size_t m = 0; m < n; m += 1 + n / 64) {
        cw_called less = read_exactly(read, bytes, m, before);
        must(less == CW_CALLED_MORE || less == told);
        must(less != CW_CALLED_HOST || strcmp(before, host) == 0);
    }
    return 0;
}
