/* SPDX-License-Identifier: MIT */
#include "desk/people/accounts.h"

#include "base/text.h"
#include "desk/nursery/based_inside.h"
#include "desk/nursery/nursery_inside.h"
#include "store/audit.h"
#include "store/people.h"
#include <sodium.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "base/banned.h"

static const char *const role_words[] = { "none", "owner", "office", "packer", "cellar", "shop" };
#define ROLE_COUNT (sizeof role_words / sizeof role_words[0])

const char *cw_role_word(cw_role role)
{
    return role_words[role];
}

bool cw_role_parse(const char *word, cw_role *out)
{
    for (size_t i = 1; i < ROLE_COUNT; i++)
        if (strcmp(role_words[i], word) == 0) {
            *out = (cw_role)i;
            return true;
        }
    return false;
}

static cw_role role_of(const char *word)
{
    cw_role role = CW_ROLE_NONE;
    return cw_role_parse(word, &role) ? role : CW_ROLE_NONE;
}

static cw_code ready(cw_error *err)
{
    return sodium_init() < 0 ? cw_error_set(err, CW_MACHINE, "the machine gives no random numbers") : CW_OK;
}

cw_code cw_accounts_any(cw_nursery *n, bool *out, cw_error *err)
{
    int64_t all = 0, owners = 0;
    cw_code code = cw_people_count(n->db, &all, &owners, err);
    *out = all > 0;
    return code;
}

static cw_code check_name(const char *name, cw_error *err)
{
    size_t length = strlen(name);
    char shown[80];
    bool good = length > 0 && length <= CW_MAX_NAME && cw_utf8_valid(name, length, NULL) && name[0] != ' ' &&
                name[length - 1] != ' ' && !cw_has_control(name, length, "");
    if (!good)
        return cw_error_at(err, CW_REFUSED, NULL, 0, "name",
                           "must be one line of 1 to %d bytes without blanks around it: %s", CW_MAX_NAME,
                           cw_shown(name, length, shown));
    return CW_OK;
}

/* Persons, keys and the program itself have different names, so that nobody can pass for another in the record. Capital and
 * small letters count as the same. */
static cw_code check_free(cw_nursery *n, const char *name, bool key, cw_error *err)
{
    static const char *const own[] = { "server", "backup", "local" };
    bool person = false, program = false;
    bool reserved = strncasecmp(name, CW_KEY_ACTOR, strlen(CW_KEY_ACTOR)) == 0;
    for (size_t i = 0; i < sizeof own / sizeof own[0]; i++)
        reserved = reserved || strcasecmp(name, own[i]) == 0;
    if (reserved)
        return cw_error_at(err, CW_CONFLICT, NULL, 0, "name", "is a name that the program uses itself: %s",
                           name);
    cw_code code = cw_people_taken(n->db, name, &person, &program, err);
    if (code == CW_OK && (key ? person : program))
        code = cw_error_at(err, CW_CONFLICT, NULL, 0, "name", "is taken already, by a %s: %s",
                           key ? "person" : "key", name);
    return code;
}

static cw_code hash_password(const char *password, char out[crypto_pwhash_STRBYTES], cw_error *err)
{
    if (crypto_pwhash_str(out, password, strlen(password), crypto_pwhash_OPSLIMIT_INTERACTIVE,
                          crypto_pwhash_MEMLIMIT_INTERACTIVE) != 0)
        return cw_error_memory(err);
    return CW_OK;
}

static void no_such_person(const char *name, cw_error *err)
{
    char shown[80];
    cw_error_at(err, CW_NOT_FOUND, NULL, 0, "name", "nobody here has this name: %s",
                cw_shown(name, strlen(name), shown));
}

static cw_code add_person(cw_nursery *n, const cw_asker *who, const char *name, cw_role role,
                          const char *hash, cw_error *err)
{
    cw_person_row row;
    bool found = false;
    cw_code code = check_free(n, name, false, err);
    if (code == CW_OK)
        code = cw_people_find(n->db, name, &found, &row, err);
    if (code == CW_OK && found)
        code = cw_error_at(err, CW_CONFLICT, NULL, 0, "name", "is taken already: %s", name);
    if (code == CW_OK)
        code = cw_people_add(n->db, name, cw_role_word(role), hash, who->now, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "add person", name, NULL, cw_role_word(role), err);
    return code;
}

cw_code cw_accounts_add(cw_nursery *n, const cw_asker *who, const char *name, cw_role role,
                        const char *password, cw_error *err)
{
    char hash[crypto_pwhash_STRBYTES];
    bool any = false;
    cw_code code = cw_owner_only(who, "see or change accounts", err);
    if (code == CW_OK)
        code = check_name(name, err);
    if (code == CW_OK)
        code = cw_accounts_check_password(name, password, err);
    if (code == CW_OK && (role == CW_ROLE_NONE || role == CW_ROLE_SHOP))
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "role",
                           "a person is owner, office, packer or cellar; a shop gets a key");
    if (code == CW_OK)
        code = cw_accounts_any(n, &any, err);
    if (code == CW_OK && !any && role != CW_ROLE_OWNER)
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "role",
                           "the first person must be an owner, else nobody could add the others");
    if (code == CW_OK)
        code = ready(err);
    if (code == CW_OK)
        code = hash_password(password, hash, err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    return cw_work_end(n, add_person(n, who, name, role, hash, err), err);
}

/* The person exists, and an owner remains when this one no longer is. */
static cw_code may_lose(cw_nursery *n, const char *name, bool loses, cw_person_row *row, cw_error *err)
{
    bool found = false;
    int64_t all = 0, owners = 0;
    cw_code code = cw_people_find(n->db, name, &found, row, err);
    if (code == CW_OK && !found) {
        no_such_person(name, err);
        return CW_NOT_FOUND;
    }
    if (code == CW_OK)
        code = cw_people_count(n->db, &all, &owners, err);
    if (code == CW_OK && loses && !row->disabled && role_of(row->role) == CW_ROLE_OWNER && owners <= 1)
        code = cw_error_set(err, CW_CONFLICT, "%s is the last owner; add another one first", name);
    return code;
}

static cw_code disable_person(cw_nursery *n, const cw_asker *who, const char *name, bool disabled,
                              cw_error *err)
{
    cw_person_row row;
    cw_code code = may_lose(n, name, disabled, &row, err);
    if (code == CW_OK) {
        cw_based_bool(who, "disabled", row.disabled);
        code = cw_based_hold(who, name, err);
    }
    if (code == CW_OK)
        code = cw_people_disable(n->db, name, disabled, err);
    if (code == CW_OK && disabled)
        code = cw_session_end_all(n->db, name, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, disabled ? "disable person" : "enable person", name,
                            NULL, NULL, err);
    return code;
}

static cw_code change_role(cw_nursery *n, const cw_asker *who, const char *name, cw_role role, cw_error *err)
{
    cw_person_row row;
    cw_code code = may_lose(n, name, role != CW_ROLE_OWNER, &row, err);
    if (code == CW_OK) {
        cw_based_text(who, "role", row.role);
        code = cw_based_hold(who, name, err);
    }
    if (code == CW_OK)
        code = cw_people_role(n->db, name, cw_role_word(role), err);
    /* A session carries the rights it began with. */
    if (code == CW_OK)
        code = cw_session_end_all(n->db, name, err);
    if (code == CW_OK)
        code =
            cw_audit_add(n->db, who->now, who->actor, "change role", name, row.role, cw_role_word(role), err);
    return code;
}

cw_code cw_accounts_role(cw_nursery *n, const cw_asker *who, const char *name, cw_role role, cw_error *err)
{
    cw_code code = cw_owner_only(who, "see or change accounts", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    return code == CW_OK ? cw_work_end(n, change_role(n, who, name, role, err), err) : code;
}

cw_code cw_accounts_disable(cw_nursery *n, const cw_asker *who, const char *name, bool disabled,
                            cw_error *err)
{
    cw_code code = cw_owner_only(who, "see or change accounts", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    return code == CW_OK ? cw_work_end(n, disable_person(n, who, name, disabled, err), err) : code;
}

/* Ends every session: whoever learned the old password may sit in one. */
static cw_code change_password(cw_nursery *n, const cw_asker *who, const char *name, const char *hash,
                               cw_error *err)
{
    cw_person_row row;
    bool found = false;
    cw_code code = cw_people_find(n->db, name, &found, &row, err);
    if (code == CW_OK && !found) {
        no_such_person(name, err);
        return CW_NOT_FOUND;
    }
    if (code == CW_OK)
        code = cw_people_password(n->db, name, hash, err);
    if (code == CW_OK)
        code = cw_session_end_all(n->db, name, err);
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "change password", name, NULL, NULL, err);
    return code;
}

/* The slow hash is made before the work begins, so that nobody else waits for it. */
cw_code cw_accounts_password(cw_nursery *n, const cw_asker *who, const char *name, const char *password,
                             cw_error *err)
{
    char hash[crypto_pwhash_STRBYTES];
    bool own = !who->program && strcmp(who->actor, name) == 0;
    cw_code code = own ? CW_OK : cw_owner_only(who, "see or change accounts", err);
    if (code == CW_OK)
        code = cw_accounts_check_password(name, password, err);
    if (code == CW_OK)
        code = ready(err);
    if (code == CW_OK)
        code = hash_password(password, hash, err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    return code == CW_OK ? cw_work_end(n, change_password(n, who, name, hash, err), err) : code;
}

static void put_person(void *context, const cw_person_row *p)
{
    cw_put_text(context, p->name);
    cw_put_text(context, p->role);
    cw_put_bool(context, p->disabled);
    cw_put_int(context, p->made_at);
    cw_put_bool(context, p->factor);
}

static const cw_column accounts_list_columns[] = { { "name", CW_TEXT_T },
                                                   { "role", CW_TEXT_T, .words = cw_words_person_roles },
                                                   { "disabled", CW_BOOL_T },
                                                   { "made_at", CW_INSTANT_T },
                                                   { "second_factor", CW_BOOL_T } };
const cw_shape cw_accounts_list_shape = CW_ROWS(accounts_list_columns);

cw_code cw_accounts_list(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err)
{
    cw_table_init(out, accounts_list_columns, CW_WIDTH(accounts_list_columns));
    cw_code code = cw_owner_only(who, "see or change accounts", err);
    if (code == CW_OK)
        code = cw_people_each(n->db, put_person, out, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}

void cw_accounts_new_token(char out[CW_TOKEN_TEXT])
{
    unsigned char bytes[32];
    randombytes_buf(bytes, sizeof bytes);
    sodium_bin2base64(out, CW_TOKEN_TEXT, bytes, sizeof bytes, sodium_base64_VARIANT_URLSAFE_NO_PADDING);
    sodium_memzero(bytes, sizeof bytes);
}

/* No salt and no slow hash: a token is 32 random bytes, which nobody guesses. */
void cw_accounts_digest(const char *token, char hex[65])
{
    unsigned char digest[32];
    crypto_generichash(digest, sizeof digest, (const unsigned char *)token, strlen(token), NULL, 0);
    sodium_bin2hex(hex, 65, digest, sizeof digest);
}

cw_code cw_accounts_key_add(cw_nursery *n, const cw_asker *who, const char *name, cw_role role,
                            cw_day expires_on, char key[CW_TOKEN_TEXT], cw_error *err)
{
    char digest[65];
    cw_day today = cw_instant_day(who->now),
           last = expires_on == CW_NO_DAY ? today + CW_KEY_DAYS : expires_on;
    cw_instant until = ((cw_instant)last + 1) * CW_DAY_MS;
    cw_code code = cw_owner_only(who, "see or change accounts", err);
    if (code == CW_OK)
        code = check_name(name, err);
    if (code == CW_OK && role == CW_ROLE_NONE)
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "role", "a key needs a role");
    if (code == CW_OK && until <= who->now)
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "expires", "that day is over already");
    if (code == CW_OK && last > today + CW_MOST_KEY_DAYS)
        code = cw_error_at(err, CW_REFUSED, NULL, 0, "expires",
                           "a key is good for two years at most; make a new one before it ends");
    if (code == CW_OK)
        code = ready(err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    if (code != CW_OK)
        return code;
    cw_accounts_new_token(key);
    cw_accounts_digest(key, digest);
    code = check_free(n, name, true, err);
    bool named = code != CW_OK;
    if (!named)
        code = cw_key_add(n->db, name, cw_role_word(role), digest, who->now, until, err);
    if (code == CW_CONFLICT && !named && err) {
        *err = (cw_error)CW_ERROR_NONE;
        code = cw_error_at(err, CW_CONFLICT, NULL, 0, "name", "a key of this name exists already: %s", name);
    }
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "add key", name, NULL, cw_role_word(role), err);
    return cw_work_end(n, code, err);
}

static cw_code disable_key(cw_nursery *n, const cw_asker *who, const char *name, cw_error *err)
{
    bool found = false;
    char shown[80];
    cw_code code = cw_key_disable(n->db, name, &found, err);
    if (code == CW_OK && !found)
        code = cw_error_at(err, CW_NOT_FOUND, NULL, 0, "name", "no key has this name: %s",
                           cw_shown(name, strlen(name), shown));
    if (code == CW_OK)
        code = cw_audit_add(n->db, who->now, who->actor, "disable key", name, NULL, NULL, err);
    return code;
}

cw_code cw_accounts_key_disable(cw_nursery *n, const cw_asker *who, const char *name, cw_error *err)
{
    cw_code code = cw_owner_only(who, "see or change accounts", err);
    if (code == CW_OK)
        code = cw_work_begin_after(n, err);
    return code == CW_OK ? cw_work_end(n, disable_key(n, who, name, err), err) : code;
}

typedef struct key_list {
    cw_table *out;
    cw_day today;
} key_list;

/* A key of an older file may have no last day: it is to be replaced, too. */
static void put_key(void *context, const cw_key_row *k)
{
    key_list *l = context;
    cw_day last = k->expires_at == CW_NO_INSTANT ? CW_NO_DAY : cw_instant_day(k->expires_at - 1);
    bool soon = last == CW_NO_DAY || (last >= l->today && last <= l->today + CW_KEY_REMINDER_DAYS);
    cw_put_text(l->out, k->name);
    cw_put_text(l->out, k->role);
    cw_put_bool(l->out, k->disabled);
    cw_put_int(l->out, k->made_at);
    cw_put_int(l->out, last);
    cw_put_bool(l->out, soon && !k->disabled);
}

static const cw_column accounts_keys_columns[] = {
    { "name", CW_TEXT_T },       { "role", CW_TEXT_T, .words = cw_words_roles }, { "disabled", CW_BOOL_T },
    { "made_at", CW_INSTANT_T }, { "expires_on", CW_DAY_T, .null = true },       { "replace", CW_BOOL_T }
};
const cw_shape cw_accounts_keys_shape = CW_ROWS(accounts_keys_columns);

cw_code cw_accounts_keys(cw_nursery *n, const cw_asker *who, cw_table *out, cw_error *err)
{
    key_list l = { out, cw_instant_day(who->now) };
    cw_table_init(out, accounts_keys_columns, CW_WIDTH(accounts_keys_columns));
    cw_code code = cw_owner_only(who, "see or change accounts", err);
    if (code == CW_OK)
        code = cw_key_each(n->db, put_key, &l, err);
    return code == CW_OK ? cw_table_check(out, err) : code;
}
