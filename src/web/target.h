/* A request's target, cut into the parts of its path and its query, each decoded by itself: a label with a slash in it
 * stays one part ("B%2F03"). RFC 3986 3.3 and 3.4; '+' in a query is a blank, as forms write it (URL Standard, WHATWG,
 * application/x-www-form-urlencoded). */
#ifndef WITMARK_WEB_TARGET_H
#define WITMARK_WEB_TARGET_H

#include "base/err.h"

#define TARGET_PARTS_MOST 12
#define TARGET_PAIRS_MOST 16

struct target_pair {
    struct str name, value;
};
struct target {
    struct str path; /* as sent, without the query */
    struct str parts[TARGET_PARTS_MOST];
    size_t n;
    struct target_pair pairs[TARGET_PAIRS_MOST];
    size_t n_pairs;
};

/* Cuts "/api/machines/B-03?days=7" into {"api", "machines", "B-03"} and {"days", "7"}. "/" has no parts. Decoded parts
 * are never empty, "." or ".." and hold neither control characters nor invalid UTF-8; they live in the arena.
 * Errors: ERR_INPUT, with the place in where.column. */
bool target_parse(struct arena *a, struct str sent, struct target *t, struct err *e);

/* The value of a parameter, or null. */
const struct str *target_value(const struct target *t, const char *name);
/* Every parameter is one of these (ended by null), once. Errors: ERR_USAGE names the parameter and what there is. */
bool target_only(const struct target *t, const char *const *names, struct err *e);

#endif
