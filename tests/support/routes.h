/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_ROUTES_H
#define CW_TESTS_SUPPORT_ROUTES_H

/* Tests that tick routes off in an array: by their place among all of them. */
#include "http/route.h"

#define ROUTES_MOST 512

static inline size_t route_place(const cw_route *r)
{
    size_t place = 0;
    while (cw_route_at(place) != r)
        place++;
    return place;
}

#endif
