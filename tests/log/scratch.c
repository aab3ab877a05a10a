/* See the header. */
#include "scratch.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

void bench_set_up(struct bench *b, uint64_t seed)
{
    memset(b, 0, sizeof *b);
    /* These tests wait for the disk thousands of times; in memory they test the same. */
    const char *base = getenv("TMPDIR");
    if (!base || strlen(base) > 32) {
        base = access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp";
    }
    snprintf(b->folder, sizeof b->folder, "%s/witmark-log-XXXXXX", base);
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

const char *bench_export(struct bench *b, struct depot *d, const char *name)
{
    const char *path = bench_path(b, name);
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    must(b, depot_export(d, f, NULL, bench_err(b)));
    assert_int_equal(fclose(f), 0);
    return path;
}

bool bench_import(struct bench *b, struct depot *d, struct str text, struct import_report *report)
{
    struct import_options options = {.name = S("in.ndjson"), .from = S("test")};
    FILE *f = tmpfile();
    assert_non_null(f);
    assert_int_equal(fwrite(text.p, 1, text.n, f), text.n);
    rewind(f);
    bool ok = depot_import(d, f, &options, &b->a, report, bench_err(b));
    fclose(f);
    return ok;
}

const char *finding_lines(struct bench *b, const struct findings *f)
{
    struct text t = text_new(&b->a);
    for (size_t i = 0; i < f->n; i++) {
        text_addz(&t, finding_word(f->at[i].kind));
        if (f->at[i].seq) {
            text_char(&t, ' ');
            text_int(&t, f->at[i].seq);
            text_char(&t, '-');
            text_int(&t, f->at[i].seq_to);
        }
        text_char(&t, '\n');
    }
    return text_z(&t);
}

const char *verify_lines(struct bench *b, struct depot *d)
{
    struct findings f;
    struct progress none = {0};
    must(b, depot_verify(d, none, &b->a, &f, bench_err(b)));
    return finding_lines(b, &f);
}

struct entry_id random_entry(struct bench *b, struct depot *d, uint64_t *x, const struct entry_id *old, size_t n_old)
{
    static const char *const serials[] = {"HT-2200-017", "OV-0031", "CF-810"};
    const char *serial = serials[draw(x) % 3];
    json_t *body = NULL;
    enum entry_kind kind = KIND_NOTE;
    int value = (int)(draw(x) % 5000);
    switch (n_old && draw(x) % 3 == 0 ? 3 : (int)(draw(x) % 3)) {
    case 0:
        kind = KIND_METER;
        body = draw(x) % 2 ? body_of("{\"hours\": %d.5, \"import_key\": \"row %d\"}", value, value % 7)
                           : body_of("{\"hours\": %d}", value);
        break;
    case 1:
        kind = KIND_READING;
        body = body_of("{\"checkpoint\": \"tyre-%d\", \"value\": %d.25, \"unit\": \"bar\"}", value % 4, value % 3);
        break;
    case 2:
        body = body_of("{\"text\": \"note %d: \\u00bd \\u00b0 \\ud83d\\ude9c\"}", value);
        break;
    default: {
        /* a change of time or a withdrawal goes with every kind, corrections too */
        const char *id = id_z(b, old[draw(x) % n_old]);
        kind = KIND_CORRECTION;
        serial = NULL;
        body = draw(x) % 2
                   ? body_of("{\"corrects\": \"%s\", \"reason\": \"r%d\", \"void\": true}", id, value)
                   : body_of("{\"corrects\": \"%s\", \"reason\": \"r%d\", \"at\": \"2026-03-0%dT10:00:00.000Z\"}", id,
                             value, value % 9 + 1);
        break;
    }
    }
    struct draft draft = {.kind = kind,
                          .at = TEST_NOW + (instant_ms)(draw(x) % 100000) * 1000,
                          .by = S("LQ"),
                          .machine = str_of(serial),
                          .body = body};
    struct appended out = {0};
    b->world.now += (instant_ms)(draw(x) % 3);
    must(b, depot_append(d, &draft, 1, &out, bench_err(b)));
    json_decref(body);
    return out.id;
}
