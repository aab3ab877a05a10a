/* kill -9 while entries are recorded, imported and backed up, many times at random moments: every acknowledged entry is
 * there, no half entry, the depot verifies, and a backup is whole or not there. Bounded to a few seconds
 * (WITMARK_KILL_SECONDS). */
#include "scratch.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#define SERIAL "HT-2200-017"

/* What the child tells after an acknowledgement. */
struct word {
    char what; /* 'a' entry appended, 'i' import done, 'b' backup done */
    struct entry_id id;
};

static void say(int fd, struct word word)
{
    if (write(fd, &word, sizeof word) != (ssize_t)sizeof word) {
        _exit(3);
    }
}

/* Goes on until it is killed: appends singly and in bunches, imports, backs up. */
static _Noreturn void work(struct bench *b, const char *path, struct str import, int out)
{
    struct depot *d = NULL;
    struct progress none = {0};
    b->options.world = world_system();
    if (!depot_open(path, &b->options, &d, bench_err(b))) {
        _exit(4);
    }
    json_t *body = body_of("{\"hours\": 1}");
    struct draft drafts[7];
    struct appended done[7];
    for (int i = 0; i < 7; i++) {
        drafts[i] =
            (struct draft){.kind = KIND_METER, .at = TEST_NOW, .by = S("LQ"), .machine = S(SERIAL), .body = body};
    }
    for (int round = 0;; round++) {
        size_t n = round % 3 == 2 ? 7 : 1;
        if (!depot_append(d, drafts, n, done, bench_err(b))) {
            _exit(5);
        }
        for (size_t i = 0; i < n; i++) {
            say(out, (struct word){'a', done[i].id});
        }
        if (round % 10 == 4) {
            struct import_report report;
            if (!bench_import(b, d, import, &report)) {
                _exit(6);
            }
            say(out, (struct word){.what = 'i'});
        }
        if (round % 10 == 8) {
            if (!depot_backup(d, bench_path(b, "copy.depot"), true, none, bench_err(b))) {
                _exit(7);
            }
            say(out, (struct word){.what = 'b'});
        }
    }
}

static double seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

/* Removes what copies a killed backup left. */
static void sweep_parts(struct bench *b)
{
    DIR *folder = opendir(b->folder);
    assert_non_null(folder);
    for (struct dirent *one = readdir(folder); one; one = readdir(folder)) {
        if (strstr(one->d_name, ".part-")) {
            unlink(bench_path(b, one->d_name));
        }
    }
    closedir(folder);
}

/* An entry that was acknowledged is here. */
static void check_here(struct bench *b, struct depot *d, struct entry_id id)
{
    struct entry entry;
    bool found = false;
    must(b, depot_get(d, id, VIEW_RECORDED, &b->a, &entry, &found, bench_err(b)));
    assert_true(found);
    entry_free(&entry);
}

static void killed_at_random(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 51);
    const char *given = getenv("WITMARK_SEED");
    uint64_t x = given ? strtoull(given, NULL, 10) | 1 : 20260302;
    const char *limit = getenv("WITMARK_KILL_SECONDS");
    print_message("# seed %llu (WITMARK_SEED)\n", (unsigned long long)x);
    struct depot *d = bench_depot(&b, "other.depot");
    for (int i = 0; i < 40; i++) {
        bench_append(&b, d, KIND_NOTE, i, NULL, "{\"text\": \"from the phone\"}");
    }
    struct str import = read_whole(&b, bench_export(&b, d, "other.ndjson"));
    depot_close(d);

    double end = seconds() + (limit ? strtod(limit, NULL) : 5);
    int kills = 0;
    int appended = 0;
    int imports = 0;
    int backups = 0;
    const char *path = bench_path(&b, "k.depot");
    while (seconds() < end) {
        struct arena_mark mark = arena_mark(&b.a);
        if (kills % 8 == 0) { /* a small depot again, so that the checking stays quick */
            unlink(path);
            unlink(bench_path(&b, "k.depot-wal"));
            unlink(bench_path(&b, "k.depot-shm"));
            depot_close(bench_depot(&b, "k.depot"));
        }
        int ends[2];
        assert_int_equal(pipe(ends), 0);
        int out = fcntl(ends[1], F_DUPFD_CLOEXEC, 100);
        int in = fcntl(ends[0], F_DUPFD_CLOEXEC, 100);
        close(ends[0]);
        close(ends[1]);
        pid_t child = fork();
        assert_true(child >= 0);
        if (child == 0) {
            work(&b, path, import, out);
        }
        close(out);
        struct timespec wait = {0, (long)(draw(&x) % 120000000)};
        nanosleep(&wait, NULL);
        kill(child, SIGKILL);
        int status = 0;
        assert_int_equal(waitpid(child, &status, 0), child);
        if (!WIFSIGNALED(status)) {
            print_error("the child ended by itself: %d\n", WEXITSTATUS(status));
        }
        assert_true(WIFSIGNALED(status));
        kills++;

        must(&b, depot_open(path, &b.options, &d, bench_err(&b)));
        bool imported = false;
        struct word word;
        while (read(in, &word, sizeof word) == (ssize_t)sizeof word) {
            if (word.what == 'a') {
                check_here(&b, d, word.id);
                appended++;
            }
            imported = imported || word.what == 'i';
            imports += word.what == 'i';
            backups += word.what == 'b';
        }
        close(in);
        assert_string_equal(verify_lines(&b, d), "");
        /* the forty entries of the import are here all together or not at all */
        struct entry_filter notes = {.kinds = KIND_BIT(KIND_NOTE)};
        struct entries list;
        must(&b, depot_list(d, &notes, &b.a, &list, bench_err(&b)));
        assert_true(list.n == 40 || (list.n == 0 && !imported));
        entries_free(&list);
        depot_close(d);
        struct stat is;
        if (stat(bench_path(&b, "copy.depot"), &is) == 0) {
            must(&b, depot_open(bench_path(&b, "copy.depot"), &b.options, &d, bench_err(&b)));
            if (kills % 4 == 0) {
                assert_string_equal(verify_lines(&b, d), "");
            }
            depot_close(d);
        }
        sweep_parts(&b);
        arena_rewind(&b.a, mark);
    }
    print_message("# %d kills; %d entries, %d imports and %d backups acknowledged\n", kills, appended, imports,
                  backups);
    assert_true(kills > 3);
    assert_true(appended > 0);
    bench_tear_down(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(killed_at_random)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
