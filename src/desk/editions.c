/* Editions of a book as text: read, checked, taken, compared. */
#include "desk_internal.h"
#include "desk_manual.h"

bool desk_books_json(struct json *j, struct desk *d, struct err *e)
{
    struct desk_edition *at = NULL;
    size_t n = 0;
    if (!desk_book_list(d, j->t->a, &at, &n, e)) {
        return false;
    }
    json_begin_array(j, NULL);
    for (size_t i = 0; i < n; i++) {
        struct text kept = text_new(j->t->a);
        text_instant(&kept, at[i].kept);
        json_begin_object(j, NULL);
        json_str(j, "book", at[i].book);
        json_str(j, "title", at[i].title);
        json_str(j, "maker", at[i].maker);
        json_str(j, "edition", at[i].edition);
        json_str(j, "hash", at[i].hash);
        json_str(j, "kept", text_str(&kept));
        json_bool(j, "present", at[i].present);
        json_int(j, "machines", at[i].machines);
        json_end_object(j);
    }
    json_end_array(j);
    return true;
}

/* Says which books or editions there are instead. */
static bool no_such(struct desk *d, struct str book, struct str edition, struct err *e)
{
    struct text right = text_new(e->a);
    struct str *names = ARENA_ARRAY(e->a, struct str, d->n_books);
    size_t n = 0;
    for (size_t i = 0; i < d->n_books; i++) {
        if (d->books[i].file && (edition.n == 0 || str_eq(d->books[i].id, book))) {
            names[n++] = edition.n ? d->books[i].edition : d->books[i].id;
        }
    }
    ptrdiff_t near = str_nearest(edition.n ? edition : book, names, n);
    text_addz(&right, near >= 0 ? "did you mean " : "GET /api/books or witmark book list shows them");
    if (near >= 0) {
        text_add(&right, names[near]);
        text_char(&right, '?');
    }
    return edition.n && n
               ? err_set(e, ERR_MISSING, text_z(&right), "book ", str_z(e->a, book), " has no edition '",
                         str_z(e->a, edition), "' here", (char *)0)
               : err_set(e, ERR_MISSING, text_z(&right), "there is no book '", str_z(e->a, book), "' here", (char *)0);
}

/* The edition that is meant; the last kept where several have that name. */
static const struct desk_book *find_edition(struct desk *d, struct str book, struct str edition, struct err *e)
{
    const struct desk_book *found = NULL;
    if (!desk_refresh(d, e)) {
        return NULL;
    }
    for (size_t i = 0; i < d->n_books; i++) {
        const struct desk_book *b = &d->books[i];
        bool meant = edition.n == 0 ? b->present : str_eq(b->hash_text, edition) || str_eq(b->edition, edition);
        if (b->file && str_eq(b->id, book) && meant) {
            found = b;
        }
    }
    if (!found) {
        (void)no_such(d, book, edition, e);
    }
    return found;
}

bool desk_book_text(struct desk *d, struct str book, struct str edition, struct arena *a, struct desk_book_text *out,
                    struct err *e)
{
    const struct desk_book *b = find_edition(d, book, edition, e);
    struct edition kept;
    bool found = false;
    if (!b || !depot_book_get(d->depot, b->hash, a, &kept, &found, e)) {
        return false;
    }
    *out = (struct desk_book_text){b->hash_text, b->edition, kept.name, kept.text};
    return found || no_such(d, book, edition, e);
}

/* ---- checking and taking ------------------------------------------------------------------------------------------
 */

/* Drawings that are here: kept with any edition of that book. */
struct drawings {
    struct desk *d;
    struct str book; /* empty = of any book */
};

static const struct desk_figure *drawing_of(const struct drawings *at, struct str file)
{
    const struct desk_figure *found = NULL;
    for (size_t i = 0; i < at->d->n_figures; i++) {
        const struct desk_figure *f = &at->d->figures[i];
        for (size_t k = 0; k < at->d->n_books; k++) {
            const struct desk_book *b = &at->d->books[k];
            if (str_eq(f->file, file) && log_hash_eq(b->hash, f->edition) &&
                (at->book.n == 0 || str_eq(b->id, at->book))) {
                found = f;
            }
        }
    }
    return found;
}

static bool drawing_is_here(void *ctx, struct str name)
{
    return drawing_of(ctx, name) != NULL;
}

/* Reads and checks; null when the text is no book at all. */
static struct bookfile *check(struct desk *d, struct str text, struct str name, struct diags *findings, struct err *e)
{
    if (!desk_refresh(d, e)) {
        return NULL;
    }
    struct bookfile *file = bookfile_read(text, name, findings->a, findings);
    if (file) {
        struct drawings drawings = {d, bookfile_head(file)->id};
        bookfile_check(file, (struct bookfile_folder){drawing_is_here, &drawings}, findings->a, findings);
    }
    diags_sort(findings);
    return file;
}

bool desk_book_check_text(struct desk *d, struct str text, struct str name, struct diags *findings, struct err *e)
{
    (void)check(d, text, name, findings, e);
    return e->kind == ERR_NONE;
}

/* The drawings that the new edition names, each by an entry of its own as when a book is taken from a file. */
static bool keep_drawings(struct desk *d, const struct bookfile *file, struct log_hash edition, struct str by,
                          struct err *e)
{
    struct drawings drawings = {d, bookfile_head(file)->id};
    for (size_t i = 0; i < d->n_figures; i++) {
        const struct desk_figure *f = &d->figures[i];
        struct str data = {0};
        bool found = false;
        struct appended appended;
        if (drawing_of(&drawings, f->file) != f || log_hash_eq(f->edition, edition)) {
            continue;
        }
        struct draft draft = {.at = desk_now(d), .by = by, .has_book = true, .book = edition};
        if (!depot_blob_get(d->depot, f->blob, e->a, &data, &found, e) ||
            (found && !desk_attach(d, draft, f->file, data, (struct str){0}, &appended, e))) {
            return false;
        }
    }
    return true;
}

bool desk_book_take_text(struct desk *d, struct str book, struct str text, struct str by, struct str based_on,
                         struct diags *findings, struct log_hash *edition, struct err *e)
{
    struct text name = text_new(e->a);
    text_add(&name, book);
    text_addz(&name, ".yaml");
    struct bookfile *file = check(d, text, text_str(&name), findings, e);
    if (e->kind != ERR_NONE) {
        return false;
    }
    if (!file || findings->errors) {
        return err_set(e, ERR_INPUT, "the findings say where", "the book has errors and was not kept", (char *)0);
    }
    if (!str_eq(bookfile_head(file)->id, book)) {
        return err_set(e, ERR_INPUT, str_z(e->a, book), "book: the text is of the book '",
                       str_z(e->a, bookfile_head(file)->id), "'", (char *)0);
    }
    const struct desk_book *present = desk_present_book(d, book);
    if (based_on.n && present && !str_eq(present->hash_text, based_on)) {
        return err_set(e, ERR_CONFLICT, "compare with the present edition and send it again",
                       "another edition has been kept meanwhile: ", str_z(e->a, present->edition), (char *)0);
    }
    struct edition known;
    bool found = false;
    bool ok = depot_book_get(d->depot, log_sha256(text), e->a, &known, &found, e) &&
              depot_book_put(d->depot, text_str(&name), text, edition, e) &&
              (found || keep_drawings(d, file, *edition, by, e));
    d->place = -1; /* machines go by the new edition */
    return ok;
}

/* ---- comparing ----------------------------------------------------------------------------------------------------
 */

bool desk_book_diff_json(struct json *j, struct desk *d, struct str book, struct str from, struct str to, struct err *e)
{
    const struct desk_book *before = find_edition(d, book, from, e);
    const struct desk_book *after = before ? find_edition(d, book, to, e) : NULL;
    struct book_differences differences = {0};
    if (!after || !bookfile_diff_editions(before->file, after->file, j->t->a, &differences, e)) {
        return false;
    }
    json_begin_array(j, NULL);
    for (size_t i = 0; i < differences.n; i++) {
        const struct book_difference *x = &differences.at[i];
        json_begin_object(j, NULL);
        json_str(j, "section", x->section);
        json_str(j, "name", x->name);
        json_str(j, "what", x->what);
        json_str(j, "before", x->before);
        json_str(j, "after", x->after);
        json_str(j, "from", x->from);
        json_str(j, "to", x->to);
        json_begin_array(j, "options");
        for (int k = 0; k < x->options.n; k++) {
            json_str(j, NULL, x->options.at[k]);
        }
        json_end_array(j);
        json_end_object(j);
    }
    json_end_array(j);
    return true;
}

void desk_findings_json(struct json *j, const struct diags *d)
{
    json_begin_object(j, NULL);
    json_int(j, "errors", (int64_t)d->errors);
    json_int(j, "left_out", (int64_t)d->left_out);
    json_begin_array(j, "findings");
    for (size_t i = 0; i < d->n; i++) {
        const struct diag *f = &d->at[i];
        json_begin_object(j, NULL);
        json_strz(j, "level", diag_level_text(f->level));
        json_str(j, "file", f->where.name);
        json_int(j, "line", f->where.line);
        json_int(j, "column", f->where.column);
        json_strz(j, "rule", f->rule);
        json_str(j, "what", f->what);
        json_str(j, "right", f->right);
        json_str(j, "excerpt", f->excerpt);
        json_end_object(j);
    }
    json_end_array(j);
    json_end_object(j);
}
