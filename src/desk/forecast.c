/* Forecasts at the desk: the usage model fitted to the depot's own log, once for as long as little has changed; each
 * machine's state under it; trends of what is measured; and the replay of the past that tells how far to trust them. */
#include "due_internal.h"
#include "reading.h"

#include "meter/backtest.h"
#include "reserve/measured.h"

#include <math.h>
#include <string.h>

/* Of few readings one moves the fit, and fitting is cheap: it is done anew at the next question. Of many it is left
 * until they have grown by a twentieth; a machine's own state takes up each reading at once. Recording never waits for
 * it. */
#define REFIT_ALWAYS 300
#define REFIT_SHARE 20

/* The model of the depot and what it was made of; lives in the desk's state. */
struct desk_forecast {
    struct usage_fleet fleet;
    struct map families; /* book's id -> family */
    struct str *names;   /* [families] */
    int offset_minutes;  /* of the depot's clock today */
    int readings;        /* when it was fitted */
};

/* Minutes east of UTC at noon of today. */
static int offset_today(const struct desk *d)
{
    day_t today = desk_today_day(d);
    return (int)(((instant_ms)today * 86400000 + 43200000 - desk_noon(d, today)) / 60000);
}

/* An instant as the model counts: civil days with their fraction. */
static double model_day(const struct desk_forecast *f, instant_ms at)
{
    return ((double)at + f->offset_minutes * 60000.0) / 86400000.0;
}

/* The clock's offset from UTC that days are counted by. */
static int offset_of(const struct desk *d)
{
    return d->forecast ? d->forecast->offset_minutes : offset_today(d);
}

instant_ms due_offset_ms(const struct desk *d)
{
    return (instant_ms)offset_of(d) * 60000;
}

double due_model_day(const struct desk *d, instant_ms at)
{
    return ((double)at + (double)due_offset_ms(d)) / 86400000.0;
}

static struct usage_machine machine_of(struct arena *a, const struct desk_forecast *f, const struct machine_state *s)
{
    int64_t family = 0;
    (void)map_get(&f->families, s->m.book_id, &family);
    return usage_machine_of(a, &s->m.meter, s->pauses, s->n_pauses, f->offset_minutes, (int)family);
}

/* Readings, also those left out: a new one can take the place of a good one. */
static int all_readings(const struct desk *d)
{
    int n = 0;
    for (size_t i = 0; i < d->n_machines; i++) {
        n += d->machines[i].m.meter.n;
    }
    return n;
}

/* A family per book. */
static void name_families(struct desk *d, struct desk_forecast *f)
{
    size_t n = 0;
    f->families = map_new(&d->state);
    f->names = ARENA_ARRAY(&d->state, struct str, d->n_machines + 1);
    for (size_t i = 0; i < d->n_machines; i++) {
        if (!map_get(&f->families, d->machines[i].m.book_id, NULL)) {
            map_put(&f->families, d->machines[i].m.book_id, (int64_t)n);
            f->names[n++] = d->machines[i].m.book_id;
        }
    }
    f->fleet.n_families = (int)n;
}

void desk_forecast_machine(struct desk *d, struct machine_state *s)
{
    struct desk_forecast *f = d->forecast;
    int64_t family = 0;
    s->usage = (struct usage_state){0};
    s->exhaust = NULL; /* its days rest on the usage */
    if (!f || !map_get(&f->families, s->m.book_id, &family)) {
        return;
    }
    struct arena scratch = arena_new(d->state.source);
    struct usage_machine m = machine_of(&scratch, f, s);
    s->usage = usage_state_of(&scratch, &f->fleet.families[family], &m, model_day(f, desk_now(d)));
    arena_free(&scratch);
}

void desk_forecast_ready(struct desk *d)
{
    int readings = all_readings(d);
    if (d->forecast) {
        int more = readings - d->forecast->readings;
        if (more == 0 || (more > 0 && readings > REFIT_ALWAYS && more <= readings / REFIT_SHARE)) {
            return;
        }
    }
    struct desk_forecast *f = ARENA_NEW(&d->state, struct desk_forecast);
    f->offset_minutes = offset_today(d);
    f->readings = readings;
    name_families(d, f);
    struct arena scratch = arena_new(d->state.source);
    struct usage_machine *m = ARENA_ARRAY(&scratch, struct usage_machine, d->n_machines + 1);
    for (size_t i = 0; i < d->n_machines; i++) {
        m[i] = machine_of(&scratch, f, &d->machines[i]);
    }
    f->fleet = usage_fit(&d->state, m, (int)d->n_machines, f->fleet.n_families, desk_today_day(d));
    arena_free(&scratch);
    d->forecast = f;
    for (size_t i = 0; i < d->n_machines; i++) {
        desk_forecast_machine(d, &d->machines[i]);
    }
}

const struct usage_model *desk_usage_model(const struct desk *d, const struct machine_state *s)
{
    int64_t family = 0;
    if (!d->forecast || !map_get(&d->forecast->families, s->m.book_id, &family)) {
        return NULL;
    }
    return &d->forecast->fleet.families[family];
}

/* ---- Trends ------------------------------------------------------------------------------------------------------ */

/* The standard deviation of a corrected reading: of the gauge's stated limits of error, carried through the correction,
 * a rectangle (JCGM 100:2008, 4.3.7), else a fiftieth of the span between the limits (common practice, no source). */
static double deviation_of(const struct book_checkpoint *c, double half)
{
    if (half > 0) {
        return half / sqrt(3);
    }
    double size = isfinite(c->low_si) && isfinite(c->high_si) ? c->high_si - c->low_si
                                                              : fabs(isfinite(c->low_si) ? c->low_si : c->high_si) / 2;
    return size / 50;
}

/* What clogs and wears goes by the hours it runs; what leaks, fades and discharges by the calendar. */
static bool drifts_by_hours(const struct book_checkpoint *c)
{
    return c->correction == CORRECT_VISCOSITY || c->correction == CORRECT_TENSION ||
           c->correction == CORRECT_ELONGATION || c->correction == CORRECT_CONSUMPTION ||
           (c->limits.unit && c->limits.unit->kind == Q_LENGTH);
}

bool due_trend(const struct desk *d, struct arena *a, const struct machine_state *s, int checkpoint,
               struct reserve_trend *trend)
{
    const struct book_checkpoint *c = &s->m.book->checkpoints[checkpoint];
    const struct point_state *point = &s->points[checkpoint];
    *trend = (struct reserve_trend){0};
    /* The time that a leak leaves is a forecast already. */
    if (c->kind != CHECK_MEASURE || point->n_history < 3 || !d->forecast || c->correction == CORRECT_LEAK) {
        return false;
    }
    bool by_hours = drifts_by_hours(c);
    double half = (double)NAN;
    /* A clogging filter drifts by a share of itself: on the logarithm. */
    struct trend_reading *readings = ARENA_ARRAY(a, struct trend_reading, point->n_history);
    struct trend_ask ask = {.readings = readings,
                            .low = c->low_si,
                            .high = c->high_si,
                            .logarithm = c->correction == CORRECT_VISCOSITY,
                            .by_hours = by_hours};
    for (size_t i = 0; i < point->n_history; i++) {
        const struct point_reading *r = &point->history[i];
        struct verdict v = reading_verdict(a, s, checkpoint, r);
        if (v.word == VERDICT_OUT) {
            ask.n = 0; /* out, and later readings are not: it was put right, and a new trend began */
        } else if (v.word != VERDICT_NOT_JUDGED) {
            double at = by_hours ? r->total_h : model_day(d->forecast, r->at);
            readings[ask.n++] = (struct trend_reading){at, v.corrected_si};
            half = v.uncertainty_si;
        }
    }
    ask.deviation = deviation_of(c, half);
    *trend = reserve_trend_of(&ask);
    return trend->known;
}

/* ---- Replay -------------------------------------------------------------------------------------------------------
 */

bool desk_backtest(struct desk *d, struct arena *a, struct backtest *out, struct err *e)
{
    static const double ahead[] = {30, 100, 250};
    if (!desk_refresh(d, e)) {
        return false;
    }
    desk_forecast_ready(d);
    struct backtest_machine *m = ARENA_ARRAY(a, struct backtest_machine, d->n_machines + 1);
    for (size_t i = 0; i < d->n_machines; i++) {
        const struct machine_state *s = &d->machines[i];
        int64_t family = 0;
        (void)map_get(&d->forecast->families, s->m.book_id, &family);
        m[i] = (struct backtest_machine){.family = (int)family,
                                         .readings = s->m.meter.readings,
                                         .n = s->m.meter.n,
                                         .swaps = s->swaps,
                                         .n_swaps = s->n_swaps,
                                         .pauses = s->pauses,
                                         .n_pauses = s->n_pauses};
    }
    struct backtest_ask ask = {.ahead_h = ahead,
                               .n_ahead = 3,
                               .every_days = 30,
                               .history_days = 120,
                               .stale_days = 60,
                               .gap_days = 14,
                               .offset_minutes = d->forecast->offset_minutes};
    backtest_run(m, (int)d->n_machines, d->forecast->fleet.n_families, &ask, a, out);
    return true;
}

/* A method's scores as members of an object of its own. */
static void score_object(struct json *j, const char *key, const struct backtest_score *score)
{
    json_begin_object(j, key);
    json_num(j, "mean_absolute_error_days", score->error);
    json_num(j, "pinball_days", score->pinball);
    json_end_object(j);
}

void desk_backtest_json(struct json *j, const struct backtest *b)
{
    json_begin_object(j, NULL);
    json_int(j, "moments", b->moments);
    json_begin_object(j, "weight");
    json_num(j, "a", b->weight.a);
    json_num(j, "g", b->weight.g);
    json_num(j, "n", b->weight.n);
    json_num(j, "forget_days", b->weight.forget);
    json_end_object(j);
    json_begin_array(j, "rows");
    for (int i = 0; i < b->n; i++) {
        const struct backtest_row *r = &b->rows[i];
        json_begin_object(j, NULL);
        json_num(j, "ahead_h", r->ahead_h > 0 ? r->ahead_h : (double)NAN);
        json_int(j, "forecasts", r->forecasts);
        json_int(j, "not_come_yet", r->open);
        json_int(j, "too_early", r->too_early);
        json_int(j, "unseen", r->unseen);
        json_num(j, "held_50", r->held50);
        json_num(j, "held_80", r->held80);
        json_num(j, "held_95", r->held95);
        json_int(j, "forecasts_95", r->n95);
        json_num(j, "width_80_days", r->width80);
        score_object(j, "model", &r->score[BACKTEST_MODEL]);
        score_object(j, "last_rate", &r->score[BACKTEST_LAST_RATE]);
        score_object(j, "mean_rate", &r->score[BACKTEST_MEAN_RATE]);
        json_end_object(j);
    }
    json_end_array(j);
    json_end_object(j);
}
