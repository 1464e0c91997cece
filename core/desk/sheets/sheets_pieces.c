/* SPDX-License-Identifier: MIT */
#include "desk/sheets/sheets_rows_inside.h"

#include <string.h>

#include "base/banned.h"

/* Items in a cell: how many of each, and where the next one begins. */

/* "3 x Amber Lantern" -> 3 and the rest; 0 when no number leads. */
int64_t cw_piece_leads(const char **s, size_t *n)
{
    size_t i = 0;
    int64_t count = 0;
    while (i < *n && (*s)[i] >= '0' && (*s)[i] <= '9')
        i++;
    if (i == 0 || !cw_parse_int(*s, i, 1, CW_MAX_LINE_QUANTITY, &count))
        return 0;
    size_t digits = i;
    while (i < *n && (*s)[i] == ' ')
        i++;
    if (i < *n && ((*s)[i] == 'x' || (*s)[i] == 'X' || (*s)[i] == '*'))
        i++;
    else if (i + 1 < *n && memcmp(*s + i, "\xC3\x97", 2) == 0)
        i += 2;
    else if (i == digits)
        return 0;
    while (i < *n && (*s)[i] == ' ')
        i++;
    *s += i;
    *n -= i;
    return *n > 0 ? count : 0;
}

/* "Amber Lantern x3" -> 3 and what stands before. */
int64_t cw_piece_trails(const char *s, size_t *n)
{
    size_t digits = *n;
    int64_t count = 0;
    while (digits > 0 && s[digits - 1] >= '0' && s[digits - 1] <= '9')
        digits--;
    size_t end = digits;
    while (end > 0 && s[end - 1] == ' ')
        end--;
    if (digits == *n || end < 3 || (s[end - 1] != 'x' && s[end - 1] != 'X') || s[end - 2] != ' ' ||
        !cw_parse_int(s + digits, *n - digits, 1, CW_MAX_LINE_QUANTITY, &count))
        return 0;
    *n = end - 2;
    return count;
}

/* Items one behind the other in one cell, parted by semicolons, line ends, bars or plus signs, or by commas before a number. */
size_t cw_piece_end(const char *s, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if (strchr(";\n\r|", s[i]))
            return i;
        if ((s[i] == ',' || s[i] == '+') && i + 2 < n) {
            size_t next = i + 1;
            while (next < n && s[next] == ' ')
                next++;
            if (next < n && s[next] >= '0' && s[next] <= '9')
                return i;
        }
    }
    return n;
}
