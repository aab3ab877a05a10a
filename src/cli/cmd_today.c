/* witmark today, witmark why. */
#include "cli.h"

#include <string.h>

/* How many items of the list belong to the same machine, service and group as item i; 0 when it belongs to no service.
 */
static size_t together(const struct desk_today_list *list, size_t i, bool *first)
{
    const struct desk_due *due = &list->at[i];
    size_t n = 0;
    *first = true;
    for (size_t k = 0; due->service != BOOK_NONE && k < list->n; k++) {
        const struct desk_due *other = &list->at[k];
        if (other->machine == due->machine && other->service == due->service && other->urgency == due->urgency) {
            *first = *first && k >= i;
            n++;
        }
    }
    return n;
}

/* Several points of one service on one line. */
static void service_line(struct call *c, struct table *table, const struct desk_due *due, size_t n)
{
    const struct book_service *service = &due->machine->book->services[due->service];
    struct text label = text_new(&c->arena);
    text_add(&label, service->label);
    text_addz(&label, ", ");
    text_int(&label, (int64_t)n);
    text_addz(&label, " points");
    table_add(table, due->machine->name);
    table_add(table, text_str(&label));
    table_add(table, due->says);
    table_add(table, service->name);
}

#define TOGETHER_LEAST 3 /* points of one service on one line */

static int run_today(struct call *c)
{
    struct desk_today_filter filter = {.machine = option_str(c, "machine"),
                                       .site = option_str(c, "site"),
                                       .book = option_str(c, "book"),
                                       .within_days = 30,
                                       .with_stopped = option_given(c, "all")};
    int64_t days = 0;
    if (option_given(c, "within")) {
        if (!num_parse_i64(option_str(c, "within"), &days) || days < 0 || days > 36500) {
            (void)err_set(&c->err, ERR_USAGE, "a number of days", "--within '", option_value(c, "within"),
                          "' is no number", (char *)0);
            return failed(c);
        }
        filter.within_days = (int)days;
    } else if (option_given(c, "all") || filter.machine.n) {
        filter.within_days = -1;
    }
    struct desk_today_list list;
    if (!desk_today(c->desk, &filter, &c->arena, &list, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_today_json(&j, c->desk, &list);
        text_char(&t, '\n');
        return print_text(&t);
    }
    text_add(&t, desk_name(c->desk));
    text_addz(&t, ", ");
    text_day(&t, list.day);
    text_addz(&t, ": ");
    text_int(&t, (int64_t)list.machines);
    text_addz(&t, list.machines == 1 ? " machine\n" : " machines\n");
    static const char *const groups[] = {"Out now", "Due today", "To come", "To come"};
    struct table table = table_new(&c->arena, 4);
    bool each = filter.machine.n > 0 || option_given(c, "each");
    int shown = -1;
    for (size_t i = 0; i < list.n; i++) {
        const struct desk_due *due = &list.at[i];
        int group = due->urgency >= 2 ? 2 : due->urgency == 1;
        if (group != shown) {
            table_print(&t, &table);
            table = table_new(&c->arena, 4);
            text_join(&t, "\n", groups[group], "\n", (char *)0);
            shown = group;
        }
        bool first = true;
        size_t n = each ? 0 : together(&list, i, &first);
        if (n >= TOGETHER_LEAST) {
            if (first) {
                service_line(c, &table, due, n);
            }
            continue;
        }
        table_add(&table, due->machine->name);
        table_add(&table, due->label);
        table_add(&table, due->says);
        table_add(&table, due->key);
    }
    table_print(&t, &table);
    if (list.n == 0) {
        text_addz(&t, "\nnothing runs out in that time\n");
    }
    return print_text(&t);
}

static int run_why(struct call *c)
{
    struct desk_why why;
    if (!desk_why(c->desk, str_of(c->arguments[0]), str_of(c->arguments[1]), &c->arena, &why, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_why_json(&j, &why);
        text_char(&t, '\n');
        return print_text(&t);
    }
    text_add(&t, why.title);
    text_addz(&t, "\n");
    text_add(&t, why.answer);
    text_addz(&t, "\n\n");
    for (size_t i = 0; i < why.n; i++) {
        text_addz(&t, "- ");
        text_add(&t, why.at[i].says);
        if (why.at[i].source.n) {
            text_addz(&t, "\n    ");
            text_add(&t, why.at[i].source);
        }
        text_char(&t, '\n');
    }
    return print_text(&t);
}

static const struct option_def today_options[] = {
    {"machine", 'm', "MACHINE", "only this machine, with everything that will run out"},
    {"site", 0, "SITE", "only machines of this site"},
    {"book", 0, "ID", "only machines of this book"},
    {"within", 'w', "DAYS", "what runs out within so many days (otherwise 30)"},
    {"each", 'e', NULL, "every point on a line of its own, also those of one service"},
    {"all", 'a', NULL, "everything, also of machines out of service"},
    END_OF_OPTIONS,
};

const struct command today_commands[] = {
    {"today", "", 0, 0, "what is due, out or open, sorted by what runs out first", NULL, today_options, run_today,
     false, false},
    {"why", "MACHINE NAME", 2, 2, "explain a line of today: down to the book's line and the log's entries",
     "NAME is the last column of today, e.g. engine-oil.", NULL, run_why, false, false},
    {0},
};
