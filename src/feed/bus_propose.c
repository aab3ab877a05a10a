/* What a recording proposes for the log of the machine it was made on: which signals are worth an entry, which reading
 * of each stands for it, under what conditions it was read, and what speaks against it. Faults are in
 * bus_propose_faults.c. */
#include "bus_internal.h"

#include <sodium.h>

#include <math.h>
#include <string.h>

#define FEW 3           /* a median of fewer readings is doubtful */
#define FAULTY_PART 0.1 /* so is a signal of which more is marked faulty; less is told in the note */

/* One entry that a signal can give. Plausible: outside it the reading is doubtful, in the unit of the table. The limits
 * are common practice without a source: wide enough for any machine, narrow enough for a wrong scale. */
struct rule {
    uint32_t spn;
    enum bus_pick pick;
    enum feed_proposal_kind kind;
    const char *what, *name;
    double low, high;
    const char *missing; /* said when the signal is there but no reading qualifies; null: nothing is said */
};

#define NO_LOW_IDLE "the engine did not run at steady low idle while it was sent"
#define NO_START "no start of the engine was recorded while it was sent"
#define NO_RUN "the engine did not run at a steady speed while it was sent"

static const struct rule rules[] = {
    {247, BUS_PICK_LAST, FEED_METER, "engine-hours", "engine hours", 0, 100000, NULL},
    {168, BUS_PICK_REST, FEED_READING, "battery-voltage.stopped", "battery voltage, engine stopped", 8, 32, NULL},
    {168, BUS_PICK_CRANKING, FEED_READING, "battery-voltage.cranking", "battery voltage, lowest while cranking", 4, 30,
     NO_START},
    {168, BUS_PICK_CHARGING, FEED_READING, "battery-voltage.charging", "battery voltage, engine running", 11, 32,
     NO_RUN},
    {158, BUS_PICK_REST, FEED_READING, "key-switch-voltage.stopped", "key-switch voltage, engine stopped", 8, 32, NULL},
    {158, BUS_PICK_CRANKING, FEED_READING, "key-switch-voltage.cranking", "key-switch voltage, lowest while cranking",
     4, 30, NO_START},
    {158, BUS_PICK_CHARGING, FEED_READING, "key-switch-voltage.charging", "key-switch voltage, engine running", 11, 32,
     NO_RUN},
    {167, BUS_PICK_CHARGING, FEED_READING, "charging-voltage", "charging system voltage, engine running", 11, 32, NULL},
    {100, BUS_PICK_LOW_IDLE, FEED_READING, "engine-oil-pressure.low-idle", "engine oil pressure, steady at low idle", 0,
     900, NO_LOW_IDLE},
    {100, BUS_PICK_WORKING, FEED_READING, "engine-oil-pressure.working-speed",
     "engine oil pressure, steady at working speed", 0, 900, NULL},
    {110, BUS_PICK_HIGHEST, FEED_READING, "coolant-temperature.highest", "coolant temperature, highest", -40, 130,
     NULL},
    {175, BUS_PICK_HIGHEST, FEED_READING, "engine-oil-temperature.highest", "engine oil temperature, highest", -40, 160,
     NULL},
    {1638, BUS_PICK_HIGHEST, FEED_READING, "hydraulic-oil-temperature.highest", "hydraulic oil temperature, highest",
     -40, 130, NULL},
    {174, BUS_PICK_HIGHEST, FEED_READING, "fuel-temperature.highest", "fuel temperature, highest", -40, 120, NULL},
    {177, BUS_PICK_HIGHEST, FEED_READING, "transmission-oil-temperature.highest",
     "transmission oil temperature, highest", -40, 160, NULL},
    {105, BUS_PICK_HIGHEST, FEED_READING, "intake-manifold-temperature.highest", "intake manifold temperature, highest",
     -40, 150, NULL},
    {171, BUS_PICK_LAST, FEED_READING, "ambient-temperature", "ambient air temperature", -40, 60, NULL},
    {107, BUS_PICK_HIGHEST, FEED_READING, "air-filter-restriction.highest", "air filter restriction, highest", 0, 12,
     NULL},
    {95, BUS_PICK_HIGHEST, FEED_READING, "fuel-filter-restriction.highest",
     "fuel filter differential pressure, highest", 0, 400, NULL},
    {99, BUS_PICK_HIGHEST, FEED_READING, "oil-filter-restriction.highest", "oil filter differential pressure, highest",
     0, 120, NULL},
    {126, BUS_PICK_HIGHEST, FEED_READING, "transmission-filter-restriction.highest",
     "transmission filter differential pressure, highest", 0, 400, NULL},
    {98, BUS_PICK_LAST, FEED_READING, "engine-oil-level", "engine oil level", 0, 100, NULL},
    {111, BUS_PICK_LOWEST, FEED_READING, "coolant-level.lowest", "coolant level, lowest", 0, 100, NULL},
    {2602, BUS_PICK_LOWEST, FEED_READING, "hydraulic-oil-level.lowest", "hydraulic oil level, lowest", 0, 100, NULL},
    {1761, BUS_PICK_LAST, FEED_READING, "exhaust-fluid-level", "diesel exhaust fluid level", 0, 100, NULL},
    {3719, BUS_PICK_LAST, FEED_READING, "soot-load", "soot load of the exhaust filter", 0, 250, NULL},
    {3720, BUS_PICK_LAST, FEED_READING, "ash-load", "ash load of the exhaust filter", 0, 250, NULL},
    {3251, BUS_PICK_HIGHEST, FEED_READING, "exhaust-filter-restriction.highest",
     "exhaust filter differential pressure, highest", 0, 100, NULL},
    {3721, BUS_PICK_LAST, FEED_READING, "time-since-burn", "time since the last active regeneration", 0, 4e7, NULL},
    {235, BUS_PICK_LAST, FEED_READING, "idle-hours", "idle hours", 0, 100000, NULL},
    {250, BUS_PICK_LAST, FEED_READING, "fuel-used", "fuel used in all", 0, 5e6, NULL},
    {3700, BUS_PICK_LAST, FEED_STATE, "burn-state", "active regeneration", 0, 3, NULL},
    {3701, BUS_PICK_LAST, FEED_STATE, "burn-need", "need of regeneration", 0, 6, NULL},
    {3702, BUS_PICK_LAST, FEED_STATE, "burn-inhibited", "regeneration inhibited", 0, 3, NULL},
    {1713, BUS_PICK_LAST, FEED_STATE, "hydraulic-filter-restricted", "hydraulic filter restriction", 0, 3, NULL},
    {97, BUS_PICK_LAST, FEED_STATE, "water-in-fuel", "water in fuel", 0, 3, NULL},
    {1110, BUS_PICK_LAST, FEED_STATE, "protection-shutdown", "protection system has shut the engine down", 0, 3, NULL},
};

/* Signals told as conditions of a reading, when they were sent within a minute of it. */
static const struct {
    uint32_t spn;
    const char *name;
} conditions[] = {
    {92, "engine load"},
    {110, "coolant temperature"},
    {175, "engine oil temperature"},
    {1638, "hydraulic oil temperature"},
    {171, "ambient air temperature"},
};

const char *feed_proposal_kind_text(enum feed_proposal_kind kind)
{
    static const char *const texts[] = {
#define X(symbol, text) text,
        FEED_PROPOSAL_KINDS(X)
#undef X
    };
    return texts[kind];
}

const char *feed_regime_text(enum feed_regime regime)
{
    static const char *const texts[] = {
#define X(symbol, text) text,
        FEED_REGIMES(X)
#undef X
    };
    return texts[regime];
}

instant_ms bus_instant(const struct bus_proposer *p, int64_t time_us)
{
    if (p->base_ms == INSTANT_NONE) {
        return INSTANT_NONE;
    }
    int64_t us = time_us - p->base_us;
    return p->base_ms + (us >= 0 ? us / 1000 : (us - 999) / 1000);
}

void bus_remark(struct bus_proposer *p, bool refused, struct str what, struct str why)
{
    ARENA_PUSH(p->a, p->out->remarks, p->out->n_remarks, p->out->cap_remarks) =
        (struct feed_remark){.refused = refused, .what = what, .why = why};
}

void bus_doubt(struct bus_proposer *p, struct feed_proposal *x, struct str why)
{
    struct text t = text_new(p->a);
    if (x->doubt.n > 0) {
        text_add(&t, x->doubt);
        text_addz(&t, "; ");
    }
    text_add(&t, why);
    x->doubt = text_str(&t);
}

void bus_condition(struct bus_proposer *p, struct feed_proposal *x, const char *name, double value, const char *unit)
{
    ARENA_PUSH(p->a, x->conditions, x->n_conditions, x->cap_conditions) =
        (struct feed_condition){str_of(name), value, str_of(unit)};
}

/* The stable key: SHA-256 over the digest of the frames and what the entry is. Alike entries of two interfaces are told
 * apart by their order, which the digest fixes. */
static struct str import_key(struct bus_proposer *p, const struct feed_proposal *x)
{
    struct text t = text_new(p->a);
    size_t ordinal = 0;
    for (size_t i = 0; i < p->out->n_proposals; i++) {
        const struct feed_proposal *y = &p->out->proposals[i];
        ordinal += y->kind == x->kind && y->source == x->source && str_eq(y->what, x->what);
    }
    text_addz(&t, "witmark bus entry 1\n");
    text_add(&t, (struct str){(const char *)p->out->summary->digest, sizeof p->out->summary->digest});
    text_join(&t, "\n", feed_proposal_kind_text(x->kind), "\n", (char *)0);
    text_add(&t, x->what);
    text_addz(&t, "\n");
    text_int(&t, x->source);
    text_addz(&t, "\n");
    text_int(&t, (int64_t)ordinal);
    uint8_t hash[crypto_hash_sha256_BYTES];
    crypto_hash_sha256(hash, (const unsigned char *)t.p, t.n);
    static const char digits[] = "0123456789abcdef";
    struct text hex = text_new(p->a);
    for (size_t i = 0; i < sizeof hash; i++) {
        text_char(&hex, digits[hash[i] >> 4]);
        text_char(&hex, digits[hash[i] & 15]);
    }
    return text_str(&hex);
}

void bus_propose(struct bus_proposer *p, struct feed_proposal x)
{
    x.import_key = import_key(p, &x);
    ARENA_PUSH(p->a, p->out->proposals, p->out->n_proposals, p->out->cap_proposals) = x;
}

/* Speed, load and temperatures at that moment, without the signal itself. */
static void add_conditions(struct bus_proposer *p, struct feed_proposal *x, const struct bus_sample *at)
{
    if (!isnan(at->speed_rpm)) {
        bus_condition(p, x, "engine speed", at->speed_rpm, "rpm");
    }
    for (size_t i = 0; i < sizeof conditions / sizeof *conditions; i++) {
        const struct bus_signal_summary *s = bus_signal_best(p->out->summary, conditions[i].spn);
        const struct bus_sample *near = s && conditions[i].spn != x->spn ? bus_nearest(s, at->time_us) : NULL;
        if (near) {
            bus_condition(p, x, conditions[i].name, near->value, s->signal->unit);
        }
    }
}

/* "12 of 40 readings were marked faulty by the controller" */
static struct str faulty_text(struct bus_proposer *p, const struct bus_signal_summary *s)
{
    struct text t = text_new(p->a);
    text_int(&t, (int64_t)s->n[BUS_ERROR]);
    text_addz(&t, " of ");
    text_int(&t, (int64_t)(s->n[BUS_OK] + s->n[BUS_ERROR]));
    text_addz(&t, " readings were marked faulty by the controller");
    const struct bus_summary *sum = p->out->summary;
    for (size_t i = 0; i < sum->n_faults; i++) {
        const struct bus_fault_summary *f = &sum->faults[i];
        if (f->active && f->fault.spn == s->signal->spn && !f->fault.conversion_method) {
            text_addz(&t, "; fault ");
            text_int(&t, f->fault.spn);
            text_char(&t, '.');
            text_int(&t, f->fault.failure_mode);
            text_join(&t, " is active: ", bus_failure_modes[f->fault.failure_mode].meaning, (char *)0);
            break;
        }
    }
    return text_str(&t);
}

/* What speaks against the hour meter. */
static void doubt_meter(struct bus_proposer *p, struct feed_proposal *x, const struct bus_signal_summary *s)
{
    double elapsed_h = (double)(s->last.time_us - s->first.time_us) / 3.6e9;
    if (s->lowest.value < s->first.value) {
        bus_doubt(p, x, S("the meter goes backwards within the recording"));
    } else if (s->last.value - s->first.value > elapsed_h + 0.1) {
        bus_doubt(p, x, S("the meter gains more hours than the recording lasts"));
    }
    if (s->last.value == 0 && s->n_running > 0) {
        bus_doubt(p, x, S("the meter stands at 0 h while the engine runs"));
    }
}

/* Few enough readings are marked faulty, such as those of a controller that is just waking up. */
static bool mostly_good(const struct bus_signal_summary *s)
{
    return (double)s->n[BUS_ERROR] <= FAULTY_PART * (double)(s->n[BUS_OK] + s->n[BUS_ERROR]);
}

/* What speaks against a reading, from its signal and how it was chosen. */
static void add_doubts(struct bus_proposer *p, struct feed_proposal *x, const struct rule *rule,
                       const struct bus_signal_summary *s, const struct bus_picked *picked)
{
    if (x->value < rule->low || x->value > rule->high) {
        bus_doubt(p, x, S("the value is not plausible"));
    }
    if (mostly_good(s) && rule->kind == FEED_READING && x->value == 0 && s->highest.value == 0 &&
        rule->pick == BUS_PICK_HIGHEST && str_eq(x->unit, S("kPa"))) {
        bus_doubt(p, x, S("it reads 0 throughout: the sensor may not be fitted"));
    }
    if (!mostly_good(s)) {
        bus_doubt(p, x, faulty_text(p, s));
    }
    if (rule->pick >= BUS_PICK_LOW_IDLE && picked->count < FEW) {
        bus_doubt(p, x, S("it rests on fewer than three readings"));
    }
    if (rule->pick == BUS_PICK_REST && picked->after_run) {
        bus_doubt(p, x, S("read soon after the engine ran: a battery shows its resting voltage only hours later"));
    }
    if (rule->kind == FEED_METER) {
        doubt_meter(p, x, s);
    }
    bool fixed = (s->lowest.value == 0 || s->lowest.value == 200) && s->highest.value == 200;
    for (size_t i = 0; rule->spn == 100 && fixed && i < s->series.n; i++) {
        fixed = s->series.at[i].value == 0 || s->series.at[i].value == 200;
    }
    if (rule->spn == 100 && fixed) {
        bus_doubt(p, x, S("only 0 and 200 kPa were sent: some engines have a pressure switch and send a fixed value"));
    }
}

/* How the reading was chosen, in words. */
static struct str note_of(struct bus_proposer *p, const struct rule *rule, const struct bus_signal_summary *s,
                          const struct bus_picked *picked)
{
    struct text t = text_new(p->a);
    if (rule->kind == FEED_STATE) {
        text_join(&t, rule->name, ": ", bus_signal_state(s->signal, s->last_raw), (char *)0);
        return text_str(&t);
    }
    if (rule->pick == BUS_PICK_CRANKING) {
        text_addz(&t, "lowest of ");
    } else if (rule->pick >= BUS_PICK_REST) {
        text_addz(&t, "median of ");
    } else {
        text_join(&t,
                  rule->pick == BUS_PICK_HIGHEST  ? "highest of "
                  : rule->pick == BUS_PICK_LOWEST ? "lowest of "
                                                  : "last of ",
                  (char *)0);
    }
    text_int(&t, (int64_t)picked->count);
    text_addz(&t, picked->count == 1 ? " reading" : " readings");
    if (rule->pick == BUS_PICK_CRANKING) {
        text_addz(&t, "; the voltage may have been lower between them");
    }
    if (s->n[BUS_ERROR] > 0 && mostly_good(s)) {
        text_addz(&t, "; ");
        text_add(&t, faulty_text(p, s));
    }
    return text_str(&t);
}

/* Other senders that give the same signal are told, not mixed in. */
static void remark_others(struct bus_proposer *p, const struct rule *rule, const struct bus_signal_summary *best)
{
    const struct bus_summary *sum = p->out->summary;
    for (size_t i = 0; i < sum->n_signals; i++) {
        const struct bus_signal_summary *x = sum->signals[i];
        if (x != best && x->signal->spn == rule->spn && x->n[BUS_OK] > 0) {
            struct text t = text_new(p->a);
            text_addz(&t, "address ");
            text_int(&t, x->source);
            text_addz(&t, " on ");
            text_add(&t, x->interface);
            text_addz(&t, " sends it too (last ");
            text_number(&t, x->last.value, 3);
            text_join(&t, " ", x->signal->unit, "); taken from address ", (char *)0);
            text_int(&t, best->source);
            text_addz(&t, " on ");
            text_add(&t, best->interface);
            bus_remark(p, false, str_of(rule->name), text_str(&t));
        }
    }
}

/* The regime that a way of choosing asks for. */
static enum feed_regime regime_of(enum bus_pick pick)
{
    switch (pick) {
    case BUS_PICK_CRANKING:
        return FEED_CRANKING;
    case BUS_PICK_REST:
        return FEED_STOPPED;
    case BUS_PICK_LOW_IDLE:
        return FEED_LOW_IDLE;
    case BUS_PICK_WORKING:
        return FEED_WORKING;
    case BUS_PICK_CHARGING:
        return FEED_RUNNING;
    case BUS_PICK_LAST:
    case BUS_PICK_HIGHEST:
    case BUS_PICK_LOWEST:
        break;
    }
    return FEED_ANY;
}

/* Proposes what one rule gives. */
static void apply(struct bus_proposer *p, const struct rule *rule, bool first_of_signal)
{
    const struct bus_signal_summary *s = bus_signal_best(p->out->summary, rule->spn);
    struct bus_picked picked;
    if (!s) {
        return;
    }
    if (first_of_signal) {
        remark_others(p, rule, s);
    }
    if (s->n[BUS_OK] == 0) {
        if (first_of_signal) {
            bus_remark(p, true, str_of(s->signal->name), faulty_text(p, s));
        }
        return;
    }
    if (!bus_pick(p->a, s, rule->pick, p->idle_rpm, &picked)) {
        if (rule->missing) {
            bus_remark(p, true, str_of(rule->name), str_of(rule->missing));
        }
        return;
    }
    struct feed_proposal x = {.kind = rule->kind,
                              .what = str_of(rule->what),
                              .name = str_of(rule->name),
                              .regime = regime_of(rule->pick),
                              .interface = s->interface,
                              .source = s->source,
                              .spn = rule->spn,
                              .failure_mode = -1,
                              .value = picked.sample.value,
                              .unit = str_of(s->signal->unit),
                              .at = bus_instant(p, picked.sample.time_us),
                              .from = bus_instant(p, picked.from_us),
                              .to = bus_instant(p, picked.to_us),
                              .count = picked.count,
                              .note = note_of(p, rule, s, &picked)};
    if (rule->kind == FEED_READING || rule->kind == FEED_METER) {
        add_conditions(p, &x, &picked.sample);
    }
    add_doubts(p, &x, rule, s, &picked);
    bus_propose(p, x);
}

/* Where time_us counts from, by the recording or by what the caller knows better. */
static void set_clock(struct bus_proposer *p, const struct bus_recording *r, const struct feed_bus_options *o)
{
    if (o->started_at != INSTANT_NONE) {
        p->base_ms = o->started_at;
        p->base_us = p->out->summary->first_us;
    } else if (r->clock != BUS_CLOCK_NONE) {
        p->base_ms = r->start_ms - (r->clock == BUS_CLOCK_LOCAL ? o->offset_minutes * 60000LL : 0);
        p->base_us = 0;
    } else {
        p->base_ms = INSTANT_NONE;
    }
}

/* "3 lines could not be read and were left out" and its like. */
static void remark_count(struct bus_proposer *p, uint64_t n, const char *what, const char *one, const char *many)
{
    if (n > 0) {
        struct text t = text_new(p->a);
        text_int(&t, (int64_t)n);
        text_addz(&t, n == 1 ? one : many);
        bus_remark(p, false, str_of(what), text_str(&t));
    }
}

/* What is to be said of the recording as a whole. */
static void remark_recording(struct bus_proposer *p, const struct bus_recording *r, const struct feed_bus_options *o)
{
    const struct bus_summary *s = p->out->summary;
    if (p->base_ms == INSTANT_NONE) {
        bus_remark(p, false, S("date"), S("the recording does not say when it was made: give the time of its start"));
    } else if (o->started_at == INSTANT_NONE && r->clock == BUS_CLOCK_LOCAL) {
        bus_remark(p, false, S("date"), S("its date is the local time of whoever wrote it"));
    }
    if (o->now != INSTANT_NONE && p->base_ms != INSTANT_NONE && bus_instant(p, s->last_us) > o->now) {
        bus_remark(p, false, S("date"),
                   S("it is dated after now: the recorder's clock was wrong, give the time of its start"));
    }
    remark_count(p, r->malformed, "lines", " line could not be read and was left out",
                 " lines could not be read and were left out");
    remark_count(p, r->backwards, "times", " frame is dated before the one before it",
                 " frames are dated before the one before them");
    uint64_t lost = 0;
    for (int i = BUS_TRANSPORT_COMPLETE + 1; i < BUS_TRANSPORT_OUTCOMES; i++) {
        lost += i == BUS_TRANSPORT_LOG_ENDED ? 0 : s->transports[i];
    }
    remark_count(p, lost, "long messages", " message of several frames was not complete and was not used",
                 " messages of several frames were not complete and were not used");
    remark_count(p, s->frames[BUS_FRAME_ERROR], "bus", " error frame: the bus was disturbed",
                 " error frames: the bus was disturbed");
    remark_count(p, s->left_out, "list", " fault, address claim or text past the first thousand was left out",
                 " faults, address claims or texts past the first thousand were left out");
    remark_count(p, s->decoder.interfaces_too_many, "interfaces",
                 " frame of an interface past the sixteenth was left out",
                 " frames of interfaces past the sixteenth were left out");
    if (!bus_signal_best(s, 247)) {
        bus_remark(p, true, S("engine hours"), S("not sent while it was recorded: read the meter"));
    }
}

bool feed_bus_read(struct arena *a, struct str recording, const struct feed_bus_options *options,
                   struct feed_bus_result *out, struct diags *findings, struct err *e)
{
    struct bus_recording r;
    *out = (struct feed_bus_result){0};
    if (!bus_recording_open(&r, a, options->name, recording, findings, e)) {
        return false;
    }
    out->summary = bus_summarise(a, options->table ? options->table : &bus_table_builtin, bus_recording_source(&r));
    out->clock = r.clock;
    out->lines = r.lines;
    out->malformed = r.malformed;
    out->other = r.other;
    if (out->summary->frames[BUS_FRAME_29] == 0) {
        return err_at(e, (struct where){options->name, 1, 1}, ERR_INPUT,
                      "a recording of a bus with 29-bit identifiers, taken at the diagnostic connector",
                      "no frame of the recording has a 29-bit identifier", (char *)0);
    }
    struct bus_proposer p = {.a = a, .out = out, .idle_rpm = bus_low_idle(out->summary)};
    set_clock(&p, &r, options);
    remark_recording(&p, &r, options);
    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++) {
        apply(&p, &rules[i], i == 0 || rules[i - 1].spn != rules[i].spn);
    }
    bus_propose_burns(&p);
    bus_propose_faults(&p);
    return true;
}
