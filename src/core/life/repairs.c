/* Sums over event times: Nelson's plot and Crow's process. */
#include "life/repairs.h"

#include "quantity/domain.h"
#include "stats/numeric.h"
#include "stats/special.h"

#include <math.h>
#include <stdlib.h>

static bool check_histories(const struct repair_history *h, size_t n, size_t *events, struct err *e)
{
    *events = 0;
    if (n == 0) {
        return domain_refuse("no machine", "at least one", e);
    }
    for (size_t i = 0; i < n; i++) {
        if (!domain_above("end of observation", h[i].end, "", 0, e)) {
            return false;
        }
        for (size_t k = 0; k < h[i].n; k++) {
            if (!domain_above("event", h[i].events[k], "", 0, e) ||
                !domain_within("event (up to the end of observation)", h[i].events[k], "", 0, h[i].end, e)) {
                return false;
            }
            if (k > 0 && h[i].events[k] < h[i].events[k - 1]) {
                return domain_refuse("events that do not rise", "events in the order in which they came", e);
            }
        }
        *events += h[i].n;
    }
    return true;
}

static int rising(const void *a, const void *b)
{
    double x = *(const double *)a;
    double y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Events of a machine at exactly that time. */
static double events_at(const struct repair_history *h, double t)
{
    double count = 0;
    for (size_t k = 0; k < h->n; k++) {
        count += h->events[k] == t;
    }
    return count;
}

/* Adds Nelson's variance of this step and twice its covariance with each earlier one, over the machines at risk now. */
static double nelson_step(const struct repair_history *h, size_t n, const struct mcf_step *steps, size_t now)
{
    const struct mcf_step *s = &steps[now];
    double mean = s->events / s->at_risk;
    double sum = 0;
    for (size_t j = 0; j <= now; j++) {
        double cross = 0;
        for (size_t i = 0; i < n; i++) {
            cross += h[i].end >= s->time ? (events_at(&h[i], s->time) - mean) * events_at(&h[i], steps[j].time) : 0;
        }
        cross /= s->at_risk - 1;
        sum += (j == now ? 1 : 2) * cross / steps[j].at_risk;
    }
    return sum;
}

bool repairs_mcf(const struct repair_history *h, size_t n, double confidence, struct mcf_step **steps, size_t *n_steps,
                 struct arena *a, struct err *e)
{
    size_t events = 0;
    if (!check_histories(h, n, &events, e) || !domain_within("confidence", confidence, "", 0.5, 0.9999, e)) {
        return false;
    }
    double *times = ARENA_ARRAY(a, double, events + 1);
    size_t count = 0;
    for (size_t i = 0; i < n; i++) {
        for (size_t k = 0; k < h[i].n; k++) {
            times[count++] = h[i].events[k];
        }
    }
    qsort(times, count, sizeof *times, rising);
    struct mcf_step *list = ARENA_ARRAY(a, struct mcf_step, count + 1);
    double *residual = ARENA_ARRAY(a, double, n); /* of each machine, summed so far */
    double z = normal_quantile(tails_of_q((1 - confidence) / 2));
    double mcf = 0;
    double nelson = 0;
    size_t made = 0;
    for (size_t k = 0; k < count; k++) {
        if (k > 0 && times[k] == times[k - 1]) {
            continue;
        }
        struct mcf_step *s = &list[made];
        *s = (struct mcf_step){.time = times[k]};
        for (size_t i = 0; i < n; i++) {
            s->at_risk += h[i].end >= s->time;
            s->events += events_at(&h[i], s->time);
        }
        mcf += s->events / s->at_risk;
        s->mcf = mcf;
        for (size_t i = 0; i < n; i++) {
            residual[i] += h[i].end >= s->time ? (events_at(&h[i], s->time) - s->events / s->at_risk) / s->at_risk : 0;
            s->robust += residual[i] * residual[i];
        }
        nelson += s->at_risk > 1 ? nelson_step(h, n, list, made) : (double)NAN;
        s->nelson = nelson;
        double spread = z * sqrt(s->robust);
        s->plain[0] = mcf - spread;
        s->plain[1] = mcf + spread;
        s->log[0] = mcf * exp(-spread / mcf);
        s->log[1] = mcf * exp(spread / mcf);
        made++;
    }
    *steps = list;
    *n_steps = made;
    return true;
}

struct crow {
    const struct repair_history *h;
    size_t n;
    double events, log_sum;
};

/* Score of beta with lambda profiled out: N/beta + sum ln t - N sum T^beta ln T / sum T^beta; falls with beta. */
static double crow_score(void *ctx, double log_beta)
{
    const struct crow *c = ctx;
    double beta = exp(log_beta);
    double weight = 0;
    double weighted = 0;
    double longest = 0;
    for (size_t i = 0; i < c->n; i++) {
        longest = fmax(longest, c->h[i].end);
    }
    for (size_t i = 0; i < c->n; i++) {
        double power = pow(c->h[i].end / longest, beta);
        weight += power;
        weighted += power * log(c->h[i].end);
    }
    return c->events / beta + c->log_sum - c->events * weighted / weight;
}

/* What only one machine's history gives. */
static void single_machine(const struct repair_history *h, bool failure_truncated, double confidence, double log_ratios,
                           struct power_law *p)
{
    double n = (double)p->n;
    double half = (1 - confidence) / 2;
    p->beta_unbiased = (failure_truncated ? n - 2 : n - 1) / log_ratios;
    p->beta_low = p->beta * chi_square_quantile(tails_of_p(half), p->df) / (2 * n);
    p->beta_high = p->beta * chi_square_quantile(tails_of_q(half), p->df) / (2 * n);
    p->intensity = p->lambda * p->beta * pow(h->end, p->beta - 1);
    size_t m = failure_truncated ? h->n - 1 : h->n;
    double sum = 1 / (12 * (double)m);
    for (size_t i = 0; i < m; i++) {
        double off = pow(h->events[i] / h->end, p->beta_unbiased) - (2 * (double)i + 1) / (2 * (double)m);
        sum += off * off;
    }
    p->cramer_von_mises = sum;
    for (size_t i = 0; i < h->n; i++) {
        double gap = h->events[i] - (i ? h->events[i - 1] : 0);
        for (size_t k = i + 1; k < h->n; k++) {
            p->reverse_arrangements += gap < h->events[k] - h->events[k - 1];
        }
    }
}

bool repairs_power_law(const struct repair_history *h, size_t n, bool failure_truncated, double confidence,
                       struct power_law *out, struct err *e)
{
    struct power_law p = {0};
    if (!check_histories(h, n, &p.n, e) || !domain_within("confidence", confidence, "", 0.5, 0.9999, e)) {
        return false;
    }
    if (failure_truncated && n != 1) {
        return domain_refuse("observation that ends with an event, of several machines",
                             "one machine, or each observed to a set time", e);
    }
    if (p.n < (failure_truncated ? 3U : 2U)) {
        return domain_refuse("too few events for a trend", failure_truncated ? "at least three" : "at least two", e);
    }
    double events = (double)p.n;
    double log_ratios = 0;
    double centred = 0;
    double spread = 0;
    struct crow c = {h, n, events, 0};
    for (size_t i = 0; i < n; i++) {
        size_t counted = failure_truncated ? h[i].n - 1 : h[i].n; /* the last event is the end itself */
        for (size_t k = 0; k < h[i].n; k++) {
            c.log_sum += log(h[i].events[k]);
            log_ratios += log(h[i].end / h[i].events[k]);
            centred += k < counted ? h[i].events[k] - h[i].end / 2 : 0;
        }
        spread += (double)counted * h[i].end * h[i].end / 12;
    }
    double root = 0;
    if (!(log_ratios > 0) || !find_root(crow_score, &c, log(1e-6), log(1e6), &root)) {
        return domain_refuse("all events at the end of observation", "events before it", e);
    }
    p.beta = exp(root);
    double powers = 0;
    for (size_t i = 0; i < n; i++) {
        powers += pow(h[i].end, p.beta);
    }
    p.lambda = events / powers;
    p.log_likelihood = events * log(p.lambda * p.beta) + (p.beta - 1) * c.log_sum - events;
    p.chi_square = 2 * log_ratios;
    p.df = failure_truncated ? 2 * (events - 1) : 2 * events;
    struct tails t = chi_square_tails(p.chi_square, p.df);
    p.p_lower = t.p;
    p.p_upper = t.q;
    p.laplace = centred / sqrt(spread);
    p.laplace_p = fmin(1, 2 * normal_tails(fabs(p.laplace)).q);
    if (n == 1) {
        single_machine(h, failure_truncated, confidence, log_ratios, &p);
    }
    *out = p;
    return true;
}

bool repairs_mtbf_limits(size_t events, double mtbf, double confidence, struct mtbf_limits *out, struct err *e)
{
    double n = (double)events;
    if (!domain_within("events", n, "", 2, 1e9, e) || !domain_above("mean time between failures", mtbf, "", 0, e) ||
        !domain_within("confidence", confidence, "", 0.5, 0.9999, e)) {
        return false;
    }
    double z = normal_quantile(tails_of_q((1 - confidence) / 2));
    double low = n + z * z / 4 + sqrt(n * z * z / 2 + z * z * z * z / 16);
    double high = n - z * sqrt(n / 2);
    if (!domain_above("events less their spread (too few for an upper limit)", high, "", 0, e)) {
        return false;
    }
    *out = (struct mtbf_limits){mtbf * n * (n - 1) / (low * low), mtbf * n * (n - 1) / (high * high)};
    return true;
}
