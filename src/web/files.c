/* Files of the page, embedded or from a folder. A path is a list of decoded parts in which no "..", slash or control
 * character can be left (target.c), and no part begins with a dot. */
#include "files.h"

#include "base/json.h"
#include "desk.h"

#include <string.h>

#define FILE_MOST ((size_t)8 << 20)

const char *files_type(struct str name)
{
    static const struct {
        const char *ending, *type;
    } table[] = {{".html", "text/html; charset=utf-8"},
                 {".css", "text/css; charset=utf-8"},
                 {".js", "text/javascript; charset=utf-8"},
                 {".mjs", "text/javascript; charset=utf-8"},
                 {".wasm", "application/wasm"},
                 {".webmanifest", "application/manifest+json"},
                 {".svg", "image/svg+xml"},
                 {".png", "image/png"},
                 {".json", "application/json"},
                 {".woff2", "font/woff2"},
                 {".txt", "text/plain; charset=utf-8"}};
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        if (str_ends(name, str_of(table[i].ending))) {
            return table[i].type;
        }
    }
    return "application/octet-stream";
}

static const struct web_file *embedded(struct str path)
{
    size_t low = 0;
    size_t high = web_files_n;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        int order = str_cmp(path, str_of(web_files[middle].path));
        if (order == 0) {
            return &web_files[middle];
        }
        *(order < 0 ? &high : &low) = order < 0 ? middle : middle + 1;
    }
    return NULL;
}

/* "icons/plate.svg"; empty when a part may not name a file. */
static struct str joined(struct arena *a, const struct target *t)
{
    if (t->n == 0) {
        return S("index.html");
    }
    struct text path = text_new(a);
    for (size_t i = 0; i < t->n; i++) {
        struct str part = t->parts[i];
        if (part.p[0] == '.' || memchr(part.p, '/', part.n) || memchr(part.p, '\\', part.n)) {
            return (struct str){0};
        }
        text_addz(&path, i ? "/" : "");
        text_add(&path, part);
    }
    return text_str(&path);
}

static bool from_folder(const char *folder, struct str path, struct arena *a, struct answer *out)
{
    struct text full = text_new(a);
    text_join(&full, folder, "/", (char *)0);
    text_add(&full, path);
    struct str data = {0};
    struct err quiet = err_new(a);
    if (!desk_read_file(a, text_z(&full), FILE_MOST, &data, &quiet)) {
        return false;
    }
    *out = answer_body(a, files_type(path), data);
    return true;
}

/* The page's file from the folder or the table; false when there is none. What the build adds (npm packages, core.wasm)
 * is embedded even where the page's own files come from a folder. */
static bool get_one(const char *folder, struct str path, bool gzip, struct arena *a, struct answer *out)
{
    if (path.n > 0 && folder && from_folder(folder, path, a, out)) {
        return true;
    }
    const struct web_file *file = path.n > 0 ? embedded(path) : NULL;
    if (!file || (folder && !str_starts(path, S("npm/")) && !str_ends(path, S(".wasm")))) {
        return false;
    }
    bool packed = gzip && file->gzip;
    *out = (struct answer){.status = 200,
                           .type = files_type(path),
                           .body = packed ? (struct str){file->gzip, file->n_gzip} : (struct str){file->data, file->n},
                           .etag = str_of(packed ? file->etag_gzip : file->etag),
                           .gzip = packed,
                           .varies = file->gzip != NULL};
    return true;
}

/* {"files": [..], "version"}: what a browser keeps to work without a network. The version is another when any file is.
 */
static struct answer list_of_files(const char *folder, struct arena *a)
{
    struct text t = text_new(a);
    struct text etags = text_new(a);
    struct json j = json_new(&t, false);
    json_begin_object(&j, NULL);
    json_begin_array(&j, "files");
    for (size_t i = 0; i < web_files_n; i++) {
        struct answer one = {0};
        if (get_one(folder, str_of(web_files[i].path), false, a, &one)) {
            json_strz(&j, NULL, web_files[i].path);
            text_add(&etags, one.etag);
        }
    }
    json_end_array(&j);
    struct text version = text_new(a);
    uint64_t hash = str_hash(text_str(&etags));
    for (int shift = 60; shift >= 0; shift -= 4) {
        text_char(&version, "0123456789abcdef"[hash >> shift & 15]);
    }
    json_str(&j, "version", text_str(&version));
    json_end_object(&j);
    return answer_body(a, "application/json", text_str(&t));
}

bool files_get(const char *folder, const struct target *t, bool gzip, struct arena *a, struct answer *out,
               struct err *e)
{
    struct str path = joined(a, t);
    if (str_eq(path, S("files.json"))) {
        *out = list_of_files(folder, a);
    } else if (!get_one(folder, path, gzip, a, out)) {
        return err_set(e, ERR_MISSING, "/ is the page, /api/today the list as JSON", "there is nothing at ",
                       str_z(a, t->path), (char *)0);
    }
    out->policy = POLICY_PAGE;
    return true;
}
