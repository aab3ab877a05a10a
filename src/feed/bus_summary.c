/* What a whole recording said, gathered while it streams by: counts and extremes for each signal, a thinned series of
 * its values with what the engine did, faults from first to last, claims, texts. Nothing grows with the length of the
 * recording but the lists of what differs, and those are capped.
 *
 * Engine state: stopped below 50 rpm, cranking up to 450 rpm while coming from a stop, else running. Common practice,
 * no source: starters turn small diesels at 100 to 350 rpm, governed idle begins near 600. */
#include "bus_internal.h"

#include <sodium.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define STOPPED_BELOW_RPM 50
#define RUNNING_FROM_RPM 450
#define SPEED_FRESH_US 1000000
#define STEADY_US 2000000
#define STEADY_RPM 25.0
#define STEADY_PART 0.025
#define SERIES_MOST 4096
#define SPN_ENGINE_SPEED 190
#define LIST_MOST                                                                                      \
    1000 /* different faults, claims, texts: a machine has a dozen, a made-up file must not cost hours \
          */

/* The signals of one sender. */
struct sender {
    struct str interface;
    uint8_t source;
    struct bus_signal_summary **by_signal; /* as many as the table has */
};

struct summariser {
    struct arena *a;
    const struct bus_table *table;
    struct bus_summary *s;
    struct sender *senders;
    size_t n_senders, cap_senders;
    struct str *interfaces; /* in the order of appearance, for the digest */
    size_t n_interfaces, cap_interfaces;
    /* the engine */
    const struct bus_signal_summary *speed_of; /* whose speed is taken: address 0 before others */
    double speed_rpm, anchor_rpm;
    int64_t speed_us, steady_since_us;
    enum bus_engine_state engine;
    bool has_run;
};

/* The accumulator of a signal of a sender, made when it is first met. */
static struct bus_signal_summary *signal_of(struct summariser *m, const struct bus_reading *r)
{
    size_t i = 0;
    while (i < m->n_senders && !(m->senders[i].source == r->source && m->senders[i].interface.p == r->interface.p)) {
        i++; /* the decoder gives an interface one name, so its place tells it apart */
    }
    if (i == m->n_senders) {
        ARENA_PUSH(m->a, m->senders, m->n_senders, m->cap_senders) =
            (struct sender){.interface = r->interface,
                            .source = r->source,
                            .by_signal = ARENA_ARRAY(m->a, struct bus_signal_summary *, m->table->n)};
    }
    struct bus_signal_summary **at = &m->senders[i].by_signal[r->signal - m->table->at];
    if (!*at) {
        *at = ARENA_NEW(m->a, struct bus_signal_summary);
        **at = (struct bus_signal_summary){.interface = r->interface, .source = r->source, .signal = r->signal};
        ARENA_PUSH(m->a, m->s->signals, m->s->n_signals, m->s->cap_signals) = *at;
    }
    return *at;
}

/* Follows the engine by its speed. */
static void follow_engine(struct summariser *m, const struct bus_signal_summary *of, const struct bus_reading *r)
{
    if (!m->speed_of || (m->speed_of->source != 0 && of->source == 0)) {
        m->speed_of = of;
        m->anchor_rpm = NAN;
    }
    if (m->speed_of != of || r->status != BUS_OK) {
        return;
    }
    double band = fmax(STEADY_RPM, STEADY_PART * m->anchor_rpm);
    if (!(fabs(r->value - m->anchor_rpm) <= band) || r->time_us - m->speed_us > SPEED_FRESH_US) {
        m->anchor_rpm = r->value;
        m->steady_since_us = r->time_us;
    }
    m->speed_rpm = r->value;
    m->speed_us = r->time_us;
    if (r->value < STOPPED_BELOW_RPM) {
        m->engine = BUS_ENGINE_STOPPED;
    } else if (r->value >= RUNNING_FROM_RPM) {
        m->engine = BUS_ENGINE_RUNNING;
        m->has_run = true;
    } else if (m->engine == BUS_ENGINE_STOPPED) {
        m->engine = BUS_ENGINE_CRANKING; /* from a run it is running down: still called running */
    }
}

/* The value with what the engine did at that moment. */
static struct bus_sample sample_of(const struct summariser *m, const struct bus_reading *r)
{
    int64_t age = r->time_us - m->speed_us;
    bool fresh = m->speed_of && m->engine != BUS_ENGINE_UNKNOWN && age >= 0 && age <= SPEED_FRESH_US;
    return (struct bus_sample){.time_us = r->time_us,
                               .value = r->value,
                               .speed_rpm = fresh ? m->speed_rpm : (double)NAN,
                               .engine = fresh ? m->engine : BUS_ENGINE_UNKNOWN,
                               .steady = fresh && r->time_us - m->steady_since_us >= STEADY_US,
                               .after_run = m->has_run};
}

/* Keeps a sample unless it comes too soon after the last; when the series is full every second one goes. */
static void series_add(struct arena *a, struct bus_series *s, struct bus_sample x)
{
    if (s->n > 0 && x.time_us - s->at[s->n - 1].time_us < s->spacing_us && x.time_us >= s->at[s->n - 1].time_us) {
        return;
    }
    if (s->n == SERIES_MOST) {
        for (size_t i = 0; i < SERIES_MOST / 2; i++) {
            s->at[i] = s->at[2 * i];
        }
        s->n = SERIES_MOST / 2;
        int64_t span = s->at[s->n - 1].time_us - s->at[0].time_us;
        s->spacing_us = span > 0 ? span / (SERIES_MOST / 2) : 0;
    }
    ARENA_PUSH(a, s->at, s->n, s->cap) = x;
}

/* Adds a good value to extremes and series. */
static void add_value(struct summariser *m, struct bus_signal_summary *s, const struct bus_reading *r)
{
    struct bus_sample x = sample_of(m, r);
    bool first = s->n[BUS_OK] == 1;
    s->first = first ? x : s->first;
    s->last = x;
    s->last_raw = r->raw;
    s->lowest = first || x.value < s->lowest.value ? x : s->lowest;
    s->highest = first || x.value > s->highest.value ? x : s->highest;
    if (x.engine == BUS_ENGINE_CRANKING && (s->n_cranking++ == 0 || x.value < s->lowest_cranking.value)) {
        s->lowest_cranking = x;
    }
    if (x.engine == BUS_ENGINE_RUNNING && (s->n_running++ == 0 || x.value > s->highest_running.value)) {
        s->highest_running = x;
    }
    series_add(m->a, &s->series, x);
}

/* Sink: a reading. */
static void on_reading(void *ctx, const struct bus_reading *r)
{
    struct summariser *m = ctx;
    struct bus_signal_summary *s = signal_of(m, r);
    s->n[r->status]++;
    if (r->signal->spn == SPN_ENGINE_SPEED) {
        follow_engine(m, s, r);
    }
    if (r->status == BUS_OK) {
        add_value(m, s, r);
    }
}

/* Sink: any message. Groups are counted on pages of 256, made when first met. */
static void on_message(void *ctx, const struct bus_message *msg)
{
    struct summariser *m = ctx;
    uint32_t **page = &m->s->groups[msg->pgn >> 8 & 0x3FF];
    *page = *page ? *page : ARENA_ARRAY(m->a, uint32_t, 256);
    (*page)[msg->pgn & 0xFF]++;
}

/* True when the message carries that fault. */
static bool carries(const struct bus_fault_message *f, const struct bus_fault *fault)
{
    for (size_t i = 0; i < f->n; i++) {
        if (f->faults[i].spn == fault->spn && f->faults[i].failure_mode == fault->failure_mode &&
            f->faults[i].conversion_method == fault->conversion_method) {
            return true;
        }
    }
    return false;
}

/* The summary of a fault, made when it is first met; null when there are too many. */
static struct bus_fault_summary *fault_of(struct summariser *m, const struct bus_fault_message *f,
                                          const struct bus_fault *fault)
{
    struct bus_summary *s = m->s;
    for (size_t i = 0; i < s->n_faults; i++) {
        struct bus_fault_summary *x = &s->faults[i];
        if (x->source == f->source && x->active == f->active && x->fault.spn == fault->spn &&
            x->fault.failure_mode == fault->failure_mode && x->fault.conversion_method == fault->conversion_method &&
            str_eq(x->interface, f->interface)) {
            return x;
        }
    }
    if (s->n_faults == LIST_MOST) {
        s->left_out++;
        return NULL;
    }
    struct bus_fault_summary new = {.interface = f->interface,
                                    .source = f->source,
                                    .active = f->active,
                                    .fault = *fault,
                                    .first_us = f->time_us,
                                    .gone_us = INT64_MIN};
    ARENA_PUSH(m->a, s->faults, s->n_faults, s->cap_faults) = new;
    return &s->faults[s->n_faults - 1];
}

/* Counts the states of the lamps of a sender. */
static void add_lamps(struct summariser *m, const struct bus_fault_message *f)
{
    struct bus_summary *s = m->s;
    const struct bus_lamps *l = &f->lamps;
    uint8_t bytes[2] = {
        (uint8_t)(l->protect | l->amber << 2 | l->red << 4 | l->malfunction << 6),
        (uint8_t)(l->protect_flash | l->amber_flash << 2 | l->red_flash << 4 | l->malfunction_flash << 6)};
    size_t i = 0;
    while (i < s->n_lamps && !(s->lamps[i].source == f->source && s->lamps[i].active == f->active &&
                               str_eq(s->lamps[i].interface, f->interface))) {
        i++;
    }
    if (i == s->n_lamps) {
        ARENA_PUSH(m->a, s->lamps, s->n_lamps, s->cap_lamps) =
            (struct bus_lamp_summary){.interface = f->interface, .source = f->source, .active = f->active};
    }
    struct bus_lamp_summary *lamps = &s->lamps[i];
    lamps->messages++;
    size_t k = 0;
    while (k < lamps->n && memcmp(lamps->states[k].bytes, bytes, 2) != 0) {
        k++;
    }
    if (k == lamps->n) {
        ARENA_PUSH(m->a, lamps->states, lamps->n, lamps->cap) = (struct bus_lamp_state){{bytes[0], bytes[1]}, 0};
    }
    lamps->states[k].messages++;
}

/* Sink: DM1 or DM2. */
static void on_faults(void *ctx, const struct bus_fault_message *f)
{
    struct summariser *m = ctx;
    add_lamps(m, f);
    for (size_t i = 0; i < f->n; i++) {
        struct bus_fault_summary *x = fault_of(m, f, &f->faults[i]);
        if (!x) {
            continue;
        }
        x->seen++;
        x->occurrences_last = f->faults[i].occurrences;
        x->last_us = f->time_us;
        x->gone_us = INT64_MIN;
        x->lamp_red |= f->lamps.red == 1;
        x->lamp_amber |= f->lamps.amber == 1;
        x->lamp_protect |= f->lamps.protect == 1;
        x->lamp_malfunction |= f->lamps.malfunction == 1;
    }
    for (size_t i = 0; i < m->s->n_faults; i++) {
        struct bus_fault_summary *x = &m->s->faults[i];
        if (x->gone_us == INT64_MIN && x->source == f->source && x->active == f->active &&
            str_eq(x->interface, f->interface) && !carries(f, &x->fault)) {
            x->gone_us = f->time_us;
        }
    }
}

/* Sink: an address claim; a NAME is kept once for each address. */
static void on_claim(void *ctx, const struct bus_claim *c)
{
    struct summariser *m = ctx;
    for (size_t i = 0; i < m->s->n_claims; i++) {
        const struct bus_claim *x = &m->s->claims[i];
        if (x->source == c->source && memcmp(x->raw, c->raw, sizeof c->raw) == 0 &&
            str_eq(x->interface, c->interface)) {
            return;
        }
    }
    if (m->s->n_claims == LIST_MOST) {
        m->s->left_out++;
        return;
    }
    ARENA_PUSH(m->a, m->s->claims, m->s->n_claims, m->s->cap_claims) = *c;
}

/* Sink: an identification; a text is kept once. */
static void on_identification(void *ctx, const struct bus_identification *t)
{
    struct summariser *m = ctx;
    for (size_t i = 0; i < m->s->n_identifications; i++) {
        const struct bus_identification *x = &m->s->identifications[i];
        if (x->source == t->source && x->pgn == t->pgn && str_eq(x->text, t->text) &&
            str_eq(x->interface, t->interface)) {
            return;
        }
    }
    if (m->s->n_identifications == LIST_MOST) {
        m->s->left_out++;
        return;
    }
    struct bus_identification kept = *t;
    kept.text = str_copy(m->a, t->text);
    ARENA_PUSH(m->a, m->s->identifications, m->s->n_identifications, m->s->cap_identifications) = kept;
}

/* Sink: a transport session ended. */
static void on_transport(void *ctx, const struct bus_transport_end *t)
{
    struct summariser *m = ctx;
    m->s->transports[t->outcome]++;
    if (m->s->n_ended < BUS_TRANSPORTS_KEPT) {
        struct bus_transport_end kept = *t;
        kept.data = t->outcome == BUS_TRANSPORT_COMPLETE ? (const uint8_t *)arena_copy(m->a, t->data, t->size) : NULL;
        ARENA_PUSH(m->a, m->s->ended, m->s->n_ended, m->s->cap_ended) = kept;
    }
}

/* -1, 0, 1 */
static int compare(int64_t a, int64_t b)
{
    return (a > b) - (a < b);
}

#define BY(order)         \
    do {                  \
        int by = (order); \
        if (by != 0) {    \
            return by;    \
        }                 \
    } while (0)

/* By interface, source, pgn, spn. */
static int by_signal(const void *pa, const void *pb)
{
    const struct bus_signal_summary *a = *(struct bus_signal_summary *const *)pa;
    const struct bus_signal_summary *b = *(struct bus_signal_summary *const *)pb;
    BY(str_cmp(a->interface, b->interface));
    BY(compare(a->source, b->source));
    BY(compare(a->signal->pgn, b->signal->pgn));
    return compare(a->signal->spn, b->signal->spn);
}

/* By interface, source, active before previous, spn, failure mode. */
static int by_fault(const void *pa, const void *pb)
{
    const struct bus_fault_summary *a = pa;
    const struct bus_fault_summary *b = pb;
    BY(str_cmp(a->interface, b->interface));
    BY(compare(a->source, b->source));
    BY(compare(b->active, a->active));
    BY(compare(a->fault.spn, b->fault.spn));
    BY(compare(a->fault.failure_mode, b->fault.failure_mode));
    return compare(a->fault.conversion_method, b->fault.conversion_method);
}

/* By interface, source, active before previous. */
static int by_lamp(const void *pa, const void *pb)
{
    const struct bus_lamp_summary *a = pa;
    const struct bus_lamp_summary *b = pb;
    BY(str_cmp(a->interface, b->interface));
    BY(compare(a->source, b->source));
    return compare(b->active, a->active);
}

/* By interface, source, time. */
static int by_claim(const void *pa, const void *pb)
{
    const struct bus_claim *a = pa;
    const struct bus_claim *b = pb;
    BY(str_cmp(a->interface, b->interface));
    BY(compare(a->source, b->source));
    return compare(a->time_us, b->time_us);
}

/* By interface, source, pgn, time. */
static int by_identification(const void *pa, const void *pb)
{
    const struct bus_identification *a = pa;
    const struct bus_identification *b = pb;
    BY(str_cmp(a->interface, b->interface));
    BY(compare(a->source, b->source));
    BY(compare(a->pgn, b->pgn));
    return compare(a->time_us, b->time_us);
}

/* qsort that takes an empty list. */
static void sort(void *at, size_t n, size_t size, int (*order)(const void *, const void *))
{
    if (n > 1) {
        qsort(at, n, size, order);
    }
}

/* Adds a frame to the digest: what it carried and when from the first frame on, not how the file was written. Of error
 * and CAN FD frames only that they came, since formats differ in what they tell of them. */
static void digest_frame(crypto_hash_sha256_state *h, const struct bus_frame *f, int64_t first_us, size_t interface)
{
    uint8_t b[8 + 1 + 1 + 4 + 1 + 8] = {0};
    uint64_t t = (uint64_t)(f->time_us - first_us);
    for (size_t i = 0; i < 8; i++) {
        b[i] = (uint8_t)(t >> 8 * i);
    }
    b[8] = (uint8_t)interface;
    b[9] = (uint8_t)f->kind;
    if (f->kind != BUS_FRAME_ERROR && f->kind != BUS_FRAME_FD) {
        for (size_t i = 0; i < 4; i++) {
            b[10 + i] = (uint8_t)(f->id >> 8 * i);
        }
        b[14] = f->n;
        memcpy(b + 15, f->data, sizeof f->data);
    }
    crypto_hash_sha256_update(h, b, sizeof b);
}

/* Number of an interface in the order of appearance, at most 255. */
static size_t interface_number(struct summariser *m, struct str name)
{
    size_t i = 0;
    while (i < m->n_interfaces && !str_eq(m->interfaces[i], name)) {
        i++;
    }
    if (i == m->n_interfaces && i < 255) {
        ARENA_PUSH(m->a, m->interfaces, m->n_interfaces, m->cap_interfaces) = str_copy(m->a, name);
    }
    return i;
}

/* Reads all frames. */
static void read_all(struct summariser *m, struct bus_decoder *d, struct bus_source source)
{
    struct bus_summary *s = m->s;
    struct bus_frame f;
    crypto_hash_sha256_state h;
    crypto_hash_sha256_init(&h);
    while (source.next(source.ctx, &f)) {
        s->frames[f.kind]++;
        s->first_us = s->first_us == INT64_MIN ? f.time_us : s->first_us;
        s->last_us = f.time_us;
        digest_frame(&h, &f, s->first_us, interface_number(m, f.interface));
        bus_decoder_frame(d, &f);
    }
    bus_decoder_end(d);
    crypto_hash_sha256_final(&h, s->digest);
}

struct bus_summary *bus_summarise(struct arena *a, const struct bus_table *table, struct bus_source source)
{
    struct bus_summary *s = ARENA_NEW(a, struct bus_summary);
    s->first_us = s->last_us = INT64_MIN;
    s->groups = ARENA_ARRAY(a, uint32_t *, 1024);
    struct summariser m = {.a = a, .table = table, .s = s, .speed_rpm = NAN, .anchor_rpm = NAN};
    struct bus_decoder *d = bus_decoder_new(a, table,
                                            (struct bus_sink){.ctx = &m,
                                                              .message = on_message,
                                                              .reading = on_reading,
                                                              .faults = on_faults,
                                                              .claim = on_claim,
                                                              .identification = on_identification,
                                                              .transport = on_transport});
    read_all(&m, d, source);
    s->decoder = bus_decoder_counts(d);
    sort(s->signals, s->n_signals, sizeof *s->signals, by_signal);
    sort(s->faults, s->n_faults, sizeof *s->faults, by_fault);
    sort(s->lamps, s->n_lamps, sizeof *s->lamps, by_lamp);
    sort(s->claims, s->n_claims, sizeof *s->claims, by_claim);
    sort(s->identifications, s->n_identifications, sizeof *s->identifications, by_identification);
    return s;
}
