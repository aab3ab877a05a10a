/* Settings of one kind, and whether anything has changed. */
#include "log_internal.h"

bool depot_setting_list(struct depot *d, struct str head, struct arena *a, struct setting **at, size_t *n,
                        struct err *e)
{
    size_t cap = 0;
    *at = NULL;
    *n = 0;
    sqlite3_stmt *st =
        db_prepare(&d->db, "SELECT name, value FROM setting WHERE substr(name, 1, ?2) = ?1 ORDER BY name", e);
    if (!st) {
        return false;
    }
    bind_str(st, 1, head);
    bind_int(st, 2, (int64_t)str_chars(head));
    enum db_row row = db_step(&d->db, st, e);
    for (; row == DB_ROW; row = db_step(&d->db, st, e)) {
        struct setting one = {str_copy(a, column_str(st, 0)), str_copy(a, column_str(st, 1))};
        ARENA_PUSH(a, *at, *n, cap) = one;
    }
    sqlite3_reset(st);
    return row == DB_DONE;
}

bool depot_changes(struct depot *d, int64_t *number, struct err *e)
{
    return db_int(&d->db, "PRAGMA data_version", 0, number, e);
}

bool depot_editions(struct depot *d, int64_t *number, struct err *e)
{
    return db_int(&d->db, "SELECT count(*) FROM edition", 0, number, e);
}
