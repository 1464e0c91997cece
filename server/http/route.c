/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "http/uri.h"
#include <string.h>

#include "base/banned.h"

/* The families of routes, in the order of the contract: F(x) is the table at the end of routes/x.c. No two patterns fit one path, so
 * the order decides nothing else. */
#define FAMILIES                                                                                             \
    F(today), F(session), F(nursery), F(offering), F(forecast), F(beds), F(shipping), F(people), F(account), \
        F(factor), F(orders), F(forgetting), F(tasks), F(standby), F(intake), F(sheets), F(cellar),          \
        F(field), F(closing), F(dividing), F(lying), F(order_desk), F(rests), F(joining), F(allotting),      \
        F(substituting), F(tracing), F(catalogue), F(naming), F(exporting), F(picking), F(packing),          \
        F(claims), F(print), F(print_walk), F(print_slips), F(print_style), F(post), F(hook), F(notices)

#define F(name) cw_routes_##name[]
extern const cw_route FAMILIES;
#undef F

#define F(name) cw_routes_##name
static const cw_route *const families[] = { FAMILIES };
#undef F

const cw_route *cw_route_at(size_t place)
{
    for (size_t f = 0; f < sizeof families / sizeof families[0]; f++)
        for (const cw_route *r = families[f]; r->path; r++)
            if (place-- == 0)
                return r;
    return NULL;
}

/* Takes one {name} of the pattern and one segment of the path; false when the segment is empty or too long.
 */
static bool take_segment(const char **pattern, const char **path, cw_path_param *param)
{
    size_t name = strcspn(*pattern, "}");
    size_t value = strcspn(*path, "/");
    param->name = *pattern + 1;
    param->name_length = name - 1;
    if (value == 0 || !cw_uri_decode(*path, value, false, param->value, sizeof param->value))
        return false;
    *pattern += name + 1;
    *path += value;
    return true;
}

static bool matches(const char *pattern, const char *path, cw_path_param params[CW_MAX_PATH_PARAMS])
{
    size_t n = 0;
    while (*pattern) {
        if (*pattern == '{') {
            if (n == CW_MAX_PATH_PARAMS || !take_segment(&pattern, &path, &params[n++]))
                return false;
        } else if (*pattern++ != *path++) {
            return false;
        }
    }
    return *path == '\0';
}

const cw_route *cw_route_find(cw_method method, const char *path, cw_path_param params[CW_MAX_PATH_PARAMS],
                              bool *other)
{
    *other = false;
    for (size_t f = 0; f < sizeof families / sizeof families[0]; f++)
        for (const cw_route *r = families[f]; r->path; r++) {
            memset(params, 0, CW_MAX_PATH_PARAMS * sizeof *params);
            if (!matches(r->path, path, params))
                continue;
            if (r->method == method)
                return r;
            *other = true;
        }
    return NULL;
}

unsigned cw_contract_status(const cw_contract *c)
{
    return c->status ? c->status : c->answer || c->type ? 200 : 204;
}
