/* The next step of least expected cost.
 *
 * A depth-first search over what is known (the probabilities of the hypotheses, and what was tried), with two bounds at
 * every place: nobody can do better than one who knew the cause and repaired it the cheapest way; and repairing by
 * falling probability over cost, then calling for help, is a plan that anybody can follow. Looking one step deeper
 * tightens both; a step whose lower bound is above another's upper bound is dropped. First the looks go deep but
 * narrow: at every place only the few steps that seem best are followed, which finds a good plan soon. Then they go
 * wide, a step deeper each time, until both bounds meet (then every strategy has been looked at or is shown to be no
 * better) or the nodes are used up (then the gap is what is told). Places that are reached on several ways are kept by
 * what is known there, with the best bounds found so far. */
#include "trace/belief.h"

#include "quantity/domain.h"

#include <math.h>
#include <string.h>

#define STEPS_MOST 64 /* steps that a plan chooses from: one bit each in what was tried */
#define FOLLOWED 3    /* steps that a narrow look follows */
#define NARROW_DEEP 8 /* how deep it goes at most */
#define CLOSED 1e-12  /* bounds nearer than this part of the cost have met */

/* Something that can be done, once. */
struct deed {
    enum trace_what what;
    int index;
    double cost;
    double *yes; /* signs: [n] chance under each hypothesis */
};

struct bounds {
    double low, high;
};

/* A place that was looked at. */
struct kept {
    uint64_t key[2]; /* 0, 0 = empty */
    struct bounds bounds;
    int wide, narrow; /* depth to which it was looked at */
};

struct search {
    const struct trace_model *m;
    const struct belief *b;
    struct arena *a;
    struct deed *deeds;
    int n_deeds;
    int *fixes; /* per cause: deeds that repair it, by falling cures over cost, ended by -1; [n_causes][n_deeds + 1] */
    struct kept *kept;
    size_t n_kept; /* a power of 2 */
    int nodes, nodes_most;
};

static bool met(struct bounds b)
{
    return b.high - b.low <= CLOSED * fmax(1, b.high);
}

/* ---- bounds ---- */

/* Cheapest way for one who knows that this cause is there: its repairs by falling cures over cost, as long as they are
 * better than help. */
static double fix_known(const struct search *s, int cause, uint64_t tried)
{
    double best = s->m->help_cost;
    double spent = 0;
    double left = 1;
    for (const int *at = &s->fixes[cause * (s->n_deeds + 1)]; *at >= 0; at++) {
        if (tried >> *at & 1U) {
            continue;
        }
        spent += left * s->deeds[*at].cost;
        left *= 1 - s->m->cures[s->deeds[*at].index * s->m->n_causes + cause];
        best = fmin(best, spent + left * s->m->help_cost);
    }
    return best;
}

/* One who knew the cause. Two causes cost at least what the dearer one does. Probabilities need not sum to 1. */
static double low_bound(const struct search *s, const double *p, uint64_t tried)
{
    double sum = 0;
    for (int i = 0; i < s->b->n; i++) {
        if (p[i] > 0) {
            const struct hypothesis *h = &s->b->h[i];
            double cost = h->one < 0 ? s->m->help_cost : fix_known(s, h->one, tried);
            sum += p[i] * (h->two < 0 ? cost : fmax(cost, fix_known(s, h->two, tried)));
        }
    }
    return sum;
}

/* Probability over cost for one repair; a repair that takes away one of two causes counts with what it takes away. */
static double worth(const struct search *s, const struct deed *d, const double *p)
{
    const double *cures = &s->m->cures[d->index * s->m->n_causes];
    double sum = 0;
    for (int i = 0; i < s->b->n; i++) {
        const struct hypothesis *h = &s->b->h[i];
        sum += p[i] * (h->one < 0 ? 0 : h->two < 0 ? cures[h->one] : 1 - (1 - cures[h->one]) * (1 - cures[h->two]));
    }
    return sum / d->cost;
}

/* Repairs by falling probability over cost, then help, stopping where it costs least. */
static double high_bound(const struct search *s, const double *start, uint64_t tried)
{
    struct arena_mark mark = arena_mark(s->a);
    size_t size = (size_t)s->b->n * sizeof *start;
    double *p = ARENA_ARRAY(s->a, double, s->b->n);
    double *next = ARENA_ARRAY(s->a, double, s->b->n);
    double left = 0;
    for (int i = 0; i < s->b->n; i++) {
        left += start[i];
    }
    memcpy(p, start, size);
    double spent = 0;
    double best = left * s->m->help_cost;
    for (;;) {
        int pick = -1;
        double most = 0;
        for (int k = 0; k < s->n_deeds; k++) {
            double w = s->deeds[k].what == TRACE_REPAIR && !(tried >> k & 1U) ? worth(s, &s->deeds[k], p) : 0;
            if (w > most) {
                most = w;
                pick = k;
            }
        }
        if (pick < 0) {
            break;
        }
        tried |= UINT64_C(1) << pick;
        spent += left * s->deeds[pick].cost;
        left -= belief_repair(s->b, s->deeds[pick].index, p, next);
        memcpy(p, next, size);
        best = fmin(best, spent + fmax(0, left) * s->m->help_cost);
    }
    arena_rewind(s->a, mark);
    return best;
}

/* ---- places kept ---- */

static uint64_t mix(uint64_t h, uint64_t v)
{
    h = (h ^ v) * UINT64_C(0x9e3779b97f4a7c15);
    return h ^ h >> 29;
}

/* The place's key: what was tried and the probabilities, equal up to the ninth digit (ways that differ only in order
 * differ in the last ones). Two different places with one key of 128 bits will not be met. */
static void key_of(const struct search *s, const double *p, uint64_t tried, uint64_t key[2])
{
    key[0] = mix(1, tried);
    key[1] = mix(2, tried);
    for (int i = 0; i < s->b->n; i++) {
        uint64_t v = (uint64_t)(p[i] * 1e9 + 0.5);
        key[0] = mix(key[0], v);
        key[1] = mix(key[1], v + 0x51);
    }
    key[0] |= 1;
}

/* Where that place is kept, or would be; null when its neighbourhood is full. */
static struct kept *keep_at(const struct search *s, const uint64_t key[2])
{
    for (size_t i = 0; i < 8; i++) {
        struct kept *k = &s->kept[(key[1] + i) & (s->n_kept - 1)];
        if (k->key[0] == 0 || (k->key[0] == key[0] && k->key[1] == key[1])) {
            return k;
        }
    }
    return NULL;
}

/* ---- the search ---- */

/* How far to look. */
struct reach {
    int depth;
    bool narrow;
};
static struct reach one_less(struct reach r)
{
    return (struct reach){r.depth - 1, r.narrow};
}

static struct bounds look(struct search *s, const double *p, uint64_t tried, struct reach reach);

/* Divides p by its sum and looks on from there; the bounds are those of the whole branch, times its probability. */
static struct bounds branch(struct search *s, double *p, double sum, uint64_t tried, struct reach reach)
{
    for (int i = 0; i < s->b->n; i++) {
        p[i] /= sum;
    }
    struct bounds b = look(s, p, tried, reach);
    return (struct bounds){sum * b.low, sum * b.high};
}

/* One step and all that follows. *p_yes: chance of the sign, or of the cure; a useless step gives infinite bounds. */
static struct bounds try_deed(struct search *s, int k, const double *p, uint64_t tried, struct reach reach,
                              double *p_yes)
{
    const struct deed *d = &s->deeds[k];
    struct arena_mark mark = arena_mark(s->a);
    int n = s->b->n;
    double *yes = ARENA_ARRAY(s->a, double, n);
    double *no = ARENA_ARRAY(s->a, double, n);
    struct bounds sum = {INFINITY, INFINITY};
    tried |= UINT64_C(1) << k;
    if (d->what == TRACE_REPAIR) {
        *p_yes = belief_repair(s->b, d->index, p, no);
        bool any = false;
        double left = 0;
        for (int i = 0; i < n; i++) {
            any = any || no[i] != p[i];
            left += no[i];
        }
        if (any) {
            sum = left > 1e-15 ? branch(s, no, left, tried, reach) : (struct bounds){0, 0};
        }
    } else {
        double some = 0;
        for (int i = 0; i < n; i++) {
            yes[i] = p[i] * d->yes[i];
            no[i] = p[i] - yes[i];
            some += yes[i];
        }
        *p_yes = some;
        if (some > 1e-12 && some < 1 - 1e-12) {
            struct bounds a = branch(s, yes, some, tried, reach);
            struct bounds b = branch(s, no, 1 - some, tried, reach);
            sum = (struct bounds){a.low + b.low, a.high + b.high};
        }
    }
    arena_rewind(s->a, mark);
    return (struct bounds){sum.low + d->cost, sum.high + d->cost};
}

/* A first lower bound of a step, without looking on. */
static double quick_low(const struct search *s, int k, const double *p, uint64_t tried, double here)
{
    const struct deed *d = &s->deeds[k];
    if (d->what == TRACE_SIGN) {
        return d->cost + here; /* one who knows the cause learns nothing */
    }
    struct arena_mark mark = arena_mark(s->a);
    double *no = ARENA_ARRAY(s->a, double, s->b->n);
    (void)belief_repair(s->b, d->index, p, no);
    double low = d->cost + low_bound(s, no, tried | UINT64_C(1) << k);
    arena_rewind(s->a, mark);
    return low;
}

/* All steps that may still be the best, each looked at as far. */
static struct bounds look_wide(struct search *s, const double *p, uint64_t tried, struct reach reach,
                               struct bounds found)
{
    struct bounds best = {s->m->help_cost, fmin(found.high, s->m->help_cost)};
    for (int k = 0; k < s->n_deeds && best.high > found.low; k++) {
        if (tried >> k & 1U || quick_low(s, k, p, tried, found.low) >= best.high) {
            continue; /* what is dropped costs at least best.high */
        }
        double p_yes = 0;
        struct bounds b = try_deed(s, k, p, tried, one_less(reach), &p_yes);
        best.low = fmin(best.low, b.low);
        best.high = fmin(best.high, b.high);
    }
    return best;
}

/* All steps at a glance, the best ones as far as the reach goes. */
static struct bounds look_narrow(struct search *s, const double *p, uint64_t tried, struct reach reach,
                                 struct bounds found)
{
    struct bounds best = {s->m->help_cost, fmin(found.high, s->m->help_cost)};
    int follow[FOLLOWED];
    double high[FOLLOWED];
    int n = 0;
    for (int k = 0; k < s->n_deeds; k++) {
        if (tried >> k & 1U || quick_low(s, k, p, tried, found.low) >= best.high) {
            continue;
        }
        double p_yes = 0;
        struct bounds b = try_deed(s, k, p, tried, (struct reach){0, true}, &p_yes);
        best.low = fmin(best.low, b.low);
        best.high = fmin(best.high, b.high);
        int at = n < FOLLOWED ? n++ : FOLLOWED;
        for (; at > 0 && high[at - 1] > b.high; at--) {
            if (at < FOLLOWED) {
                high[at] = high[at - 1];
                follow[at] = follow[at - 1];
            }
        }
        if (at < FOLLOWED) {
            high[at] = b.high;
            follow[at] = k;
        }
    }
    for (int i = 0; i < n && reach.depth > 1; i++) {
        double p_yes = 0;
        best.high = fmin(best.high, try_deed(s, follow[i], p, tried, one_less(reach), &p_yes).high);
    }
    return best;
}

static int larger(int a, int b)
{
    return a > b ? a : b;
}

/* The bounds of a place, with all that is known of it. p sums to 1. */
static struct bounds look(struct search *s, const double *p, uint64_t tried, struct reach reach)
{
    uint64_t key[2];
    key_of(s, p, tried, key);
    struct kept *kept = keep_at(s, key);
    bool known = kept && kept->key[0] != 0;
    if (known && ((reach.narrow ? kept->narrow : kept->wide) >= reach.depth || met(kept->bounds))) {
        return kept->bounds;
    }
    struct bounds found = known ? kept->bounds : (struct bounds){low_bound(s, p, tried), high_bound(s, p, tried)};
    s->nodes++;
    if (reach.depth > 0 && !met(found)) {
        if (s->nodes >= s->nodes_most) {
            return (struct bounds){fmin(found.low, found.high), found.high};
        }
        struct bounds best =
            reach.narrow ? look_narrow(s, p, tried, reach, found) : look_wide(s, p, tried, reach, found);
        found.high = fmin(found.high, best.high);
        found.low = fmax(found.low, fmin(best.low, found.high));
    }
    found.low = fmin(found.low, found.high);
    kept = keep_at(s, key); /* looking on may have taken the place */
    if (kept) {
        bool fresh = kept->key[0] == 0;
        int deep = s->nodes < s->nodes_most ? reach.depth : 0;
        memcpy(kept->key, key, sizeof key);
        kept->bounds = found;
        kept->wide = larger(fresh ? 0 : kept->wide, reach.narrow ? 0 : deep);
        kept->narrow = larger(fresh ? 0 : kept->narrow, deep);
    }
    return found;
}

/* ---- setting up ---- */

/* Adds one deed if it can tell or change anything. */
static void add_deed(struct search *s, struct deed d)
{
    if (s->n_deeds < STEPS_MOST && isfinite(d.cost)) {
        s->deeds[s->n_deeds++] = d;
    }
}

static bool happened(const struct trace_event *events, int n, enum trace_what what, int index)
{
    for (int i = 0; i < n; i++) {
        if (events[i].what == what && events[i].index == index) {
            return true;
        }
    }
    return false;
}

/* Whether the sign is not the same under every hypothesis that is left. */
static bool tells(const struct search *s, const double *yes)
{
    double least = 1;
    double most = 0;
    for (int i = 0; i < s->b->n; i++) {
        least = s->b->p[i] > 0 ? fmin(least, yes[i]) : least;
        most = s->b->p[i] > 0 ? fmax(most, yes[i]) : most;
    }
    return most - least > 1e-12;
}

/* Repairs first: when there are more than STEPS_MOST, signs are what a plan can do without. */
static void add_deeds(struct search *s, const struct trace_event *events, int n, const struct trace_limits *limits)
{
    const struct trace_model *m = s->m;
    for (int k = 0; k < m->n_repairs; k++) {
        if (!(limits->no_repair && limits->no_repair[k]) && !happened(events, n, TRACE_REPAIR, k)) {
            struct deed d = {TRACE_REPAIR, k, m->repair_cost[k], NULL};
            if (worth(s, &d, s->b->p) > 0) {
                add_deed(s, d);
            }
        }
    }
    for (int k = 0; k < m->n_signs; k++) {
        if (!isfinite(m->sign_cost[k]) || (limits->no_sign && limits->no_sign[k]) ||
            happened(events, n, TRACE_SIGN, k)) {
            continue;
        }
        double *yes = ARENA_ARRAY(s->a, double, s->b->n);
        for (int i = 0; i < s->b->n; i++) {
            yes[i] = belief_sign(s->b, k, i);
        }
        if (tells(s, yes)) {
            add_deed(s, (struct deed){TRACE_SIGN, k, m->sign_cost[k], yes});
        }
    }
}

/* Per cause its repairs by falling cures over cost. */
static void order_fixes(struct search *s)
{
    const struct trace_model *m = s->m;
    s->fixes = ARENA_ARRAY(s->a, int, m->n_causes *(s->n_deeds + 1));
    for (int i = 0; i < m->n_causes; i++) {
        int *at = &s->fixes[i * (s->n_deeds + 1)];
        int n = 0;
        for (int k = 0; k < s->n_deeds; k++) {
            double cures = s->deeds[k].what == TRACE_REPAIR ? m->cures[s->deeds[k].index * m->n_causes + i] : 0;
            int place = n;
            if (cures <= 0) {
                continue;
            }
            for (; place > 0; place--) {
                const struct deed *before = &s->deeds[at[place - 1]];
                if (m->cures[before->index * m->n_causes + i] * s->deeds[k].cost >= cures * before->cost) {
                    break;
                }
                at[place] = at[place - 1];
            }
            at[place] = k;
            n++;
        }
        at[n] = -1;
    }
}

static int by_high(const struct trace_step *a, const struct trace_step *b)
{
    return a->high < b->high ? -1 : a->high > b->high ? 1 : a->low < b->low ? -1 : a->low > b->low ? 1 : 0;
}

static void sort_steps(struct trace_step *at, int n)
{
    for (int i = 1; i < n; i++) {
        struct trace_step step = at[i];
        int k = i;
        for (; k > 0 && by_high(&step, &at[k - 1]) < 0; k--) {
            at[k] = at[k - 1];
        }
        at[k] = step;
    }
}

/* Every first step, looked at as far; the bounds of each get tighter. */
static struct bounds look_at_all(struct search *s, struct reach reach, struct trace_step *at)
{
    double low = s->m->help_cost;
    double high = s->m->help_cost;
    for (int k = 0; k < s->n_deeds; k++) {
        struct bounds b = try_deed(s, k, s->b->p, 0, reach, &at[k].p_yes);
        at[k].low = fmax(at[k].low, b.low);
        at[k].high = fmin(at[k].high, b.high);
        low = fmin(low, at[k].low);
        high = fmin(high, at[k].high);
    }
    return (struct bounds){low, high};
}

/* The plan from where we are. */
static void plan(struct search *s, struct trace_answer *out)
{
    struct trace_step *at = ARENA_ARRAY(s->a, struct trace_step, s->n_deeds + 1);
    struct bounds root = {low_bound(s, s->b->p, 0), high_bound(s, s->b->p, 0)};
    int most = s->nodes_most;
    out->straight = root.high;
    for (int k = 0; k < s->n_deeds; k++) {
        at[k] = (struct trace_step){s->deeds[k].what, s->deeds[k].index, s->deeds[k].cost, 0, 0, (double)INFINITY};
    }
    for (int phase = 0; phase < 2; phase++) {
        s->nodes_most = phase == 0 ? most * 3 / 4 : most;
        for (int depth = 0; depth <= s->n_deeds && (phase || depth <= NARROW_DEEP); depth++) {
            struct bounds b = look_at_all(s, (struct reach){depth, phase == 0}, at);
            root = (struct bounds){fmax(root.low, fmin(b.low, b.high)), fmin(root.high, b.high)};
            if (met(root) || s->nodes >= s->nodes_most) {
                break;
            }
        }
    }
    int n = 0;
    for (int k = 0; k < s->n_deeds; k++) {
        if (isfinite(at[k].high)) {
            at[n++] = at[k];
        }
    }
    at[n++] = (struct trace_step){TRACE_HELP, 0, s->m->help_cost, 1, s->m->help_cost, s->m->help_cost};
    sort_steps(at, n);
    out->steps = at;
    out->n_steps = n;
    out->low = fmin(root.low, root.high);
    out->high = root.high;
    out->exact = met(root);
    out->nodes = s->nodes;
}

/* Leaves out two causes when they are too unlikely to plan for, and counts causes below `ignore` with what is not in
 * the list. */
static void thin(struct belief *b, bool two, double ignore)
{
    double sum = 0;
    int other = b->alone[b->m->n_causes];
    for (int i = 0; i < b->n; i++) {
        b->p[i] = b->h[i].two >= 0 && !two ? 0 : b->p[i];
        sum += b->p[i];
    }
    for (int i = 0; i < b->n; i++) {
        b->p[i] /= sum;
        if (b->p[i] < ignore && i != other) {
            b->p[other] += b->p[i];
            b->p[i] = 0;
        }
    }
}

/* Keeps the hypotheses that are left; those of one cause stay, for two may become one. */
static void pack(struct belief *b, struct arena *a)
{
    struct hypothesis *h = ARENA_ARRAY(a, struct hypothesis, b->n);
    int n = 0;
    for (int i = 0; i < b->n; i++) {
        if (b->p[i] > 0 || b->h[i].two < 0) {
            h[n] = b->h[i];
            b->p[n++] = b->p[i];
        }
    }
    b->h = h;
    b->n = n;
}

/* ---- asking ---- */

static bool check_list(const char *name, const double *at, int n, double low, double high, struct err *e)
{
    for (int i = 0; i < n; i++) {
        if (!domain_within(name, at[i], "", low, high, e)) {
            return false;
        }
    }
    return true;
}

static bool check(const struct trace_model *m, const struct trace_event *events, int n, struct err *e)
{
    if (!domain_within("causes", m->n_causes, "", 1, TRACE_CAUSES, e) ||
        !domain_within("signs", m->n_signs, "", 0, TRACE_SIGNS, e) ||
        !domain_within("repairs", m->n_repairs, "", 0, TRACE_REPAIRS, e) ||
        !check_list("weight of a cause", m->weight, m->n_causes, 1e-9, 1e9, e) ||
        !domain_within("weight of what is not in the list", m->other, "", 0, 1e9, e) ||
        !domain_within("odds of two causes", m->pairs, "", 0, 1e3, e) ||
        !check_list("chance of a sign by itself", m->by_itself, m->n_signs, 0, 1, e) ||
        !check_list("chance of a sign", m->chance, m->n_signs * m->n_causes, 0, 1, e) ||
        !check_list("chance that a repair cures", m->cures, m->n_repairs * m->n_causes, 0, 1, e) ||
        !check_list("cost of a repair", m->repair_cost, m->n_repairs, 1e-9, 1e9, e) ||
        !domain_within("cost of help", m->help_cost, "", 1e-9, 1e9, e)) {
        return false;
    }
    for (int i = 0; i < m->n_signs; i++) {
        if (isfinite(m->sign_cost[i]) && !domain_within("cost of a sign", m->sign_cost[i], "", 1e-9, 1e9, e)) {
            return false;
        }
    }
    for (int i = 0; i < n; i++) {
        int most = events[i].what == TRACE_SIGN ? m->n_signs : events[i].what == TRACE_REPAIR ? m->n_repairs : 0;
        if (!domain_within("number of what was seen or done", events[i].index, "", 0, most - 1, e)) {
            return false;
        }
    }
    return true;
}

bool trace_probabilities(const struct trace_model *m, const struct trace_event *events, int n, struct arena *a,
                         double *p_cause, double *p_other, double *p_two, double *p_seen, struct err *e)
{
    if (!check(m, events, n, e)) {
        return false;
    }
    struct belief b = belief_new(m, m->pairs > 0, a);
    if (!belief_take(&b, events, n, e)) {
        return false;
    }
    memset(p_cause, 0, (size_t)m->n_causes * sizeof *p_cause);
    *p_other = *p_two = 0;
    *p_seen = b.seen;
    for (int i = 0; i < b.n; i++) {
        *(b.h[i].one < 0 ? p_other : &p_cause[b.h[i].one]) += b.p[i];
        if (b.h[i].two >= 0) {
            p_cause[b.h[i].two] += b.p[i];
            *p_two += b.p[i];
        }
    }
    return true;
}

bool trace_ask(const struct trace_model *m, const struct trace_event *events, int n, const struct trace_limits *limits,
               struct arena *a, struct trace_answer *out, struct err *e)
{
    *out = (struct trace_answer){.exact = true, .p_cause = ARENA_ARRAY(a, double, m->n_causes > 0 ? m->n_causes : 1)};
    if (!trace_probabilities(m, events, n, a, out->p_cause, &out->p_other, &out->p_two, &out->p_seen, e)) {
        return false;
    }
    for (int i = 0; i < n; i++) {
        if (events[i].what == TRACE_REPAIR && events[i].yes) {
            return true; /* it is right again: nothing to plan */
        }
    }
    out->two = out->p_two >= TRACE_TWO;
    struct belief b = belief_new(m, out->two, a);
    if (!belief_take(&b, events, n, e)) {
        return false;
    }
    thin(&b, out->two, limits->ignore);
    pack(&b, a);
    size_t kept = 1024;
    while (kept < (size_t)limits->nodes) {
        kept *= 2;
    }
    struct search s = {.m = m,
                       .b = &b,
                       .a = a,
                       .deeds = ARENA_ARRAY(a, struct deed, STEPS_MOST),
                       .kept = ARENA_ARRAY(a, struct kept, kept),
                       .n_kept = kept,
                       .nodes_most = limits->nodes};
    add_deeds(&s, events, n, limits);
    order_fixes(&s);
    plan(&s, out);
    return true;
}
