#include "bookfile.h"
#include "cli.h"
#pragma GCC diagnostic ignored "-Wmissing-prototypes"
__attribute__((weak)) struct book_differences bookfile_diff_machines(const struct book *b, const struct book *c,
                                                                     struct arena *a)
{
    (void)b;
    (void)c;
    (void)a;
    return (struct book_differences){0};
}
__attribute__((weak)) bool bookfile_diff_editions(const struct bookfile *b, const struct bookfile *c, struct arena *a,
                                                  struct book_differences *o, struct err *e)
{
    (void)b;
    (void)c;
    (void)a;
    (void)o;
    (void)e;
    return true;
}
__attribute__((weak)) bool bookfile_diff_serials(const struct bookfile *b, struct book_texts t, struct arena *a,
                                                 struct book_differences *o, struct err *e)
{
    (void)b;
    (void)t;
    (void)a;
    (void)o;
    (void)e;
    return true;
}
__attribute__((weak)) void text_book_differences(struct text *t, const struct book_differences *d)
{
    (void)t;
    (void)d;
}
__attribute__((weak)) void text_findings(struct text *t, const struct findings *f)
{
    (void)t;
    (void)f;
}
__attribute__((weak)) const char *finding_word(enum finding_kind k)
{
    (void)k;
    return "";
}
__attribute__((weak)) enum diag_level finding_level(enum finding_kind k)
{
    (void)k;
    return DIAG_ERROR;
}
__attribute__((weak)) bool depot_verify(struct depot *d, struct progress p, struct arena *a, struct findings *f,
                                        struct err *e)
{
    (void)d;
    (void)p;
    (void)a;
    (void)f;
    (void)e;
    return true;
}
__attribute__((weak)) bool depot_backup(struct depot *d, const char *t, bool r, struct progress p, struct err *e)
{
    (void)d;
    (void)p;
    (void)t;
    (void)r;
    (void)e;
    return true;
}
__attribute__((weak)) bool depot_restore(const char *f, const char *t, bool r, const struct depot_options *o,
                                         struct err *e)
{
    (void)f;
    (void)o;
    (void)t;
    (void)r;
    (void)e;
    return true;
}
__attribute__((weak)) bool depot_export(struct depot *d, FILE *f, const struct export_options *o, struct err *e)
{
    (void)f;
    (void)o;
    (void)d;
    (void)e;
    return true;
}
__attribute__((weak)) bool depot_import(struct depot *d, FILE *f, const struct import_options *o, struct arena *a,
                                        struct import_report *r, struct err *e)
{
    (void)f;
    (void)o;
    (void)d;
    (void)a;
    (void)r;
    (void)e;
    return true;
}
