/* Books: what applies to one machine, editions as text, checking, taking and comparing them. */
#include "api.h"

#include "desk_manual.h"

#define FINDINGS_MOST 500

static bool machine_book(struct asked *q, struct answer *out)
{
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    return asked_none(q) && desk_machine_book_json(&j, q->desk, q->args[0], &q->err) && answer_json(q, &t, out);
}

static bool books(struct asked *q, struct answer *out)
{
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    return asked_none(q) && desk_books_json(&j, q->desk, &q->err) && answer_json(q, &t, out);
}

static bool book_text(struct asked *q, struct answer *out)
{
    static const char *const names[] = {"edition", NULL};
    struct desk_book_text book;
    if (!asked_only(q, names) ||
        !desk_book_text(q->desk, q->args[0], asked_value(q, "edition"), q->a, &book, &q->err)) {
        return false;
    }
    *out = answer_body(q->a, "application/yaml; charset=utf-8", book.text);
    /* The hash of the edition is its ETag, so that PUT can say with If-Match what it is based on. */
    struct text etag = text_new(q->a);
    text_char(&etag, '"');
    text_add(&etag, book.hash);
    text_char(&etag, '"');
    out->etag = text_str(&etag);
    return true;
}

static bool findings(struct asked *q, const struct diags *d, struct str hash, struct answer *out)
{
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    json_begin_object(&j, NULL);
    if (hash.n) {
        json_str(&j, "hash", hash);
    }
    struct text inner = text_new(q->a);
    struct json k = json_new(&inner, false);
    desk_findings_json(&k, d);
    json_raw(&j, "check", text_str(&inner));
    json_end_object(&j);
    return answer_json(q, &t, out);
}

static bool check_book(struct asked *q, struct answer *out)
{
    struct diags d = diags_new(q->a, FINDINGS_MOST);
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    if (!asked_none(q) || !desk_book_check_text(q->desk, q->asking->body, S("book"), &d, &q->err)) {
        return false;
    }
    desk_findings_json(&j, &d);
    return answer_json(q, &t, out);
}

/* PUT /api/books/{book}: a new edition. With findings that forbid it: 422 and the findings. */
static bool put_book(struct asked *q, struct answer *out)
{
    struct diags d = diags_new(q->a, FINDINGS_MOST);
    struct log_hash edition;
    struct str based = q->asking->if_match;
    if (based.n > 2 && based.p[0] == '"') {
        based = str_cut(based, 1, based.n - 1);
    }
    if (str_ends(based, S("-gzip"))) {
        based = str_cut(based, 0, based.n - 5);
    }
    if (!asked_none(q)) {
        return false;
    }
    if (!desk_book_take_text(q->desk, q->args[0], q->asking->body, q->who->name, based, &d, &edition, &q->err)) {
        if (d.errors == 0) {
            q->status = q->err.kind == ERR_CONFLICT ? 412 : 0;
            return false;
        }
        (void)findings(q, &d, (struct str){0}, out);
        out->status = 422;
        out->etag = (struct str){0};
        return true;
    }
    struct text hash = text_new(q->a);
    text_edition(&hash, edition);
    return findings(q, &d, text_str(&hash), out);
}

static bool diff(struct asked *q, struct answer *out)
{
    static const char *const names[] = {"from", "to", NULL};
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    if (!asked_only(q, names)) {
        return false;
    }
    if (!asked_given(q, "from")) {
        return err_set(&q->err, ERR_USAGE, "from=EDITION, to=EDITION (the present one when left out)",
                       "the edition to compare with is missing", (char *)0);
    }
    return desk_book_diff_json(&j, q->desk, q->args[0], asked_value(q, "from"), asked_value(q, "to"), &q->err) &&
           answer_json(q, &t, out);
}

#define BOOK_MOST ((size_t)4 << 20)

static bool books_csv(struct asked *q, struct answer *out)
{
    return books(q, out) && answer_csv(q, "books", out);
}

const struct route book_routes[] = {
    {"GET", "/api/machines/{machine}/book", ROLE_LOOK, ROUTE_DESK, machine_book, 0, NULL},
    {"GET", "/api/books", ROLE_LOOK, ROUTE_DESK, books, 0, NULL},
    {"GET", "/api/books.csv", ROLE_LOOK, ROUTE_DESK, books_csv, 0, NULL},
    {"POST", "/api/books/check", ROLE_LOOK, ROUTE_DESK, check_book, BOOK_MOST, "application/yaml"},
    {"GET", "/api/books/{book}", ROLE_LOOK, ROUTE_DESK, book_text, 0, NULL},
    {"GET", "/api/books/{book}/text", ROLE_LOOK, ROUTE_DESK, book_text, 0, NULL},
    {"PUT", "/api/books/{book}", ROLE_BOOKS, ROUTE_DESK, put_book, BOOK_MOST, "application/yaml"},
    {"GET", "/api/books/{book}/diff", ROLE_LOOK, ROUTE_DESK, diff, 0, NULL},
    {0},
};
