/* The log a page at a time, newest first. */
#include "desk_entry.h"
#include "desk_internal.h"

bool desk_kinds(struct str words, uint32_t *kinds, struct err *e)
{
    struct str rest = words;
    struct str word;
    *kinds = 0;
    while (str_next(&rest, ',', &word)) {
        enum entry_kind kind;
        word = str_trim(word);
        if (!kind_parse(word, &kind)) {
            return err_set(e, ERR_USAGE, kind_nearest(word), "'", str_z(e->a, word), "' is no kind of entry",
                           (char *)0);
        }
        *kinds |= KIND_BIT(kind);
    }
    return true;
}

/* Where the page before ended. */
static bool start_at(struct desk *d, struct str id, struct entry_filter *filter, struct err *e)
{
    if (id.n == 0) {
        return true;
    }
    struct entry last;
    if (!depot_find(d->depot, id, filter->view, e->a, &last, e)) {
        return false;
    }
    filter->has_after = true;
    filter->after_at = last.at;
    filter->after_id = last.id;
    entry_free(&last);
    return true;
}

bool desk_log_json(struct json *j, struct desk *d, const struct desk_log_ask *ask, struct err *e)
{
    struct entry_filter filter = {.view = ask->view,
                                  .newest_first = true,
                                  .limit = ask->limit,
                                  .has_since = ask->has_since,
                                  .has_until = ask->has_until,
                                  .since = ask->since,
                                  .until = ask->until};
    if (!desk_refresh(d, e) || !desk_kinds(ask->kind, &filter.kinds, e) || !start_at(d, ask->before, &filter, e)) {
        return false;
    }
    if (ask->machine.n) {
        const struct desk_machine *m = desk_machine_find(d, ask->machine, e);
        if (!m) {
            return false;
        }
        filter.machine = m->serial;
    }
    struct entries page;
    if (!depot_list(d->depot, &filter, j->t->a, &page, e)) {
        return false;
    }
    json_begin_object(j, NULL);
    json_begin_array(j, "entries");
    for (size_t i = 0; i < page.n; i++) {
        desk_entry_json(j, d, &page.at[i]);
    }
    json_end_array(j);
    if (page.more && page.n) {
        struct text id = text_new(j->t->a);
        text_entry_id(&id, page.at[page.n - 1].id);
        json_str(j, "next", text_str(&id));
    } else {
        json_put_null(j, "next");
    }
    json_end_object(j);
    entries_free(&page);
    return true;
}
