/* The exhaust filter of a machine, from what the log says of it: rates learned from stretches between known loads, the
 * load since the last one, hours left, ash. */
#include "exhaust_internal.h"

#include <math.h>

#define AHEAD_H 160.0                /* how far ahead hours left are looked for */
#define SINCE_MOST_H 400.0           /* a load older than that says nothing new */
#define BURN_SD 0.05                 /* of the load after a burn, and of that at which one begins; our own choice */
#define SAME_BURN_MS (6 * 3600000LL) /* a burn and the task that it was written down as */
#define TOP_UP 0.6                   /* less than this part of a filling is topped up, not changed */

/* The load that was known last. */
struct known_load {
    bool have;
    const struct soot_event *event;
    double load, deviation;
};

static const char *soot_word(enum soot_kind kind)
{
    static const char *const words[] = {"reading", "passive", "active", "parked", "inhibited", "released", "cleaned"};
    return words[kind];
}

/* What is known right after an event; false when it says nothing of the load. */
static bool load_after(const struct soot_filter *f, const struct soot_event *event, struct known_load *known)
{
    struct known_load k = {.have = true, .event = event, .deviation = BURN_SD};
    switch (event->kind) {
    case SOOT_READING:
        k.load = event->value;
        k.deviation = f->gauge;
        break;
    case SOOT_ACTIVE:
        k.load = f->active_leaves;
        break;
    case SOOT_PARKED:
        k.load = f->parked_leaves;
        break;
    case SOOT_CLEANED:
        k.load = 0.02;
        k.deviation = 0.02;
        break;
    case SOOT_PASSIVE:
    case SOOT_INHIBITED:
    case SOOT_RELEASED:
        return false;
    }
    *known = k;
    return isfinite(k.load);
}

/* Learns from the stretch that ends with an event: a reading, or a burn of its own, which began at its load. */
static void learn(struct exhaust_now *now, const struct known_load *known, const struct soot_event *event,
                  bool inhibited)
{
    const struct soot_filter *f = &now->filter;
    struct soot_stretch s = {.from = known->load,
                             .from_sd = known->deviation,
                             .to = event->kind == SOOT_READING ? event->value : f->begin,
                             .to_sd = event->kind == SOOT_READING ? f->gauge : BURN_SD,
                             .hours = known->have ? event->total_h - known->event->total_h : (double)NAN,
                             .may_burn = !inhibited};
    if (known->have && (event->kind == SOOT_READING || event->kind == SOOT_ACTIVE)) {
        (void)soot_learn(f, &now->rates, &s);
    }
}

static void go_through(struct exhaust_now *now, const struct machine_state *s, struct known_load *known)
{
    bool inhibited = false; /* since the last known load, all the time */
    bool now_inhibited = false;
    for (size_t i = 0; i < s->n_soot; i++) {
        const struct soot_event *event = &s->soot[i];
        now_inhibited = event->kind == SOOT_INHIBITED || (now_inhibited && event->kind != SOOT_RELEASED);
        inhibited = inhibited && now_inhibited;
        bool same = known->have && event->kind == SOOT_PARKED && known->event->kind == SOOT_PARKED &&
                    event->at - known->event->at < SAME_BURN_MS;
        if (!same) {
            learn(now, known, event, inhibited);
            inhibited = load_after(&now->filter, event, known) ? now_inhibited : inhibited;
        }
    }
}

static void find_inhibition(struct exhaust_now *now, const struct machine_state *s)
{
    for (size_t i = 0; i < s->n_open; i++) {
        if (str_eq(s->open[i].item, S(BURN_INHIBITED))) {
            double then = meter_total_at(&s->m.meter, &s->m.use, s->open[i].since);
            now->x.inhibited = true;
            now->x.inhibited_since = s->open[i].since;
            now->x.inhibited_by = s->open[i].by;
            now->x.inhibited_h = fmax(0, s->m.hours_now - then);
        }
    }
}

/* The belief today: the last known load, then the hours since with the usual work, of which some were inhibited. */
static void believe(struct desk *d, struct exhaust_now *now, const struct machine_state *s,
                    const struct known_load *known)
{
    struct desk_exhaust *x = &now->x;
    now->belief = soot_belief_new(&d->state, &now->filter, known->load, known->deviation);
    x->known = true;
    x->from = soot_word(known->event->kind);
    x->from_at = known->event->at;
    x->from_load = known->load;
    x->from_deviation = known->deviation;
    x->hours_since = fmax(0, s->m.hours_now - known->event->total_h);
    double since = isfinite(x->hours_since) ? fmin(x->hours_since, SINCE_MOST_H) : 0;
    double inhibited = x->inhibited && isfinite(x->inhibited_h) ? fmin(since, x->inhibited_h) : 0;
    struct arena scratch = arena_new(d->state.source);
    if (since > inhibited) {
        (void)soot_work(&now->filter, &now->rates, now->belief, SOOT_USUAL, since - inhibited, true, &scratch);
    }
    if (inhibited > 0) {
        (void)soot_work(&now->filter, &now->rates, now->belief, SOOT_USUAL, inhibited, false, &scratch);
    }
    arena_free(&scratch);
}

static struct desk_band band_of(const struct soot_left *left, const double *of)
{
    return (struct desk_band){soot_left_quantile(left, of, 0.1), soot_left_quantile(left, of, 0.5),
                              soot_left_quantile(left, of, 0.9)};
}

static void hours_left(struct desk *d, struct exhaust_now *now, const struct machine_state *s)
{
    struct desk_exhaust *x = &now->x;
    struct arena scratch = arena_new(d->state.source);
    struct soot_left left =
        soot_hours_left(&now->filter, &now->rates, now->belief, SOOT_USUAL, !x->inhibited, AHEAD_H, &scratch);
    x->load = (struct desk_band){soot_quantile(now->belief, 0.1), soot_quantile(now->belief, 0.5),
                                 soot_quantile(now->belief, 0.9)};
    x->demanded = band_of(&left, left.demanded);
    x->derated = band_of(&left, left.derated);
    x->past = band_of(&left, left.past);
    now->soot_points = (struct reserve_points){.by_hours = true, .n = RESERVE_POINTS};
    for (int i = 0; i < RESERVE_POINTS; i++) {
        now->soot_points.at[i] = s->m.hours_now + soot_left_quantile(&left, left.demanded, (i + 0.5) / RESERVE_POINTS);
    }
    x->inhibited_demanded = x->demanded;
    if (!x->inhibited) {
        left = soot_hours_left(&now->filter, &now->rates, now->belief, SOOT_USUAL, false, AHEAD_H, &scratch);
        x->inhibited_demanded = band_of(&left, left.demanded);
    }
    arena_free(&scratch);
    x->soot_reserve = reserve_of_points(&now->soot_points, soot_demanded(now->belief) > 0.5, s->m.hours_now,
                                        desk_today_day(d), &s->usage);
}

/* ---- ash --------------------------------------------------------------------------------------------------------- */

/* Oil topped up: fillings well below a change's, from the second on, over the hours since the first. */
static void learn_oil(struct exhaust_now *now, const struct machine_state *s)
{
    const struct book_fluid *oil = &s->m.book->fluids[s->m.book->exhaust.oil];
    double sum = 0;
    double first = (double)NAN;
    double last = (double)NAN;
    for (size_t i = 0; i < s->n_uses; i++) {
        const struct use_state *use = &s->uses[i];
        bool change = oil->capacity.given && use->quantity > TOP_UP * oil->capacity.si;
        if (!use->fluid || !str_eq(use->name, oil->name) || change || !isfinite(use->total_h)) {
            continue;
        }
        sum += isfinite(first) ? use->quantity : 0;
        first = isfinite(first) ? first : use->total_h;
        last = use->total_h;
    }
    ash_learn(&now->ash, &now->ash_rate, sum, last - first);
}

/* The ash's points with the book's interval: whichever comes first. */
static void ash_reserve(struct desk *d, struct exhaust_now *now, const struct machine_state *s, double interval_left)
{
    struct desk_exhaust *x = &now->x;
    struct err quiet = err_new(&d->state);
    now->ash_points = (struct reserve_points){.by_hours = true, .n = RESERVE_POINTS};
    for (int i = 0; i < RESERVE_POINTS; i++) {
        double left = (double)INFINITY;
        (void)ash_quantile(&now->ash, &now->ash_rate, x->ash_hours, (i + 0.5) / RESERVE_POINTS, &left, &quiet);
        now->ash_points.at[i] = s->m.hours_now + (isfinite(interval_left) ? fmin(left, interval_left) : left);
    }
    x->ash_reserve =
        reserve_of_points(&now->ash_points, x->ash_left.p50 <= 0, s->m.hours_now, desk_today_day(d), &s->usage);
}

static void ash(struct desk *d, struct exhaust_now *now, const struct machine_state *s)
{
    const struct book *b = s->m.book;
    struct desk_exhaust *x = &now->x;
    struct err quiet = err_new(&d->state);
    if (!ash_filter_of_book(b, &now->ash) || !ash_rate_of_book(&now->ash, &now->ash_rate, &quiet)) {
        return;
    }
    learn_oil(now, s);
    now->has_ash = true;
    x->oil_per_h = now->ash_rate.mean;
    x->book_oil_per_h = now->ash.oil_m3_per_h;
    x->oil_topped_m3 = now->ash_rate.oil_m3;
    x->oil_hours = now->ash_rate.hours;
    x->ash_limit_kg = now->ash.volume_m3 * now->ash.limit_kgm3;
    struct counted counted = {0};
    if (b->exhaust.ash == BOOK_NONE) {
        return;
    }
    struct reserve interval = due_reserve(d, s, b->exhaust.ash, &counted);
    x->ash_hours = s->m.hours_now - counted.since.total_h;
    double *const to[] = {&x->ash_left.p10, &x->ash_left.p50, &x->ash_left.p90};
    static const double p[] = {0.1, 0.5, 0.9};
    x->ash_known = isfinite(x->ash_hours) && ash_now(&now->ash, &now->ash_rate, x->ash_hours, &x->ash_kg, &quiet);
    for (int i = 0; i < 3 && x->ash_known; i++) {
        x->ash_known = ash_quantile(&now->ash, &now->ash_rate, x->ash_hours, p[i], to[i], &quiet);
    }
    if (x->ash_known) {
        ash_reserve(d, now, s, interval.hours_left);
    }
}

/* ---- the whole --------------------------------------------------------------------------------------------------- */

const struct exhaust_now *exhaust_of(struct desk *d, struct machine_state *s)
{
    if (s->exhaust && s->exhaust->day == desk_today_day(d)) {
        return s->exhaust;
    }
    struct exhaust_now *now = ARENA_NEW(&d->state, struct exhaust_now);
    struct known_load known = {0};
    if (!s->m.book || !soot_filter_of_book(s->m.book, &now->filter)) {
        return NULL;
    }
    now->day = desk_today_day(d);
    now->rates = soot_rates_of_book(&now->filter);
    now->x = (struct desk_exhaust){.machine = &d->list[s - d->machines], .inhibited_h = NAN, .hours_since = NAN};
    find_inhibition(now, s);
    go_through(now, s, &known);
    if (known.have) {
        believe(d, now, s, &known);
        hours_left(d, now, s);
    }
    double ignored = 0;
    now->x.rate = soot_rate(&now->filter, &now->rates, SOOT_USUAL, &now->x.rate_deviation);
    struct soot_rates book = soot_rates_of_book(&now->filter);
    now->x.book_rate = soot_rate(&now->filter, &book, SOOT_USUAL, &ignored);
    now->x.stretches = now->rates.used;
    now->x.left_out = now->rates.left_out;
    ash(d, now, s);
    s->exhaust = now;
    return now;
}

bool desk_exhaust(struct desk *d, struct str machine, struct arena *a, struct desk_exhaust *out, struct err *e)
{
    const struct desk_machine *m = desk_refresh(d, e) ? desk_machine_find(d, machine, e) : NULL;
    if (!m) {
        return false;
    }
    desk_forecast_ready(d);
    struct machine_state *s = desk_state_of(d, m);
    const struct exhaust_now *now = exhaust_of(d, s);
    if (!now) {
        return err_set(e, ERR_MISSING,
                       m->book ? "a machine with the option exhaust-filter; duties: and exhaust: in its book" : NULL,
                       str_z(e->a, m->name),
                       m->book ? " has no exhaust filter that its book tells of" : ": its book is not here", (char *)0);
    }
    *out = now->x;
    size_t n = s->n_soot < 200 ? s->n_soot : 200;
    struct desk_burn *at = ARENA_ARRAY(a, struct desk_burn, n + 1);
    for (size_t i = 0; i < n; i++) {
        const struct soot_event *event = &s->soot[s->n_soot - 1 - i];
        at[i] =
            (struct desk_burn){event->at, soot_word(event->kind), event->total_h, event->value, event->by, event->id};
    }
    out->history = at;
    out->n_history = n;
    return true;
}

/* ---- in words ---------------------------------------------------------------------------------------------------- */

void text_band(struct text *t, const struct desk_band *band)
{
    if (isfinite(band->p50)) {
        text_hours(t, band->p50);
        text_addz(t, " (");
        text_number(t, band->p10, 0);
        text_addz(t, " to ");
        if (isfinite(band->p90)) {
            text_number(t, band->p90, 0);
        } else {
            text_addz(t, "much later");
        }
        text_char(t, ')');
    } else if (isfinite(band->p10)) {
        text_addz(t, "hardly within ");
        text_hours(t, AHEAD_H);
        text_addz(t, " (one case of ten by ");
        text_hours(t, band->p10);
        text_char(t, ')');
    } else {
        text_addz(t, "not within ");
        text_hours(t, AHEAD_H);
    }
}

void text_inhibited(struct text *t, const struct desk *d, const struct desk_exhaust *x)
{
    text_addz(t, "burning inhibited since ");
    text_local(t, d, x->inhibited_since);
    if (isfinite(x->inhibited_h)) {
        text_addz(t, ", ");
        text_hours(t, x->inhibited_h);
        text_addz(t, " of work");
    }
    if (x->inhibited_by.n) {
        text_addz(t, ", ");
        text_add(t, x->inhibited_by);
    }
}

void text_soot(struct text *t, struct desk *d, const struct exhaust_now *now)
{
    const struct desk_exhaust *x = &now->x;
    (void)d;
    text_addz(t, "about ");
    text_number(t, 100 * x->load.p50, 0);
    text_addz(t, " % now");
    if (soot_demanded(now->belief) > 0.5) {
        text_addz(t, soot_derated(now->belief) > 0.5 ? ", power reduced: parked burn" : ", parked burn demanded");
        return;
    }
    text_addz(t, "; parked burn demanded ");
    if (isfinite(x->demanded.p50)) {
        text_addz(t, "in ");
    }
    text_band(t, &x->demanded);
    text_addz(t, x->inhibited ? ", burning inhibited" : ", as it burns by itself");
}

void text_ash(struct text *t, const struct exhaust_now *now)
{
    const struct desk_exhaust *x = &now->x;
    text_addz(t, "about ");
    text_number(t, x->ash_kg * 1000, 0);
    text_addz(t, " of ");
    text_number(t, x->ash_limit_kg * 1000, 0);
    text_addz(t, " g; full in ");
    text_hours(t, x->ash_left.p50);
    text_addz(t, " (");
    text_number(t, x->ash_left.p10, 0);
    text_addz(t, " to ");
    text_number(t, x->ash_left.p90, 0);
    text_char(t, ')');
}

struct str desk_exhaust_says(struct desk *d, struct arena *a, const struct desk_exhaust *x)
{
    const struct exhaust_now *now = exhaust_of(d, desk_state_of(d, x->machine));
    struct text t = text_new(a);
    text_addz(&t, "soot ");
    if (x->known) {
        text_soot(&t, d, now);
    } else {
        text_addz(&t, "not known yet");
    }
    if (x->ash_known) {
        text_addz(&t, "; ash ");
        text_ash(&t, now);
    }
    if (x->inhibited) {
        text_addz(&t, "\nCAUTION: ");
        text_inhibited(&t, d, x);
    }
    return text_str(&t);
}
