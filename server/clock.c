/* SPDX-License-Identifier: MIT */
#include "clock.h"

#include <stdlib.h>
#include <time.h>

#include "base/banned.h"

static int64_t milliseconds(clockid_t clock)
{
    struct timespec t = { 0 };
    clock_gettime(clock, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

cw_instant cw_clock_now(void)
{
    return milliseconds(CLOCK_REALTIME);
}

int64_t cw_clock_ticks(void)
{
    return milliseconds(CLOCK_MONOTONIC);
}

void cw_clock_zone(const char *zone)
{
    setenv("TZ", zone && zone[0] ? zone : "UTC", 1);
    tzset();
}

cw_day cw_clock_day(cw_instant at)
{
    time_t seconds = (time_t)(at / 1000);
    struct tm t = { 0 };
    localtime_r(&seconds, &t);
    return cw_day_from_ymd(t.tm_year + 1900, t.tm_mon + 1, t.tm_mday);
}

void cw_clock_set(cw_asker *who, cw_day today)
{
    who->day_of = cw_clock_day;
    who->now = who->clock = cw_clock_now();
    who->today = cw_clock_day(who->now);
    if (today != CW_NO_DAY) {
        who->today = today;
        who->now = (cw_instant)today * CW_DAY_MS + CW_DAY_MS / 2;
    }
}
