/* witmark stock: the depot's shelf. */
#include "cli.h"

#include "desk_stock.h"

static void number_cell(struct call *c, struct table *table, double value, bool known)
{
    struct text t = text_new(&c->arena);
    if (known) {
        text_number(&t, value, 1);
    } else {
        text_char(&t, '-');
    }
    table_add(table, text_str(&t));
}

static void day_cell(struct call *c, struct table *table, day_t day, day_t today)
{
    struct text t = text_new(&c->arena);
    if (day == DAY_NONE) {
        text_char(&t, '-');
    } else if (day <= today) {
        text_addz(&t, "now");
    } else {
        text_day(&t, day);
    }
    table_add(table, text_str(&t));
}

/* "B-01 Change engine oil and filter 2026-12-04, ..." the nearest ones. */
static struct str needs_words(struct call *c, const struct desk_part *p)
{
    struct text t = text_new(&c->arena);
    for (size_t i = 0; i < p->n_needs && i < 2; i++) {
        text_addz(&t, i ? "; " : "");
        text_number(&t, p->needs[i].pieces, 1);
        text_addz(&t, " for ");
        text_add(&t, p->needs[i].machine->name);
        if (p->needs[i].due.p50 != DAY_NONE) {
            text_addz(&t, p->needs[i].due.out ? " overdue" : " about ");
            if (!p->needs[i].due.out) {
                text_day(&t, p->needs[i].due.p50);
            }
        }
    }
    return text_str(&t);
}

static void part_row(struct call *c, struct table *table, const struct desk_shelf *shelf, const struct desk_part *p)
{
    table_add(table, p->number);
    table_add(table, p->label);
    number_cell(c, table, p->have, p->counted);
    number_cell(c, table, p->keep, true);
    number_cell(c, table, p->needed, true);
    day_cell(c, table, p->counted ? p->runs_out.p10 : DAY_NONE, shelf->day);
    day_cell(c, table, p->counted ? p->runs_out.p50 : DAY_NONE, shelf->day);
    number_cell(c, table, p->order, p->order > 0);
    day_cell(c, table, p->order > 0 ? p->order_by : DAY_NONE, shelf->day);
    table_add(table, needs_words(c, p));
}

static int run_stock(struct call *c)
{
    struct desk_shelf shelf;
    if (!desk_shelf(c->desk, &c->arena, &shelf, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_shelf_json(&j, c->desk, &shelf);
        text_char(&t, '\n');
        return print_text(&t);
    }
    static const char *const heads[] = {"part",         "",      "there", "keep",      "needed", "out, 1 in 10",
                                        "out, 5 in 10", "order", "by",    "next needs"};
    struct table table = table_new(&c->arena, 10);
    for (size_t i = 0; i < sizeof heads / sizeof *heads; i++) {
        table_addz(&table, heads[i]);
    }
    size_t shown = 0;
    size_t uncounted = 0;
    for (size_t i = 0; i < shelf.n; i++) {
        const struct desk_part *p = &shelf.parts[i];
        bool wanted = option_given(c, "all") || (option_given(c, "order") ? p->order > 0 : p->counted);
        uncounted += !p->counted && p->in_a_book;
        if (wanted) {
            part_row(c, &table, &shelf, p);
            shown++;
        }
    }
    if (shown) {
        table_print(&t, &table);
    } else {
        text_addz(&t, option_given(c, "order") ? "nothing to order\n"
                                               : "nothing is counted: witmark record stock NUMBER PIECES\n");
    }
    text_addz(&t, "\nNeeded: expected within the time from order to shelf (");
    text_int(&t, STOCK_LEAD_DAYS);
    text_addz(&t, " days where no book says it) and ");
    text_int(&t, STOCK_COVER_DAYS);
    text_addz(&t, " days more. Why: witmark why shelf NUMBER\n");
    if (uncounted && !option_given(c, "all")) {
        text_int(&t, (int64_t)uncounted);
        text_addz(&t, " parts of the books are not counted; --all shows them\n");
    }
    return print_text(&t);
}

static const struct option_def stock_options[] = {
    {"order", 0, NULL, "only what is to be ordered within three months"},
    {"all", 'a', NULL, "also parts of the books that nobody has counted"},
    END_OF_OPTIONS,
};

const struct command stock_commands[] = {
    {"stock", "", 0, 0, "the shelf: what lies there, what will be needed by when, what to order by which day",
     "What is there comes from record stock (counts and deliveries, with - what was taken) and from the parts of tasks "
     "done since. What will be needed comes from the due dates of every machine, each with its own distribution, and "
     "from what was needed unforeseen so far.",
     stock_options, run_stock, false, false},
    {0},
};
