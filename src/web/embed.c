/* Runs at build: turns the files of page/ into a C table (files.h). usage: embed OUT ROOT NAME...
 * The data are string literals with octal escapes: compilers read these in a fraction of the time of a list of numbers.
 * The hash is FNV-1a of 64 bits, the same as str_hash, so that a file has the same ETag from the table and from a
 * folder. */
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

/* The whole file, or the end. */
static struct data read_file(const char *root, const char *name)
{
    char path[4096];
    int length = snprintf(path, sizeof path, "%s/%s", root, name);
    FILE *f = length > 0 && (size_t)length < sizeof path ? fopen(path, "rb") : NULL;
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

/* A row of the table: plain, and packed when that saves a tenth. */
static void one_file(FILE *out, const char *root, const char *name)
{
    struct data plain = read_file(root, name);
    struct data packed = pack(plain, name);
    bool smaller = packed.n < plain.n - plain.n / 10;
    unsigned long long hash = (unsigned long long)hash_of(plain);
    (void)fprintf(out, "    {\"%s\", \"\\\"%016llx\\\"\", \"\\\"%016llx-gzip\\\"\",", name, hash, hash);
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
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

int main(int argc, char **argv)
{
    FILE *out = argc > 3 ? fopen(argv[1], "wb") : NULL;
    if (!out) {
        die("usage: embed OUT ROOT NAME...", argc > 1 ? argv[1] : "");
    }
    qsort(argv + 3, (size_t)argc - 3, sizeof *argv, by_name);
    (void)fputs("/* Made by embed from page/. */\n#include \"files.h\"\n\nconst struct web_file web_files[] = {\n",
                out);
    for (int i = 3; i < argc; i++) {
        one_file(out, argv[2], argv[i]);
    }
    (void)fprintf(out, "};\nconst size_t web_files_n = %d;\n", argc - 3);
    if (fclose(out) != 0) {
        die("cannot write", argv[1]);
    }
    return 0;
}
