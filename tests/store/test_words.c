/* SPDX-License-Identifier: MIT */
#include "support/check.h"

#include "base/words.h"
#include "store/db.h"
#include "store/season.h"
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

/* The words of a CHECK and those of base/words.def are the same, in both directions. */

typedef struct checked {
    char column[80]; /* "table.column" */
    char words[400]; /* "|a|b|" in the order of the CHECK */
    size_t count;
} checked;

/* Reads the expression of a CHECK: the column is its first word, the words stand in quotes. Returns behind it. */
static const char *read_check(const char *table, const char *s, checked *out)
{
    int depth = 1;
    s += strncmp(s, "CASE ", 5) == 0 ? 5 : 0;
    size_t n = strcspn(s, " =<>()\n");
    *out = (checked){ .words = "|" };
    snprintf(out->column, sizeof out->column, "%s.%.*s", table, (int)n, s);
    for (; *s && depth > 0; s++) {
        depth += (*s == '(') - (*s == ')');
        if (*s != '\'')
            continue;
        n = strcspn(s + 1, "'");
        size_t used = strlen(out->words);
        snprintf(out->words + used, sizeof out->words - used, "%.*s|", (int)n, s + 1);
        out->count++;
        s += n + 1;
    }
    return s;
}

static size_t count_words(const char *words)
{
    size_t n = 1;
    for (; *words; words++)
        n += *words == '|';
    return n;
}

/* The set that says it is this column's, NULL: none does. */
static const cw_word_set *set_of(const char *column)
{
    for (size_t i = 0; i < cw_word_set_count; i++)
        for (const char *c = cw_word_sets[i].columns; *c;) {
            size_t n = strcspn(c, " ");
            if (strlen(column) == n && strncmp(column, c, n) == 0)
                return &cw_word_sets[i];
            c += n + (c[n] == ' ');
        }
    return NULL;
}

/* Each word of the set stands in the CHECK, and there are as many. */
static void hold(const checked *c, const cw_word_set *set)
{
    char word[80];
    if (c->count != count_words(set->words))
        fail_msg("%s: its CHECK has %s, cw_words_%s has %s", c->column, c->words, set->name, set->words);
    for (const char *w = set->words; *w;) {
        size_t n = strcspn(w, "|");
        snprintf(word, sizeof word, "|%.*s|", (int)n, w);
        if (strstr(c->words, word) == NULL)
            fail_msg("%s: its CHECK has %s, cw_words_%s has %s", c->column, c->words, set->name, set->words);
        w += n + (w[n] == '|');
    }
}

static size_t hold_table(const char *table, const char *sql)
{
    size_t found = 0;
    checked c;
    while ((sql = strstr(sql, "CHECK (")) != NULL) {
        sql = read_check(table, sql + strlen("CHECK ("), &c);
        if (c.count < 2)
            continue;
        const cw_word_set *set = set_of(c.column);
        if (set == NULL)
            fail_msg("%s: name the set of its words %s in core/base/words.def", c.column, c.words);
        hold(&c, set);
        found++;
    }
    return found;
}

static void test_checks_have_the_words_of_the_sets(void **state)
{
    char folder[] = "/tmp/cw-test-XXXXXX", path[64], command[128];
    cw_error err = CW_ERROR_NONE;
    cw_db *db = NULL;
    sqlite3 *raw = NULL;
    sqlite3_stmt *s = NULL;
    size_t found = 0, told = 0;
    (void)state;
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/n.db", folder);
    cw_check_ok(cw_db_open(path, CW_DB_NEW, "test", &db, &err), &err);
    cw_db_close(db);
    assert_int_equal(sqlite3_open(path, &raw), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(
                         raw, "SELECT name, sql FROM sqlite_schema WHERE type = 'table' AND sql IS NOT NULL",
                         -1, &s, NULL),
                     SQLITE_OK);
    while (sqlite3_step(s) == SQLITE_ROW)
        found += hold_table((const char *)sqlite3_column_text(s, 0), (const char *)sqlite3_column_text(s, 1));
    sqlite3_finalize(s);
    sqlite3_close(raw);
    for (size_t i = 0; i < cw_word_set_count; i++)
        told += cw_word_sets[i].columns[0] ? 1 : 0;
    for (size_t i = 0; i < cw_word_set_count; i++)
        for (const char *c = cw_word_sets[i].columns; *c; c++)
            told += *c == ' ';
    assert_int_equal(found, told); /* every column that a set names has such a CHECK */
    snprintf(command, sizeof command, "rm -r %s", folder);
    assert_int_equal(system(command), 0);
}

/* No word stands twice in a set, and none is empty. */
static void test_sets_are_sets(void **state)
{
    (void)state;
    for (size_t i = 0; i < cw_word_set_count; i++) {
        const char *words = cw_word_sets[i].words;
        for (const char *w = words; *w;) {
            size_t n = strcspn(w, "|");
            char twice[80], all[400];
            snprintf(twice, sizeof twice, "|%.*s|", (int)n, w);
            snprintf(all, sizeof all, "|%s|", w + n + (w[n] == '|'));
            if (n == 0 || strstr(all, twice))
                fail_msg("cw_words_%s: %s", cw_word_sets[i].name, words);
            w += n + (w[n] == '|');
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_checks_have_the_words_of_the_sets),
        cmocka_unit_test(test_sets_are_sets),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
