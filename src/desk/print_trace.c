/* A trace on paper: what is known, what may be behind it, the steps one after the other with their cautions and blanks.
 */
#include "print_internal.h"
#include "trace_internal.h"

#include <math.h>

#define STEPS_MOST 8
#define LADDER_MOST 10

static void percent_cell(struct json *j, struct arena *a, double p)
{
    struct text t = text_new(a);
    text_number(&t, 100 * p, p < 0.095 ? 1 : 0);
    text_addz(&t, " %");
    json_str(j, NULL, text_str(&t));
}

static void begin_table(struct printing *p, const char *title, const struct str *columns, size_t n)
{
    json_begin_object(&p->j, NULL);
    json_strz(&p->j, "title", title);
    print_strings(&p->j, "columns", columns, n);
    json_begin_array(&p->j, "rows");
}

static void end_table(struct printing *p, int blanks)
{
    json_end_array(&p->j);
    json_int(&p->j, "blanks", blanks);
    json_end_object(&p->j);
}

static void begin_step(struct printing *p, int n, struct str label)
{
    json_begin_object(&p->j, NULL);
    json_strz(&p->j, "type", "check");
    json_int(&p->j, "n", n);
    json_str(&p->j, "label", label);
}

/* What is known, and the ladder as it stands. */
static void known_step(struct printing *p, const struct desk_trace *trace)
{
    static const struct str known[] = {{"What is known", 13}, {"", 0}};
    static const struct str ladder[] = {{"Cause", 5}, {"Likely", 6}, {"Now", 3}};
    begin_step(p, 1, S("Where the trace stands"));
    json_begin_array(&p->j, "tables");
    begin_table(p, "Seen and done", known, 2);
    for (int i = 0; i < trace->n_items; i++) {
        const struct desk_trace_item *item = &trace->items[i];
        bool cure = item->sort == TRACE_CURE;
        if (item->state != ITEM_OPEN) {
            json_begin_array(&p->j, NULL);
            json_str(&p->j, NULL, item->label);
            json_strz(&p->j, NULL,
                      item->state == ITEM_CANNOT ? "can't be done here"
                      : item->state == ITEM_YES  ? (cure ? "cured" : "yes")
                                                 : (cure ? "not cured" : "no"));
            json_end_array(&p->j);
        }
    }
    end_table(p, 2);
    begin_table(p, "What may be behind it", ladder, 3);
    for (int i = 0; i < trace->n_causes && i < LADDER_MOST; i++) {
        json_begin_array(&p->j, NULL);
        json_str(&p->j, NULL, trace->causes[i].label);
        percent_cell(&p->j, p->a, trace->causes[i].p);
        json_end_array(&p->j);
    }
    json_begin_array(&p->j, NULL);
    json_strz(&p->j, NULL, "something that is not in the book");
    percent_cell(&p->j, p->a, trace->p_other);
    json_end_array(&p->j);
    end_table(p, 0);
    json_end_array(&p->j);
    json_end_object(&p->j);
}

static void add_after(struct text *t, const struct desk_trace *trace, const char *head,
                      const struct desk_trace_after *at, int n)
{
    for (int i = 0; i < n && i < 2; i++) {
        text_addz(t, i ? ", " : head);
        text_add(t, trace->causes[at[i].cause].label);
        text_char(t, ' ');
        text_number(t, 100 * at[i].p, 0);
        text_addz(t, " %");
    }
}

/* What it would tell. */
static struct str tells(const struct printing *p, const struct desk_trace *trace, const struct desk_trace_step *step)
{
    const struct desk_trace_item *item = &trace->items[step->item];
    struct text t = text_new(p->a);
    if (item->sort == TRACE_CALL) {
        return S("");
    }
    if (item->sort != TRACE_CURE) {
        text_addz(&t, "yes");
        text_addz(&t, item->yes.n ? " (" : "");
        text_add(&t, item->yes);
        text_addz(&t, item->yes.n ? ")" : "");
        add_after(&t, trace, ": ", step->if_yes, step->n_yes);
        text_addz(&t, "; no");
    } else {
        text_addz(&t, "still there");
    }
    add_after(&t, trace, ": ", step->if_no, step->n_no);
    return text_str(&t);
}

static void one_step(struct printing *p, const struct desk_trace *trace, const struct desk_trace_step *step, int n)
{
    static const struct str sign[] = {{"Yes", 3}, {"No", 2}, {"Can't here", 10}, {"Seen, read", 10}, {"By, time", 8}};
    static const struct str cure[] = {
        {"Cured", 5}, {"Still there", 11}, {"Can't here", 10}, {"Note", 4}, {"By, time", 8}};
    const struct desk_trace_item *item = &trace->items[step->item];
    struct text label = text_new(p->a);
    text_join(&label, item->kind, ": ", (char *)0);
    text_add(&label, item->act);
    begin_step(p, n, text_str(&label));
    json_str(&p->j, "place", item->place);
    json_num(&p->j, "takes_s", round(item->work_minutes * 60));
    json_begin_array(&p->j, "cautions");
    for (int i = 0; i < item->n_cautions; i++) {
        json_begin_object(&p->j, NULL);
        json_strz(&p->j, "level", book_caution_level_text(item->cautions[i]->level));
        json_str(&p->j, "say", item->cautions[i]->say);
        json_end_object(&p->j);
    }
    json_end_array(&p->j);
    struct text why = text_new(p->a);
    text_add(&why, item->needs);
    text_addz(&why, item->needs.n ? ". " : "");
    text_add(&why, tells(p, trace, step));
    json_str(&p->j, "why", text_str(&why));
    print_strings(&p->j, "tools", item->tools.at, (size_t)item->tools.n);
    json_begin_array(&p->j, "tables");
    begin_table(p, "Result", item->sort == TRACE_CURE ? cure : sign, 5);
    end_table(p, 1);
    json_end_array(&p->j);
    json_end_object(&p->j);
}

static void end_step(struct printing *p, int n)
{
    static const struct str columns[] = {
        {"Cause", 5}, {"Failure mode", 12}, {"Mechanism", 9}, {"Root", 4}, {"By, time", 8}};
    begin_step(p, n, S("What was behind it"));
    json_begin_array(&p->j, "tables");
    begin_table(p, "Words of ISO 14224", columns, 5);
    end_table(p, 1);
    json_end_array(&p->j);
    json_end_object(&p->j);
}

bool desk_print_trace(struct desk *d, struct str machine, struct str words, struct str paper, struct text *out,
                      struct err *e)
{
    struct desk_trace trace;
    struct desk_trace_step path[STEPS_MOST];
    struct str size = {0};
    int n = 0;
    if (!print_paper(d, paper, &size, e) || !trace_path(d, machine, words, out->a, &trace, path, STEPS_MOST, &n, e)) {
        return false;
    }
    struct printing p = {.j = json_new(out, true),
                         .d = d,
                         .a = out->a,
                         .m = trace.machine,
                         .b = trace.machine->book,
                         .figures = ARENA_ARRAY(out->a, bool, trace.machine->book->n_figures)};
    struct text title = text_new(out->a);
    text_addz(&title, "Fault: ");
    text_add(&title, p.b->symptoms[trace.symptom].label);
    print_head(&p, size, text_str(&title));
    print_words(&p);
    print_open_now(&p);
    json_begin_array(&p.j, "steps");
    known_step(&p, &trace);
    for (int i = 0; i < n; i++) {
        one_step(&p, &trace, &path[i], i + 2);
    }
    end_step(&p, n + 2);
    json_end_array(&p.j);
    print_figures(&p);
    print_qr(&p.j, p.a, p.m->serial);
    json_end_object(&p.j);
    text_char(out, '\n');
    return true;
}
