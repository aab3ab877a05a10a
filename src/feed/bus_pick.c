/* Chooses from all readings of a signal the one that stands for it in the log. A reading that was really sent is
 * chosen, never an average, so that its conditions are those of one moment; a median shrugs off a spike. */
#include "bus_internal.h"

#include <math.h>
#include <stdlib.h>

#define SPN_ENGINE_SPEED 190
#define SPN_IDLE_SPEED 188
#define NEAR_US 60000000
#define IDLE_PART 0.08 /* a governor holds low idle within a few percent; common practice, no source */
#define IDLE_LOWEST_RPM 400
#define IDLE_HIGHEST_RPM 1500

const struct bus_signal_summary *bus_signal_best(const struct bus_summary *s, uint32_t spn)
{
    const struct bus_signal_summary *best = NULL;
    for (size_t i = 0; i < s->n_signals; i++) {
        const struct bus_signal_summary *x = s->signals[i];
        uint64_t said = x->n[BUS_OK] + x->n[BUS_ERROR];
        if (x->signal->spn != spn || said == 0) {
            continue;
        }
        bool first = x->source == 0 && best && best->source != 0;
        bool same = !best || (x->source == 0) == (best->source == 0);
        if (!best || first || (same && x->n[BUS_OK] > best->n[BUS_OK])) {
            best = x;
        }
    }
    return best;
}

double bus_low_idle(const struct bus_summary *s)
{
    const struct bus_signal_summary *said = bus_signal_best(s, SPN_IDLE_SPEED);
    if (said && said->n[BUS_OK] > 0 && said->last.value >= IDLE_LOWEST_RPM && said->last.value <= IDLE_HIGHEST_RPM) {
        return said->last.value;
    }
    const struct bus_signal_summary *speed = bus_signal_best(s, SPN_ENGINE_SPEED);
    double lowest = NAN;
    for (size_t i = 0; speed && i < speed->series.n; i++) {
        const struct bus_sample *x = &speed->series.at[i];
        bool idle = x->steady && x->value >= IDLE_LOWEST_RPM && x->value <= IDLE_HIGHEST_RPM;
        lowest = idle && !(x->value >= lowest) ? x->value : lowest;
    }
    return lowest;
}

const struct bus_sample *bus_nearest(const struct bus_signal_summary *s, int64_t time_us)
{
    const struct bus_sample *best = NULL;
    int64_t off = NEAR_US + 1;
    for (size_t i = 0; i < s->series.n; i++) {
        const struct bus_sample *x = &s->series.at[i];
        int64_t d = x->time_us > time_us ? x->time_us - time_us : time_us - x->time_us;
        if (d < off) {
            off = d;
            best = x;
        }
    }
    return best;
}

/* The sample qualifies for a median. */
static bool qualifies(const struct bus_sample *x, enum bus_pick pick, double idle_rpm, bool after_run)
{
    bool steady = x->engine == BUS_ENGINE_RUNNING && x->steady;
    double idle_band = fmax(50, IDLE_PART * idle_rpm);
    return pick == BUS_PICK_REST       ? x->engine == BUS_ENGINE_STOPPED && x->after_run == after_run
           : pick == BUS_PICK_LOW_IDLE ? steady && fabs(x->speed_rpm - idle_rpm) <= idle_band
           : pick == BUS_PICK_WORKING  ? steady && x->speed_rpm >= 1.5 * idle_rpm
                                       : steady;
}

/* By value, then by time. */
static int by_value(const void *pa, const void *pb)
{
    const struct bus_sample *a = *(const struct bus_sample *const *)pa;
    const struct bus_sample *b = *(const struct bus_sample *const *)pb;
    if (a->value < b->value || a->value > b->value) {
        return a->value < b->value ? -1 : 1;
    }
    return (a->time_us > b->time_us) - (a->time_us < b->time_us);
}

/* The (lower) median of the samples that qualify. */
static bool median(struct arena *a, const struct bus_signal_summary *s, enum bus_pick pick, double idle_rpm,
                   bool after_run, struct bus_picked *out)
{
    struct arena_mark mark = arena_mark(a);
    const struct bus_sample **fit = ARENA_ARRAY(a, const struct bus_sample *, s->series.n + 1);
    size_t n = 0;
    *out = (struct bus_picked){.from_us = INT64_MAX, .to_us = INT64_MIN, .after_run = after_run};
    for (size_t i = 0; i < s->series.n; i++) {
        const struct bus_sample *x = &s->series.at[i];
        if (qualifies(x, pick, idle_rpm, after_run)) {
            fit[n++] = x;
            out->from_us = x->time_us < out->from_us ? x->time_us : out->from_us;
            out->to_us = x->time_us > out->to_us ? x->time_us : out->to_us;
        }
    }
    if (n > 0) {
        qsort(fit, n, sizeof *fit, by_value);
        out->sample = *fit[(n - 1) / 2];
        out->count = n;
    }
    arena_rewind(a, mark);
    return n > 0;
}

bool bus_pick(struct arena *a, const struct bus_signal_summary *s, enum bus_pick pick, double idle_rpm,
              struct bus_picked *out)
{
    *out = (struct bus_picked){.from_us = s->first.time_us, .to_us = s->last.time_us, .count = s->n[BUS_OK]};
    if (s->n[BUS_OK] == 0) {
        return false;
    }
    switch (pick) {
    case BUS_PICK_LAST:
        out->sample = s->last;
        return true;
    case BUS_PICK_HIGHEST:
        out->sample = s->n_running > 0 ? s->highest_running : s->highest;
        return true;
    case BUS_PICK_LOWEST:
        out->sample = s->lowest;
        return true;
    case BUS_PICK_CRANKING:
        out->sample = s->lowest_cranking;
        out->count = s->n_cranking;
        out->from_us = out->to_us = s->lowest_cranking.time_us;
        return s->n_cranking > 0;
    case BUS_PICK_REST:
        return median(a, s, pick, idle_rpm, false, out) || median(a, s, pick, idle_rpm, true, out);
    case BUS_PICK_LOW_IDLE:
    case BUS_PICK_WORKING:
    case BUS_PICK_CHARGING:
        return median(a, s, pick, idle_rpm, false, out);
    }
    return false;
}
