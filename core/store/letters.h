/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_LETTERS_H
#define CW_STORE_LETTERS_H

/* Has every parameter of a statement its value? The letters that say what is bound ("iit") and the values after them are
 * counted against each other while the program is built: a value too few would bind what happens to lie in memory. */

#define CW_COUNT(...)                                                                                        \
    CW_COUNT_(__VA_ARGS__, 32, 31, 30, 29, 28, 27, 26, 25, 24, 23, 22, 21, 20, 19, 18, 17, 16, 15, 14, 13,   \
              12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1, 0)
#define CW_COUNT_(_1, _2, _3, _4, _5, _6, _7, _8, _9, _10, _11, _12, _13, _14, _15, _16, _17, _18, _19, _20, \
                  _21, _22, _23, _24, _25, _26, _27, _28, _29, _30, _31, _32, n, ...)                        \
    n
#define CW_FIRST(...)       CW_FIRST_(__VA_ARGS__, 0)
#define CW_FIRST_(one, ...) one

/* Does not build unless the first, a text in quotes, has as many letters as values follow. */
#define CW_LETTERS_FIT(...)                                                                                  \
    ((void)sizeof(struct {                                                                                   \
        _Static_assert(sizeof(CW_FIRST(__VA_ARGS__)) == CW_COUNT(__VA_ARGS__), "a value for each letter");   \
        int unused;                                                                                          \
    }))

#endif
