/* Books in the depot: taking an edition with its drawings, and which edition machines go by. */
#include "desk_internal.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* The whole of a file, at most `most` bytes. */
bool desk_read_file(struct arena *a, const char *path, size_t most, struct str *out, struct err *e)
{
    FILE *f = fopen(path, "rb");
    if (!f) {
        return err_set(e, ERR_SYSTEM, NULL, "cannot open ", path, (char *)0);
    }
    struct stat s;
    bool ok = fstat(fileno(f), &s) == 0 && S_ISREG(s.st_mode);
    if (!ok) {
        err_set(e, ERR_INPUT, "a file", path, " is not a file", (char *)0);
    } else if ((size_t)s.st_size > most) {
        ok = err_set(e, ERR_INPUT, "a smaller file", path, " is too large", (char *)0);
    } else {
        char *p = arena_alloc(a, (size_t)s.st_size + 1, 1);
        size_t n = fread(p, 1, (size_t)s.st_size, f);
        ok = !ferror(f) || err_set(e, ERR_SYSTEM, NULL, "cannot read ", path, (char *)0);
        *out = (struct str){p, n};
    }
    (void)fclose(f);
    return ok;
}

/* The folder of a path, with its slash; empty for a bare name. */
static struct str folder_of(struct str path)
{
    size_t n = path.n;
    while (n > 0 && path.p[n - 1] != '/') {
        n--;
    }
    return str_cut(path, 0, n);
}

/* Drawings that a book names, met while it is checked. */
struct folder {
    struct arena *a;
    struct str path;
    struct str *names;
    size_t n, cap;
};

static const char *in_folder(struct folder *folder, struct str name)
{
    struct text t = text_new(folder->a);
    text_add(&t, folder->path);
    text_add(&t, name);
    return text_z(&t);
}

static bool exists(void *ctx, struct str name)
{
    struct folder *folder = ctx;
    if (str_find(name, S("..")) >= 0 || (name.n && name.p[0] == '/') || access(in_folder(folder, name), R_OK) != 0) {
        return false;
    }
    for (size_t i = 0; i < folder->n; i++) {
        if (str_eq(folder->names[i], name)) {
            return true;
        }
    }
    struct str kept = str_copy(folder->a, name);
    ARENA_PUSH(folder->a, folder->names, folder->n, folder->cap) = kept;
    return true;
}

const char *desk_media_type(struct str name)
{
    static const struct {
        const char *ending, *type;
    } types[] = {{".svg", "image/svg+xml"},   {".png", "image/png"},  {".jpg", "image/jpeg"}, {".jpeg", "image/jpeg"},
                 {".pdf", "application/pdf"}, {".txt", "text/plain"}, {".csv", "text/csv"}};
    for (size_t i = 0; i < sizeof types / sizeof *types; i++) {
        if (name.n > strlen(types[i].ending) &&
            str_eq_nocase(str_cut(name, name.n - strlen(types[i].ending), name.n), str_of(types[i].ending))) {
            return types[i].type;
        }
    }
    return "application/octet-stream";
}

/* Keeps a file's bytes and the entry that names it. */
bool desk_attach(struct desk *d, struct draft draft, struct str name, struct str data, struct str about,
                 struct appended *appended, struct err *e)
{
    struct log_hash hash;
    if (!depot_blob_put(d->depot, data, &hash, e)) {
        return false;
    }
    struct text hex = text_new(e->a);
    text_hex(&hex, hash.b, sizeof hash.b);
    json_t *body = json_pack("{s:s%,s:s%,s:s,s:I}", "sha256", hex.p, hex.n, "name", name.p, name.n, "type",
                             desk_media_type(name), "bytes", (json_int_t)data.n);
    if (about.n) {
        json_object_set_new(body, "about", json_stringn(about.p, about.n));
    }
    draft.kind = KIND_ATTACHMENT;
    draft.body = body;
    bool ok = depot_append(d->depot, &draft, 1, appended, e);
    json_decref(body);
    return ok;
}

/* Drawings belong to an edition by an entry that names both, so that they travel with an export. */
static bool keep_drawings(struct desk *d, const struct folder *folder, struct log_hash edition, struct err *e)
{
    for (size_t i = 0; i < folder->n; i++) {
        struct str data = {0};
        struct appended appended;
        struct draft draft = {.at = desk_now(d), .by = S("book"), .has_book = true, .book = edition};
        if (!desk_read_file(e->a, in_folder((struct folder *)(uintptr_t)folder, folder->names[i]), BLOB_MOST, &data,
                            e) ||
            !desk_attach(d, draft, folder->names[i], data, (struct str){0}, &appended, e)) {
            return false;
        }
    }
    return true;
}

/* Keeps the text, and its drawings when it is new. */
static bool keep_edition(struct desk *d, const struct folder *folder, struct str path, struct str text,
                         struct log_hash *edition, struct err *e)
{
    struct edition known;
    bool found = false;
    if (!depot_book_get(d->depot, log_sha256(text), e->a, &known, &found, e)) {
        return false;
    }
    bool ok = depot_book_put(d->depot, str_cut(path, folder->path.n, path.n), text, edition, e) &&
              (found || keep_drawings(d, folder, *edition, e));
    d->place = -1; /* machines go by the new edition */
    return ok;
}

bool desk_book_take(struct desk *d, const char *path, struct diags *findings, struct log_hash *edition, struct err *e)
{
    struct str text = {0};
    if (!desk_read_file(e->a, path, (size_t)BOOKFILE_BYTES_MAX + 1, &text, e)) {
        return false;
    }
    struct bookfile *file = bookfile_read(text, str_of(path), e->a, findings);
    /* The checker gives the memory of its search back to e's arena; the names of drawings it asks for are kept apart.
     */
    struct arena names = arena_new(&arena_libc);
    struct folder folder = {.a = &names, .path = folder_of(str_of(path))};
    if (file) {
        bookfile_check(file, (struct bookfile_folder){exists, &folder}, e->a, findings);
    }
    bool ok = file && findings->errors == 0;
    if (!ok) {
        err_set(e, ERR_INPUT, "witmark book check shows what is wrong", path, " is not taken: the book has errors",
                (char *)0);
    }
    ok = ok && keep_edition(d, &folder, str_of(path), text, edition, e);
    arena_free(&names);
    return ok;
}

/* The serial classes of the book as numbers. */
static bool make_classes(struct desk *d, struct desk_book *book, struct err *e)
{
    size_t n = 0;
    const struct bookfile_class *classes = bookfile_serial_classes(book->file, &d->arena, &n);
    book->class_last = ARENA_ARRAY(&d->arena, uint32_t, n);
    for (size_t i = 0; i < n; i++) {
        struct bookfile_serial serial;
        if (!bookfile_serial_normalise(book->file, classes[i].last, &d->arena, &serial, e)) {
            return false;
        }
        book->class_last[i] = serial.number;
    }
    book->n_classes = n;
    return true;
}

const struct book *desk_resolve(struct desk *d, struct desk_book *book, struct str serial, struct book_texts options,
                                struct err *e)
{
    struct bookfile_serial found;
    if ((!book->class_last && !make_classes(d, book, e)) ||
        !bookfile_serial_normalise(book->file, serial, &d->arena, &found, e)) {
        return NULL;
    }
    size_t group = 0;
    while (group + 1 < book->n_classes && book->class_last[group] < found.number) {
        group++;
    }
    struct text key = text_new(&d->arena);
    for (int i = 0; i < options.n; i++) {
        text_add(&key, options.at[i]);
        text_char(&key, ',');
    }
    struct book *own = ARENA_NEW(&d->arena, struct book);
    for (size_t i = 0; i < book->n_resolved; i++) {
        const struct desk_resolved *r = &book->resolved[i];
        if (r->last == book->class_last[group] && str_eq(r->options, text_str(&key))) {
            *own = *r->book;
            own->serial = found.serial;
            own->serial_number = found.number;
            return own;
        }
    }
    struct str *kept = ARENA_ARRAY(&d->arena, struct str, options.n);
    for (int i = 0; i < options.n; i++) {
        kept[i] = str_copy(&d->arena, options.at[i]);
    }
    if (!bookfile_resolve(book->file, serial, (struct book_texts){kept, options.n}, &d->arena, own, e)) {
        return NULL;
    }
    own->hash = book->hash_text;
    struct desk_resolved fresh = {book->class_last[group], text_str(&key), own};
    ARENA_PUSH(&d->arena, book->resolved, book->n_resolved, book->cap_resolved) = fresh;
    return own;
}

struct desk_book *desk_present_book(const struct desk *d, struct str id)
{
    struct desk_book *present = NULL;
    for (size_t i = 0; i < d->n_books; i++) {
        if (d->books[i].file && str_eq(d->books[i].id, id)) {
            present = &d->books[i]; /* the list is oldest first */
        }
    }
    return present;
}

/* Whether an edition has been read. The depot lists editions by time and hash, so that one kept in the same millisecond
 * as another may come before it: the number of those read says nothing. */
static bool book_known(const struct desk *d, struct log_hash hash)
{
    for (size_t i = 0; i < d->n_books; i++) {
        if (log_hash_eq(d->books[i].hash, hash)) {
            return true;
        }
    }
    return false;
}

bool desk_load_books(struct desk *d, struct err *e)
{
    struct edition *editions = NULL;
    size_t n = 0;
    if (!depot_book_list(d->depot, &d->arena, &editions, &n, e)) {
        return false;
    }
    for (size_t i = 0; i < n; i++) {
        struct edition edition;
        bool found = false;
        if (book_known(d, editions[i].hash)) {
            continue;
        }
        if (!depot_book_get(d->depot, editions[i].hash, &d->arena, &edition, &found, e)) {
            return false;
        }
        struct desk_book book = {.hash = editions[i].hash, .kept = editions[i].kept, .id = editions[i].name};
        struct text hash = text_new(&d->arena);
        text_edition(&hash, book.hash);
        book.hash_text = text_str(&hash);
        struct diags findings = diags_new(&d->arena, 20);
        struct bookfile *file = found ? bookfile_read(edition.text, editions[i].name, &d->arena, &findings) : NULL;
        if (file && findings.errors == 0) {
            const struct bookfile_head *head = bookfile_head(file);
            book.id = head->id;
            book.title = head->title;
            book.maker = head->maker;
            book.edition = head->edition;
            book.file = file;
        }
        ARENA_PUSH(&d->arena, d->books, d->n_books, d->cap_books) = book;
    }
    for (size_t i = 0; i < d->n_books; i++) {
        d->books[i].present = desk_present_book(d, d->books[i].id) == &d->books[i];
    }
    return true;
}

bool desk_book_list(struct desk *d, struct arena *a, struct desk_edition **at, size_t *n, struct err *e)
{
    if (!desk_refresh(d, e)) {
        return false;
    }
    *at = ARENA_ARRAY(a, struct desk_edition, d->n_books);
    *n = d->n_books;
    for (size_t i = 0; i < d->n_books; i++) {
        const struct desk_book *b = &d->books[i];
        (*at)[i] = (struct desk_edition){b->id, b->title, b->maker, b->edition, b->hash_text, b->kept, b->present, 0};
        for (size_t k = 0; b->present && k < d->n_machines; k++) {
            (*at)[i].machines += str_eq(d->machines[k].m.book_id, b->id);
        }
    }
    return true;
}

bool desk_drawing(const struct desk *d, struct str edition, struct str file, struct log_hash *blob)
{
    struct log_hash hash;
    if (!edition_parse(edition, &hash)) {
        return false;
    }
    for (size_t i = 0; i < d->n_figures; i++) {
        if (log_hash_eq(d->figures[i].edition, hash) && str_eq(d->figures[i].file, file)) {
            *blob = d->figures[i].blob;
            return true;
        }
    }
    return false;
}
