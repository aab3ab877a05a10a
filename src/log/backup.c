/* Backup and restore: a copy is made beside its place, proved, and put there in one step, so that a crash at any moment
 * leaves what was there before or the whole new file. A copy left behind by a crash is named TO.part-...; it can be
 * deleted. */
#include "log_internal.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define PAGES_AT_A_TIME 512

/* Copies all pages of `from`, as of one moment, into the file `to`. */
static bool copy_pages(struct depot *from, const char *to, struct progress progress, struct err *e)
{
    struct db copy;
    if (!db_open(&copy, to, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, from->options.vfs, from->options.busy_ms, e)) {
        return false;
    }
    /* The open read transaction keeps the moment fixed while others go on writing. */
    bool reading = db_begin_read(&from->db, e);
    int64_t any = 0;
    bool ok = reading && db_int(&from->db, "SELECT count(*) FROM key", 0, &any, e);
    sqlite3_backup *backup = ok ? sqlite3_backup_init(copy.h, "main", from->db.h, "main") : NULL;
    if (ok && !backup) {
        ok = db_fail(&copy, "cannot write the copy", e);
    }
    int code = SQLITE_OK;
    uint64_t done = 0;
    uint64_t total = 0;
    while (ok && code == SQLITE_OK) {
        if (progress.step && !progress.step(progress.ctx, done, total)) {
            ok = err_set(e, ERR_REFUSED, NULL, "the copy was stopped", (char *)0);
            break;
        }
        code = sqlite3_backup_step(backup, PAGES_AT_A_TIME);
        total = (uint64_t)sqlite3_backup_pagecount(backup);
        done = total - (uint64_t)sqlite3_backup_remaining(backup);
    }
    sqlite3_backup_finish(backup);
    if (ok && code != SQLITE_DONE) {
        ok = db_fail(&copy, "cannot write the copy", e);
    }
    if (reading) {
        db_rollback(&from->db);
    }
    ok = ok && db_exec(&copy, "PRAGMA journal_mode=DELETE", e); /* one file, without a log beside it */
    db_close(&copy);
    return ok;
}

/* PATH + suffix, in e's arena. */
static const char *beside(const char *path, const char *suffix, struct err *e)
{
    struct text t = text_new(e->a);
    text_join(&t, path, suffix, (char *)0);
    return text_z(&t);
}

/* A name for a copy that is being made. */
static const char *part_name(const char *path, const struct world *world, struct err *e)
{
    uint8_t random[4];
    world->random(world->ctx, random, sizeof random);
    struct text t = text_new(e->a);
    text_join(&t, path, ".part-", (char *)0);
    text_int(&t, (int64_t)getpid());
    text_char(&t, '-');
    text_hex(&t, random, sizeof random);
    return text_z(&t);
}

static bool fail_file(const char *path, const char *doing, struct err *e)
{
    char says[128] = "";
    (void)strerror_r(errno, says, sizeof says);
    return err_set(e, ERR_SYSTEM, NULL, path, ": ", doing, ": ", says, (char *)0);
}

/* Makes a rename last: the folder itself is written out. */
static bool sync_folder(const char *path, struct err *e)
{
    const char *slash = strrchr(path, '/');
    size_t n = slash ? (size_t)(slash - path) + (slash == path) : 0;
    const char *folder = n ? str_z(e->a, (struct str){path, n}) : ".";
    int fd = open(folder, O_RDONLY | O_CLOEXEC);
    bool ok = fd >= 0 && fsync(fd) == 0;
    if (!ok) {
        fail_file(folder, "cannot write out the folder", e);
    }
    if (fd >= 0) {
        close(fd);
    }
    return ok;
}

/* Puts the finished copy in place. Without `replace` an existing file wins, also one that came up meanwhile. */
static bool put_in_place(const char *part, const char *to, bool replace, struct err *e)
{
    if (replace ? rename(part, to) == 0 : link(part, to) == 0) {
        if (!replace) {
            unlink(part);
        }
        return sync_folder(to, e);
    }
    if (errno == EEXIST) {
        return err_set(e, ERR_CONFLICT, "name a new file, or ask to replace it", to, ": the file exists", (char *)0);
    }
    return fail_file(to, "cannot put the copy in place", e);
}

/* The first finding that is an error becomes the error. */
static bool sound(struct depot *d, const char *path, const char *right, struct err *e)
{
    struct arena a = arena_new(e->a->source);
    struct findings findings;
    struct progress none = {0};
    bool ok = depot_verify(d, none, &a, &findings, e);
    for (size_t i = 0; ok && i < findings.n; i++) {
        if (finding_level(findings.at[i].kind) == DIAG_ERROR) {
            ok = err_set(e, ERR_CONFLICT, right, path, ": it does not verify: ", str_z(&a, findings.at[i].what),
                         (char *)0);
        }
    }
    arena_free(&a);
    return ok;
}

/* Opens the copy, proves it and closes it again as one file. The copy's facts must be those of the moment it was made.
 */
static bool prove_copy(const char *part, const struct depot_options *options, bool new_writer, const char *right,
                       struct err *e)
{
    struct depot *d = NULL;
    struct depot_options its = *options;
    its.read_only = false;
    its.writer_seed = its.depot_seed = NULL;
    if (!depot_open(part, &its, &d, e)) {
        return false;
    }
    bool ok = sound(d, part, right, e);
    struct key_pair key;
    if (ok && new_writer) {
        ok = db_begin(&d->db, e) && (depot_new_key(d, "writer", &key, e) || (db_rollback(&d->db), false)) &&
             db_commit(&d->db, e);
    }
    ok = ok && db_exec(&d->db, "PRAGMA journal_mode=DELETE", e);
    depot_close(d);
    return ok;
}

/* Whether there is a file. */
static bool exists(const char *path)
{
    struct stat is;
    return lstat(path, &is) == 0;
}

/* Removes a part and what SQLite may have left beside it. */
static void remove_part(const char *part, struct err *e)
{
    unlink(part);
    unlink(beside(part, "-journal", e));
    unlink(beside(part, "-wal", e));
    unlink(beside(part, "-shm", e));
}

bool depot_backup(struct depot *d, const char *to, bool replace, struct progress progress, struct err *e)
{
    if (exists(to) && !replace) {
        return err_set(e, ERR_CONFLICT, "name a new file, or ask to replace it", to, ": the file exists", (char *)0);
    }
    const char *part = part_name(to, &d->options.world, e);
    if (!copy_pages(d, part, progress, e)) {
        remove_part(part, e);
        return false;
    }
    const char *kept = beside(to, ".unverified", e);
    if (!prove_copy(part, &d->options, false, beside("the copy is kept as ", kept, e), e)) {
        if (e->kind != ERR_CONFLICT || rename(part, kept) != 0) {
            remove_part(part, e);
        }
        return false;
    }
    if (!put_in_place(part, to, replace, e)) {
        remove_part(part, e);
        return false;
    }
    return true;
}

/* Brings everything of the depot that is to be replaced into its one file, and makes sure that nobody else has it open;
 * then it is kept under another name. A file that is no depot any more is kept as it is. */
static bool set_aside(const char *to, const struct depot_options *options, struct err *e)
{
    struct db old;
    struct err ignored = err_new(e->a);
    if (db_open(&old, to, SQLITE_OPEN_READWRITE, options->vfs, 0, &ignored)) {
        (void)db_exec(&old, "PRAGMA journal_mode=DELETE", &ignored); /* refused while another has it open */
        db_close(&old);
    }
    if (ignored.kind == ERR_BUSY || exists(beside(to, "-wal", e))) {
        return err_set(e, ERR_BUSY, "close it there first", to, ": the depot is open in another program", (char *)0);
    }
    const char *aside = beside(to, ".before-restore", e);
    if (exists(aside)) {
        return err_set(e, ERR_CONFLICT, "move it away first", aside, ": the file exists", (char *)0);
    }
    return link(to, aside) == 0 || fail_file(aside, "cannot keep the old depot", e);
}

bool depot_restore(const char *from, const char *to, bool replace, const struct depot_options *options, struct err *e)
{
    if (exists(to) && !replace) {
        return err_set(e, ERR_CONFLICT, "name a new file, or ask to replace it", to, ": the file exists", (char *)0);
    }
    struct depot *backup = NULL;
    struct depot_options its = *options;
    struct progress none = {0};
    its.read_only = true;
    if (!depot_open(from, &its, &backup, e)) {
        return false;
    }
    const char *part = part_name(to, &options->world, e);
    bool ok = copy_pages(backup, part, none, e);
    depot_close(backup);
    ok = ok && prove_copy(part, options, true, "it is a depot of its own: open it as it is to look into it", e) &&
         (!exists(to) || set_aside(to, options, e)) && put_in_place(part, to, replace, e);
    if (!ok) {
        remove_part(part, e);
    }
    return ok;
}
