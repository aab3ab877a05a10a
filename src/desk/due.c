/* Today: what is due, by which rule and when; what is out or close; what is open; what is faulty. */
#include "exhaust_internal.h"
#include "reading.h"
#include "stock_internal.h"

#include <math.h>
#include <stdlib.h>

const char *desk_due_kind_text(enum due_kind kind)
{
    static const char *const texts[] = {
#define X(symbol, text) [symbol] = (text),
        DUE_KINDS(X)
#undef X
    };
    return texts[kind];
}

bool interval_given(struct interval i)
{
    return i.hours > 0 || i.months > 0 || i.days > 0;
}

struct counted due_counted(const struct machine_state *s, int checkpoint)
{
    const struct desk_machine *m = &s->m;
    const struct book_checkpoint *c = &m->book->checkpoints[checkpoint];
    const struct point_state *point = &s->points[checkpoint];
    struct counted counted = {.interval = c->every, .which = "every"};
    if (c->kind == CHECK_DONE_BY) {
        counted.last = s->tasks[c->task];
    } else {
        counted.last = point->reading.have && (!point->found.have || point->reading.at > point->found.at)
                           ? point->reading
                           : point->found;
    }
    if (counted.last.have) {
        counted.since = (struct reserve_since){true, counted.last.total_h, DAY_NONE};
    } else {
        /* Never done: from new when the meter was first read within the first interval, else from the day it was taken
         * in. */
        struct interval first = interval_given(c->first) ? c->first : c->every;
        double from_h = NAN;
        instant_ms from_at = m->registered;
        for (int i = 0; i < m->meter.n; i++) {
            if (m->meter.readings[i].flag == METER_GOOD) {
                from_h = m->meter.readings[i].total;
                from_at = m->meter.readings[i].at < from_at ? m->meter.readings[i].at : from_at;
                break;
            }
        }
        counted.from_new = isfinite(from_h) && from_h <= first.hours;
        counted.since = (struct reserve_since){false, counted.from_new ? 0 : from_h, DAY_NONE};
        counted.since_at = from_at;
        if (counted.from_new && interval_given(c->first)) {
            counted.interval = c->first;
            counted.which = "first";
        }
    }
    if (m->severe && interval_given(c->severe) && counted.interval.hours == c->every.hours &&
        counted.interval.months == c->every.months) {
        counted.interval = c->severe;
        counted.which = "severe";
    }
    return counted;
}

static day_t since_day(const struct desk *d, const struct machine_state *s, const struct counted *counted)
{
    if (counted->last.have) {
        return desk_day_of(d, counted->last.at);
    }
    if (counted->from_new && s->m.in_service != DAY_NONE) {
        return s->m.in_service;
    }
    return counted->since_at == INSTANT_NONE ? DAY_NONE : desk_day_of(d, counted->since_at);
}

struct reserve due_reserve(const struct desk *d, const struct machine_state *s, int checkpoint, struct counted *counted)
{
    struct kept_reserve *kept = &s->points[checkpoint].kept;
    day_t today = desk_today_day(d);
    if (!kept->have || kept->day != today || kept->forecast != d->forecast) {
        kept->counted = due_counted(s, checkpoint);
        kept->counted.since.day = since_day(d, s, &kept->counted);
        kept->reserve = reserve_forecast(kept->counted.interval, kept->counted.since, s->m.hours_now,
                                         s->m.use.known ? s->m.use.hours_per_day : (double)NAN, today, &s->usage);
        kept->day = today;
        kept->forecast = d->forecast;
        kept->have = true;
    }
    *counted = kept->counted;
    return kept->reserve;
}

/* "4 Sep", with the year when it is not the one just said. */
static void add_day_near(struct text *t, day_t day, day_t said)
{
    struct text words = text_new(t->a);
    text_day_words(&words, day);
    bool same = civil_of_day(day).year == civil_of_day(said).year;
    text_add(t, same ? str_cut(text_str(&words), 0, words.n - 5) : text_str(&words));
}

/* " (28 Aug to 15 Sep)": between these days in four cases of five. */
static void add_band(struct text *t, const struct reserve *r)
{
    if (!r->spread_known || r->p50 == DAY_NONE || r->p10 == DAY_NONE || r->p10 == r->p90) {
        return;
    }
    text_addz(t, " (");
    add_day_near(t, r->p10, r->p50);
    if (r->p90 == DAY_NONE) {
        text_addz(t, " or much later)");
        return;
    }
    text_addz(t, " to ");
    add_day_near(t, r->p90, r->p50);
    text_char(t, ')');
}

/* "6 h over", "12 days over", "41 h left, about 4 Sep 2026 (28 Aug to 15 Sep)", "by 4 Sep 2026". */
static struct str reserve_says(struct arena *a, const struct reserve *r, day_t today)
{
    struct text t = text_new(a);
    if (r->out && r->rule == RESERVE_HOURS) {
        text_hours(&t, -r->hours_left);
        text_addz(&t, " over");
    } else if (r->out) {
        text_int(&t, today - r->calendar_day);
        text_addz(&t, today - r->calendar_day == 1 ? " day over, was due " : " days over, was due ");
        text_day_words(&t, r->calendar_day);
    } else if (r->rule == RESERVE_HOURS) {
        text_hours(&t, r->hours_left);
        text_addz(&t, " left");
        if (r->hours_day != DAY_NONE) {
            text_addz(&t, ", about ");
            text_day_words(&t, r->hours_day);
            add_band(&t, r);
        }
    } else if (r->rule == RESERVE_CALENDAR) {
        text_addz(&t, "by ");
        text_day_words(&t, r->calendar_day);
        if (isfinite(r->hours_left)) {
            text_addz(&t, "; ");
            text_hours(&t, r->hours_left);
            text_addz(&t, " left");
        }
    } else {
        text_addz(&t, "no meter reading yet");
    }
    return text_str(&t);
}

bool due_judge(struct arena *a, const struct machine_state *s, int checkpoint, struct verdict *verdict)
{
    const struct point_state *point = &s->points[checkpoint];
    const struct book_checkpoint *c = &s->m.book->checkpoints[checkpoint];
    if (c->kind != CHECK_MEASURE || !point->reading.have) {
        return false;
    }
    struct point_reading reading = {point->reading.at, point->reading.total_h, point->value,
                                    point->with,       point->n_with,          point->uncertainty_si};
    *verdict = reading_verdict(a, s, checkpoint, &reading);
    return true;
}

/* Has the task that resets or mends the checkpoint been done after that time? */
static bool put_right(const struct point_state *point, const struct last *seen)
{
    return point->reset.have && point->reset.at > seen->at;
}

struct list {
    struct desk *d;
    struct arena *a;
    const struct desk_today_filter *filter;
    struct desk_due *at;
    size_t n, cap;
    day_t today;
};

/* Adds an item unless it is further off than was asked for. */
static void add(struct list *l, struct desk_due item)
{
    item.service = item.kind == DUE_CHECKPOINT && item.checkpoint != BOOK_NONE ? item.service : BOOK_NONE;
    bool near = item.urgency <= 1 || l->filter->within_days < 0 ||
                (item.reserve.p50 != DAY_NONE && item.reserve.p50 <= l->today + l->filter->within_days);
    item.overdue = l->filter->overdue_on ? reserve_overdue(&item.reserve, l->filter->overdue_on) : (double)NAN;
    if (near) {
        ARENA_PUSH(l->a, l->at, l->n, l->cap) = item;
    }
}

static int urgency_of(const struct reserve *r, day_t today)
{
    return r->out ? 0 : r->p50 != DAY_NONE && r->p50 <= today ? 1 : 3;
}

static bool in_refs(struct book_refs refs, int index)
{
    for (int i = 0; i < refs.n; i++) {
        if (refs.at[i] == index) {
            return true;
        }
    }
    return false;
}

/* The value in the unit shown, with one decimal more than the same or another value `like` was written with. */
static struct str with_decimal_more(struct arena *a, const struct unit *shown, struct quantity q, struct str like)
{
    ptrdiff_t point = str_find(like, S("."));
    int decimals = 1;
    for (size_t i = point < 0 ? like.n : (size_t)point + 1; i < like.n && like.p[i] >= '0' && like.p[i] <= '9'; i++) {
        decimals++;
    }
    struct text t = text_new(a);
    text_number(&t, unit_from_si(shown, unit_to_si(q.unit, q.value)), decimals);
    text_join(&t, " ", shown->shown, (char *)0);
    return text_str(&t);
}

/* A value as shown beside its limits: with one decimal more than usual where it would look like a limit that it is not;
 * where even that is alike, the word says on which side it lies. Finer than that no gauge reads. */
static void add_beside(struct text *t, const struct desk *d, const struct book_checkpoint *c, const struct verdict *v)
{
    struct quantity q = v->corrected;
    struct text usual = text_new(t->a);
    text_corrected(&usual, v, d->units);
    struct str said = text_str(&usual);
    const struct unit *shown = q.unit ? unit_preferred(d->units, q.unit) : NULL;
    double ends[] = {c->limits.low, c->limits.high};
    for (int i = 0; i < 2 && shown; i++) {
        if (!isfinite(ends[i]) || q.value == ends[i]) {
            continue;
        }
        struct quantity limit = {ends[i], c->limits.unit};
        struct text end = text_new(t->a);
        text_quantity_in(&end, limit, d->units);
        if (!str_eq(text_str(&end), said)) {
            continue;
        }
        struct str finer = with_decimal_more(t->a, shown, q, said);
        bool alike = str_eq(finer, with_decimal_more(t->a, shown, limit, said));
        text_addz(t, alike && v->word == VERDICT_OUT ? (i == 0 ? "just under " : "just over ") : "");
        said = alike ? said : finer;
    }
    text_add(t, said);
}

/* The service that asks for a checkpoint, other than the daily one; BOOK_NONE when none does. */
static int service_of(const struct book *b, int checkpoint)
{
    int daily = book_find_service(b, S("daily"));
    const struct book_checkpoint *c = &b->checkpoints[checkpoint];
    for (int i = 0; i < b->n_services; i++) {
        if (i != daily && (in_refs(b->services[i].checkpoints, checkpoint) ||
                           (c->kind == CHECK_DONE_BY && in_refs(b->services[i].tasks, c->task)))) {
            return i;
        }
    }
    return BOOK_NONE;
}

#define DRIFT_SURE 0.99 /* a depot has hundreds of checkpoints: at nine in ten a tenth of them would seem to drift */

/* The reserve by the trend of the readings, when it is sure that they drift toward a limit at all. */
static bool drifts(struct list *l, const struct machine_state *s, int i, struct reserve *reserve)
{
    struct reserve_trend *trend = ARENA_NEW(l->a, struct reserve_trend);
    if (!due_trend(l->d, l->a, s, i, trend) || !(reserve_trend_passage(trend, (double)INFINITY) > DRIFT_SURE)) {
        return false;
    }
    *reserve = reserve_measured(trend, s->m.hours_now, l->today, &s->usage);
    return reserve->p50 != DAY_NONE;
}

/* A measured checkpoint that is in limits and whose trend leaves them before it is due for its next check. */
static bool add_drifting(struct list *l, const struct machine_state *s, int i, const struct reserve *check)
{
    const struct book_checkpoint *c = &s->m.book->checkpoints[i];
    const struct point_state *point = &s->points[i];
    struct reserve drift;
    struct verdict verdict;
    if (check->out || !due_judge(l->a, s, i, &verdict) || verdict.word != VERDICT_IN_LIMITS ||
        put_right(point, &point->reading) || !drifts(l, s, i, &drift) ||
        (check->p50 != DAY_NONE && check->p50 <= drift.p50)) {
        return false;
    }
    struct text t = text_new(l->a);
    text_quantity_in(&t, verdict.corrected, l->d->units);
    text_addz(&t, ", at its trend out of ");
    text_limits(&t, l->d, c->limits);
    text_addz(&t, " about ");
    text_day_words(&t, drift.p50);
    add_band(&t, &drift);
    struct desk_due item = {.kind = DUE_CHECKPOINT,
                            .machine = &l->d->list[s - l->d->machines],
                            .checkpoint = i,
                            .service = service_of(s->m.book, i),
                            .task = c->mends,
                            .key = c->name,
                            .label = c->label,
                            .reserve = drift,
                            .has_entry = true,
                            .entry = point->reading.id,
                            .says = text_str(&t),
                            .urgency = urgency_of(&drift, l->today)};
    add(l, item);
    return true;
}

/* What the last reading or the last look at a checkpoint says, unless it has been put right since. */
static bool add_seen(struct list *l, const struct machine_state *s, int i, struct reserve reserve)
{
    const struct book_checkpoint *c = &s->m.book->checkpoints[i];
    const struct point_state *point = &s->points[i];
    struct desk_due item = {.machine = &l->d->list[s - l->d->machines],
                            .checkpoint = i,
                            .task = c->mends,
                            .key = c->name,
                            .label = c->label,
                            .reserve = reserve,
                            .has_entry = true};
    if (point->found.have && !point->found_ok && !put_right(point, &point->found) &&
        !(point->reading.have && point->reading.at > point->found.at)) {
        item.kind = DUE_FOUND;
        item.entry = point->found.id;
        item.reserve.out = true;
        item.reserve.rule = RESERVE_READING;
        struct text t = text_new(l->a);
        text_addz(&t, "found: ");
        text_add(&t, point->found_says);
        item.says = text_str(&t);
        add(l, item);
        return true;
    }
    struct verdict verdict;
    if (!due_judge(l->a, s, i, &verdict) || put_right(point, &point->reading) ||
        (verdict.word != VERDICT_OUT && verdict.word != VERDICT_CLOSE)) {
        return false;
    }
    item.kind = DUE_READING;
    item.entry = point->reading.id;
    item.verdict = verdict;
    item.urgency = verdict.word == VERDICT_OUT ? 0 : 2;
    item.reserve.out = item.reserve.out || verdict.word == VERDICT_OUT;
    item.reserve.rule = RESERVE_READING;
    struct text t = text_new(l->a);
    add_beside(&t, l->d, c, &verdict);
    text_join(&t, verdict.word == VERDICT_OUT ? ", out of " : ", close to ", (char *)0);
    text_limits(&t, l->d, c->limits);
    struct reserve drift;
    if (verdict.word == VERDICT_CLOSE && drifts(l, s, i, &drift)) {
        text_addz(&t, "; at its trend out about ");
        text_day_words(&t, drift.p50);
        add_band(&t, &drift);
        item.reserve = drift;
    }
    item.says = text_str(&t);
    add(l, item);
    return true;
}

/* The daily round of a machine is one line: the check that was not looked at for longest decides. */
static void add_daily(struct list *l, const struct machine_state *s, int daily)
{
    const struct book_service *service = &s->m.book->services[daily];
    struct desk_due item = {.kind = DUE_CHECKPOINT,
                            .machine = &l->d->list[s - l->d->machines],
                            .checkpoint = BOOK_NONE,
                            .task = BOOK_NONE,
                            .key = service->name,
                            .label = service->label,
                            .urgency = 3,
                            .reserve = reserve_unknown()};
    item.reserve.rule = RESERVE_CALENDAR;
    const struct last *oldest = NULL;
    bool never = service->checkpoints.n == 0;
    for (int i = 0; i < service->checkpoints.n; i++) {
        const struct point_state *point = &s->points[service->checkpoints.at[i]];
        const struct last *seen = point->reading.have && (!point->found.have || point->reading.at > point->found.at)
                                      ? &point->reading
                                      : &point->found;
        never = never || !seen->have;
        oldest = !oldest || seen->at < oldest->at ? seen : oldest;
    }
    struct text t = text_new(l->a);
    if (never || !oldest) {
        text_addz(&t, "not recorded yet");
        item.reserve.p10 = item.reserve.p50 = item.reserve.p90 = item.reserve.calendar_day = l->today;
        item.urgency = 1;
    } else {
        day_t day = desk_day_of(l->d, oldest->at);
        item.has_entry = true;
        item.entry = oldest->id;
        item.reserve.p10 = item.reserve.p50 = item.reserve.p90 = item.reserve.calendar_day = day + 1;
        item.urgency = day < l->today ? 1 : 3;
        text_addz(&t, "last done ");
        text_day_words(&t, day);
    }
    item.says = text_str(&t);
    add(l, item);
}

/* Soot, until a parked burn is demanded; what the last reading itself says goes first. */
static void add_soot(struct list *l, const struct machine_state *s)
{
    const struct book *b = s->m.book;
    const struct exhaust_now *now =
        b->exhaust.given ? exhaust_of(l->d, desk_state_of(l->d, &l->d->list[s - l->d->machines])) : NULL;
    if (!now || !now->x.known || b->exhaust.soot == BOOK_NONE) {
        return;
    }
    const struct book_checkpoint *c = &b->checkpoints[b->exhaust.soot];
    const struct soot_event *last = s->n_soot ? &s->soot[s->n_soot - 1] : NULL;
    struct text t = text_new(l->a);
    text_soot(&t, l->d, now);
    add(l, (struct desk_due){.kind = DUE_CHECKPOINT,
                             .machine = &l->d->list[s - l->d->machines],
                             .checkpoint = b->exhaust.soot,
                             .service = BOOK_NONE,
                             .task = b->exhaust.burn,
                             .key = c->name,
                             .label = c->label,
                             .reserve = now->x.soot_reserve,
                             .has_entry = last != NULL,
                             .entry = last ? last->id : (struct entry_id){{0}},
                             .says = text_str(&t),
                             .urgency = urgency_of(&now->x.soot_reserve, l->today)});
}

/* The ash by mass balance, when it comes before the interval does. */
static bool ash_first(struct list *l, const struct machine_state *s, int i, struct reserve *reserve, struct str *says)
{
    const struct book *b = s->m.book;
    if (!b->exhaust.given || b->exhaust.ash != i) {
        return false;
    }
    const struct exhaust_now *now = exhaust_of(l->d, desk_state_of(l->d, &l->d->list[s - l->d->machines]));
    if (!now || !now->x.ash_known || !(now->x.ash_left.p50 < reserve->hours_left) || reserve->out) {
        return false;
    }
    struct text t = text_new(l->a);
    text_addz(&t, "ash ");
    text_ash(&t, now);
    *reserve = now->x.ash_reserve;
    *says = text_str(&t);
    return true;
}

static void add_checkpoints(struct list *l, const struct machine_state *s)
{
    const struct book *b = s->m.book;
    int daily = book_find_service(b, S("daily"));
    for (int i = 0; i < b->n_checkpoints; i++) {
        const struct book_checkpoint *c = &b->checkpoints[i];
        struct counted counted = {0};
        struct reserve reserve = due_reserve(l->d, s, i, &counted);
        bool soot = b->exhaust.given && b->exhaust.soot == i;
        struct str ash_says = {0};
        bool ash = ash_first(l, s, i, &reserve, &ash_says);
        bool seen = add_seen(l, s, i, reserve);
        bool of_the_day =
            daily != BOOK_NONE && (in_refs(b->services[daily].checkpoints, i) ||
                                   (c->kind == CHECK_DONE_BY && in_refs(b->services[daily].tasks, c->task)));
        if (soot && !seen) {
            add_soot(l, s);
        }
        if (seen || (!soot && add_drifting(l, s, i, &reserve)) || of_the_day || reserve.rule == RESERVE_NONE) {
            continue;
        }
        struct desk_due item = {
            .kind = DUE_CHECKPOINT,
            .machine = &l->d->list[s - l->d->machines],
            .checkpoint = i,
            .service = service_of(b, i),
            .task = c->kind == CHECK_DONE_BY ? c->task : BOOK_NONE,
            .key = c->name,
            .label = c->label,
            .reserve = reserve,
            .has_entry = counted.last.have,
            .entry = counted.last.id,
            .says = ash ? ash_says : reserve_says(l->a, &reserve, l->today),
            .urgency = urgency_of(&reserve, l->today),
        };
        if (!counted.last.have && reserve.out) {
            /* Nobody knows whether it was done before the log began: not late, but the first thing to find out. */
            item.reserve.out = false;
            item.reserve.p10 = item.reserve.p50 = item.reserve.p90 = l->today;
            item.urgency = 1;
            item.says = S("no record of it yet");
        }
        add(l, item);
    }
    if (daily != BOOK_NONE) {
        add_daily(l, s, daily);
    }
}

/* Nuts that were refitted and have run in. */
static void add_torques(struct list *l, const struct machine_state *s)
{
    const struct book *b = s->m.book;
    for (int i = 0; i < b->n_torques; i++) {
        const struct book_torque *torque = &b->torques[i];
        const struct torque_state *state = &s->torques[i];
        if (!torque->again_after.given || !state->refitted.have ||
            (state->checked.have && state->checked.at >= state->refitted.at)) {
            continue;
        }
        struct interval once = {.hours = torque->again_after.si / 3600};
        struct reserve_since since = {true, state->refitted.total_h, desk_day_of(l->d, state->refitted.at)};
        struct reserve reserve = reserve_forecast(
            once, since, s->m.hours_now, s->m.use.known ? s->m.use.hours_per_day : (double)NAN, l->today, &s->usage);
        struct text t = text_new(l->a);
        text_addz(&t, "torque again: ");
        text_add(&t, reserve_says(l->a, &reserve, l->today));
        struct desk_due item = {.kind = DUE_AGAIN,
                                .machine = &l->d->list[s - l->d->machines],
                                .checkpoint = BOOK_NONE,
                                .task = due_torque_task(b, i),
                                .key = torque->name,
                                .label = torque->label,
                                .reserve = reserve,
                                .has_entry = true,
                                .entry = state->refitted.id,
                                .says = text_str(&t),
                                .urgency = urgency_of(&reserve, l->today)};
        add(l, item);
    }
}

int due_torque_task(const struct book *b, int torque)
{
    for (int t = 0; t < b->n_tasks; t++) {
        const struct book_task *task = &b->tasks[t];
        bool opens = false;
        bool has = in_refs(task->torques, torque);
        for (int i = 0; i < task->n_steps; i++) {
            opens = opens || task->steps[i].opens.n > 0;
            has = has || in_refs(task->steps[i].torques, torque);
        }
        if (has && !opens) {
            return t;
        }
    }
    return BOOK_NONE;
}

static void add_open_and_faults(struct list *l, const struct machine_state *s)
{
    struct reserve now = reserve_unknown();
    now.out = true;
    for (size_t i = 0; i < s->n_open; i++) {
        const struct open_state *open = &s->open[i];
        now.p10 = now.p50 = now.p90 = desk_day_of(l->d, open->since);
        struct text t = text_new(l->a);
        text_addz(&t, "open since ");
        text_local(&t, l->d, open->since);
        text_join(&t, open->by.n ? ", " : "", (char *)0);
        text_add(&t, open->by);
        if (str_eq(open->item, S(BURN_INHIBITED))) {
            text_addz(&t, "; released when witmark record burn says so");
        }
        add(l, (struct desk_due){.kind = DUE_PUT_BACK,
                                 .machine = &l->d->list[s - l->d->machines],
                                 .checkpoint = BOOK_NONE,
                                 .task = BOOK_NONE,
                                 .key = open->item,
                                 .label = open->label,
                                 .reserve = now,
                                 .has_entry = true,
                                 .entry = open->id,
                                 .says = text_str(&t)});
    }
    for (size_t i = 0; i < s->n_faults; i++) {
        const struct fault_state *fault = &s->faults[i];
        now.p10 = now.p50 = now.p90 = desk_day_of(l->d, fault->first);
        struct text t = text_new(l->a);
        text_addz(&t, "active, first seen ");
        text_local(&t, l->d, fault->first);
        struct text label = text_new(l->a);
        text_addz(&label, "Fault ");
        text_add(&label, fault->key);
        if (fault->says.n) {
            text_addz(&label, ": ");
            text_add(&label, fault->says);
        }
        add(l, (struct desk_due){.kind = DUE_FAULT,
                                 .machine = &l->d->list[s - l->d->machines],
                                 .checkpoint = BOOK_NONE,
                                 .task = BOOK_NONE,
                                 .key = fault->key,
                                 .label = text_str(&label),
                                 .reserve = now,
                                 .has_entry = true,
                                 .entry = fault->id,
                                 .says = text_str(&t)});
    }
}

/* How bad it is to be late: what is put back first, then what the book calls a matter of safety, then damage, then
 * wear. */
static int badness(const struct desk_due *item)
{
    if (item->kind == DUE_PUT_BACK) {
        return 4;
    }
    if (item->checkpoint != BOOK_NONE) {
        return (int)item->machine->book->checkpoints[item->checkpoint].late + 1;
    }
    return item->kind == DUE_FAULT || item->kind == DUE_AGAIN ? 3 : 0;
}

static int by_runs_out(const void *a, const void *b)
{
    const struct desk_due *x = a;
    const struct desk_due *y = b;
    if (x->urgency == 0 && y->urgency == 0 && badness(x) != badness(y)) {
        return badness(x) > badness(y) ? -1 : 1;
    }
    int group_x = x->urgency < 2 ? x->urgency : 2;
    int group_y = y->urgency < 2 ? y->urgency : 2;
    if (group_x != group_y) {
        return group_x < group_y ? -1 : 1;
    }
    int c = reserve_cmp(&x->reserve, &y->reserve);
    if (c) {
        return c;
    }
    c = str_cmp(x->machine->name, y->machine->name);
    return c ? c : str_cmp(x->key, y->key);
}

/* Parts that run out, as checkpoints of the depot. Today is the day to order what must be ordered by then. */
static void add_shelf(struct list *l)
{
    struct desk_shelf shelf;
    stock_shelf(l->d, l->a, &shelf);
    for (size_t i = 0; i < shelf.n; i++) {
        const struct desk_part *p = &shelf.parts[i];
        if (!p->counted || (p->order <= 0 && p->runs_out.p50 == DAY_NONE)) {
            continue;
        }
        bool order = p->order > 0 && p->order_by <= l->today;
        struct desk_due item = {.kind = DUE_CHECKPOINT,
                                .machine = stock_machine(l->d),
                                .checkpoint = BOOK_NONE,
                                .service = BOOK_NONE,
                                .task = BOOK_NONE,
                                .key = p->number,
                                .label = p->label,
                                .reserve = p->runs_out,
                                .has_entry = p->has_entry,
                                .entry = p->entry,
                                .says = p->says,
                                .urgency = p->runs_out.out ? 0
                                           : order         ? 1
                                                           : 3};
        if (p->order > 0 && !p->runs_out.out && p->order_by != DAY_NONE && p->order_by < item.reserve.p50) {
            item.reserve.calendar_day = p->order_by > l->today ? p->order_by : l->today;
        }
        bool near =
            p->order_by != DAY_NONE && l->filter->within_days >= 0 && p->order_by <= l->today + l->filter->within_days;
        struct desk_today_filter all = *l->filter;
        const struct desk_today_filter *kept = l->filter;
        all.within_days = near ? -1 : all.within_days;
        l->filter = &all;
        add(l, item);
        l->filter = kept;
    }
}

bool due_list(struct desk *d, const struct desk_today_filter *filter, struct arena *a, struct desk_today_list *out)
{
    struct list l = {.d = d, .a = a, .filter = filter, .today = desk_today_day(d)};
    out->machines = 0;
    desk_forecast_ready(d);
    for (size_t i = 0; i < d->n_machines; i++) {
        const struct machine_state *s = &d->machines[i];
        const struct desk_machine *m = &s->m;
        bool wanted = (filter->machine.n == 0 || str_eq(filter->machine, m->serial)) &&
                      (filter->site.n == 0 || str_eq_nocase(filter->site, m->site)) &&
                      (filter->book.n == 0 || str_eq_nocase(filter->book, m->book_id)) &&
                      (!m->out_of_service || filter->with_stopped);
        if (!wanted) {
            continue;
        }
        out->machines++;
        if (m->book) {
            add_checkpoints(&l, s);
            add_torques(&l, s);
        }
        add_open_and_faults(&l, s);
    }
    if (filter->with_shelf && !filter->machine.n && !filter->site.n && !filter->book.n) {
        add_shelf(&l);
    }
    if (l.n) {
        qsort(l.at, l.n, sizeof *l.at, by_runs_out);
    }
    out->at = l.at;
    out->n = l.n;
    out->day = l.today;
    out->overdue_on = filter->overdue_on;
    return true;
}

bool desk_today(struct desk *d, const struct desk_today_filter *filter, struct arena *a, struct desk_today_list *out,
                struct err *e)
{
    *out = (struct desk_today_list){0};
    if (!desk_refresh(d, e)) {
        return false;
    }
    struct desk_today_filter exact = *filter;
    if (filter->machine.n) {
        const struct desk_machine *m = desk_machine_find(d, filter->machine, e);
        if (!m) {
            return false;
        }
        exact.machine = m->serial;
        exact.with_stopped = true;
    }
    return due_list(d, &exact, a, out);
}
