/* Proposals that are events: faults that came, went or are stored, and burns of the exhaust filter. */
#include "bus_internal.h"

#include <math.h>

#define SPN_ACTIVE_BURN 3700
#define SPN_FORCED_BURN 4175
#define SPN_SOOT 3719

/* Adds the name of what a fault is about. */
static void add_subject(struct bus_proposer *p, struct text *t, const struct bus_fault *f)
{
    (void)p;
    const struct bus_signal *s = f->conversion_method ? NULL : bus_table_spn(&bus_table_builtin, f->spn);
    if (s) {
        text_addz(t, s->name);
    } else {
        text_addz(t, "signal ");
        text_int(t, f->spn);
    }
    text_join(t, ": ", bus_failure_modes[f->failure_mode].meaning, (char *)0);
}

/* "fault.100.4" */
static struct str fault_word(struct bus_proposer *p, const struct bus_fault *f)
{
    struct text t = text_new(p->a);
    text_addz(&t, f->conversion_method ? "fault-uncertain." : "fault.");
    text_int(&t, f->spn);
    text_char(&t, '.');
    text_int(&t, f->failure_mode);
    return text_str(&t);
}

/* What the failure mode means to a technician, the lamps, the controller's own count. */
static struct str fault_note(struct bus_proposer *p, const struct bus_fault_summary *f)
{
    struct text t = text_new(p->a);
    text_addz(&t, bus_failure_modes[f->fault.failure_mode].reading);
    if (f->lamp_red) {
        text_addz(&t, "; red stop lamp on");
    }
    if (f->lamp_amber) {
        text_addz(&t, "; amber warning lamp on");
    }
    if (f->lamp_protect) {
        text_addz(&t, "; protect lamp on");
    }
    if (f->lamp_malfunction) {
        text_addz(&t, "; malfunction lamp on");
    }
    return text_str(&t);
}

/* An old layout of the number cannot be told from the data: says which numbers it may be. */
static void doubt_number(struct bus_proposer *p, struct feed_proposal *x, const struct bus_fault *f)
{
    static const char digits[] = "0123456789ABCDEF";
    uint32_t spn[3];
    struct text t = text_new(p->a);
    bus_fault_candidates(f, spn);
    text_addz(&t, "the controller marks the number as of an old layout; it may be ");
    text_int(&t, spn[2]);
    text_addz(&t, ", ");
    text_int(&t, spn[0]);
    text_addz(&t, " or ");
    text_int(&t, spn[1]);
    text_addz(&t, " (bytes");
    for (size_t i = 0; i < sizeof f->raw; i++) {
        text_char(&t, ' ');
        text_char(&t, digits[f->raw[i] >> 4]);
        text_char(&t, digits[f->raw[i] & 15]);
    }
    text_addz(&t, ")");
    bus_doubt(p, x, text_str(&t));
}

/* Proposes what one fault gives: seen or stored, and cleared when it went. */
static void propose_fault(struct bus_proposer *p, const struct bus_fault_summary *f)
{
    struct text name = text_new(p->a);
    add_subject(p, &name, &f->fault);
    struct feed_proposal x = {.kind = f->active ? FEED_FAULT_SEEN : FEED_FAULT_STORED,
                              .what = fault_word(p, &f->fault),
                              .name = text_str(&name),
                              .interface = f->interface,
                              .source = f->source,
                              .spn = f->fault.spn,
                              .failure_mode = f->fault.failure_mode,
                              .value = NAN,
                              .at = bus_instant(p, f->first_us),
                              .from = bus_instant(p, f->first_us),
                              .to = bus_instant(p, f->last_us),
                              .count = f->seen,
                              .note = fault_note(p, f)};
    if (f->occurrences_last != 127) {
        bus_condition(p, &x, "occurrences", f->occurrences_last, "");
    }
    if (f->fault.conversion_method) {
        doubt_number(p, &x, &f->fault);
    }
    bus_propose(p, x);
    if (f->active && f->gone_us != INT64_MIN) {
        x.kind = FEED_FAULT_CLEARED;
        x.at = x.from = x.to = bus_instant(p, f->gone_us);
        x.n_conditions = 0;
        x.note = S("no longer reported as active");
        x.doubt = (struct str){0};
        bus_propose(p, x);
    }
}

void bus_propose_faults(struct bus_proposer *p)
{
    for (size_t i = 0; i < p->out->summary->n_faults; i++) {
        propose_fault(p, &p->out->summary->faults[i]);
    }
}

/* Soot at that moment as a condition, when it was sent within a minute. */
static void add_soot(struct bus_proposer *p, struct feed_proposal *x, const char *name, int64_t time_us)
{
    const struct bus_signal_summary *s = bus_signal_best(p->out->summary, SPN_SOOT);
    const struct bus_sample *near = s ? bus_nearest(s, time_us) : NULL;
    if (near) {
        bus_condition(p, x, name, near->value, s->signal->unit);
    }
}

/* Proposes the burn from sample `from` to sample `to` of the state's series; `to` is behind it, or n when it has not
 * ended. */
static void propose_burn(struct bus_proposer *p, const struct bus_signal_summary *s, size_t from, size_t to)
{
    bool ended = to < s->series.n;
    int64_t start_us = s->series.at[from].time_us;
    int64_t end_us = s->series.at[ended ? to : s->series.n - 1].time_us;
    struct feed_proposal x = {.kind = FEED_BURN,
                              .what = S("burn"),
                              .name = S("active regeneration of the exhaust filter"),
                              .interface = s->interface,
                              .source = s->source,
                              .spn = SPN_ACTIVE_BURN,
                              .failure_mode = -1,
                              .value = NAN,
                              .at = bus_instant(p, start_us),
                              .from = bus_instant(p, start_us),
                              .to = bus_instant(p, end_us),
                              .count = to - from};
    bus_condition(p, &x, "duration", (double)(end_us - start_us) / 1e6, "s");
    add_soot(p, &x, "soot load before", start_us);
    add_soot(p, &x, "soot load after", end_us);
    const struct bus_signal_summary *forced = bus_signal_best(p->out->summary, SPN_FORCED_BURN);
    const struct bus_sample *near = forced ? bus_nearest(forced, start_us) : NULL;
    x.note = near && near->value == 1   ? S("forced by the operator's switch")
             : near && near->value == 2 ? S("forced by a service tool")
                                        : S("started by the controller");
    if (from == 0) {
        bus_doubt(p, &x, S("it was under way when the recording began"));
    }
    if (!ended) {
        bus_doubt(p, &x, S("it had not ended when the recording did"));
    }
    bus_propose(p, x);
}

void bus_propose_burns(struct bus_proposer *p)
{
    const struct bus_signal_summary *s = bus_signal_best(p->out->summary, SPN_ACTIVE_BURN);
    for (size_t i = 0; s && i < s->series.n; i++) {
        size_t from = i;
        while (i < s->series.n && s->series.at[i].value == 1) {
            i++;
        }
        if (i > from) {
            propose_burn(p, s, from, i);
        }
    }
}
