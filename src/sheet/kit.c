/* The kit: per kind a row of items, its name in a column at the left as on a data sheet; each item with a box to tick
 * when it is on the cart. Rows are blocks of their own, so a long kit runs over pages. */
#include "marks.h"
#include "parts.h"

#include <math.h>

#define NAME_W 92.0
#define TICK 9.5
#define MOST_COLUMNS 3

/* One item: what counts in bold, then the rest, and small print below. */
struct item {
    struct str strong, plain, tail, small;
};

struct row {
    struct str name; /* of the kind, in its first row */
    struct item items[MOST_COLUMNS];
    int n, columns;
    bool first; /* of the kit: the section's own rule is above it */
};

static double item_draw(struct sheet *s, const struct item *item, double x, double y, double w)
{
    struct type plain = {.size = 9.4}, bold = {.size = 9.4, .bold = true};
    struct type small = {.size = 8, .ink = &INK_SECOND};
    struct str gap = item->strong.n ? S("  ") : S(""), tail_gap = item->tail.n ? S("   ") : S("");
    struct run runs[] = {
        {item->strong, bold}, {gap, plain}, {item->plain, plain}, {tail_gap, plain}, {item->tail, bold}};
    mark_tick(s->pen, x, y + 1.2, TICK);
    x += TICK + 5;
    w -= TICK + 5;
    double h = pen_runs(s->pen, x, y, w, ALIGN_LEFT, runs, 5).h;
    if (item->small.n) {
        h += pen_text(s->pen, x, y + h - 0.5, w, ALIGN_LEFT, small, item->small).h;
    }
    return fmax(h, TICK + 2);
}

static double row_draw(struct sheet *s, const void *what, struct box room)
{
    const struct row *row = what;
    struct type name = {.size = 9.4, .bold = true, .ink = &INK_SECOND};
    double y = room.y, h = 0, gap = 12;
    if (row->name.n) {
        if (!row->first) {
            pen_line(s->pen, room.x, y + 0.5, room.x + room.w, y + 0.5, 0.5, &INK_RULE);
            y += 4;
        }
        h = pen_text(s->pen, room.x, y, NAME_W - 8, ALIGN_LEFT, name, row->name).h;
    }
    double w = (room.w - NAME_W + gap) / row->columns;
    for (int i = 0; i < row->n; i++) {
        h = fmax(h, item_draw(s, &row->items[i], room.x + NAME_W + i * w, y, w - gap));
    }
    return y - room.y + h + 3.5;
}

/* Adds the items of a kind, so many a row. The name is said again nowhere: a page seldom breaks here. */
static void rows_add(struct sheet *s, struct flow *f, struct str name, const struct item *items, size_t n, int columns)
{
    for (size_t i = 0; i < n; i += (size_t)columns) {
        struct row *row = ARENA_NEW(s->a, struct row);
        row->name = i ? S("") : name;
        row->columns = columns;
        row->first = f->at[f->n - 1].draw != row_draw;
        for (size_t k = i; k < n && k < i + (size_t)columns; k++) {
            row->items[row->n++] = items[k];
        }
        flow_add(f, row_draw, row, 0, false);
    }
}

static void texts_rows(struct sheet *s, struct flow *f, struct str name, const struct texts *texts, int columns)
{
    struct item *items = ARENA_ARRAY(s->a, struct item, texts->n + 1);
    for (size_t i = 0; i < texts->n; i++) {
        items[i].plain = texts->at[i];
    }
    rows_add(s, f, name, items, texts->n, columns);
}

/* "1" becomes "1 ×"; a quantity that has its unit stays as it is. */
static struct str times(struct arena *a, struct str quantity)
{
    double value = 0;
    if (!num_parse(quantity, &value)) {
        return quantity;
    }
    struct text t = text_new(a);
    text_add(&t, quantity);
    text_addz(&t, " ×");
    return text_str(&t);
}

void kit_add(struct sheet *s, struct flow *f)
{
    const struct kit *k = &s->doc->kit;
    const struct words *words = &s->doc->words;
    if (k->parts_n + k->fluids_n + k->torques_n + k->waste.n + k->tools.n + k->equipment.n == 0) {
        return;
    }
    section_add(s, f, words->kit, S(""));
    struct item *parts = ARENA_ARRAY(s->a, struct item, k->parts_n + 1);
    for (size_t i = 0; i < k->parts_n; i++) {
        const struct kit_part *p = &k->parts[i];
        parts[i] = (struct item){.strong = times(s->a, p->quantity),
                                 .plain = p->label,
                                 .tail = p->number,
                                 .small = with_word(s->a, words->instead_of, p->instead_of)};
    }
    rows_add(s, f, words->parts, parts, k->parts_n, 2);
    struct item *fluids = ARENA_ARRAY(s->a, struct item, k->fluids_n + 1);
    for (size_t i = 0; i < k->fluids_n; i++) {
        const struct kit_fluid *l = &k->fluids[i];
        fluids[i] = (struct item){.strong = l->quantity, .plain = l->label, .small = l->is};
    }
    rows_add(s, f, words->fluids, fluids, k->fluids_n, 2);
    texts_rows(s, f, words->tools, &k->tools, 3);
    struct item *torques = ARENA_ARRAY(s->a, struct item, k->torques_n + 1);
    for (size_t i = 0; i < k->torques_n; i++) {
        const struct kit_torque *t = &k->torques[i];
        torques[i] = (struct item){.plain = t->label, .tail = t->torque, .small = t->note};
    }
    rows_add(s, f, words->torques, torques, k->torques_n, 2);
    texts_rows(s, f, words->equipment, &k->equipment, 3);
    texts_rows(s, f, words->waste, &k->waste, 3);
}
