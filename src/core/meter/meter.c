/* Cleaning an hour meter and finding its recent rate. */
#include "meter/meter.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define HOUR_MS 3600000.0
#define DAY_MS 86400000.0
#define MINUTE_MS 60000
#define ROUNDING_H 0.5 /* a reading is rounded, and its time too */
#define LOOK_BACK 400  /* how far back a chain may reach over bad readings */

const char *meter_flag_text(enum meter_flag flag)
{
    static const char *const texts[] = {
#define X(symbol, text) [symbol] = (text),
        METER_FLAGS(X)
#undef X
    };
    return texts[flag];
}

static int by_time(const void *a, const void *b)
{
    const struct meter_reading *x = a;
    const struct meter_reading *y = b;
    if (x->at != y->at) {
        return x->at < y->at ? -1 : 1;
    }
    return x->source < y->source ? -1 : x->source > y->source;
}

static int by_swap_time(const void *a, const void *b)
{
    const struct meter_swap *x = a;
    const struct meter_swap *y = b;
    return x->at < y->at ? -1 : x->at > y->at;
}

/* May `later` follow `earlier` on one meter? */
static bool follows(const struct meter_reading *earlier, const struct meter_reading *later)
{
    double passed_h = (double)(later->at - earlier->at) / HOUR_MS;
    return later->hours >= earlier->hours && later->hours - earlier->hours <= passed_h + ROUNDING_H;
}

/* Flags the readings of one meter: the longest chain is good. `reach` bounds are null or a reading that ends the meter.
 */
static void clean_one_meter(struct arena *a, struct meter_reading *r, int n)
{
    int *length = ARENA_ARRAY(a, int, n);
    int *before = ARENA_ARRAY(a, int, n);
    int best = -1;
    for (int i = 0; i < n; i++) {
        before[i] = -1;
        length[i] = isfinite(r[i].hours) && r[i].hours >= 0 ? 1 : 0;
        for (int j = i - 1; j >= 0 && j >= i - LOOK_BACK && length[i] > 0; j--) {
            if (length[j] >= length[i] && follows(&r[j], &r[i])) {
                length[i] = length[j] + 1;
                before[i] = j;
            }
        }
        if (length[i] > 0 && (best < 0 || length[i] >= length[best])) {
            best = i;
        }
    }
    for (int i = 0; i < n; i++) {
        r[i].flag = METER_BACKWARDS;
    }
    for (int i = best; i >= 0; i = before[i]) {
        r[i].flag = METER_GOOD;
    }
    /* Say of each one left out what is wrong with it, against its good neighbours; and of good ones, which repeat. */
    const struct meter_reading *last = NULL;
    for (int i = 0; i < n; i++) {
        if (r[i].flag == METER_GOOD) {
            if (last && r[i].hours <= last->hours && r[i].at - last->at < MINUTE_MS) {
                r[i].flag = METER_SAME;
            } else {
                last = &r[i];
            }
        } else if (last && r[i].hours >= last->hours) {
            double passed_h = (double)(r[i].at - last->at) / HOUR_MS;
            r[i].flag = r[i].hours - last->hours > passed_h + ROUNDING_H ? METER_TOO_FAST : METER_BACKWARDS;
        }
    }
}

struct meter_history meter_clean(struct arena *a, const struct meter_reading *readings, int n,
                                 const struct meter_swap *swaps, int n_swaps)
{
    struct meter_history h = {.readings = ARENA_ARRAY(a, struct meter_reading, n), .n = n};
    if (n) {
        memcpy(h.readings, readings, (size_t)n * sizeof *readings);
        qsort(h.readings, (size_t)n, sizeof *h.readings, by_time);
    }
    struct meter_swap *s = ARENA_ARRAY(a, struct meter_swap, n_swaps);
    if (n_swaps) {
        memcpy(s, swaps, (size_t)n_swaps * sizeof *swaps);
        qsort(s, (size_t)n_swaps, sizeof *s, by_swap_time);
    }
    int from = 0;
    for (int k = 0; k <= n_swaps; k++) {
        int to = from;
        while (to < n && (k == n_swaps || h.readings[to].at < s[k].at)) {
            to++;
        }
        clean_one_meter(a, h.readings + from, to - from);
        double last = NAN;
        for (int i = from; i < to; i++) {
            h.readings[i].total = h.readings[i].hours + h.offset;
            if (h.readings[i].flag == METER_GOOD) {
                h.n_good++;
                last = h.readings[i].hours;
            }
        }
        if (k < n_swaps) {
            double old = isfinite(s[k].old_hours) ? s[k].old_hours : isfinite(last) ? last : 0;
            h.offset += old - s[k].new_hours;
        }
        from = to;
    }
    return h;
}

/* Days between two instants that the machine was in service. */
static double days_in_service(instant_ms from, instant_ms to, const struct meter_pause *pauses, int n)
{
    double ms = (double)(to - from);
    for (int i = 0; i < n; i++) {
        instant_ms a = pauses[i].from > from ? pauses[i].from : from;
        instant_ms b = pauses[i].to < to ? pauses[i].to : to;
        if (b > a) {
            ms -= (double)(b - a);
        }
    }
    return ms / DAY_MS;
}

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a;
    double y = *(const double *)b;
    return x < y ? -1 : x > y;
}

#define USE_MOST 60 /* readings looked at: 1770 pairs */

struct meter_use meter_use(struct arena *a, const struct meter_history *h, const struct meter_pause *pauses,
                           int n_pauses, double window_days, int at_least)
{
    struct meter_use use = {.hours_now = NAN, .at = INSTANT_NONE, .hours_per_day = NAN};
    const struct meter_reading *recent[USE_MOST]; /* the latest first */
    int n = 0;
    for (int i = h->n - 1; i >= 0 && n < USE_MOST; i--) {
        const struct meter_reading *r = &h->readings[i];
        if (r->flag != METER_GOOD) {
            continue;
        }
        if (n > 0 && n >= at_least && (double)(recent[0]->at - r->at) > window_days * DAY_MS) {
            break;
        }
        recent[n++] = r;
    }
    if (n == 0) {
        return use;
    }
    use.hours_now = recent[0]->total;
    use.at = recent[0]->at;
    use.n = n;
    use.since = recent[n - 1]->at;
    struct arena_mark mark = arena_mark(a);
    double *slopes = ARENA_ARRAY(a, double, n *(n - 1) / 2 + 1);
    int m = 0;
    for (int i = 0; i < n; i++) {
        for (int j = i + 1; j < n; j++) {
            double days = days_in_service(recent[j]->at, recent[i]->at, pauses, n_pauses);
            if (days >= 1) {
                slopes[m++] = (recent[i]->total - recent[j]->total) / days;
            }
        }
    }
    if (m > 0) {
        qsort(slopes, (size_t)m, sizeof *slopes, by_value);
        use.hours_per_day = m % 2 ? slopes[m / 2] : (slopes[m / 2 - 1] + slopes[m / 2]) / 2;
        use.known = true;
    }
    arena_rewind(a, mark);
    return use;
}

double meter_total_at(const struct meter_history *h, const struct meter_use *use, instant_ms at)
{
    const struct meter_reading *before = NULL;
    for (int i = 0; i < h->n; i++) {
        const struct meter_reading *r = &h->readings[i];
        if (r->flag != METER_GOOD) {
            continue;
        }
        if (r->at > at) {
            if (!before) {
                return r->total;
            }
            double part = (double)(at - before->at) / (double)(r->at - before->at);
            return before->total + part * (r->total - before->total);
        }
        before = r;
    }
    if (!before) {
        return NAN;
    }
    return before->total + (use->known ? use->hours_per_day * (double)(at - before->at) / DAY_MS : 0);
}
