/* See the header. */
#include "log_helper.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

void bench_set_up(struct bench *b, uint64_t seed)
{
    memset(b, 0, sizeof *b);
    const char *base = getenv("TMPDIR");
    snprintf(b->folder, sizeof b->folder, "%s/witmark-log-XXXXXX", base && strlen(base) < 32 ? base : "/tmp");
    assert_non_null(mkdtemp(b->folder));
    b->a = arena_new(&arena_libc);
    b->e = err_new(&b->a);
    b->world = world_seeded_new(seed, TEST_NOW);
    b->options = depot_options_default();
    b->options.world = world_of_seeded(&b->world);
}

void bench_tear_down(struct bench *b)
{
    DIR *folder = opendir(b->folder);
    assert_non_null(folder);
    for (struct dirent *one = readdir(folder); one; one = readdir(folder)) {
        if (one->d_name[0] != '.') {
            unlink(bench_path(b, one->d_name));
        }
    }
    closedir(folder);
    rmdir(b->folder);
    arena_free(&b->a);
}

const char *bench_path(struct bench *b, const char *name)
{
    struct text t = text_new(&b->a);
    text_join(&t, b->folder, "/", name, (char *)0);
    return text_z(&t);
}

struct err *bench_err(struct bench *b)
{
    b->e = err_new(&b->a);
    return &b->e;
}

void must_at(struct bench *b, bool ok, const char *file, int line)
{
    if (!ok) {
        struct str s = err_text(&b->a, &b->e);
        print_error("%s:%d: %.*s\n", file, line, STR_ARG(s));
    }
    _assert_true(ok, "the call", file, line);
}

void refused_at(struct bench *b, bool ok, const char *text, const char *file, int line)
{
    _assert_true(!ok, "the call is refused", file, line);
    _assert_string_equal(str_z(&b->a, err_text(&b->a, &b->e)), text, file, line);
}

struct depot *bench_depot(struct bench *b, const char *name)
{
    struct depot *d = NULL;
    must(b, depot_create(bench_path(b, name), &b->options, &d, bench_err(b)));
    return d;
}

json_t *body_of(const char *format, ...)
{
    char text[4096];
    va_list pieces;
    va_start(pieces, format);
    int n = vsnprintf(text, sizeof text, format, pieces);
    va_end(pieces);
    assert_true(n >= 0 && (size_t)n < sizeof text);
    json_error_t wrong;
    json_t *body = json_loads(text, JSON_REJECT_DUPLICATES, &wrong);
    if (!body) {
        print_error("%s: %s\n", text, wrong.text);
    }
    assert_non_null(body);
    return body;
}

struct appended bench_append(struct bench *b, struct depot *d, enum entry_kind kind, int minutes, const char *machine,
                             const char *body)
{
    json_t *tree = body_of("%s", body);
    struct draft draft = {
        .kind = kind, .at = TEST_NOW + minutes * 60000, .by = S("L. Quay"), .machine = str_of(machine), .body = tree};
    struct appended out = {0};
    must(b, depot_append(d, &draft, 1, &out, bench_err(b)));
    json_decref(tree);
    return out;
}

const char *id_z(struct bench *b, struct entry_id id)
{
    struct text t = text_new(&b->a);
    text_entry_id(&t, id);
    return text_z(&t);
}

const char *view_lines(struct bench *b, struct depot *d, const struct entry_filter *filter)
{
    struct entries list;
    struct text t = text_new(&b->a);
    must(b, depot_list(d, filter, &b->a, &list, bench_err(b)));
    for (size_t i = 0; i < list.n; i++) {
        text_join(&t, kind_word(list.at[i].kind), " ", (char *)0);
        text_int(&t, (list.at[i].at - TEST_NOW) / 60000);
        text_char(&t, ' ');
        text_add(&t, list.at[i].body_text);
        text_char(&t, '\n');
    }
    entries_free(&list);
    return text_z(&t);
}

struct log_hash bench_digest(struct bench *b, struct depot *d)
{
    struct log_hash digest;
    must(b, depot_digest(d, &digest, bench_err(b)));
    return digest;
}

struct str read_whole(struct bench *b, const char *path)
{
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    struct text t = text_new(&b->a);
    char piece[65536];
    for (size_t n = fread(piece, 1, sizeof piece, f); n > 0; n = fread(piece, 1, sizeof piece, f)) {
        text_add(&t, (struct str){piece, n});
    }
    fclose(f);
    return text_str(&t);
}

void write_whole(const char *path, struct str s)
{
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    assert_int_equal(fwrite(s.p, 1, s.n, f), s.n);
    assert_int_equal(fclose(f), 0);
}

uint64_t draw(uint64_t *x)
{
    *x ^= *x << 13;
    *x ^= *x >> 7;
    *x ^= *x << 17;
    return *x;
}
