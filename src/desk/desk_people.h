/* People who sign in to the page, and their sessions. Kept as settings of the depot: they travel with a backup, never
 * with an export, and are no evidence. A password is kept as argon2id (RFC 9106) makes it, a session as the hash of its
 * token. */
#ifndef WITMARK_DESK_PEOPLE_H
#define WITMARK_DESK_PEOPLE_H

#include "desk.h"

/* What a person may do; each may what those before it may. */
#define ROLES(X)                                                   \
    X(ROLE_LOOK, "look")     /* read everything */                 \
    X(ROLE_RECORD, "record") /* make entries */                    \
    X(ROLE_PLAN, "plan")     /* take machines in and out, plans */ \
    X(ROLE_BOOKS, "books")   /* keep editions of books, settings */
enum role {
#define X(symbol, word) symbol,
    ROLES(X)
#undef X
};
const char *role_word(enum role role);
bool role_parse(struct str word, enum role *role);

struct desk_person {
    struct str name;
    enum role role;
    struct str password; /* as argon2id keeps it; not for people */
};

/* How much work a password costs whoever guesses it: COST_USUAL 64 MiB and 2 passes (libsodium's "interactive"),
 * COST_LEAST for tests. */
enum password_cost { COST_USUAL, COST_LEAST };

#define PASSWORD_LEAST 8 /* characters; NIST SP 800-63B 5.1.1.2 */
#define PASSWORD_MOST 1000

bool desk_people(struct desk *d, struct arena *a, struct desk_person **at, size_t *n, struct err *e);
/* *found false when there is none (no error). */
bool desk_person_find(struct desk *d, struct str name, struct arena *a, struct desk_person *out, bool *found,
                      struct err *e);
/* Errors: ERR_CONFLICT there is one of that name; ERR_INPUT no name, or the password is too short. */
bool desk_person_add(struct desk *d, struct str name, enum role role, struct str password, enum password_cost cost,
                     struct err *e);
/* These end the person's sessions. Errors: ERR_MISSING with the nearest name; ERR_INPUT; ERR_REFUSED nobody would be
 * left who keeps books while there are others. */
bool desk_person_remove(struct desk *d, struct str name, struct err *e);
bool desk_person_role(struct desk *d, struct str name, enum role role, struct err *e);
bool desk_person_password(struct desk *d, struct str name, struct str password, enum password_cost cost, struct err *e);

/* Whether that is the person's password. Takes as long for a name that nobody has. */
bool desk_person_check(struct desk *d, struct str name, struct str password, bool *right, struct err *e);

/* 32 random bytes of this depot, made when first asked for; what tokens are made from. */
bool desk_secret(struct desk *d, uint8_t secret[32], struct err *e);

/* Sessions, by the SHA-256 of their tokens. Starting one drops those that are over. *person empty: none such, or over,
 * or the person is gone. */
bool desk_session_start(struct desk *d, struct log_hash token, struct str person, instant_ms until, struct err *e);
bool desk_session_find(struct desk *d, struct log_hash token, struct arena *a, struct str *person, instant_ms *until,
                       struct err *e);
bool desk_session_end(struct desk *d, struct log_hash token, struct err *e);

#endif
