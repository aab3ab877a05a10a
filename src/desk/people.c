/* People and sessions: "person/NAME" holds "ROLE ARGON2ID", "session/HASH" holds "UNTIL NAME". */
#include "desk_internal.h"
#include "desk_people.h"

#include <sodium.h>
#include <string.h>

static const char *const role_words[] = {
#define X(symbol, word) [symbol] = (word),
    ROLES(X)
#undef X
};

const char *role_word(enum role role)
{
    return role_words[role];
}

bool role_parse(struct str word, enum role *role)
{
    for (size_t i = 0; i < sizeof role_words / sizeof *role_words; i++) {
        if (str_eq(word, str_of(role_words[i]))) {
            *role = (enum role)i;
            return true;
        }
    }
    return false;
}

/* A name as it stands in entries: one line of 1 to 100 bytes, without blanks at its ends. */
static bool check_name(struct str name, struct err *e)
{
    bool good = name.n > 0 && name.n <= 100 && str_is_utf8(name) && str_trim(name).n == name.n;
    for (size_t i = 0; i < name.n; i++) {
        good = good && (unsigned char)name.p[i] >= 0x20 && name.p[i] != 0x7f;
    }
    return good || err_set(e, ERR_INPUT, "one line of 1 to 100 bytes, as it stands in entries", "'", str_z(e->a, name),
                           "' is no name for a person", (char *)0);
}

static const char *person_key(struct arena *a, struct str name)
{
    struct text t = text_new(a);
    text_addz(&t, "person/");
    text_add(&t, name);
    return text_z(&t);
}

/* "plan $argon2id$..." */
static bool person_of(struct str name, struct str value, struct desk_person *out)
{
    struct str rest = value;
    struct str word;
    out->name = name;
    bool ok = str_next(&rest, ' ', &word) && role_parse(word, &out->role);
    out->password = rest;
    return ok;
}

bool desk_people(struct desk *d, struct arena *a, struct desk_person **at, size_t *n, struct err *e)
{
    struct setting *settings = NULL;
    size_t count = 0;
    *n = 0;
    if (!depot_setting_list(d->depot, S("person/"), a, &settings, &count, e)) {
        return false;
    }
    *at = ARENA_ARRAY(a, struct desk_person, count);
    for (size_t i = 0; i < count; i++) {
        struct str name = str_cut(settings[i].name, 7, settings[i].name.n);
        *n += person_of(name, settings[i].value, &(*at)[*n]);
    }
    return true;
}

bool desk_person_find(struct desk *d, struct str name, struct arena *a, struct desk_person *out, bool *found,
                      struct err *e)
{
    struct str value = {0};
    *found = depot_setting_get(d->depot, person_key(a, name), a, &value, e) && person_of(name, value, out);
    return e->kind == ERR_NONE;
}

/* The person, or who is meant instead. */
static bool person_needed(struct desk *d, struct str name, struct desk_person *out, struct err *e)
{
    bool found = false;
    struct desk_person *people = NULL;
    size_t n = 0;
    if (!desk_person_find(d, name, e->a, out, &found, e) || !desk_people(d, e->a, &people, &n, e)) {
        return false;
    }
    if (found) {
        return true;
    }
    struct str *names = ARENA_ARRAY(e->a, struct str, n);
    for (size_t i = 0; i < n; i++) {
        names[i] = people[i].name;
    }
    ptrdiff_t near = str_nearest(name, names, n);
    struct text right = text_new(e->a);
    text_addz(&right, near >= 0 ? "did you mean " : "witmark person list shows them");
    if (near >= 0) {
        text_add(&right, names[near]);
        text_char(&right, '?');
    }
    return err_set(e, ERR_MISSING, text_z(&right), "there is no person '", str_z(e->a, name), "' here", (char *)0);
}

static bool put_person(struct desk *d, struct str name, enum role role, struct str password, struct err *e)
{
    struct text value = text_new(e->a);
    text_join(&value, role_word(role), " ", (char *)0);
    text_add(&value, password);
    return depot_setting_put(d->depot, person_key(e->a, name), text_str(&value), e);
}

/* What is kept of a password. */
static bool make_password(struct str password, enum password_cost cost, struct str *kept, struct err *e)
{
    if (!str_is_utf8(password) || str_chars(password) < PASSWORD_LEAST || password.n > PASSWORD_MOST) {
        return err_set(e, ERR_INPUT, "8 characters or more; several words are easiest to keep in mind",
                       password.n > PASSWORD_MOST ? "the password is too long" : "the password is too short",
                       (char *)0);
    }
    char made[crypto_pwhash_STRBYTES];
    bool least = cost == COST_LEAST;
    if (sodium_init() < 0 ||
        crypto_pwhash_str(made, password.p, password.n,
                          least ? crypto_pwhash_OPSLIMIT_MIN : crypto_pwhash_OPSLIMIT_INTERACTIVE,
                          least ? crypto_pwhash_MEMLIMIT_MIN : crypto_pwhash_MEMLIMIT_INTERACTIVE) != 0) {
        return err_set(e, ERR_SYSTEM, NULL, "there is no memory to guard a password with", (char *)0);
    }
    *kept = str_copy(e->a, str_of(made));
    return true;
}

/* Ends every session of that person. */
static bool end_sessions(struct desk *d, struct str name, struct err *e)
{
    struct setting *at = NULL;
    size_t n = 0;
    bool ok = depot_setting_list(d->depot, S("session/"), e->a, &at, &n, e);
    for (size_t i = 0; ok && i < n; i++) {
        struct str rest = at[i].value;
        struct str until;
        if (str_next(&rest, ' ', &until) && str_eq(rest, name)) {
            ok = depot_setting_put(d->depot, str_z(e->a, at[i].name), (struct str){0}, e);
        }
    }
    return ok;
}

bool desk_person_add(struct desk *d, struct str name, enum role role, struct str password, enum password_cost cost,
                     struct err *e)
{
    struct desk_person there;
    struct str kept = {0};
    bool found = false;
    if (!check_name(name, e) || !desk_person_find(d, name, e->a, &there, &found, e)) {
        return false;
    }
    if (found) {
        return err_set(e, ERR_CONFLICT, "witmark person role or person password change it", "there is a person '",
                       str_z(e->a, name), "' already", (char *)0);
    }
    return make_password(password, cost, &kept, e) && put_person(d, name, role, kept, e);
}

/* Somebody else keeps books, or nobody else is left at all. */
static bool books_are_kept(struct desk *d, struct str without, struct err *e)
{
    struct desk_person *people = NULL;
    size_t n = 0;
    bool others = false;
    if (!desk_people(d, e->a, &people, &n, e)) {
        return false;
    }
    for (size_t i = 0; i < n; i++) {
        bool other = !str_eq(people[i].name, without);
        others = others || other;
        if (other && people[i].role == ROLE_BOOKS) {
            return true;
        }
    }
    return !others || err_set(e, ERR_REFUSED, "give somebody else the role books first",
                              "nobody would be left with the role books", (char *)0);
}

bool desk_person_remove(struct desk *d, struct str name, struct err *e)
{
    struct desk_person person;
    return person_needed(d, name, &person, e) && (person.role != ROLE_BOOKS || books_are_kept(d, name, e)) &&
           depot_setting_put(d->depot, person_key(e->a, name), (struct str){0}, e) && end_sessions(d, name, e);
}

bool desk_person_role(struct desk *d, struct str name, enum role role, struct err *e)
{
    struct desk_person person;
    return person_needed(d, name, &person, e) &&
           (person.role != ROLE_BOOKS || role == ROLE_BOOKS || books_are_kept(d, name, e)) &&
           put_person(d, name, role, person.password, e) && end_sessions(d, name, e);
}

bool desk_person_password(struct desk *d, struct str name, struct str password, enum password_cost cost, struct err *e)
{
    struct desk_person person;
    struct str kept = {0};
    return person_needed(d, name, &person, e) && make_password(password, cost, &kept, e) &&
           put_person(d, name, person.role, kept, e) && end_sessions(d, name, e);
}

bool desk_person_check(struct desk *d, struct str name, struct str password, bool *right, struct err *e)
{
    /* Of a random password that nobody kept, at the usual cost: for names that nobody has. */
    static const char nobody[] = "$argon2id$v=19$m=65536,t=2,p=1$c29tZSBzYWx0IG9mIG91cnM$"
                                 "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";
    struct desk_person person = {.password = S("")};
    bool found = false;
    *right = false;
    if (!desk_person_find(d, name, e->a, &person, &found, e)) {
        return false;
    }
    const char *kept = found ? str_z(e->a, person.password) : nobody;
    bool same =
        password.n <= PASSWORD_MOST && crypto_pwhash_str_verify(kept, password.p ? password.p : "", password.n) == 0;
    *right = same && found;
    return true;
}

bool desk_secret(struct desk *d, uint8_t secret[32], struct err *e)
{
    struct str kept = {0};
    if (depot_setting_get(d->depot, "web-secret", e->a, &kept, e)) {
        return hex_parse(kept, secret, 32) ||
               err_set(e, ERR_SYSTEM, "remove the setting web-secret", "the depot's secret is damaged", (char *)0);
    }
    if (e->kind != ERR_NONE) {
        return false;
    }
    randombytes_buf(secret, 32);
    struct text t = text_new(e->a);
    text_hex(&t, secret, 32);
    return depot_setting_put(d->depot, "web-secret", text_str(&t), e);
}

/* ---- sessions ---------------------------------------------------------------------------------------------------- */

static const char *session_key(struct arena *a, struct log_hash token)
{
    struct text t = text_new(a);
    text_addz(&t, "session/");
    text_hex(&t, token.b, sizeof token.b);
    return text_z(&t);
}

/* Drops what is over. */
static bool drop_old(struct desk *d, struct err *e)
{
    struct setting *at = NULL;
    size_t n = 0;
    bool ok = depot_setting_list(d->depot, S("session/"), e->a, &at, &n, e);
    for (size_t i = 0; ok && i < n; i++) {
        struct str rest = at[i].value;
        struct str word;
        int64_t until = 0;
        if (!str_next(&rest, ' ', &word) || !num_parse_i64(word, &until) || until <= desk_now(d)) {
            ok = depot_setting_put(d->depot, str_z(e->a, at[i].name), (struct str){0}, e);
        }
    }
    return ok;
}

bool desk_session_start(struct desk *d, struct log_hash token, struct str person, instant_ms until, struct err *e)
{
    struct text t = text_new(e->a);
    text_int(&t, until);
    text_char(&t, ' ');
    text_add(&t, person);
    return drop_old(d, e) && depot_setting_put(d->depot, session_key(e->a, token), text_str(&t), e);
}

bool desk_session_find(struct desk *d, struct log_hash token, struct arena *a, struct str *person, instant_ms *until,
                       struct err *e)
{
    struct str value = {0};
    struct str word;
    *person = (struct str){0};
    if (depot_setting_get(d->depot, session_key(a, token), a, &value, e) && str_next(&value, ' ', &word) &&
        num_parse_i64(word, until) && *until > desk_now(d)) {
        *person = value;
    }
    return e->kind == ERR_NONE;
}

bool desk_session_end(struct desk *d, struct log_hash token, struct err *e)
{
    return depot_setting_put(d->depot, session_key(e->a, token), (struct str){0}, e);
}
