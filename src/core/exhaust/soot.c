/* The filter's numbers and a machine's own rates. */
#include "exhaust/soot.h"

#include "quantity/domain.h"

#include <math.h>

#define DAY_H 8.0        /* a day's work has one factor; common practice, no source */
#define JOB_H 40.0       /* an unknown duty stays the same for about a week's work; common practice, no source */
#define COMMON_PART 0.8  /* of the variance between machines is common to all duties; our own choice */
#define DRIFT_100H 0.1   /* by how much a machine's rates wander in 100 h; our own choice */
#define SHORTEST_H 0.25  /* shorter stretches tell nothing */
#define TOO_LOW 4.0      /* deviations; then a burn went unseen */
#define UNSEEN_TIMES 3.0 /* so much longer than expected: a burn went unseen */
#define LEAST_TO_BEGIN_H 4.0
#define LEAST_SHARE 0.1 /* a learned rate never falls below this part of the book's */

static bool check_duty(const struct soot_duty *d, struct err *e)
{
    return domain_within("soot made an hour", d->made, "%", 1e-4, 1, e) &&
           domain_within("share burnt off an hour", d->burnt, "%", 0, 1, e) &&
           domain_within("chance that a burn is finished", d->finish, "%", 0, 1, e) &&
           domain_within("share of the usual hours", d->share, "%", 0, 1, e);
}

bool soot_filter_check(const struct soot_filter *f, struct err *e)
{
    double shares = 0;
    if (f->n_duties < 1 || f->n_duties > SOOT_DUTIES_MOST) {
        return domain_refuse("no duty, or too many", "1 to 12 duties", e);
    }
    for (int i = 0; i < f->n_duties; i++) {
        if (!check_duty(&f->duty[i], e)) {
            return false;
        }
        shares += f->duty[i].share;
    }
    bool rising = f->active_leaves >= 0 && f->parked_leaves >= 0 && f->active_leaves < f->begin &&
                  f->parked_leaves < f->begin && f->begin < f->demand && f->demand < f->derate && f->derate < f->past;
    if (!rising) {
        return domain_refuse("the loads do not rise",
                             "what a burn leaves < begins < demanded < power reduced < past field burning", e);
    }
    return domain_within("load past field burning", f->past, "%", 0, 2.9, e) &&
           domain_within("sum of the shares", shares, "%", 0.01, SOOT_DUTIES_MOST, e) &&
           domain_within("spread between machines", f->spread, "%", 0.01, 1, e) &&
           domain_within("scatter of a day", f->scatter, "%", 0, 0.5, e) &&
           domain_within("uncertainty of the gauge", f->gauge, "%", 1e-4, 0.5, e);
}

static double shares_of(const struct soot_filter *f)
{
    double sum = 0;
    for (int i = 0; i < f->n_duties; i++) {
        sum += f->duty[i].share;
    }
    return sum;
}

struct soot_duty soot_duty_of(const struct soot_filter *f, int duty)
{
    if (duty != SOOT_USUAL) {
        return f->duty[duty];
    }
    struct soot_duty mean = {.share = 1};
    double all = shares_of(f);
    for (int i = 0; i < f->n_duties; i++) {
        double w = f->duty[i].share / all;
        mean.made += w * f->duty[i].made;
        mean.burnt += w * f->duty[i].burnt;
        mean.finish += w * f->duty[i].finish;
    }
    return mean;
}

struct soot_rates soot_rates_of_book(const struct soot_filter *f)
{
    struct soot_rates r = {0};
    double common = f->spread * f->spread * COMMON_PART;
    double own = f->spread * f->spread * (1 - COMMON_PART);
    for (int i = 0; i < f->n_duties; i++) {
        r.made[i] = f->duty[i].made;
        for (int k = 0; k < f->n_duties; k++) {
            r.cov[i][k] = f->duty[i].made * f->duty[k].made * (common + (i == k ? own : 0));
        }
    }
    return r;
}

/* Weights of the rates in a load after so many hours, and what is left of the load before. */
static double weights(const struct soot_filter *f, const struct soot_stretch *s, double *w)
{
    double all = shares_of(f);
    double burnt = 0;
    for (int i = 0; i < f->n_duties; i++) {
        w[i] = s->by_duty ? s->by_duty[i] : s->hours * f->duty[i].share / all;
        burnt += w[i] * f->duty[i].burnt;
    }
    /* Duties in unknown order: as if all the time in proportion. What is made burns off from then on. */
    double kept = burnt > 1e-9 ? -expm1(-burnt) / burnt : 1;
    for (int i = 0; i < f->n_duties; i++) {
        w[i] *= kept;
    }
    return exp(-burnt);
}

/* Variance of what the days make, and of the duties where they are not known. */
static double day_variance(const struct soot_filter *f, const struct soot_rates *r, const struct soot_stretch *s,
                           const double *w)
{
    double made = 0;
    double weight = 0;
    for (int i = 0; i < f->n_duties; i++) {
        made += w[i] * r->made[i];
        weight += w[i];
    }
    double mean = weight > 0 ? made / weight : 0;
    double days = fmin(s->hours, DAY_H) / s->hours;
    double variance = f->scatter * f->scatter * made * made * days;
    for (int i = 0; i < f->n_duties && !s->by_duty && weight > 0; i++) {
        double off = r->made[i] - mean;
        variance += w[i] / weight * off * off * weight * weight * fmin(s->hours, JOB_H) / s->hours;
    }
    return variance;
}

/* Rates wander: the variances grow with the hours. */
static void wander(const struct soot_filter *f, struct soot_rates *r, double hours)
{
    double grown = DRIFT_100H * DRIFT_100H * hours / 100;
    double most = f->spread * f->spread;
    for (int i = 0; i < f->n_duties; i++) {
        for (int k = 0; k < f->n_duties; k++) {
            double room = fmax(0, most - r->cov[i][i] / (f->duty[i].made * f->duty[i].made));
            r->cov[i][k] += f->duty[i].made * f->duty[k].made * fmin(grown, room) * (i == k ? 1 : COMMON_PART);
        }
    }
}

/* Hours from a load to where the engine begins to burn, at the mean rates; INFINITY when it burns off as fast. */
static double hours_to_begin(const struct soot_filter *f, const struct soot_rates *r, double from)
{
    double ignored = 0;
    double made = soot_rate(f, r, SOOT_USUAL, &ignored);
    double burnt = soot_duty_of(f, SOOT_USUAL).burnt;
    if (from >= f->begin) {
        return 0;
    }
    if (burnt < 1e-9) {
        return (f->begin - from) / made;
    }
    double even = made / burnt;
    return even > f->begin ? log((even - from) / (even - f->begin)) / burnt : (double)INFINITY;
}

bool soot_learn(const struct soot_filter *f, struct soot_rates *r, const struct soot_stretch *s)
{
    double w[SOOT_DUTIES_MOST];
    double pw[SOOT_DUTIES_MOST];
    if (!(s->hours >= SHORTEST_H) || !isfinite(s->to) || !isfinite(s->from)) {
        return false;
    }
    if (s->may_burn && s->hours > UNSEEN_TIMES * fmax(hours_to_begin(f, r, s->from), LEAST_TO_BEGIN_H)) {
        r->left_out++;
        return false;
    }
    double kept = weights(f, s, w);
    double expected = s->from * kept;
    double variance = s->to_sd * s->to_sd + kept * kept * s->from_sd * s->from_sd + day_variance(f, r, s, w);
    for (int i = 0; i < f->n_duties; i++) {
        pw[i] = 0;
        for (int k = 0; k < f->n_duties; k++) {
            pw[i] += r->cov[i][k] * w[k];
        }
    }
    for (int i = 0; i < f->n_duties; i++) {
        expected += w[i] * r->made[i];
        variance += w[i] * pw[i];
    }
    double off = s->to - expected;
    if (off < -TOO_LOW * sqrt(variance) || s->to < s->from * kept - TOO_LOW * hypot(s->to_sd, s->from_sd)) {
        r->left_out++;
        return false;
    }
    for (int i = 0; i < f->n_duties; i++) {
        r->made[i] = fmax(LEAST_SHARE * f->duty[i].made, r->made[i] + pw[i] * off / variance);
        for (int k = 0; k < f->n_duties; k++) {
            r->cov[i][k] -= pw[i] * pw[k] / variance;
        }
    }
    wander(f, r, s->hours);
    r->used++;
    r->hours += s->hours;
    return true;
}

double soot_rate(const struct soot_filter *f, const struct soot_rates *r, int duty, double *deviation)
{
    if (duty != SOOT_USUAL) {
        *deviation = sqrt(fmax(0, r->cov[duty][duty]));
        return r->made[duty];
    }
    double all = shares_of(f);
    double mean = 0;
    double variance = 0;
    for (int i = 0; i < f->n_duties; i++) {
        mean += f->duty[i].share / all * r->made[i];
        for (int k = 0; k < f->n_duties; k++) {
            variance += f->duty[i].share / all * f->duty[k].share / all * r->cov[i][k];
        }
    }
    *deviation = sqrt(fmax(0, variance));
    return mean;
}
