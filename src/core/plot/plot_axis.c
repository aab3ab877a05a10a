/* What part of the plane is shown, and where its axes have marks. */
#include "plot.h"

#include <math.h>

struct span {
    double from, to;
};

static void widen(struct span *s, double v)
{
    if (isfinite(v)) {
        s->from = fmin(s->from, v);
        s->to = fmax(s->to, v);
    }
}

/* Beyond this many times the width of what is known, a forecast is cut off: it would press the readings together. */
#define FORECAST_MOST 1.5

static void widen_by_forecast(struct span *x, struct span *y, const struct plot *p)
{
    double known = fmax(x->to - x->from, p->by_hours ? 50 : 30);
    double most = (isfinite(p->now) ? p->now : x->to) + FORECAST_MOST * known;
    const double ends[] = {p->p10, p->p50, p->p90, p->end};
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
        if (!isnan(ends[i])) { /* INFINITY: it never comes to that, so as far as is shown at all */
            widen(x, fmin(ends[i], most));
        }
    }
    for (size_t i = 0; i < p->n_band; i++) {
        const struct plot_xy all[] = {p->band_a[i], p->band_b[i], p->middle[i]};
        for (size_t k = 0; k < 3; k++) {
            if (all[k].x >= x->from && all[k].x <= x->to) {
                widen(y, all[k].y);
            }
        }
    }
}

/* A span that has a width, with a margin to both sides. */
static struct span roomy(struct span s, double margin, double least)
{
    if (!(s.from <= s.to)) {
        return (struct span){0, 1};
    }
    double width = s.to - s.from;
    if (width < least) {
        double middle = s.from + width / 2;
        s = (struct span){middle - least / 2, middle + least / 2};
        width = least;
    }
    return (struct span){s.from - margin * width, s.to + margin * width};
}

struct plot_view plot_view_of(const struct plot *p)
{
    struct span x = {INFINITY, -INFINITY};
    struct span y = {INFINITY, -INFINITY};
    for (size_t i = 0; i < p->n_readings; i++) {
        const struct plot_reading *r = &p->readings[i];
        double spread = isfinite(r->spread) ? r->spread : 0;
        widen(&x, r->x);
        widen(&y, r->y - spread);
        widen(&y, r->y + spread);
    }
    for (size_t i = 0; i < p->n_line; i++) {
        widen(&x, p->line[i].x);
        widen(&y, p->line[i].y);
    }
    widen(&x, p->now);
    widen(&y, p->low);
    widen(&y, p->high);
    if (x.from <= x.to) {
        widen_by_forecast(&x, &y, p);
    }
    double least = fmax(fmax(fabs(y.from), fabs(y.to)) * 1e-6, 1e-9);
    x = roomy(x, 0.03, p->by_hours ? 1 : 2);
    bool from_zero = y.from >= 0;
    y = roomy(y, 0.08, isfinite(least) ? least : 1);
    /* A quantity that cannot be negative gets no axis below zero. */
    return (struct plot_view){x.from, x.to, from_zero ? fmax(y.from, 0) : y.from, y.to};
}

struct plot_ticks plot_ticks_of(double from, double to, int most)
{
    struct plot_ticks t = {0};
    double width = to - from;
    if (!(width > 0) || !isfinite(width) || most < 1) {
        return t;
    }
    static const double factors[] = {1, 2, 5, 10};
    int power = (int)floor(log10(width / most));
    double unit = pow(10, power);
    for (size_t i = 0; i < sizeof factors / sizeof *factors; i++) {
        t.step = factors[i] * unit;
        t.first = ceil(from / t.step - 1e-9) * t.step;
        t.n = (int)floor((to - t.first) / t.step + 1e-9) + 1;
        int digits = factors[i] == 10 ? power + 1 : power;
        t.decimals = digits < 0 ? (-digits > 9 ? 9 : -digits) : 0;
        if (t.n <= most) {
            break;
        }
    }
    t.first = t.first == 0 ? 0 : t.first; /* no "-0" */
    return t;
}

void plot_tick_label(struct text *t, double at, int decimals)
{
    if (fabs(at) >= 1e7) {
        text_double(t, at);
    } else {
        text_fixed(t, at, decimals);
    }
}

/* First day of the month, quarter or year of that day. */
static day_t begin_of(day_t day, enum plot_day_step step)
{
    struct civil c = civil_of_day(day);
    c.day = 1;
    c.month = step == PLOT_BY_YEAR ? 1 : step == PLOT_BY_QUARTER ? (c.month - 1) / 3 * 3 + 1 : c.month;
    day_t begin = day;
    (void)day_of_civil(c, &begin);
    return begin;
}

static day_t next_of(day_t day, enum plot_day_step step)
{
    switch (step) {
    case PLOT_BY_DAY:
        return day + 1;
    case PLOT_BY_WEEK:
        return day + 7;
    case PLOT_BY_MONTH:
        return day_add_months(day, 1);
    case PLOT_BY_QUARTER:
        return day_add_months(day, 3);
    case PLOT_BY_YEAR:
        break;
    }
    return day_add_months(day, 12);
}

/* Days between the years 1 and 9999 alone have a date. */
#define DAY_LEAST (-719162)
#define DAY_MOST 2932896

struct plot_day_ticks plot_day_ticks_of(double from, double to, int most)
{
    struct plot_day_ticks t = {0};
    most = most < 1 ? 1 : most > PLOT_DAYS_MOST ? PLOT_DAYS_MOST : most;
    if (!(from >= DAY_LEAST) || !(to <= DAY_MOST) || !(from < to)) {
        return t;
    }
    static const double days[] = {1, 7, 30.4, 91.3, 365.2};
    int step = PLOT_BY_DAY;
    while (step < PLOT_BY_YEAR && (to - from) / days[step] > most) {
        step++;
    }
    t.step = (enum plot_day_step)step;
    day_t first = (day_t)ceil(from);
    if (t.step == PLOT_BY_WEEK) {
        first += (8 - day_weekday(first)) % 7;
    } else if (t.step != PLOT_BY_DAY) {
        day_t begin = begin_of(first, t.step);
        first = begin < first ? next_of(begin, t.step) : begin;
    }
    /* Years too may be too many: every second, fifth ... of them. */
    int every = 1 + (int)((to - from) / days[step] / most);
    int i = 0;
    for (day_t day = first; day <= to && t.n < most; day = next_of(day, t.step), i++) {
        if (i % every == 0) {
            t.at[t.n++] = day;
        }
    }
    return t;
}

void plot_day_label(struct text *t, double at, enum plot_day_step step, const struct str *months)
{
    static const char *const english[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                          "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    struct civil c = civil_of_day((day_t)floor(at));
    if (step == PLOT_BY_YEAR) {
        text_int(t, c.year);
        return;
    }
    if (step == PLOT_BY_DAY || step == PLOT_BY_WEEK) {
        text_int(t, c.day);
        text_char(t, ' ');
    }
    text_add(t, months ? months[c.month - 1] : str_of(english[c.month - 1]));
    if (step == PLOT_BY_MONTH || step == PLOT_BY_QUARTER) {
        text_char(t, ' ');
        text_int(t, c.year);
    }
}
