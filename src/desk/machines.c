/* Machines: taking one in, finding one by what people call it. */
#include "desk_internal.h"

#include <jansson.h>

bool desk_machines(struct desk *d, const struct desk_machine **at, size_t *n, struct err *e)
{
    if (!desk_refresh(d, e)) {
        return false;
    }
    *at = d->list;
    *n = d->n_machines;
    return true;
}

/* How well a name fits a machine: 3 exactly, 2 but for case, 1 as a serial number of its book once put right, 0 not. */
static int fits(struct desk *d, const struct desk_machine *m, struct str name, struct arena *a)
{
    if (str_eq(m->serial, name) || (m->label.n && str_eq(m->label, name))) {
        return 3;
    }
    if (str_eq_nocase(m->serial, name) || (m->label.n && str_eq_nocase(m->label, name))) {
        return 2;
    }
    const struct desk_book *book = desk_present_book(d, m->book_id);
    struct bookfile_serial serial;
    struct err quiet = err_new(a);
    return book && bookfile_serial_normalise(book->file, name, a, &serial, &quiet) && str_eq(serial.serial, m->serial);
}

const struct desk_machine *desk_machine_find(struct desk *d, struct str name, struct err *e)
{
    if (!desk_refresh(d, e)) {
        return NULL;
    }
    name = str_trim(name);
    if (name.n == 0) {
        err_set(e, ERR_USAGE, "a serial number or a label", "no machine is named", (char *)0);
        return NULL;
    }
    const struct desk_machine *best = NULL;
    int best_fit = 0;
    bool several = false;
    for (size_t i = 0; i < d->n_machines; i++) {
        int fit = fits(d, &d->list[i], name, e->a);
        if (fit > best_fit) {
            best = &d->list[i];
            best_fit = fit;
            several = false;
        } else if (fit && fit == best_fit) {
            several = true;
        }
    }
    if (best_fit > 0 && !several) {
        return best;
    }
    if (several) {
        err_set(e, ERR_CONFLICT, "the full serial number", "'", str_z(e->a, name), "' fits more than one machine",
                (char *)0);
        return NULL;
    }
    struct str *names = ARENA_ARRAY(e->a, struct str, d->n_machines * 2);
    for (size_t i = 0; i < d->n_machines; i++) {
        names[2 * i] = d->list[i].serial;
        names[2 * i + 1] = d->list[i].label;
    }
    ptrdiff_t near = str_nearest(name, names, d->n_machines * 2);
    struct text right = text_new(e->a);
    if (near >= 0) {
        text_addz(&right, "did you mean ");
        text_add(&right, names[near]);
        text_addz(&right, "? ");
    }
    text_addz(&right, "witmark machine list shows all");
    err_set(e, ERR_MISSING, text_z(&right), "no machine '", str_z(e->a, name), "'", (char *)0);
    return NULL;
}

/* The book whose serial numbers have that form. */
static const struct desk_book *book_for(struct desk *d, const struct desk_machine_new *m,
                                        struct bookfile_serial *serial, struct err *e)
{
    if (m->book.n) {
        const struct desk_book *book = desk_present_book(d, m->book);
        if (!book) {
            err_set(e, ERR_MISSING, "witmark book take FILE", "no book '", str_z(e->a, m->book), "' in the depot",
                    (char *)0);
            return NULL;
        }
        return bookfile_serial_normalise(book->file, m->serial, e->a, serial, e) ? book : NULL;
    }
    const struct desk_book *fits_book = NULL;
    for (size_t i = 0; i < d->n_books; i++) {
        struct bookfile_serial candidate;
        struct err quiet = err_new(e->a);
        if (!d->books[i].present || !bookfile_serial_normalise(d->books[i].file, m->serial, e->a, &candidate, &quiet)) {
            continue;
        }
        /* A bare number fits many books: only a serial number with its letters decides. */
        if (fits_book) {
            err_set(e, ERR_CONFLICT, "name the book", "serial number '", str_z(e->a, m->serial), "' fits several books",
                    (char *)0);
            return NULL;
        }
        fits_book = &d->books[i];
        *serial = candidate;
    }
    if (!fits_book) {
        err_set(e, ERR_MISSING, "take its book first, or check the number",
                "no book in the depot has serial numbers like '", str_z(e->a, m->serial), "'", (char *)0);
    }
    return fits_book;
}

/* The list of options as JSON and as the book's resolver wants it. */
static json_t *options_json(struct arena *a, struct str list, struct book_texts *texts)
{
    json_t *array = json_array();
    struct str *at = NULL;
    size_t n = 0;
    size_t cap = 0;
    struct str piece;
    while (str_next(&list, ',', &piece)) {
        piece = str_trim(piece);
        if (piece.n) {
            json_array_append_new(array, json_stringn(piece.p, piece.n));
            ARENA_PUSH(a, at, n, cap) = piece;
        }
    }
    *texts = (struct book_texts){at, (int)n};
    return array;
}

bool desk_machine_add(struct desk *d, const struct desk_machine_new *m, struct entry_id *id, struct err *e)
{
    if (!desk_refresh(d, e)) {
        return false;
    }
    struct bookfile_serial serial;
    const struct desk_book *book = book_for(d, m, &serial, e);
    if (!book) {
        return false;
    }
    for (size_t i = 0; i < d->n_machines; i++) {
        const struct desk_machine *other = &d->list[i];
        if (m->label.n && str_eq_nocase(other->label, m->label) && !str_eq(other->serial, serial.serial)) {
            return err_set(e, ERR_CONFLICT, "another label", "label '", str_z(e->a, m->label), "' is that of ",
                           str_z(e->a, other->serial), (char *)0);
        }
    }
    struct book_texts options;
    json_t *list = options_json(e->a, m->options, &options);
    struct book resolved;
    if (!bookfile_resolve(book->file, serial.serial, options, e->a, &resolved, e)) {
        json_decref(list);
        return false;
    }
    json_t *body = json_pack("{s:s%,s:s%,s:o}", "book", book->id.p, book->id.n, "serial", serial.serial.p,
                             serial.serial.n, "options", list);
    if (m->label.n) {
        json_object_set_new(body, "label", json_stringn(m->label.p, m->label.n));
    }
    if (m->site.n) {
        json_object_set_new(body, "site", json_stringn(m->site.p, m->site.n));
    }
    if (m->in_service != DAY_NONE) {
        struct text t = text_new(e->a);
        text_day(&t, m->in_service);
        json_object_set_new(body, "in_service", json_stringn(t.p, t.n));
    }
    if (m->severe) {
        json_object_set_new(body, "severe", json_true());
    }
    struct draft draft = {.kind = KIND_MACHINE_IN,
                          .at = m->at == INSTANT_NONE ? desk_now(d) : m->at,
                          .by = m->by,
                          .machine = serial.serial,
                          .has_book = true,
                          .book = book->hash,
                          .body = body};
    struct appended appended;
    bool ok = depot_append(d->depot, &draft, 1, &appended, e);
    json_decref(body);
    if (ok) {
        *id = appended.id;
    }
    return ok;
}
