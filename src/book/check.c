/* placeholder */
#include "bookfile_internal.h"
void bookfile_check(const struct bookfile *bf, struct bookfile_folder folder, struct arena *a, struct diags *d)
{
    (void)folder;
    struct finds f = finds_new(&bf->source, a);
    struct book book;
    struct binding b = {.bf = bf, .a = a, .finds = &f, .book = &book};
    bind_all(&b);
    for (size_t i = 0; i < f.n; i++) {
        diags_add(d, f.at[i].diag);
    }
}
