/* One machine's history along the clock, its posterior, and first passages by the incomplete beta ratio. */
#include "usage_internal.h"

#include <math.h>

#define WRONG_SPLIT 0.01 /* prior of a wrong reading against a right one: a slip in a hundred */
#define FAR_DAYS 36525.0

#define EVEN_DAYS 30.0 /* clock over which g is told */

#define SEASON_VARIANCE 0.5 /* of the logarithm of use between seasons, unseen: a factor of two; no source */

double usage_unsure(const struct usage_clock *clock, double C)
{
    return 1 / (1 / C + SEASON_VARIANCE * clock->unknown);
}

double usage_evenness(double g, double n, double s)
{
    return n > 0 ? g * pow(s / EVEN_DAYS, -n) : g;
}

double usage_log_density(double kappa, double h, double C, double D)
{
    double log_ratio = lgamma(C + kappa) - lgamma(C);
    if (h <
        USAGE_LEAST_H) { /* P(kappa, b r) for small b r is (b r)^kappa / Gamma(kappa + 1), and b is integrated out */
        return fmin(0, kappa * log(USAGE_LEAST_H) + log_ratio - lgamma(kappa + 1) + C * log(D) -
                           (C + kappa) * log(D + USAGE_LEAST_H));
    }
    return (kappa - 1) * log(h) + log_ratio - lgamma(kappa) + C * log(D) - (C + kappa) * log(D + h) +
           log(2 * USAGE_LEAST_H);
}

/* ln of the density at which the reading between two steps splits their hours, Beta(k s1, k s2); 0 where nothing can be
 * said. Only what lies two deviations out is worth three logarithms of gamma. */
static double log_split(const struct usage_step *one, const struct usage_step *two, double k)
{
    if (one->h < USAGE_LEAST_H || two->h < USAGE_LEAST_H) {
        return 0; /* standing still is no slip of the pen */
    }
    double a = k * one->s;
    double b = k * two->s;
    double part = one->h / (one->h + two->h);
    double off = part - a / (a + b);
    if (off * off < 4 * a * b / ((a + b) * (a + b) * (a + b + 1))) {
        return 0;
    }
    return (a - 1) * log(part) + (b - 1) * log1p(-part) - log_beta(a, b);
}

/* Leaves out the readings that split impossibly, the worst of neighbours first. */
static void leave_out_wrong(struct arena *a, struct usage_steps *st, double k)
{
    struct arena_mark mark = arena_mark(a);
    double *split = ARENA_ARRAY(a, double, st->n + 1); /* [i]: the reading between steps i - 1 and i */
    bool again = st->n > 1;
    for (int pass = 0; pass < 3 && again; pass++) {
        again = false;
        for (int i = 1; i < st->n; i++) {
            split[i] = log_split(&st->at[i - 1], &st->at[i], k);
        }
        split[0] = split[st->n] = 0;
        int to = 1;
        for (int i = 1; i < st->n; i++) {
            if (split[i] < log(WRONG_SPLIT) && split[i] <= split[i - 1] && split[i] < split[i + 1]) {
                struct usage_step *joined = &st->at[to - 1];
                joined->to = st->at[i].to;
                joined->s += st->at[i].s;
                joined->h += st->at[i].h;
                st->left_out++;
                again = true;
            } else {
                st->at[to++] = st->at[i];
            }
        }
        st->n = to;
    }
    arena_rewind(a, mark);
}

/* The last reading has no successor to judge it by: a step that is far too long counts by the probability that it is
 * right, against a wrong one anywhere up to 24 h a day. */
static void doubt_last(struct usage_steps *st, double k, double c, double d)
{
    double s = 0;
    double h = 0;
    for (int i = 0; i + 1 < st->n; i++) {
        s += st->at[i].s;
        h += st->at[i].h;
    }
    struct usage_step *last = &st->at[st->n - 1];
    double C = c + k * s;
    double D = d + h;
    if (last->h * (C - 1) > 2 * k * last->s * D) { /* more than twice what is expected */
        double right = usage_log_density(k * last->s, last->h, C, D);
        double wrong = log(2 * USAGE_LEAST_H / (24 * (last->to - last->from) + 0.5)) + log(WRONG_SPLIT);
        last->w = 1 / (1 + exp(wrong - right));
    }
}

struct usage_steps usage_steps_of(struct arena *a, const struct usage_clock *clock, const struct usage_machine *m,
                                  double until, double k, double c, double d)
{
    struct usage_steps st = {.at = ARENA_ARRAY(a, struct usage_step, m->n + 1)};
    int from = -1; /* the reading before */
    for (int i = 0; i < m->n && m->day[i] <= until; i++) {
        st.last_day = m->day[i];
        st.last_total = m->total[i];
        st.any = true;
        bool last = i + 1 == m->n || m->day[i + 1] > until;
        if (from >= 0 && m->day[i] - m->day[from] < USAGE_LEAST_DAYS) {
            if (last && st.n > 0) { /* the later of two close ones ends the history */
                struct usage_step *step = &st.at[st.n - 1];
                step->to = m->day[i];
                step->h += m->total[i] - m->total[from];
                step->s += usage_clock_between(clock, m, m->day[from], m->day[i]);
            }
            continue;
        }
        double s = from < 0 ? 0 : usage_clock_between(clock, m, m->day[from], m->day[i]);
        if (s > 1e-3) { /* hours gained out of service count for nothing */
            st.at[st.n++] = (struct usage_step){m->day[from], m->day[i], s, fmax(0, m->total[i] - m->total[from]), 1};
        }
        from = i;
    }
    if (k > 0 && st.n > 0) {
        leave_out_wrong(a, &st, k);
        doubt_last(&st, k, c, d);
    }
    return st;
}

static double civil_day(instant_ms at, int offset_minutes)
{
    return ((double)at + offset_minutes * 60000.0) / 86400000.0;
}

struct usage_machine usage_machine_of(struct arena *a, const struct meter_history *h, const struct meter_pause *pauses,
                                      int n_pauses, int offset_minutes, int family)
{
    double *day = ARENA_ARRAY(a, double, h->n + 1);
    double *total = ARENA_ARRAY(a, double, h->n + 1);
    double(*out)[2] = arena_alloc(a, (size_t)n_pauses + 1, sizeof *out);
    struct usage_machine m = {.family = family, .day = day, .total = total, .pauses = (const double(*)[2])out};
    for (int i = 0; i < h->n; i++) {
        const struct meter_reading *r = &h->readings[i];
        double at = civil_day(r->at, offset_minutes);
        if (r->flag == METER_GOOD && (m.n == 0 || (at > day[m.n - 1] && r->total >= total[m.n - 1]))) {
            day[m.n] = at;
            total[m.n++] = r->total;
        }
    }
    for (int i = 0; i < n_pauses; i++) {
        out[i][0] = civil_day(pauses[i].from, offset_minutes);
        out[i][1] = civil_day(pauses[i].to, offset_minutes);
    }
    m.n_pauses = n_pauses;
    return m;
}

struct usage_state usage_state_of(struct arena *scratch, const struct usage_model *model, const struct usage_machine *m,
                                  double until)
{
    struct usage_state u = {.clock = &model->clock};
    if (!model->fitted || m->n == 0) {
        return u;
    }
    struct arena_mark mark = arena_mark(scratch);
    struct usage_steps st = usage_steps_of(scratch, &model->clock, m, until, model->k, model->c, model->d);
    for (int i = 0; i < st.n; i++) {
        double w = st.at[i].w * exp(-(st.last_day - st.at[i].to) / model->weight.forget);
        u.s += w * st.at[i].s;
        u.hours += w * st.at[i].h;
    }
    u.steps = st.n;
    arena_rewind(scratch, mark);
    if (!st.any) {
        return u;
    }
    u.known = true;
    u.day = st.last_day;
    u.total = st.last_total;
    u.k = model->k;
    u.g = model->weight.g;
    u.n = model->weight.n;
    u.c = model->c + model->weight.a * model->k * u.s;
    u.d = model->d + model->weight.a * u.hours;
    double unsure = usage_unsure(&model->clock, u.c);
    u.d *= unsure / u.c; /* the mean rate stays */
    u.c = unsure;
    u.start = usage_clock_at(&model->clock, u.day);
    for (int i = 0; i < m->n_pauses; i++) {
        double low = fmax(u.day, m->pauses[i][0]);
        double high = fmin(until, m->pauses[i][1]);
        if (high > low) {
            u.start += usage_clock_at(&model->clock, high) - usage_clock_at(&model->clock, low);
        }
    }
    return u;
}

struct tails usage_passage(const struct usage_state *u, double L, double day)
{
    if (!u->known || isnan(L) || isnan(day)) {
        return (struct tails){NAN, NAN};
    }
    if (!(L > 0)) {
        return (struct tails){1, 0};
    }
    double s = usage_clock_at(u->clock, day) - u->start;
    if (!(s > 0)) {
        return (struct tails){0, 1};
    }
    double even = usage_evenness(u->g, u->n, s);
    double d = u->d / even;
    struct tails below = beta_ratio(L / (L + d), d / (L + d), even * u->k * s, u->c);
    return (struct tails){below.q, below.p};
}

/* Paulson's normal deviate of the F distribution with 2 kappa and 2 C degrees of freedom (Wilson and Hilferty's cube
 * root for both): P(Gamma(kappa) / Gamma(C) >= ratio kappa^-power) is about Phi of it. *slope: its derivative by ln
 * kappa. */
static double about_normal(double kappa, double ratio_c, double power, double C, double *slope)
{
    double root = cbrt(ratio_c * pow(kappa, -power - 1));
    double top = (1 - 1 / (9 * kappa)) - (1 - 1 / (9 * C)) * root;
    double spread = sqrt(root * root / (9 * C) + 1 / (9 * kappa));
    double d_root = -(1 + power) / 3 * root;
    double d_top = 1 / (9 * kappa) - (1 - 1 / (9 * C)) * d_root;
    double d_spread = (2 * root * d_root / (9 * C) - 1 / (9 * kappa)) / (2 * spread);
    *slope = (d_top - top / spread * d_spread) / spread;
    return top / spread;
}

/* A first ln kappa by Newton on the approximation. */
static double first_guess(double ratio_c, double power, double C, double z, double guess)
{
    double u = guess > 0 ? log(guess) : log(pow(ratio_c, 1 / (1 + power)) + 0.3);
    for (int i = 0; i < 12; i++) {
        double slope = 0;
        double off = about_normal(exp(u), ratio_c, power, C, &slope) - z;
        if (!(slope > 1e-3)) {
            break;
        }
        double step = off / slope;
        step = step > 1 ? 1 : step < -1 ? -1 : step;
        u -= step;
        if (fabs(step) < 1e-4) {
            break;
        }
    }
    return u;
}

/* Secant steps on the normal deviate as a function of ln kappa, which is nearly straight, inside a bracket. */
double usage_shape_quantile(double ratio, double power, double C, struct tails p, double guess)
{
    if (!(ratio > 0) || !(C > 0) || !(p.p > 0) || !(p.q > 0)) {
        return ratio == 0 && C > 0 ? 0 : (double)NAN;
    }
    double z = normal_quantile(p);
    double u = first_guess(ratio * C, power, C, z, guess);
    double slope = 0;
    (void)about_normal(exp(u), ratio * C, power, C, &slope);
    slope = slope > 0.05 ? slope : 0.5;
    double low = -700;
    double high = 700;
    double before_u = 0;
    double before = 0;
    for (int i = 0; i < 200; i++) {
        double r = ratio * exp(-power * u);
        struct tails at = beta_ratio(r / (1 + r), 1 / (1 + r), exp(u), C);
        double off = at.p <= 0 ? 8 - z : at.q <= 0 ? -8 - z : normal_quantile((struct tails){at.q, at.p}) - z;
        if (off > 0) {
            high = u;
        } else {
            low = u;
        }
        if (i > 0 && u != before_u && (off - before) / (u - before_u) > 1e-6) {
            slope = (off - before) / (u - before_u);
        }
        before_u = u;
        before = off;
        double next = u - off / slope;
        if (!(next > low && next < high)) {
            next = low > -700 && high < 700 ? (low + high) / 2 : low > -700 ? low + 2 : high - 2;
        }
        if (fabs(next - u) < 1e-11 * (1 + fabs(u)) || high - low < 1e-13 * (1 + fabs(u))) {
            return exp(next);
        }
        u = next;
    }
    return exp(u);
}

void usage_quantiles(const struct usage_state *u, double L, const double *p, int n, double *day)
{
    /* kappa = e k s with e = g (s/30)^-n, so s = (kappa / (k g 30^n))^(1/(1-n)), and L e / D = ratio kappa^-power. */
    double per_day = u->k * u->g * pow(EVEN_DAYS, u->n);
    double power = u->n / (1 - u->n);
    double ratio = L / u->d * u->g * pow(EVEN_DAYS, u->n) * pow(per_day, power);
    double guess = 0;
    for (int i = 0; i < n; i++) {
        if (!u->known || isnan(L) || !(p[i] > 0 && p[i] < 1) || !(L > 0)) {
            day[i] = !u->known || isnan(L) || !(p[i] > 0 && p[i] < 1) ? (double)NAN : u->day;
            continue;
        }
        double kappa = usage_shape_quantile(ratio, power, u->c, tails_of_p(p[i]), guess);
        guess = kappa;
        double s = u->start + (u->n > 0 ? pow(kappa / per_day, 1 / (1 - u->n)) : kappa / per_day);
        day[i] = usage_clock_day(u->clock, s);
        if (!(day[i] < u->day + FAR_DAYS)) {
            day[i] = (double)INFINITY;
        }
    }
}

double usage_quantile(const struct usage_state *u, double L, double p)
{
    double day = 0;
    usage_quantiles(u, L, &p, 1, &day);
    return day;
}
