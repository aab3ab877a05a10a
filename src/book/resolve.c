/* What applies to one serial number. */
#include "bookfile_internal.h"

/* The first finding as an error: where in the book, what, what would be right. */
static bool fail(struct err *e, const struct finds *f)
{
    for (size_t i = 0; i < f->n; i++) {
        const struct diag *d = &f->at[i].diag;
        if (d->level == DIAG_ERROR) {
            return err_at(e, d->where, ERR_INPUT, d->right.n ? str_z(f->a, d->right) : NULL, str_z(f->a, d->what),
                          (char *)0);
        }
    }
    return true;
}

bool options_mask(const struct bookfile *bf, struct book_texts options, struct arena *a, uint64_t *mask, struct err *e)
{
    *mask = 0;
    for (int i = 0; i < options.n; i++) {
        int at = option_find(bf, options.at[i]);
        if (at < 0) {
            return err_set(e, ERR_USAGE, suggest(a, options.at[i], bf->head.options.at, (size_t)bf->n_options),
                           "the book ", bf->head.id.p, " has no option \"", str_z(a, options.at[i]), "\"", (char *)0);
        }
        *mask |= UINT64_C(1) << at;
    }
    return true;
}

bool bookfile_resolve(const struct bookfile *bf, struct str serial, struct book_texts options, struct arena *a,
                      struct book *out, struct err *e)
{
    struct bookfile_serial number;
    struct machine m = {0};
    if (!bookfile_serial_normalise(bf, serial, a, &number, e) || !options_mask(bf, options, a, &m.options, e)) {
        return false;
    }
    m.serial = number.number;
    if (bf->errors) {
        return err_at(e, (struct where){.name = bf->source.name}, ERR_INPUT, "see what its check says",
                      "the book has errors", (char *)0);
    }
    if (!options_allowed(bf, m)) {
        return err_set(e, ERR_USAGE, "see what the book says about its options", "these options can't be together on ",
                       number.serial.p, (char *)0);
    }
    struct finds f = finds_new(&bf->source, a);
    struct binding b = {.bf = bf, .a = a, .finds = &f, .machine = m, .book = out};
    bind_book(&b);
    return fail(e, &f);
}
