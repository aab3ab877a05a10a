/* The kit of a round: parts after supersession, fluids, waste, tools, torques, protective equipment, each thing once.
 */
#include "desk_internal.h"

#include <math.h>

struct kit {
    struct arena *a;
    struct desk *d;
    const struct book *b;
    double *parts, *fluids_m3; /* by index of the book: pieces, volume */
    struct quantity *written;  /* how a fluid's volume was written first */
    bool *torques, *waste_fluids;
    struct str *tools, *equipment, *waste;
    size_t n_tools, cap_tools, n_equipment, cap_equipment, n_waste, cap_waste;
};

static void add_once(struct arena *a, struct str **at, size_t *n, size_t *cap, struct str s)
{
    if (s.n == 0) {
        return;
    }
    for (size_t i = 0; i < *n; i++) {
        if (str_eq_nocase((*at)[i], s)) {
            return;
        }
    }
    ARENA_PUSH(a, *at, *n, *cap) = s;
}

static void add_tools(struct kit *k, struct book_texts tools)
{
    for (int i = 0; i < tools.n; i++) {
        add_once(k->a, &k->tools, &k->n_tools, &k->cap_tools, tools.at[i]);
    }
}

static void add_torques(struct kit *k, struct book_refs torques)
{
    for (int i = 0; i < torques.n; i++) {
        k->torques[torques.at[i]] = true;
    }
}

static void add_task(struct kit *k, const struct book_task *task)
{
    for (int i = 0; i < task->n_parts; i++) {
        k->parts[task->parts[i].item] += task->parts[i].quantity;
    }
    for (int i = 0; i < task->n_fluids; i++) {
        const struct book_use *use = &task->fluids[i];
        const struct book_quantity *q = use->written.given ? &use->written : &k->b->fluids[use->item].capacity;
        k->fluids_m3[use->item] += q->given ? q->si : use->quantity;
        if (!k->written[use->item].unit) {
            k->written[use->item] = q->q;
        }
        /* What is filled was drained before: it is taken back. */
        k->waste_fluids[use->item] = k->waste_fluids[use->item] || k->b->fluids[use->item].waste;
    }
    add_tools(k, task->tools);
    add_torques(k, task->torques);
    for (int i = 0; i < task->equipment.n; i++) {
        add_once(k->a, &k->equipment, &k->n_equipment, &k->cap_equipment, task->equipment.at[i]);
    }
    for (int i = 0; i < task->n_steps; i++) {
        add_tools(k, task->steps[i].tools);
        add_torques(k, task->steps[i].torques);
        add_once(k->a, &k->waste, &k->n_waste, &k->cap_waste, task->steps[i].waste);
    }
}

static struct str pieces(struct kit *k, const struct book_part *part, double n)
{
    struct text t = text_new(k->a);
    text_number(&t, n, 2);
    if (part->pack > 1) {
        text_addz(&t, " (");
        text_number(&t, ceil(n / part->pack), 0);
        text_addz(&t, " pack of ");
        text_int(&t, part->pack);
        text_addz(&t, ")");
    }
    return text_str(&t);
}

static struct str volume(struct kit *k, int fluid)
{
    struct text t = text_new(k->a);
    struct quantity q = k->written[fluid];
    if (q.unit) {
        q.value = unit_from_si(q.unit, k->fluids_m3[fluid]);
        text_quantity_in(&t, q, k->d->units);
    } else {
        text_addz(&t, "as needed");
    }
    return text_str(&t);
}

static void lines(struct kit *k, struct desk_kit *out)
{
    const struct book *b = k->b;
    struct desk_kit_line *parts = ARENA_ARRAY(k->a, struct desk_kit_line, b->n_parts);
    for (int i = 0; i < b->n_parts; i++) {
        const struct book_part *part = &b->parts[i];
        if (k->parts[i] > 0) {
            parts[out->n_parts++] =
                (struct desk_kit_line){part->label,
                                       part->now,
                                       str_eq(part->now, part->number) ? (struct str){0} : part->number,
                                       pieces(k, part, k->parts[i]),
                                       {0}};
        }
    }
    struct desk_kit_line *fluids = ARENA_ARRAY(k->a, struct desk_kit_line, b->n_fluids);
    for (int i = 0; i < b->n_fluids; i++) {
        if (k->fluids_m3[i] > 0 || k->written[i].unit) {
            fluids[out->n_fluids++] =
                (struct desk_kit_line){b->fluids[i].label, b->fluids[i].is, {0}, volume(k, i), b->fluids[i].note};
        }
        if (k->waste_fluids[i]) {
            struct text t = text_new(k->a);
            text_add(&t, b->fluids[i].label);
            text_addz(&t, ", used, about ");
            text_add(&t, volume(k, i));
            add_once(k->a, &k->waste, &k->n_waste, &k->cap_waste, text_str(&t));
        }
    }
    struct desk_kit_line *torques = ARENA_ARRAY(k->a, struct desk_kit_line, b->n_torques);
    for (int i = 0; i < b->n_torques; i++) {
        const struct book_torque *torque = &b->torques[i];
        if (!k->torques[i]) {
            continue;
        }
        struct text t = text_new(k->a);
        text_quantity_in(&t, torque->torque.q, k->d->units);
        struct text note = text_new(k->a);
        text_add(&note, torque->thread);
        if (torque->again_after.given) {
            text_addz(&note, note.n ? ", again after " : "again after ");
            text_quantity_in(&note, torque->again_after.q, k->d->units);
        }
        text_addz(&note, note.n && torque->note.n ? ", " : "");
        text_add(&note, torque->note);
        torques[out->n_torques++] = (struct desk_kit_line){torque->label, {0}, {0}, text_str(&t), text_str(&note)};
    }
    out->parts = parts;
    out->fluids = fluids;
    out->torques = torques;
    out->waste = k->waste;
    out->n_waste = k->n_waste;
    out->tools = k->tools;
    out->n_tools = k->n_tools;
    out->equipment = k->equipment;
    out->n_equipment = k->n_equipment;
}

bool desk_kit_of_round(struct desk *d, const struct desk_round *round, struct arena *a, struct desk_kit *out,
                       struct err *e)
{
    (void)e;
    *out = (struct desk_kit){0};
    const struct book *b = round->machine->book;
    struct kit k = {.a = a,
                    .d = d,
                    .b = b,
                    .parts = ARENA_ARRAY(a, double, b->n_parts),
                    .fluids_m3 = ARENA_ARRAY(a, double, b->n_fluids),
                    .written = ARENA_ARRAY(a, struct quantity, b->n_fluids),
                    .torques = ARENA_ARRAY(a, bool, b->n_torques),
                    .waste_fluids = ARENA_ARRAY(a, bool, b->n_fluids)};
    for (size_t i = 0; i < round->n_tasks; i++) {
        add_task(&k, &b->tasks[round->tasks[i]]);
    }
    for (size_t i = 0; i < round->n; i++) {
        if (round->steps[i].type == STEP_CHECK) {
            add_tools(&k, b->checkpoints[round->steps[i].checkpoint].tools);
        } else if (round->steps[i].type == STEP_CHANGE) {
            add_tools(&k, b->changes[round->steps[i].change].tools);
        }
    }
    lines(&k, out);
    return true;
}
