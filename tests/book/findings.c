/* book_findings FILE...: what the check says about books, for writers of books before the command line is at hand, and
 * for reproducing a finding of the fuzzer. book_findings FILE SERIAL [OPTION...] resolves one machine and counts what
 * it has. */
#include "generate.h"

#include <stdlib.h>

/* Prints every finding. Returns how many are errors. */
static size_t print_all(struct arena *a, struct diags *d)
{
    diags_sort(d);
    for (size_t i = 0; i < d->n; i++) {
        struct text t = text_new(a);
        diag_print(&t, &d->at[i]);
        fwrite(t.p, 1, t.n, stdout);
    }
    printf("%zu findings, %zu of them errors\n", d->n + d->left_out, d->errors);
    return d->errors;
}

/* Whether a file is there, beside the book. */
static bool exists(void *ctx, struct str name)
{
    struct arena a = arena_new(&arena_libc);
    struct str book = str_of(ctx);
    size_t slash = book.n;
    while (slash > 0 && book.p[slash - 1] != '/') {
        slash--;
    }
    struct text t = text_new(&a);
    text_add(&t, str_cut(book, 0, slash));
    text_add(&t, name);
    FILE *f = fopen(text_z(&t), "rb");
    bool there = f != NULL;
    if (f) {
        fclose(f);
    }
    arena_free(&a);
    return there;
}

static int resolve(const struct bookfile *bf, int argc, char **argv, struct arena *a)
{
    struct str options[BOOKFILE_OPTIONS_MAX];
    int n = 0;
    for (int i = 3; i < argc && n < BOOKFILE_OPTIONS_MAX; i++) {
        options[n++] = str_of(argv[i]);
    }
    struct err e = err_new(a);
    struct book b;
    if (!bookfile_resolve(bf, str_of(argv[2]), (struct book_texts){options, n}, a, &b, &e)) {
        printf("%s\n", str_z(a, err_text(a, &e)));
        return 1;
    }
    printf("%.*s: %d variables, %d places, %d changes, %d fluids, %d parts, %d torques, %d checkpoints, %d tasks, %d "
           "services, "
           "%d adjusters, %d causes, %d fuses, %d recovery steps\n",
           STR_ARG(b.serial), b.n_variables, b.n_places, b.n_changes, b.n_fluids, b.n_parts, b.n_torques,
           b.n_checkpoints, b.n_tasks, b.n_services, b.n_adjusters, b.n_causes, b.n_fuses, b.recovery.n_steps);
    return 0;
}

int main(int argc, char **argv)
{
    if (argc < 2) {
        fputs("usage: book_findings FILE [SERIAL [OPTION...]]\n", stderr);
        return 2;
    }
    struct arena a = arena_new(&arena_libc);
    struct str text;
    if (!generate_read(&a, argv[1], &text)) {
        fprintf(stderr, "%s: can't be read\n", argv[1]);
        return 2;
    }
    struct diags d = diags_new(&a, 200);
    struct bookfile *bf = bookfile_read(text, str_of(argv[1]), &a, &d);
    int status = 0;
    if (bf && argc > 2) {
        status = resolve(bf, argc, argv, &a);
    } else {
        if (bf) {
            bookfile_check(bf, (struct bookfile_folder){exists, argv[1]}, &a, &d);
        }
        status = print_all(&a, &d) ? 1 : 0;
    }
    arena_free(&a);
    return status;
}
