/* SPDX-License-Identifier: MIT */
#include "store/db_inside.h"
#include <ctype.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* What the words of a statement say of its columns, where they say it surely: a column that is taken straight from a table of
 * FROM or of a plain JOIN is there in each row. Only the outermost SELECT is read; what stands in brackets or quotes is passed over.
 * Statements begin with SELECT, and keywords are in capitals, as everywhere in sql/. */

#define WORD 64

static const char *past_quotes(const char *at)
{
    char quote = *at++;
    while (*at && *at != quote)
        at++;
    return *at ? at + 1 : at;
}

static const char *past_brackets(const char *at)
{
    int depth = 0;
    while (*at) {
        if (*at == '\'' || *at == '"') {
            at = past_quotes(at);
            continue;
        }
        depth += (*at == '(') - (*at == ')');
        at++;
        if (depth == 0)
            break;
    }
    return at;
}

/* The next word, or mark, of the outermost level; "(" stands for all that is in the brackets. Returns what follows; *out is empty at
 * the end. */
static const char *next_word(const char *at, char out[WORD])
{
    at += strspn(at, " \n\t");
    const char *end = at;
    if (*at == '(')
        end = past_brackets(at);
    else if (*at == '\'' || *at == '"')
        end = past_quotes(at);
    else if (isalnum((unsigned char)*at) || *at == '_')
        end += strspn(at, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_.");
    else if (*at && *at != ';')
        end++;
    size_t n = *at == '(' ? 1 : (size_t)(end - at);
    snprintf(out, WORD, "%.*s", (int)(n < WORD ? n : WORD - 1), at);
    return end;
}

static bool is(const char *word, const char *want)
{
    return strcmp(word, want) == 0;
}

static bool has_join(const char *sql)
{
    char word[WORD];
    for (const char *at = sql; (at = next_word(at, word)) != NULL && word[0];)
        if (is(word, "JOIN"))
            return true;
    return false;
}

/* Of the columns from `at` on, number `column` by its words: whether it is no more than alias.name, perhaps AS another. Where
 * nothing is joined the name alone will do. */
static bool plain_column(const char *at, int column, char alias[WORD])
{
    char word[WORD], first[WORD] = "";
    int n = 0;
    bool plain = true, alone = !has_join(at);
    for (int k = 0; (at = next_word(at, word)) != NULL && word[0] && !is(word, "FROM");) {
        if (is(word, ",")) {
            if (n++ == column)
                break;
            k = 0;
            continue;
        }
        if (n != column)
            continue;
        if (k == 0)
            snprintf(first, sizeof first, "%s", word);
        plain = plain && (k == 0 ? isalpha((unsigned char)word[0]) && (alone || strchr(word, '.') != NULL)
                                 : k == 2 || is(word, "AS"));
        k++;
    }
    snprintf(alias, WORD, "%.*s", strchr(first, '.') ? (int)strcspn(first, ".") : 0, first);
    return plain && first[0];
}

/* `alias` is the name of `table` itself in FROM, in a plain JOIN, or after a comma. */
static bool stands_by_itself(const char *sql, const char *table, const char *alias)
{
    char word[WORD], last[WORD] = "", before[WORD] = "";
    bool found = false;
    for (const char *at = sql; (at = next_word(at, word)) != NULL && word[0];) {
        if ((is(last, "FROM") || is(last, ",") || (is(last, "JOIN") && !is(before, "LEFT"))) &&
            is(word, table)) {
            char name[WORD];
            (void)next_word(at, name);
            found = found || is(name, alias) || is(table, alias) || !alias[0];
        }
        snprintf(before, sizeof before, "%s", last);
        snprintf(last, sizeof last, "%s", word);
    }
    return found;
}

/* MAX and MIN of several are no aggregates. */
static bool has_several(const char *brackets)
{
    char word[WORD];
    const char *end = past_brackets(brackets);
    for (const char *at = brackets + 1; at < end && (at = next_word(at, word)) != NULL && word[0];)
        if (is(word, ","))
            return true;
    return false;
}

/* One row, also where there is nothing: an aggregate without groups. Those of selects in brackets are theirs. */
static bool is_one_row_of_all(const char *sql)
{
    static const char *const sums[] = { "MAX(", "MIN(", "COUNT(", "SUM(", "AVG(", "TOTAL(", "group_concat(" };
    char word[WORD];
    for (const char *at = sql; (at = next_word(at, word)) != NULL && word[0];)
        if (is(word, "GROUP"))
            return false;
    for (const char *at = sql; *at;) {
        if (strncmp(at, "(SELECT", 7) == 0) {
            at = past_brackets(at);
            continue;
        }
        for (size_t i = 0; i < sizeof sums / sizeof sums[0]; i++) {
            size_t n = strlen(sums[i]);
            if (strncmp(at, sums[i], n) == 0 && !(i < 2 && has_several(at + n - 1)))
                return true;
        }
        at++;
    }
    return false;
}

bool cw_shape_surely_there(const char *sql, int column, const char *table)
{
    char alias[WORD];
    static const char begins[] = "SELECT ";
    sql += strspn(sql, " \n\t");
    if (strncmp(sql, begins, sizeof begins - 1) != 0 || strstr(sql, "UNION") || strstr(sql, "RIGHT JOIN") ||
        strstr(sql, "FULL JOIN"))
        return false;
    return plain_column(sql + sizeof begins - 1, column, alias) && stands_by_itself(sql, table, alias) &&
           !is_one_row_of_all(sql);
}
