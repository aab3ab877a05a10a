/* /api/...: one table of routes per topic (api_TOPIC.c); docs/api.md and docs/openapi.yaml describe them. A route says
 * method, pattern, who may, what body it takes; api.c finds it, checks all that, lends it a desk and runs it. A new
 * topic is a file api_TOPIC.c with its table, a line in api_tables.inc, and its rows in docs/openapi.yaml (a test
 * compares). */
#ifndef WITMARK_WEB_API_H
#define WITMARK_WEB_API_H

#include "answer.h"
#include "pool.h"
#include "target.h"

#include "desk_people.h"

#include <jansson.h>
#include <pthread.h>

struct desk;
struct gate;

/* Who asks. */
struct who {
    bool login_needed; /* people sign in here */
    bool signed_in;
    struct str name;
    enum role role;
    int64_t state;   /* of the depot when they were looked at: another number after any change */
    struct str csrf; /* what X-Witmark-Token must say when something is changed */
};

/* A request before it is answered; all texts borrowed for its life. */
struct asking {
    const char *method;
    struct target target;
    struct str body;
    struct str accept, language, cookie, token, if_match, host, from; /* headers; from = the client's address */
    bool tls, proxied;
};

struct api {
    struct pool desks;
    pthread_mutex_t print_lock; /* the printing program runs once at a time */
    struct gate *gate;
    const char *authority;    /* folder, or null */
    const char *authority_at; /* where a phone gets the authority's certificate over plain HTTP; null when nowhere */
};

/* One request on its way through its route. */
struct asked {
    struct api *api;
    struct desk *desk; /* this request's own; null for a route without ROUTE_DESK */
    const struct asking *asking;
    const struct target *t;
    struct arena *a;
    struct str args[3]; /* the parts of the path that stand in braces in the pattern */
    const struct who *who;
    json_t *json; /* the body as JSON once asked_json has read it; given back after the route */
    struct err err;
    int status;              /* of a refusal; 0 = follows from the kind of error */
    bool print;              /* the answer's body is a document for the printing program */
    const char *file_ending; /* "-sheet.pdf" */
};

/* Fills the answer, or the error and returns false. */
typedef bool route_fn(struct asked *q, struct answer *out);

enum {
    ROUTE_DESK = 1,  /* needs the desk */
    ROUTE_OPEN = 2,  /* also for those who have not signed in */
    ROUTE_FRESH = 4, /* its answer is never kept: it looks at more than what the depot says */
};
/* What a GET with ROUTE_DESK and without ROUTE_OPEN or ROUTE_FRESH answers must follow from the depot, the address and
 * the day alone: it is kept until one of them changes (keep.h). */

struct route {
    const char *method; /* "GET" (HEAD too), "POST", "PUT" */
    const char *pattern;
    enum role role;
    unsigned flags;
    route_fn *run;
    size_t body_most;  /* bytes; 0 = no body */
    const char *takes; /* media type of the body; null = any */
};

/* The tables, each ended by a null method: api_tables.inc lists them. */
#define X(table) extern const struct route table[];
#include "api_tables.inc"
#undef X

/* Every table, n of them. */
const struct route *const *api_tables(size_t *n);
/* The route for a method and path, HEAD as GET; null, and then *allow names the methods that the path has, or is
 * empty. args may be null. */
const struct route *api_route(const char *method, const struct target *t, struct str args[3], struct arena *a,
                              struct str *allow);
/* Answers under that route; what goes wrong is an answer too. */
struct answer api_answer(struct api *api, const struct route *route, const struct asking *asking, const struct who *who,
                         struct arena *a);

/* ---- for the routes ---- */

struct str asked_value(const struct asked *q, const char *name); /* of a parameter; empty when not given */
bool asked_given(const struct asked *q, const char *name);
/* Every parameter is one of these (ended by null). */
bool asked_only(struct asked *q, const char *const *names);
bool asked_none(struct asked *q);
/* A parameter as a number from `least` to `most`; *value stays when it is not given. */
bool asked_number(struct asked *q, const char *name, double least, double most, double *value);
/* The body as a JSON object. Errors: ERR_INPUT with line and column. */
bool asked_json(struct asked *q);
/* A member of that object as text; empty when it is not there or null. Errors: ERR_INPUT it is something else, or it
 * is not there although needed. */
bool asked_text(struct asked *q, const char *member, bool needed, struct str *value);
/* Sets the error and the status of the answer. Returns false. */
bool asked_refuse(struct asked *q, int status, const char *what, const char *right);
/* The JSON that a route has just left in the answer becomes a table of desk_tables.h, offered as a file. */
bool answer_csv(struct asked *q, const char *table, struct answer *out);
/* 200 with JSON. Returns true. */
bool answer_json(struct asked *q, const struct text *t, struct answer *out);

#endif
