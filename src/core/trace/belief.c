/* Hypotheses and Bayes' rule over them. */
#include "trace/belief.h"

#include "quantity/domain.h"

#include <math.h>
#include <string.h>

struct trace_limits trace_limits_default(void)
{
    return (struct trace_limits){.nodes = 20000, .ignore = 0.001};
}

/* What is not in the list shows a sign as often as the listed causes do, weighed by how often each is the cause. */
static double average_chance(const struct trace_model *m, int sign)
{
    double sum = 0;
    double weights = 0;
    for (int i = 0; i < m->n_causes; i++) {
        sum += m->weight[i] * trace_sign_chance(m, sign, i);
        weights += m->weight[i];
    }
    return weights > 0 ? sum / weights : m->by_itself[sign];
}

double trace_sign_chance(const struct trace_model *m, int sign, int cause)
{
    if (cause >= m->n_causes) {
        return average_chance(m, sign);
    }
    return 1 - (1 - m->by_itself[sign]) * (1 - m->chance[sign * m->n_causes + cause]);
}

double belief_sign(const struct belief *b, int sign, int h)
{
    const struct hypothesis *of = &b->h[h];
    if (of->one < 0) {
        return trace_sign_chance(b->m, sign, b->m->n_causes);
    }
    double p = trace_sign_chance(b->m, sign, of->one);
    return of->two < 0 ? p : 1 - (1 - p) * (1 - b->m->chance[sign * b->m->n_causes + of->two]);
}

struct belief belief_new(const struct trace_model *m, bool with_two, struct arena *a)
{
    int n = m->n_causes;
    int most = n + 1 + (with_two ? n * (n - 1) / 2 : 0);
    struct hypothesis *h = ARENA_ARRAY(a, struct hypothesis, most);
    struct belief b = {m, h, 0, ARENA_ARRAY(a, int, n + 1), ARENA_ARRAY(a, double, most), ARENA_ARRAY(a, double, most),
                       1};
    double weights = m->other;
    for (int i = 0; i < n; i++) {
        weights += m->weight[i];
    }
    for (int i = 0; i <= n; i++) {
        b.alone[i] = b.n;
        h[b.n] = (struct hypothesis){i < n ? i : -1, -1};
        b.p[b.n++] = i < n ? m->weight[i] : m->other;
    }
    for (int i = 0; with_two && i < n; i++) {
        for (int k = i + 1; k < n; k++) {
            h[b.n] = (struct hypothesis){i, k};
            b.p[b.n++] = m->pairs * m->weight[i] * m->weight[k] / weights;
        }
    }
    double sum = 0;
    for (int i = 0; i < b.n; i++) {
        sum += b.p[i];
    }
    for (int i = 0; i < b.n; i++) {
        b.p[i] /= sum;
    }
    return b;
}

double belief_repair(const struct belief *b, int repair, const double *before, double *after)
{
    const double *cures = &b->m->cures[repair * b->m->n_causes];
    double gone = 0;
    memset(after, 0, (size_t)b->n * sizeof *after);
    for (int i = 0; i < b->n; i++) {
        double one = b->h[i].one < 0 ? 0 : cures[b->h[i].one];
        if (b->h[i].two < 0) {
            gone += before[i] * one;
            after[i] += before[i] * (1 - one);
            continue;
        }
        double two = cures[b->h[i].two];
        gone += before[i] * one * two;
        after[b->alone[b->h[i].two]] += before[i] * one * (1 - two);
        after[b->alone[b->h[i].one]] += before[i] * (1 - one) * two;
        after[i] += before[i] * (1 - one) * (1 - two);
    }
    return gone;
}

/* A repair that put it right: only what it cures can have been behind it. */
static void take_cured(struct belief *b, int repair)
{
    const double *cures = &b->m->cures[repair * b->m->n_causes];
    for (int i = 0; i < b->n; i++) {
        double one = b->h[i].one < 0 ? 0 : cures[b->h[i].one];
        b->p[i] *= b->h[i].two < 0 ? one : one * cures[b->h[i].two];
    }
}

bool belief_take(struct belief *b, const struct trace_event *events, int n, struct err *e)
{
    for (int k = 0; k < n; k++) {
        if (events[k].what == TRACE_SIGN) {
            for (int i = 0; i < b->n; i++) {
                double yes = belief_sign(b, events[k].index, i);
                b->p[i] *= events[k].yes ? yes : 1 - yes;
            }
        } else if (events[k].yes) {
            take_cured(b, events[k].index);
        } else {
            (void)belief_repair(b, events[k].index, b->p, b->spare);
            memcpy(b->p, b->spare, (size_t)b->n * sizeof *b->p);
        }
        double sum = 0;
        for (int i = 0; i < b->n; i++) {
            sum += b->p[i];
        }
        b->seen *= sum;
        if (!(b->seen > 1e-300)) {
            return domain_refuse("what was seen and done cannot be, as the book has it",
                                 "observations that a cause allows", e);
        }
        for (int i = 0; i < b->n; i++) {
            b->p[i] /= sum;
        }
    }
    return true;
}
