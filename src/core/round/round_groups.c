/* Which points must be visited for their own sake.
 *
 * A point that sets nothing can be done in passing whenever one stands at its place in a condition that suits it and
 * its predecessors are done: it costs no move and can only free others. So of two points at one place, where whenever
 * the one can be done the other can be too and nothing waits longer for the other, the other needs no visit of its own.
 * What remains are the groups; on real check lists they are half of the points or fewer.
 */
#include "round/round_internal.h"

#include <string.h>

/* Rows of bits over the points or conditions. */
struct rows {
    uint64_t *w;
    size_t words;
};

static struct rows rows_new(struct arena *a, size_t n, size_t columns)
{
    size_t words = (columns + 63) / 64;
    return (struct rows){ARENA_ARRAY(a, uint64_t, n * words + 1), words};
}

static uint64_t *row(struct rows r, size_t i)
{
    return r.w + i * r.words;
}

static bool row_has(struct rows r, size_t i, size_t j)
{
    return row(r, i)[j / 64] >> (j % 64) & 1;
}

static void row_add(struct rows r, size_t i, size_t j)
{
    row(r, i)[j / 64] |= UINT64_C(1) << (j % 64);
}

/* Is row i of r within row j of s, but for member `except`? */
static bool row_within(struct rows r, size_t i, struct rows s, size_t j, size_t except)
{
    for (size_t k = 0; k < r.words; k++) {
        uint64_t extra = row(r, i)[k] & ~row(s, j)[k];
        if (except / 64 == k) {
            extra &= ~(UINT64_C(1) << (except % 64));
        }
        if (extra) {
            return false;
        }
    }
    return true;
}

/* What is known about the points that are not done. */
struct points {
    const struct round_problem *p;
    struct rows before;  /* [n_points] those before it, closed */
    struct rows behind;  /* [n_points] those after it, closed */
    struct rows allowed; /* [n_points] conditions in which it can be done */
    bool *passed;        /* [n_points] done, or done in passing by another */
};

static bool is_done(const struct round_problem *p, size_t i)
{
    return p->done && p->done[i];
}

/* Names the ring of rules that point i is in. */
static bool ring_error(const struct points *t, size_t i, struct err *e)
{
    const struct round_problem *p = t->p;
    struct text ring = text_new(e->a);
    size_t at = i;
    bool *seen = ARENA_ARRAY(e->a, bool, p->n_points);
    size_t *way = ARENA_ARRAY(e->a, size_t, p->n_points + 1);
    size_t n = 0;
    while (!seen[at]) { /* back along rules that stay in the ring: each such point is before itself */
        seen[at] = true;
        way[n++] = at;
        for (size_t k = 0; k < p->points[at].n_after; k++) {
            size_t b = p->points[at].after[k];
            if (!is_done(p, b) && row_has(t->before, b, b) && (b == i || row_has(t->before, b, i))) {
                at = b;
                break;
            }
        }
    }
    size_t first = 0;
    while (way[first] != at) {
        first++;
    }
    text_add(&ring, p->points[at].id);
    for (size_t k = n; k > first; k--) {
        text_join(&ring, " before ", str_z(e->a, p->points[way[k - 1]].id), (char *)0);
    }
    return err_set(e, ERR_CONFLICT, "drop one of these rules",
                   "rules form a ring, no order keeps them: ", text_z(&ring), (char *)0);
}

/* Closes the after-rules of the open points and turns them round. */
static bool close_rules(struct points *t, struct arena *a, struct err *e)
{
    const struct round_problem *p = t->p;
    size_t n = p->n_points;
    t->before = rows_new(a, n, n);
    t->behind = rows_new(a, n, n);
    for (size_t i = 0; i < n; i++) {
        for (size_t k = 0; !is_done(p, i) && k < p->points[i].n_after; k++) {
            if (!is_done(p, p->points[i].after[k])) {
                row_add(t->before, i, p->points[i].after[k]);
            }
        }
    }
    for (size_t k = 0; k < n; k++) {
        for (size_t i = 0; i < n; i++) {
            for (size_t w = 0; row_has(t->before, i, k) && w < t->before.words; w++) {
                row(t->before, i)[w] |= row(t->before, k)[w];
            }
        }
    }
    for (size_t i = 0; i < n; i++) {
        if (row_has(t->before, i, i)) {
            return ring_error(t, i, e);
        }
        for (size_t j = 0; j < n; j++) {
            if (row_has(t->before, i, j)) {
                row_add(t->behind, j, i);
            }
        }
    }
    return true;
}

/* Says why point i can't be done at all. */
static bool point_error(const struct round_model *m, size_t i, bool reached, struct err *e)
{
    const struct round_problem *p = m->p;
    struct text need = text_new(e->a);
    round_partial_text(&need, p, &p->points[i].needs);
    const char *id = str_z(e->a, p->points[i].id);
    if (reached) {
        return err_set(e, ERR_REFUSED, "a change that leads back", "point \"", id, "\" needs ", text_z(&need),
                       ", but from there the machine cannot be brought to the finish", (char *)0);
    }
    return err_set(e, ERR_REFUSED, "a change that leads there, or another need", "point \"", id, "\" needs ",
                   text_z(&need), ", which cannot be reached from the start without a forbidden combination",
                   (char *)0);
}

/* The conditions in which each open point can be done: reached, need holds, and what comes of it leads to the finish.
 */
static bool find_allowed(const struct round_model *m, struct points *t, struct arena *a, struct err *e)
{
    const struct round_problem *p = m->p;
    const struct model_conditions *cs = &m->conditions;
    t->allowed = rows_new(a, p->n_points, cs->n);
    for (size_t i = 0; i < p->n_points; i++) {
        bool any = is_done(p, i);
        bool reached = false;
        for (size_t c = 0; c < cs->n && !is_done(p, i) && !p->points[i].n_sets; c++) {
            bool holds = round_holds(&p->points[i].needs, &cs->at[c]);
            reached = reached || holds;
            if (holds && cs->leavable[c]) {
                row_add(t->allowed, i, c);
                any = true;
            }
        }
        for (size_t c = 0; c < cs->n && !is_done(p, i) && p->points[i].n_sets; c++) {
            for (size_t s = cs->first[c]; s < cs->first[c + 1]; s++) {
                if (cs->steps[s].is_point && cs->steps[s].index == (int)i) {
                    reached = true;
                    if (cs->leavable[cs->steps[s].to]) {
                        row_add(t->allowed, i, c);
                        any = true;
                    }
                }
            }
        }
        if (!any) {
            return point_error(m, i, reached, e);
        }
    }
    return true;
}

/* Whenever one visits k, can i be done in passing, and does nothing wait longer for i? */
static bool passed_by(const struct points *t, size_t i, size_t k)
{
    const struct round_point *pi = &t->p->points[i];
    const struct round_point *pk = &t->p->points[k];
    if (pi->n_sets || (pi->place != pk->place && pi->place != ROUND_ANYWHERE)) {
        return false;
    }
    if (pk->n_sets && row_has(t->before, i, k)) {
        return false; /* k has changed the condition by then */
    }
    return row_within(t->allowed, k, t->allowed, i, SIZE_MAX) && row_within(t->before, i, t->before, k, k) &&
           row_within(t->behind, i, t->behind, k, k);
}

/* Marks what is done in passing. One that carries another stays a group. */
static void find_passed(struct points *t, struct arena *a)
{
    size_t n = t->p->n_points;
    t->passed = ARENA_ARRAY(a, bool, n);
    for (size_t i = 0; i < n; i++) {
        t->passed[i] = is_done(t->p, i);
    }
    for (size_t i = n; i-- > 0;) {
        for (size_t k = 0; k < n && !t->passed[i]; k++) {
            t->passed[i] = k != i && !t->passed[k] && !is_done(t->p, k) && passed_by(t, i, k);
        }
    }
}

/* Fills the groups and the sets the search uses. */
static bool make_groups(struct round_model *m, const struct points *t, struct err *e)
{
    const struct round_problem *p = m->p;
    int *number = ARENA_ARRAY(m->a, int, p->n_points + 1);
    m->group_of = number;
    m->groups = ARENA_ARRAY(m->a, struct model_group, p->n_points + 1);
    for (size_t i = 0; i < p->n_points; i++) {
        number[i] = -1;
        if (!t->passed[i]) {
            number[i] = (int)m->n_groups;
            m->groups[m->n_groups++] = (struct model_group){.point = i, .place = p->points[i].place};
        }
    }
    if (m->n_groups > BITS_MOST) {
        return err_set(e, ERR_DOMAIN, "at most 256: make two rounds of it",
                       "too many points that share neither place nor condition", (char *)0);
    }
    for (size_t g = 0; g < m->n_groups; g++) {
        struct model_group *x = &m->groups[g];
        x->sets = p->points[x->point].n_sets > 0;
        bits_add(&m->all, (int)g);
        if (x->sets) {
            bits_add(&m->setters, (int)g);
        }
        for (size_t j = 0; j < p->n_points; j++) {
            if (!t->passed[j] && row_has(t->before, x->point, j)) {
                bits_add(&x->before, number[j]);
            }
        }
    }
    return true;
}

/* Where a point that sets variables leads to, per condition. */
static void fill_point_to(struct round_model *m, size_t g)
{
    const struct model_conditions *cs = &m->conditions;
    int *to = ARENA_ARRAY(m->a, int, cs->n);
    for (size_t c = 0; c < cs->n; c++) {
        to[c] = -1;
        for (size_t s = cs->first[c]; s < cs->first[c + 1]; s++) {
            const struct model_step *x = &cs->steps[s];
            if (x->is_point && x->index == (int)m->groups[g].point && cs->leavable[x->to]) {
                to[c] = x->to;
            }
        }
    }
    m->point_to[g] = to;
}

static void fill_sets(struct round_model *m, const struct points *t)
{
    m->in_condition = ARENA_ARRAY(m->a, struct bits, m->conditions.n);
    m->at_place = ARENA_ARRAY(m->a, struct bits, m->n_places);
    m->point_to = ARENA_ARRAY(m->a, int *, m->n_groups + 1);
    for (size_t g = 0; g < m->n_groups; g++) {
        const struct model_group *x = &m->groups[g];
        for (size_t c = 0; c < m->conditions.n; c++) {
            if (row_has(t->allowed, x->point, c)) {
                bits_add(&m->in_condition[c], (int)g);
            }
        }
        for (size_t q = 0; q < m->n_places; q++) {
            if (x->place == ROUND_ANYWHERE || x->place == (int)q) {
                bits_add(&m->at_place[q], (int)g);
            }
        }
        if (x->place == ROUND_ANYWHERE) {
            bits_add(&m->anywhere, (int)g);
        }
        if (x->sets) {
            fill_point_to(m, g);
        }
    }
}

/* Shortest walks, also by way of others: rounding can make two short walks a second shorter than one long one. */
static void fill_walks(struct round_model *m)
{
    size_t n = m->n_places;
    m->walk = ARENA_ARRAY(m->a, int32_t, n * n);
    m->via = ARENA_ARRAY(m->a, int16_t, n * n);
    for (size_t i = 0; i < n; i++) {
        for (size_t j = 0; j < n; j++) {
            m->walk[i * n + j] = round_walk_s(m->p, (int)i, (int)j);
            m->via[i * n + j] = (int16_t)j;
        }
    }
    for (size_t k = 0; k < n; k++) {
        for (size_t i = 0; i < n; i++) {
            for (size_t j = 0; j < n; j++) {
                if (m->walk[i * n + k] + m->walk[k * n + j] < m->walk[i * n + j]) {
                    m->walk[i * n + j] = m->walk[i * n + k] + m->walk[k * n + j];
                    m->via[i * n + j] = m->via[i * n + k];
                }
            }
        }
    }
}

bool model_build(const struct round_problem *p, struct arena *a, struct round_model *m, struct err *e)
{
    *m = (struct round_model){.p = p, .a = a, .n_places = p->n_places};
    struct points t = {.p = p};
    if (!model_reach(p, a, &m->conditions, e)) {
        return false;
    }
    if (!m->conditions.leavable[0]) {
        struct text need = text_new(e->a);
        round_partial_text(&need, p, &p->finish);
        return err_set(e, ERR_REFUSED, "changes that lead to the finish", "the finish (", text_z(&need),
                       ") cannot be reached from the start", (char *)0);
    }
    if (!close_rules(&t, a, e) || !find_allowed(m, &t, a, e)) {
        return false;
    }
    find_passed(&t, a);
    if (!make_groups(m, &t, e)) {
        return false;
    }
    fill_walks(m);
    fill_sets(m, &t);
    return true;
}
