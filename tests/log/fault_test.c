/* Faults at every write: a VFS over the default one makes the n-th write or sync of the depot's files fail
 * (input/output error, disk full, or the process dies in the middle of it), for n = 1, 2, ... until the work gets
 * through. After each, the depot opens, verifies, and holds every entry that was acknowledged, and no half work.
 *
 * The dying is done in a child process; how far it got comes back through a pipe on a high descriptor, so that a
 * database file can never take its place.
 */
#include "scratch.h"

#include "log_internal.h"

#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#define SERIAL "HT-2200-017"

enum fault { FAULT_NONE, FAULT_IO, FAULT_FULL, FAULT_DIES, FAULT_TORN, FAULT_KINDS };

/* What the shim is to do; one per process, as SQLite's VFS interface has no way to pass a context to a file but this.
 */
struct plan {
    enum fault fault;
    int at;    /* number of the write or sync, from 1 */
    int count; /* done so far */
};

struct shim_file {
    sqlite3_file base;
    struct plan *plan;
    sqlite3_file *real; /* follows in memory */
};

static sqlite3_file *real_of(sqlite3_file *f)
{
    return ((struct shim_file *)(void *)f)->real;
}

/* Whether this call is the one; a process that is to die dies here, a torn write writes half before. */
static int strike(sqlite3_file *f, const void *data, int n, sqlite3_int64 offset)
{
    struct plan *plan = ((struct shim_file *)(void *)f)->plan;
    if (plan->fault == FAULT_NONE || ++plan->count != plan->at) {
        return SQLITE_OK;
    }
    switch (plan->fault) {
    case FAULT_IO:
        return data ? SQLITE_IOERR_WRITE : SQLITE_IOERR_FSYNC;
    case FAULT_FULL:
        return data ? SQLITE_FULL : SQLITE_IOERR_FSYNC;
    case FAULT_TORN:
        if (data) {
            (void)real_of(f)->pMethods->xWrite(real_of(f), data, n / 2, offset);
        }
        _exit(9);
    case FAULT_DIES:
        _exit(9);
    case FAULT_NONE:
    case FAULT_KINDS:
        break;
    }
    return SQLITE_OK;
}

static int shim_close(sqlite3_file *f)
{
    return real_of(f)->pMethods->xClose(real_of(f));
}
static int shim_read(sqlite3_file *f, void *p, int n, sqlite3_int64 at)
{
    return real_of(f)->pMethods->xRead(real_of(f), p, n, at);
}
static int shim_write(sqlite3_file *f, const void *p, int n, sqlite3_int64 at)
{
    int code = strike(f, p, n, at);
    return code ? code : real_of(f)->pMethods->xWrite(real_of(f), p, n, at);
}
static int shim_truncate(sqlite3_file *f, sqlite3_int64 n)
{
    return real_of(f)->pMethods->xTruncate(real_of(f), n);
}
static int shim_sync(sqlite3_file *f, int flags)
{
    int code = strike(f, NULL, 0, 0);
    return code ? code : real_of(f)->pMethods->xSync(real_of(f), flags);
}
static int shim_size(sqlite3_file *f, sqlite3_int64 *n)
{
    return real_of(f)->pMethods->xFileSize(real_of(f), n);
}
static int shim_lock(sqlite3_file *f, int level)
{
    return real_of(f)->pMethods->xLock(real_of(f), level);
}
static int shim_unlock(sqlite3_file *f, int level)
{
    return real_of(f)->pMethods->xUnlock(real_of(f), level);
}
static int shim_reserved(sqlite3_file *f, int *is)
{
    return real_of(f)->pMethods->xCheckReservedLock(real_of(f), is);
}
static int shim_control(sqlite3_file *f, int op, void *p)
{
    return real_of(f)->pMethods->xFileControl(real_of(f), op, p);
}
static int shim_sector(sqlite3_file *f)
{
    return real_of(f)->pMethods->xSectorSize(real_of(f));
}
static int shim_traits(sqlite3_file *f)
{
    return real_of(f)->pMethods->xDeviceCharacteristics(real_of(f));
}
static int shim_map(sqlite3_file *f, int page, int size, int extend, void volatile **p)
{
    return real_of(f)->pMethods->xShmMap(real_of(f), page, size, extend, p);
}
static int shim_shm_lock(sqlite3_file *f, int at, int n, int flags)
{
    return real_of(f)->pMethods->xShmLock(real_of(f), at, n, flags);
}
static void shim_barrier(sqlite3_file *f)
{
    real_of(f)->pMethods->xShmBarrier(real_of(f));
}
static int shim_unmap(sqlite3_file *f, int remove)
{
    return real_of(f)->pMethods->xShmUnmap(real_of(f), remove);
}

/* Version 2: write-ahead logging needs the shared-memory calls; no memory mapping of the file (version 3). */
static const sqlite3_io_methods shim_methods = {
    .iVersion = 2,
    .xClose = shim_close,
    .xRead = shim_read,
    .xWrite = shim_write,
    .xTruncate = shim_truncate,
    .xSync = shim_sync,
    .xFileSize = shim_size,
    .xLock = shim_lock,
    .xUnlock = shim_unlock,
    .xCheckReservedLock = shim_reserved,
    .xFileControl = shim_control,
    .xSectorSize = shim_sector,
    .xDeviceCharacteristics = shim_traits,
    .xShmMap = shim_map,
    .xShmLock = shim_shm_lock,
    .xShmBarrier = shim_barrier,
    .xShmUnmap = shim_unmap,
};

static int shim_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *f, int flags, int *out)
{
    sqlite3_vfs *real = sqlite3_vfs_find(NULL);
    struct shim_file *file = (struct shim_file *)(void *)f;
    file->plan = vfs->pAppData;
    file->real = (sqlite3_file *)(void *)(file + 1);
    file->base.pMethods = NULL;
    int code = real->xOpen(real, name, file->real, flags, out);
    if (file->real->pMethods) {
        file->base.pMethods = &shim_methods;
    }
    return code;
}

/* The default VFS with our open. */
static void install(sqlite3_vfs *shim, struct plan *plan)
{
    sqlite3_vfs *real = sqlite3_vfs_find(NULL);
    *shim = *real;
    shim->zName = "fault";
    shim->szOsFile = (int)sizeof(struct shim_file) + real->szOsFile;
    shim->pNext = NULL;
    shim->pAppData = plan;
    shim->xOpen = shim_open;
    assert_int_equal(sqlite3_vfs_register(shim, 0), SQLITE_OK);
}

/* The work: five single entries, one of ten, an import of three. `said` is told after each success how many entries are
 * acknowledged. Returns whether all went through. */
static bool work(struct bench *b, struct depot *d, struct str import, void (*said)(void *ctx, int64_t n), void *ctx)
{
    json_t *body = body_of("{\"hours\": 1}");
    struct draft drafts[10];
    for (int i = 0; i < 10; i++) {
        drafts[i] =
            (struct draft){.kind = KIND_METER, .at = TEST_NOW, .by = S("LQ"), .machine = S(SERIAL), .body = body};
    }
    bool ok = true;
    int64_t done = 0;
    for (int i = 0; ok && i < 5; i++) {
        ok = depot_append(d, drafts, 1, NULL, bench_err(b));
        done += ok;
        said(ctx, done);
    }
    ok = ok && depot_append(d, drafts, 10, NULL, bench_err(b));
    if (ok) {
        done += 10;
        said(ctx, done);
        struct import_report report;
        ok = bench_import(b, d, import, &report);
        done += ok ? report.entries_added : 0;
        said(ctx, done);
    }
    json_decref(body);
    return ok;
}

static void remember(void *ctx, int64_t n)
{
    *(int64_t *)ctx = n;
}

static void tell(void *ctx, int64_t n)
{
    const int *fd = ctx;
    if (write(*fd, &n, sizeof n) != (ssize_t)sizeof n) {
        _exit(3);
    }
}

/* Numbers of entries at which the work may stand: after one whole step or another. */
static bool is_whole(int64_t n)
{
    return (n >= 0 && n <= 5) || n == 15 || n == 18;
}

/* The depot after a fault: it opens, is whole, and holds what was acknowledged (and at most the step that was under
 * way). */
static void check_after(struct bench *b, const char *path, int64_t acknowledged)
{
    struct depot *d = NULL;
    b->options.vfs = NULL;
    must(b, depot_open(path, &b->options, &d, bench_err(b)));
    assert_string_equal(verify_lines(b, d), "");
    struct depot_counts counts;
    must(b, depot_count(d, &counts, bench_err(b)));
    if (counts.entries < acknowledged || !is_whole(counts.entries)) {
        print_error("%d entries were acknowledged, %d are here\n", (int)acknowledged, (int)counts.entries);
        fail();
    }
    bench_append(b, d, KIND_NOTE, 0, NULL, "{\"text\": \"it goes on\"}");
    depot_close(d);
}

static void remove_depot(struct bench *b)
{
    unlink(bench_path(b, "f.depot"));
    unlink(bench_path(b, "f.depot-wal"));
    unlink(bench_path(b, "f.depot-shm"));
    unlink(bench_path(b, "f.depot-journal"));
}

/* Three entries of another writer as lines. */
static struct str three_lines(struct bench *b)
{
    struct depot *d = bench_depot(b, "other.depot");
    for (int i = 0; i < 3; i++) {
        bench_append(b, d, KIND_NOTE, i, NULL, "{\"text\": \"x\"}");
    }
    struct str lines = read_whole(b, bench_export(b, d, "other.ndjson"));
    depot_close(d);
    return lines;
}

/* Errors that SQLite reports: in this process. The handle stays usable too. */
static void failing_writes(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 41);
    struct plan plan = {0};
    sqlite3_vfs shim;
    install(&shim, &plan);
    struct str import = three_lines(&b);
    for (int fault = FAULT_IO; fault <= FAULT_FULL; fault++) {
        bool through = false;
        int n = 1;
        for (; !through; n += n < 25 ? 1 : 11) {
            struct arena_mark mark = arena_mark(&b.a);
            plan.fault = FAULT_NONE;
            b.options.vfs = "fault";
            struct depot *d = bench_depot(&b, "f.depot");
            plan = (struct plan){.fault = (enum fault)fault, .at = n};
            int64_t acknowledged = 0;
            through = work(&b, d, import, remember, &acknowledged);
            if (!through) {
                assert_int_equal(b.e.kind, ERR_SYSTEM);
            }
            bool struck = plan.count >= plan.at;
            plan.fault = FAULT_NONE;
            struct depot_counts counts;
            must(&b, depot_count(d, &counts, bench_err(&b)));
            assert_int_equal(counts.entries, acknowledged);
            depot_close(d);
            check_after(&b, bench_path(&b, "f.depot"), acknowledged);
            remove_depot(&b);
            arena_rewind(&b.a, mark);
            through = !struck;
        }
        print_message("# fault %d: the work writes and syncs %d times at most\n", fault, n);
        assert_true(n > 20);
    }
    sqlite3_vfs_unregister(&shim);
    bench_tear_down(&b);
}

/* The process dies at a write or sync, or in the middle of a write. */
static void dying_writes(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 42);
    struct str import = three_lines(&b);
    for (int fault = FAULT_DIES; fault <= FAULT_TORN; fault++) {
        bool through = false;
        for (int n = 1; !through; n += n < 12 ? 1 : 9) {
            struct arena_mark mark = arena_mark(&b.a);
            const char *path = bench_path(&b, "f.depot");
            int ends[2];
            assert_int_equal(pipe(ends), 0);
            int out = fcntl(ends[1], F_DUPFD_CLOEXEC, 100);
            close(ends[1]);
            pid_t child = fork();
            assert_true(child >= 0);
            if (child == 0) {
                struct plan plan = {0};
                sqlite3_vfs shim;
                install(&shim, &plan);
                b.options.vfs = "fault";
                struct depot *d = NULL;
                if (!depot_create(path, &b.options, &d, bench_err(&b))) {
                    _exit(4);
                }
                plan = (struct plan){.fault = (enum fault)fault, .at = n};
                _exit(work(&b, d, import, tell, &out) ? 0 : 5);
            }
            close(out);
            int64_t acknowledged = 0;
            int64_t value = 0;
            while (read(ends[0], &value, sizeof value) == (ssize_t)sizeof value) {
                acknowledged = value;
            }
            close(ends[0]);
            int status = 0;
            assert_int_equal(waitpid(child, &status, 0), child);
            assert_true(WIFEXITED(status) && (WEXITSTATUS(status) == 9 || WEXITSTATUS(status) == 0));
            through = WEXITSTATUS(status) == 0;
            check_after(&b, path, acknowledged);
            remove_depot(&b);
            arena_rewind(&b.a, mark);
        }
    }
    bench_tear_down(&b);
}

/* Runs `task` in a child whose n-th write or sync kills it; whether it got through. */
static bool survives(struct bench *b, enum fault fault, int n, bool (*task)(struct bench *b))
{
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        struct plan plan = {.fault = fault, .at = n};
        sqlite3_vfs shim;
        install(&shim, &plan);
        b->options.vfs = "fault";
        _exit(task(b) ? 0 : 5);
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status) && (WEXITSTATUS(status) == 9 || WEXITSTATUS(status) == 0));
    return WEXITSTATUS(status) == 0;
}

static bool create_task(struct bench *b)
{
    struct depot *d = NULL;
    return depot_create(bench_path(b, "f.depot"), &b->options, &d, bench_err(b));
}

/* A creation cut off leaves a depot, or a file in which one can be created. */
static void dying_create(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 43);
    for (int fault = FAULT_DIES; fault <= FAULT_TORN; fault++) {
        int n = 1;
        for (bool through = false; !through; n++) {
            through = survives(&b, (enum fault)fault, n, create_task);
            struct depot *d = NULL;
            if (!depot_open(bench_path(&b, "f.depot"), &b.options, &d, bench_err(&b))) {
                assert_false(through);
                must(&b, depot_create(bench_path(&b, "f.depot"), &b.options, &d, bench_err(&b)));
            }
            depot_close(d);
            check_after(&b, bench_path(&b, "f.depot"), 0);
            remove_depot(&b);
        }
        assert_true(n > 5);
    }
    bench_tear_down(&b);
}

static bool backup_task(struct bench *b)
{
    struct depot *d = NULL;
    struct progress none = {0};
    return depot_open(bench_path(b, "other.depot"), &b->options, &d, bench_err(b)) &&
           depot_backup(d, bench_path(b, "copy.depot"), true, none, bench_err(b));
}

static bool restore_task(struct bench *b)
{
    return depot_restore(bench_path(b, "copy.depot"), bench_path(b, "f.depot"), true, &b->options, bench_err(b));
}

/* The depot of that name verifies, and has so many entries. */
static void check_count(struct bench *b, const char *name, int64_t entries)
{
    struct depot *d = NULL;
    struct depot_counts counts;
    must(b, depot_open(bench_path(b, name), &b->options, &d, bench_err(b)));
    must(b, depot_count(d, &counts, bench_err(b)));
    assert_int_equal(counts.entries, entries);
    assert_string_equal(verify_lines(b, d), "");
    depot_close(d);
}

/* A backup or a restore cut off leaves what was there before, or the whole new file. */
static void dying_copies(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 44);
    (void)three_lines(&b);
    int n = 1;
    for (bool through = false; !through; n += 7) {
        through = survives(&b, n % 2 ? FAULT_DIES : FAULT_TORN, n, backup_task);
        if (through || access(bench_path(&b, "copy.depot"), F_OK) == 0) {
            check_count(&b, "copy.depot", 3);
        }
        check_count(&b, "other.depot", 3);
    }
    assert_true(n > 10);
    n = 1;
    for (bool through = false; !through; n += 7) {
        struct depot *d = bench_depot(&b, "f.depot");
        bench_append(&b, d, KIND_NOTE, 0, NULL, "{\"text\": \"the old one\"}");
        depot_close(d);
        through = survives(&b, n % 2 ? FAULT_DIES : FAULT_TORN, n, restore_task);
        check_count(&b, "f.depot", through ? 3 : 1);
        check_count(&b, "copy.depot", 3);
        if (through) {
            check_count(&b, "f.depot.before-restore", 1);
        }
        remove_depot(&b);
        unlink(bench_path(&b, "f.depot.before-restore"));
    }
    assert_true(n > 10);
    bench_tear_down(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(failing_writes),
        cmocka_unit_test(dying_writes),
        cmocka_unit_test(dying_create),
        cmocka_unit_test(dying_copies),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
