/* witmark today, witmark why. */
#include "cli.h"

#include <math.h>
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

/* What it says, with the probability of being overdue where that was asked for. */
static struct str says_overdue(struct call *c, const struct desk_due *due)
{
    if (!isfinite(due->overdue) || due->urgency == 0) {
        return due->says;
    }
    struct text t = text_new(&c->arena);
    text_add(&t, due->says);
    text_addz(&t, "; overdue then: ");
    text_number(&t, 100 * due->overdue, 0);
    text_addz(&t, " %");
    return text_str(&t);
}

#define TOGETHER_LEAST 3 /* points of one service on one line */

static int run_today(struct call *c)
{
    struct desk_today_filter filter = {.machine = option_str(c, "machine"),
                                       .site = option_str(c, "site"),
                                       .book = option_str(c, "book"),
                                       .within_days = 30,
                                       .with_stopped = option_given(c, "all"),
                                       .with_shelf = true};
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
    instant_ms at = 0;
    if (option_given(c, "overdue-on")) {
        if (!desk_instant(c->desk, option_str(c, "overdue-on"), &at, &c->err)) {
            return failed(c);
        }
        filter.overdue_on = desk_day_of(c->desk, at);
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
    bool each = filter.machine.n > 0 || filter.overdue_on || option_given(c, "each");
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
        table_add(&table, says_overdue(c, due));
        table_add(&table, due->key);
    }
    table_print(&t, &table);
    if (list.n == 0) {
        text_addz(&t, "\nnothing runs out in that time\n");
    }
    return print_text(&t);
}

int print_why(struct call *c, const struct desk_why *why)
{
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_why_json(&j, why);
        text_char(&t, '\n');
        return print_text(&t);
    }
    text_add(&t, why->title);
    text_addz(&t, "\n");
    text_add(&t, why->answer);
    text_addz(&t, "\n\n");
    for (size_t i = 0; i < why->n; i++) {
        text_addz(&t, "- ");
        text_add(&t, why->at[i].says);
        if (why->at[i].source.n) {
            text_addz(&t, "\n    ");
            text_add(&t, why->at[i].source);
        }
        text_char(&t, '\n');
    }
    return print_text(&t);
}

static int run_why(struct call *c)
{
    struct desk_why why;
    bool ok = desk_why(c->desk, str_of(c->arguments[0]), str_of(c->arguments[1]), &c->arena, &why, &c->err);
    return ok ? print_why(c, &why) : failed(c);
}

/* "81 %", or a dash where nothing was forecast. */
static struct str share(struct call *c, double part)
{
    struct text t = text_new(&c->arena);
    if (isfinite(part)) {
        text_number(&t, 100 * part, 0);
        text_addz(&t, " %");
    } else {
        text_addz(&t, "-");
    }
    return text_str(&t);
}

static struct str days_of(struct call *c, double days)
{
    struct text t = text_new(&c->arena);
    if (isfinite(days)) {
        text_number(&t, days, 1);
    } else {
        text_addz(&t, "-");
    }
    return text_str(&t);
}

static void backtest_line(struct call *c, struct table *table, const struct backtest_row *r)
{
    struct text ahead = text_new(&c->arena);
    if (r->ahead_h > 0) {
        text_addz(&ahead, "+");
        text_number(&ahead, r->ahead_h, 0);
        text_addz(&ahead, " h");
    } else {
        text_addz(&ahead, "all");
    }
    struct text n = text_new(&c->arena);
    text_int(&n, r->forecasts);
    table_add(table, text_str(&ahead));
    table_add(table, text_str(&n));
    table_add(table, share(c, r->held50));
    table_add(table, share(c, r->held80));
    table_add(table, share(c, r->held95));
    table_add(table, days_of(c, r->width80));
    for (int i = 0; i < BACKTEST_METHODS; i++) {
        table_add(table, days_of(c, r->score[i].error));
    }
    for (int i = 0; i < BACKTEST_METHODS; i++) {
        table_add(table, days_of(c, r->score[i].pinball));
    }
}

static int run_backtest(struct call *c)
{
    struct backtest b;
    if (!desk_backtest(c->desk, &c->arena, &b, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_backtest_json(&j, &b);
        text_char(&t, '\n');
        return print_text(&t);
    }
    const struct backtest_row *all = &b.rows[b.n - 1];
    if (all->forecasts == 0) {
        text_addz(&t, "too little history: a replay needs some months of meter readings\n");
        return print_text(&t);
    }
    struct table table = table_new(&c->arena, 12);
    static const char *const heads[] = {"hours to gain", "forecasts", "50 % held", "80 %", "95 %",      "width",
                                        "error",         "last rate", "mean rate", "loss", "last rate", "mean rate"};
    for (size_t i = 0; i < sizeof heads / sizeof *heads; i++) {
        table_addz(&table, heads[i]);
    }
    for (int i = 0; i < b.n; i++) {
        backtest_line(c, &table, &b.rows[i]);
    }
    table_print(&t, &table);
    text_addz(&t, "\nForecasts at ");
    text_int(&t, b.moments);
    text_addz(&t,
              " moments of the past, each with what was read until then. Days: width of the 80 % band, mean absolute "
              "error of the\nmedian, pinball loss over five quantiles, against the last rate and the mean rate "
              "straight on. ");
    text_int(&t, all->too_early);
    text_addz(&t, " forecasts reach\npast the last reading and ");
    text_int(&t, all->unseen);
    text_addz(&t, " came due between readings too far apart: not counted.\n");
    return print_text(&t);
}

static const struct option_def no_options[] = {END_OF_OPTIONS};

static const struct option_def today_options[] = {
    {"machine", 'm', "MACHINE", "only this machine, with everything that will run out"},
    {"site", 0, "SITE", "only machines of this site"},
    {"book", 0, "ID", "only machines of this book"},
    {"within", 'w', "DAYS", "what runs out within so many days (otherwise 30)"},
    {"overdue-on", 0, "DAY", "also how probable it is that each is overdue on that day"},
    {"each", 'e', NULL, "every point on a line of its own, also those of one service"},
    {"all", 'a', NULL, "everything, also of machines out of service"},
    END_OF_OPTIONS,
};

const struct command today_commands[] = {
    {"today", "", 0, 0, "what is due, out or open, sorted by what runs out first", NULL, today_options, run_today,
     false, false},
    {"why", "MACHINE NAME", 2, 2, "explain a line of today: down to the book's line and the log's entries",
     "NAME is the last column of today, e.g. engine-oil.", NULL, run_why, false, false},
    {"backtest", "", 0, 0, "replay the log: how often the forecasts' bands would have held",
     "Every 30 days of the log: when would each machine have run 30, 100 and 250 h more, forecast with nothing but "
     "what "
     "was read until then, and when it had. Beside it the last rate and the mean rate, straight on.",
     no_options, run_backtest, false, false},
    {0},
};
