/* witmark book ...: proving, comparing, taking books. */
#include "cli.h"

#include "bookfile.h"

#include <string.h>
#include <unistd.h>

/* Looks for drawings in the folder of the book file. */
static bool drawing_exists(void *ctx, struct str name)
{
    struct call *c = ctx;
    struct text t = text_new(&c->arena);
    const char *path = c->arguments[c->n];
    const char *slash = strrchr(path, '/');
    text_add(&t, str_cut(str_of(path), 0, slash ? (size_t)(slash - path) + 1 : 0));
    text_add(&t, name);
    return access(text_z(&t), R_OK) == 0;
}

/* Reads a book file; findings about it go to d. */
static struct bookfile *read_book(struct call *c, const char *path, struct diags *d)
{
    struct str text = {0};
    if (!desk_read_file(&c->arena, path, (size_t)BOOKFILE_BYTES_MAX + 1, &text, &c->err)) {
        return NULL;
    }
    return bookfile_read(text, str_of(path), &c->arena, d);
}

static void findings_json(struct text *t, const struct diags *d)
{
    struct json j = json_new(t, true);
    json_begin_object(&j, NULL);
    json_int(&j, "errors", (int64_t)d->errors);
    json_int(&j, "left_out", (int64_t)d->left_out);
    json_begin_array(&j, "findings");
    for (size_t i = 0; i < d->n; i++) {
        const struct diag *f = &d->at[i];
        json_begin_object(&j, NULL);
        json_strz(&j, "level", diag_level_text(f->level));
        json_str(&j, "file", f->where.name);
        json_int(&j, "line", f->where.line);
        json_int(&j, "column", f->where.column);
        json_strz(&j, "rule", f->rule);
        json_str(&j, "what", f->what);
        json_str(&j, "right", f->right);
        json_end_object(&j);
    }
    json_end_array(&j);
    json_end_object(&j);
    text_char(t, '\n');
}

/* The findings and their count. */
static void findings_text(struct text *t, const struct diags *d)
{
    for (size_t i = 0; i < d->n; i++) {
        diag_print(t, &d->at[i]);
    }
    if (d->left_out) {
        text_int(t, (int64_t)d->left_out);
        text_addz(t, " more are not shown\n");
    }
}

static int run_check(struct call *c)
{
    struct diags findings = diags_new(&c->arena, 500);
    int files = c->n;
    for (int i = 0; i < files; i++) {
        struct bookfile *file = read_book(c, c->arguments[i], &findings);
        if (c->err.kind != ERR_NONE) {
            return failed(c);
        }
        c->n = i; /* drawing_exists looks beside this one */
        if (file) {
            bookfile_check(file, (struct bookfile_folder){drawing_exists, c}, &c->arena, &findings);
        }
    }
    diags_sort(&findings);
    struct text t = text_new(&c->arena);
    if (c->json) {
        findings_json(&t, &findings);
    } else {
        findings_text(&t, &findings);
        if (findings.n == 0) {
            text_addz(&t, files == 1 ? "the book is sound\n" : "the books are sound\n");
        }
    }
    int status = print_text(&t);
    return status ? status : findings.errors ? EXIT_FINDINGS : EXIT_FINE;
}

static struct book_texts options_of(struct call *c, struct str list)
{
    struct str *at = NULL;
    size_t n = 0;
    size_t cap = 0;
    struct str piece;
    while (str_next(&list, ',', &piece)) {
        if (str_trim(piece).n) {
            ARENA_PUSH(&c->arena, at, n, cap) = str_trim(piece);
        }
    }
    return (struct book_texts){at, (int)n};
}

/* Reads a book that must be without syntax errors; else prints what is wrong. */
static struct bookfile *good_book(struct call *c, const char *path)
{
    struct diags findings = diags_new(&c->arena, 50);
    struct bookfile *file = read_book(c, path, &findings);
    if (c->err.kind == ERR_NONE && (!file || findings.errors)) {
        struct text t = text_new(&c->arena);
        findings_text(&t, &findings);
        (void)fputs(text_z(&t), stderr);
        (void)err_set(&c->err, ERR_INPUT, "witmark book check", path, " has errors", (char *)0);
    }
    return c->err.kind == ERR_NONE ? file : NULL;
}

static void differences_json(struct text *t, const struct book_differences *d)
{
    struct json j = json_new(t, true);
    json_begin_array(&j, NULL);
    for (size_t i = 0; i < d->n; i++) {
        const struct book_difference *x = &d->at[i];
        json_begin_object(&j, NULL);
        json_str(&j, "section", x->section);
        json_str(&j, "name", x->name);
        json_str(&j, "what", x->what);
        json_str(&j, "before", x->before);
        json_str(&j, "after", x->after);
        json_str(&j, "from", x->from);
        json_str(&j, "to", x->to);
        json_begin_array(&j, "options");
        for (int k = 0; k < x->options.n; k++) {
            json_str(&j, NULL, x->options.at[k]);
        }
        json_end_array(&j);
        json_end_object(&j);
    }
    json_end_array(&j);
    text_char(t, '\n');
}

static int run_diff(struct call *c)
{
    struct bookfile *first = good_book(c, c->arguments[0]);
    struct book_differences differences = {0};
    struct book_texts options = options_of(c, option_str(c, "with"));
    bool ok = first != NULL;
    if (ok && option_given(c, "serials")) {
        struct str pair = option_str(c, "serials");
        ptrdiff_t dots = str_find(pair, S(".."));
        struct book before;
        struct book after;
        ok = dots > 0 || err_set(&c->err, ERR_USAGE, "two serial numbers with .. between, e.g. BR6-01500..BR6-02300",
                                 "--serials '", option_value(c, "serials"), "' is no pair", (char *)0);
        ok = ok &&
             bookfile_resolve(first, str_trim(str_cut(pair, 0, (size_t)dots)), options, &c->arena, &before, &c->err) &&
             bookfile_resolve(first, str_trim(str_cut(pair, (size_t)dots + 2, pair.n)), options, &c->arena, &after,
                              &c->err);
        if (ok) {
            differences = bookfile_diff_machines(&before, &after, &c->arena);
        }
    } else if (ok && c->n == 2) {
        struct bookfile *second = good_book(c, c->arguments[1]);
        ok = second && bookfile_diff_editions(first, second, &c->arena, &differences, &c->err);
    } else if (ok) {
        ok = bookfile_diff_serials(first, options, &c->arena, &differences, &c->err);
    }
    if (!ok) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        differences_json(&t, &differences);
    } else if (differences.n == 0) {
        text_addz(&t, "no difference\n");
    } else {
        text_book_differences(&t, &differences);
    }
    return print_text(&t);
}

static int run_take(struct call *c)
{
    for (int i = 0; i < c->n; i++) {
        struct diags findings = diags_new(&c->arena, 50);
        struct log_hash edition;
        bool ok = desk_book_take(c->desk, c->arguments[i], &findings, &edition, &c->err);
        struct text t = text_new(&c->arena);
        findings_text(&t, &findings);
        (void)fputs(text_z(&t), stderr);
        if (!ok) {
            return failed(c);
        }
        t = text_new(&c->arena);
        text_join(&t, "took ", c->arguments[i], " as ", (char *)0);
        text_edition(&t, edition);
        text_char(&t, '\n');
        if (print_text(&t) != EXIT_FINE) {
            return EXIT_SYSTEM;
        }
    }
    return EXIT_FINE;
}

static int run_list(struct call *c)
{
    struct desk_edition *editions = NULL;
    size_t n = 0;
    if (!desk_book_list(c->desk, &c->arena, &editions, &n, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    struct table table = table_new(&c->arena, 5);
    struct json j = json_new(&t, true);
    if (c->json) {
        json_begin_array(&j, NULL);
    }
    for (size_t i = 0; i < n; i++) {
        const struct desk_edition *e = &editions[i];
        if (c->json) {
            json_begin_object(&j, NULL);
            json_str(&j, "book", e->book);
            json_str(&j, "title", e->title);
            json_str(&j, "maker", e->maker);
            json_str(&j, "edition", e->edition);
            json_str(&j, "hash", e->hash);
            json_bool(&j, "present", e->present);
            json_int(&j, "machines", e->machines);
            json_end_object(&j);
            continue;
        }
        table_add(&table, e->book);
        table_add(&table, e->title);
        table_add(&table, e->edition);
        struct text machines = text_new(&c->arena);
        text_int(&machines, e->machines);
        text_addz(&machines, e->machines == 1 ? " machine" : " machines");
        table_add(&table, e->present ? text_str(&machines) : S("earlier edition"));
        table_add(&table, str_cut(e->hash, 0, 19));
    }
    if (c->json) {
        json_end_array(&j);
        text_char(&t, '\n');
    } else {
        table_print(&t, &table);
    }
    return print_text(&t);
}

static int run_schema(struct call *c)
{
    struct text t = text_new(&c->arena);
    book_schema(&t);
    return print_text(&t);
}

static int run_reference(struct call *c)
{
    struct text t = text_new(&c->arena);
    book_reference(&t);
    return print_text(&t);
}

static const struct option_def diff_options[] = {
    {"serials", 0, "A..B", "compare two serial numbers of one book"},
    {"with", 0, "OPTIONS", "options of the machines, separated by commas"},
    {NULL, 0, NULL, NULL},
};

const struct command book_commands[] = {
    {"book check", "FILE...", 1, 100, "prove books: all that is wrong, where, and what would be right",
     "Every serial number in range and every set of options that matters is tried. The exit status is 1 when there are "
     "errors.",
     NULL, run_check, true, false},
    {"book diff", "FILE [OTHER]", 1, 2, "what changed, in plain words",
     "With one file: along its serial numbers. With two files: between two editions. With --serials: between two "
     "machines.",
     diff_options, run_diff, true, false},
    {"book take", "FILE...", 1, 100, "keep an edition in the depot, with its drawings", NULL, NULL, run_take, false,
     true},
    {"book list", "", 0, 0, "the editions in the depot", NULL, NULL, run_list, false, false},
    {"book schema", "", 0, 0, "the JSON Schema of a book, for editors", NULL, NULL, run_schema, true, false},
    {"book reference", "", 0, 0, "all keys of a book, as Markdown", NULL, NULL, run_reference, true, false},
    {0},
};
