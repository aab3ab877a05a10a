/* Hour meters held against each other and against the log.
 *
 * A meter only goes forward, and at most 24 hours a day. Of the readings of one machine the largest set that keeps both
 * rules is believed, the rest is doubtful: kept, never dropped. Among readings in order of time that set is a longest
 * path, found by looking back over the last LOOK_BACK of them (dynamic programming; a run of more wrong readings than
 * that breaks the path, and then both sides are believed by themselves). The last reading of the log counts a little
 * more than one of the file, so that a single contradicting row is the doubtful one. */
#include "csv_internal.h"

#include <math.h>
#include <stdlib.h>

#define LOOK_BACK 64
#define SLACK_H 0.1 /* meters show tenths */

struct meter_point {
    size_t proposal; /* SIZE_MAX = the log's last reading */
    int machine;
    day_t day;
    int minute;
    double hours;
    int weight;       /* of the best path that ends here */
    ptrdiff_t before; /* the point before it on that path; -1 = none */
    bool believed;
};

/* By machine, time, hours. A reading without a time stands before those of its day with one. */
static int compare_points(const void *x, const void *y)
{
    const struct meter_point *a = x;
    const struct meter_point *b = y;
    if (a->machine != b->machine) {
        return a->machine < b->machine ? -1 : 1;
    }
    if (a->day != b->day) {
        return a->day < b->day ? -1 : 1;
    }
    bool timed = a->minute >= 0 && b->minute >= 0;
    if (timed && a->minute != b->minute) {
        return a->minute < b->minute ? -1 : 1;
    }
    return a->hours < b->hours ? -1 : a->hours > b->hours;
}

/* The most hours a meter can gain between two readings: a day counts whole where a time is not known. */
static double most_between(const struct meter_point *a, const struct meter_point *b)
{
    double days = (double)b->day - a->day;
    if (a->minute >= 0 && b->minute >= 0) {
        return 24 * days + (b->minute - a->minute) / 60.0 + SLACK_H;
    }
    return 24 * (days + 1);
}

/* Whether the later of two readings can follow the earlier. */
static bool agree(const struct meter_point *a, const struct meter_point *b)
{
    double gain = b->hours - a->hours;
    return gain >= 0 && gain <= most_between(a, b);
}

/* Finds the believed ones among points [from, to) of one machine. */
static void believe(struct meter_point *p, size_t from, size_t to)
{
    size_t best = from;
    for (size_t i = from; i < to; i++) {
        int own = p[i].proposal == SIZE_MAX ? 3 : 2;
        p[i].weight = own;
        p[i].before = -1;
        size_t back = i - from < LOOK_BACK ? from : i - LOOK_BACK;
        for (size_t k = i; k-- > back;) {
            if (p[k].weight + own > p[i].weight && agree(&p[k], &p[i])) {
                p[i].weight = p[k].weight + own;
                p[i].before = (ptrdiff_t)k;
            }
        }
        best = p[i].weight > p[best].weight ? i : best;
    }
    for (ptrdiff_t i = (ptrdiff_t)best; i >= 0; i = p[i].before) {
        p[i].believed = true;
    }
}

/* "430 h on 2027-04-03 (line 12)" */
static void add_point(struct csv_reading *r, struct text *t, const struct meter_point *m)
{
    text_number(t, m->hours, 2);
    text_addz(t, " h on ");
    text_day(t, m->day);
    if (m->proposal == SIZE_MAX) {
        text_addz(t, " (the log)");
    } else {
        text_addz(t, " (line ");
        text_int(t, r->proposals[m->proposal].where.line);
        text_char(t, ')');
    }
}

/* Says why a point is not believed: which believed one it contradicts. */
static void doubt_point(struct csv_reading *r, const struct meter_point *p, size_t from, size_t to, size_t i)
{
    const struct meter_point *other = NULL;
    for (size_t k = i; k-- > from && !other;) {
        other = p[k].believed && !agree(&p[k], &p[i]) ? &p[k] : NULL;
    }
    bool later = !other;
    for (size_t k = i + 1; k < to && !other; k++) {
        other = p[k].believed && !agree(&p[i], &p[k]) ? &p[k] : NULL;
    }
    struct text t = text_new(r->a);
    struct feed_csv_proposal *proposal = &r->proposals[p[i].proposal];
    const char *rule = "meter-back";
    if (!other) {
        text_addz(&t, "the meter does not fit the readings around it");
    } else if (later ? other->hours < p[i].hours : p[i].hours < other->hours) {
        text_addz(&t, "the meter goes backwards: ");
        add_point(r, &t, &p[i]);
        text_addz(&t, later ? " but later " : " but earlier ");
        add_point(r, &t, other);
    } else {
        rule = "meter-fast";
        text_addz(&t, "more than 24 hours a day: ");
        add_point(r, &t, later ? &p[i] : other);
        text_addz(&t, ", then ");
        add_point(r, &t, later ? other : &p[i]);
    }
    csv_doubt(r, proposal, proposal->where, rule, text_str(&t),
              S("look at the meter; it is kept, and flagged; if the meter was replaced, record that"));
}

void csv_meters_check(struct csv_reading *r)
{
    size_t n = 0;
    struct meter_point *p = ARENA_ARRAY(r->a, struct meter_point, r->n_proposals + r->in->n_machines + 1);
    bool *used = ARENA_ARRAY(r->a, bool, r->in->n_machines + 1);
    for (size_t i = 0; i < r->n_proposals; i++) {
        const struct feed_csv_proposal *q = &r->proposals[i];
        if (q->kind == FEED_CSV_METER && q->mark != FEED_CSV_REFUSED && csv_is_first(r, i)) {
            p[n++] = (struct meter_point){i, q->machine, q->day, q->minute, q->value, 0, -1, false};
            used[q->machine] = true;
        }
    }
    for (size_t i = 0; i < r->in->n_machines; i++) {
        const struct feed_csv_machine *m = &r->in->machines[i];
        if (used[i] && m->meter_day != DAY_NONE && isfinite(m->meter_h)) {
            p[n++] = (struct meter_point){SIZE_MAX, (int)i, m->meter_day, -1, m->meter_h, 0, -1, false};
        }
    }
    if (n == 0) {
        return;
    }
    qsort(p, n, sizeof *p, compare_points);
    for (size_t from = 0, to = 0; from < n; from = to) {
        while (to < n && p[to].machine == p[from].machine) {
            to++;
        }
        believe(p, from, to);
        for (size_t i = from; i < to; i++) {
            if (!p[i].believed && p[i].proposal != SIZE_MAX) {
                doubt_point(r, p, from, to, i);
            }
        }
    }
}
