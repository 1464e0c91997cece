/* SPDX-License-Identifier: MIT */
#ifndef CW_STORE_SQL_H
#define CW_STORE_SQL_H

/* What does sql/ hold? It is embedded at build time by scripts/embed-sql.cmake. Both tables end with a NULL name. */
typedef struct cw_sql_migration {
    int number;
    const char *name;
    const char *sql;
} cw_sql_migration;

typedef struct cw_sql_statement {
    const char *name; /* "<family>.<word>" */
    const char *sql;
    unsigned like; /* the number of the statement by whose names its columns are read: mostly its own */
} cw_sql_statement;

extern const cw_sql_migration cw_sql_migrations[];
extern const cw_sql_statement cw_sql_statements[];

/* The text of a statement by its name, which must be one of them. */
const char *cw_sql_text(const char *name);

#endif
