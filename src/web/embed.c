/* Runs at build: turns the files of page/ into a C table (files.h). usage: embed OUT DEPFILE ROOT NAME...
 * NAME is a file's path under ROOT, or ADDRESS=PATH where the page asks for it by another one: the npm packages and
 * what the build makes (PATH may be absolute). These may be missing (the page then says so), and their bare imports of
 * each other become relative ones, since a page without inline scripts has no import map. DEPFILE tells the build what
 * was read. The data are string literals with octal escapes: compilers read these in a fraction of the time of a list
 * of numbers. The hash is FNV-1a of 64 bits, the same as str_hash, so that a file has the same ETag from the table and
 * from a folder. */
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

struct data {
    unsigned char *at;
    size_t n;
};

/* The build stops here. */
static _Noreturn void die(const char *what, const char *name)
{
    (void)fprintf(stderr, "embed: %s %s\n", what, name);
    exit(1);
}

/* One file of the page: where it lies and how the page asks for it. */
struct wanted {
    const char *address; /* not ended by a zero byte */
    int n_address;
    const char *path;
    bool package; /* of npm: may be missing, imports are made relative */
};

/* "npm/htm.mjs=node_modules/htm/dist/htm.mjs" or "main.js" */
static struct wanted wanted_of(const char *name)
{
    const char *equals = strchr(name, '=');
    return (struct wanted){.address = name,
                           .n_address = equals ? (int)(equals - name) : (int)strlen(name),
                           .path = equals ? equals + 1 : name,
                           .package = equals != NULL};
}

/* The whole file; without one, nothing at all where that is allowed, else the end. */
static struct data read_file(const char *root, const char *name, bool may_miss)
{
    char path[4096];
    int length = snprintf(path, sizeof path, "%s%s%s", name[0] == '/' ? "" : root, name[0] == '/' ? "" : "/", name);
    FILE *f = length > 0 && (size_t)length < sizeof path ? fopen(path, "rb") : NULL;
    if (!f && may_miss) {
        return (struct data){0};
    }
    if (!f || fseek(f, 0, SEEK_END) != 0) {
        die("cannot read", name);
    }
    long size = ftell(f);
    struct data d = {malloc(size > 0 ? (size_t)size : 1), size > 0 ? (size_t)size : 0};
    if (size < 0 || !d.at || fseek(f, 0, SEEK_SET) != 0 || fread(d.at, 1, d.n, f) != d.n) {
        die("cannot read", name);
    }
    (void)fclose(f);
    return d;
}

/* from"preact" becomes from"./preact.mjs", the address that this package has beside the others. */
static struct data relative(struct data in)
{
    static const char bare[] = "from\"preact\"";
    static const char near[] = "from\"./preact.mjs\"";
    struct data out = {malloc(in.n * 2 + sizeof near), 0};
    if (!out.at) {
        die("no memory for", bare);
    }
    for (size_t i = 0; i < in.n;) {
        if (in.n - i >= sizeof bare - 1 && memcmp(in.at + i, bare, sizeof bare - 1) == 0) {
            memcpy(out.at + out.n, near, sizeof near - 1);
            out.n += sizeof near - 1;
            i += sizeof bare - 1;
        } else {
            out.at[out.n++] = in.at[i++];
        }
    }
    free(in.at);
    return out;
}

/* gzip without a time stamp, so that the same page gives the same program. */
static struct data pack(struct data in, const char *name)
{
    z_stream z = {0};
    if (deflateInit2(&z, Z_BEST_COMPRESSION, Z_DEFLATED, 15 + 16, 9, Z_DEFAULT_STRATEGY) != Z_OK) {
        die("cannot compress", name);
    }
    uLong most = deflateBound(&z, (uLong)in.n);
    struct data out = {malloc(most), 0};
    z.next_in = in.at;
    z.avail_in = (uInt)in.n;
    z.next_out = out.at;
    z.avail_out = (uInt)most;
    if (!out.at || deflate(&z, Z_FINISH) != Z_STREAM_END) {
        die("cannot compress", name);
    }
    out.n = z.total_out;
    (void)deflateEnd(&z);
    return out;
}

/* FNV-1a, 64 bits. */
static uint64_t hash_of(struct data d)
{
    uint64_t hash = 0xcbf29ce484222325U;
    for (size_t i = 0; i < d.n; i++) {
        hash = (hash ^ d.at[i]) * 0x100000001b3U;
    }
    return hash;
}

/* A string literal in lines; '?' is escaped because of trigraphs. */
static void literal(FILE *out, struct data d)
{
    (void)fputs("\n    \"", out);
    for (size_t i = 0; i < d.n; i++) {
        unsigned char c = d.at[i];
        if (c >= ' ' && c < 127 && c != '"' && c != '\\' && c != '?') {
            (void)fputc(c, out);
        } else {
            (void)fprintf(out, "\\%03o", c);
        }
        if (i % 100 == 99) {
            (void)fputs("\"\n    \"", out);
        }
    }
    (void)fputc('"', out);
}

/* A row of the table: plain, and packed when that saves a tenth. False when the file is a package's and not there. */
static bool one_file(FILE *out, const char *root, const char *name)
{
    struct wanted w = wanted_of(name);
    struct data plain = read_file(root, w.path, w.package);
    if (!plain.at) {
        return false;
    }
    plain = w.package ? relative(plain) : plain;
    struct data packed = pack(plain, w.path);
    bool smaller = packed.n < plain.n - plain.n / 10;
    unsigned long long hash = (unsigned long long)hash_of(plain);
    (void)fprintf(out, "    {\"%.*s\", \"\\\"%016llx\\\"\", \"\\\"%016llx-gzip\\\"\",", w.n_address, w.address, hash,
                  hash);
    literal(out, plain);
    (void)fputc(',', out);
    if (smaller) {
        literal(out, packed);
    } else {
        (void)fputs(" 0", out);
    }
    (void)fprintf(out, ",\n    %zu, %zu},\n", plain.n, smaller ? packed.n : 0);
    free(plain.at);
    free(packed.at);
    return true;
}

/* By address, as files.c searches. */
static int by_address(const void *a, const void *b)
{
    struct wanted left = wanted_of(*(char *const *)a);
    struct wanted right = wanted_of(*(char *const *)b);
    int shorter = left.n_address < right.n_address ? left.n_address : right.n_address;
    int order = strncmp(left.address, right.address, (size_t)shorter);
    return order ? order : left.n_address - right.n_address;
}

/* What the build has to look at before it leaves the table as it is. A package that is missing is looked for each time.
 */
static void dependencies(const char *depfile, const char *made, const char *root, char **names, int n)
{
    FILE *out = fopen(depfile, "wb");
    if (!out) {
        die("cannot write", depfile);
    }
    (void)fprintf(out, "%s:", made);
    for (int i = 0; i < n; i++) {
        const char *path = wanted_of(names[i]).path;
        (void)fprintf(out, " %s%s%s", path[0] == '/' ? "" : root, path[0] == '/' ? "" : "/", path);
    }
    (void)fputc('\n', out);
    if (fclose(out) != 0) {
        die("cannot write", depfile);
    }
}

int main(int argc, char **argv)
{
    FILE *out = argc > 4 ? fopen(argv[1], "wb") : NULL;
    if (!out) {
        die("usage: embed OUT DEPFILE ROOT NAME...", argc > 1 ? argv[1] : "");
    }
    const char *root = argv[3];
    char **names = argv + 4;
    int n = argc - 4;
    int taken = 0;
    qsort(names, (size_t)n, sizeof *names, by_address);
    dependencies(argv[2], argv[1], root, names, n);
    (void)fputs("/* Made by embed from page/. */\n#include \"files.h\"\n\nconst struct web_file web_files[] = {\n",
                out);
    for (int i = 0; i < n; i++) {
        taken += one_file(out, root, names[i]) ? 1 : 0;
    }
    (void)fprintf(out, "};\nconst size_t web_files_n = %d;\n", taken);
    if (fclose(out) != 0) {
        die("cannot write", argv[1]);
    }
    return 0;
}
