/* The page's files: a table embedded in the program by the build (embed.c makes it from page/), or, for work on the
 * page, a folder. Both answer the same question. */
#ifndef WITMARK_WEB_FILES_H
#define WITMARK_WEB_FILES_H

#include "answer.h"
#include "target.h"

struct web_file {
    const char *path;             /* "style.css" */
    const char *etag, *etag_gzip; /* quoted */
    const char *data, *gzip;      /* gzip: null when it would not be smaller */
    size_t n, n_gzip;
};
/* Sorted by path, bytewise. */
extern const struct web_file web_files[];
extern const size_t web_files_n;

/* Media type by the ending of the name. */
const char *files_type(struct str name);
/* The file that the target's path names ("/" is index.html). folder: null for the embedded ones. Errors: ERR_MISSING.
 */
bool files_get(const char *folder, const struct target *t, bool gzip, struct arena *a, struct answer *out,
               struct err *e);

#endif
