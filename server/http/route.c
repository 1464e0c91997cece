/* SPDX-License-Identifier: MIT */
#include "http/route.h"

#include "http/uri.h"
#include <string.h>

#include "base/banned.h"

#define ROUTE(method, path, access, may, cap, handler)                                                       \
    { CW_##method, path, CW_ROUTE_##access, CW_MAY_##may, cap, cw_route_##handler, &cw_contract_##handler,   \
      #handler },
const cw_route cw_routes[] = {
#include "routes/routes.def"
    { .path = NULL },
};

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
    for (const cw_route *r = cw_routes; r->path; r++) {
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
