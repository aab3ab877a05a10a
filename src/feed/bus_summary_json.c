/* The summary as JSON, see docs/bus.md. Times are microseconds written as seconds, as the source counts them. */
#include "bus_internal.h"

/* "1546300800.028000" */
static struct str seconds(struct arena *a, int64_t us)
{
    struct text t = text_new(a);
    if (us < 0) {
        text_char(&t, '-');
        us = -us;
    }
    text_int(&t, us / 1000000);
    text_char(&t, '.');
    text_zeros(&t, us % 1000000, 6);
    return text_str(&t);
}

/* Bytes as upper case hex. */
static struct str hex(struct arena *a, const uint8_t *p, size_t n)
{
    static const char digits[] = "0123456789ABCDEF";
    struct text t = text_new(a);
    for (size_t i = 0; i < n; i++) {
        text_char(&t, digits[p[i] >> 4]);
        text_char(&t, digits[p[i] & 15]);
    }
    return text_str(&t);
}

/* Bytes taken for ISO 8859-1, as UTF-8; the JSON writer escapes what cannot be printed. */
static struct str latin1(struct arena *a, struct str s)
{
    struct text t = text_new(a);
    for (size_t i = 0; i < s.n; i++) {
        text_utf8(&t, (unsigned char)s.p[i]);
    }
    return text_str(&t);
}

/* Frames by kind and messages by group. */
static void write_counts(struct json *j, const struct bus_summary *s)
{
    static const char *const kinds[BUS_FRAME_KINDS] = {"29bit", "11bit", "remote", "error", "fd"};
    json_begin_object(j, "frames");
    for (int i = 0; i < BUS_FRAME_KINDS; i++) {
        json_int(j, kinds[i], (int64_t)s->frames[i]);
    }
    json_end_object(j);
    json_begin_array(j, "groups");
    for (uint32_t pgn = 0; pgn < 1024 * 256; pgn++) {
        if (!s->groups[pgn >> 8]) {
            pgn |= 0xFF;
        } else if (s->groups[pgn >> 8][pgn & 0xFF] > 0) {
            json_begin_object(j, NULL);
            json_int(j, "pgn", pgn);
            json_int(j, "messages", s->groups[pgn >> 8][pgn & 0xFF]);
            json_end_object(j);
        }
    }
    json_end_array(j);
}

/* Who said it. */
static void write_sender(struct json *j, struct str interface, uint8_t source)
{
    json_str(j, "interface", interface);
    json_int(j, "source", source);
}

/* Every signal that was sent, also those that were never available. */
static void write_signals(struct json *j, const struct bus_summary *s)
{
    json_begin_array(j, "signals");
    for (size_t i = 0; i < s->n_signals; i++) {
        const struct bus_signal_summary *x = s->signals[i];
        json_begin_object(j, NULL);
        write_sender(j, x->interface, x->source);
        json_int(j, "pgn", x->signal->pgn);
        json_int(j, "spn", x->signal->spn);
        json_strz(j, "name", x->signal->name);
        json_strz(j, "unit", x->signal->unit);
        json_int(j, "ok", (int64_t)x->n[BUS_OK]);
        json_int(j, "reserved", (int64_t)x->n[BUS_RESERVED]);
        json_int(j, "error", (int64_t)x->n[BUS_ERROR]);
        json_int(j, "not_available", (int64_t)x->n[BUS_NOT_AVAILABLE]);
        if (x->n[BUS_OK] > 0) {
            json_num(j, "first", x->first.value);
            json_num(j, "last", x->last.value);
            json_num(j, "lowest", x->lowest.value);
            json_num(j, "highest", x->highest.value);
        }
        json_end_object(j);
    }
    json_end_array(j);
}

/* Faults, active and stored. */
static void write_faults(struct json *j, const struct bus_summary *s)
{
    json_begin_array(j, "faults");
    for (size_t i = 0; i < s->n_faults; i++) {
        const struct bus_fault_summary *x = &s->faults[i];
        json_begin_object(j, NULL);
        write_sender(j, x->interface, x->source);
        json_bool(j, "active", x->active);
        json_int(j, "spn", x->fault.spn);
        json_int(j, "failure_mode", x->fault.failure_mode);
        json_bool(j, "number_uncertain", x->fault.conversion_method);
        json_int(j, "seen", (int64_t)x->seen);
        json_int(j, "occurrences_first", x->fault.occurrences);
        json_int(j, "occurrences_last", x->occurrences_last);
        json_str(j, "first", seconds(j->t->a, x->first_us));
        json_str(j, "last", seconds(j->t->a, x->last_us));
        if (x->gone_us != INT64_MIN) {
            json_str(j, "gone", seconds(j->t->a, x->gone_us));
        }
        json_end_object(j);
    }
    json_end_array(j);
}

/* The lamps of each sender and how often each state was sent. */
static void write_lamps(struct json *j, const struct bus_summary *s)
{
    json_begin_array(j, "lamps");
    for (size_t i = 0; i < s->n_lamps; i++) {
        const struct bus_lamp_summary *x = &s->lamps[i];
        json_begin_object(j, NULL);
        write_sender(j, x->interface, x->source);
        json_bool(j, "active", x->active);
        json_int(j, "messages", (int64_t)x->messages);
        json_begin_array(j, "states");
        for (size_t k = 0; k < x->n; k++) {
            const uint8_t *b = x->states[k].bytes;
            json_begin_object(j, NULL);
            json_int(j, "protect", b[0] & 3);
            json_int(j, "amber", b[0] >> 2 & 3);
            json_int(j, "red", b[0] >> 4 & 3);
            json_int(j, "malfunction", b[0] >> 6);
            json_int(j, "protect_flash", b[1] & 3);
            json_int(j, "amber_flash", b[1] >> 2 & 3);
            json_int(j, "red_flash", b[1] >> 4 & 3);
            json_int(j, "malfunction_flash", b[1] >> 6);
            json_int(j, "messages", (int64_t)x->states[k].messages);
            json_end_object(j);
        }
        json_end_array(j);
        json_end_object(j);
    }
    json_end_array(j);
}

/* Who claimed which address. */
static void write_claims(struct json *j, const struct bus_summary *s)
{
    json_begin_array(j, "address_claims");
    for (size_t i = 0; i < s->n_claims; i++) {
        const struct bus_claim *x = &s->claims[i];
        json_begin_object(j, NULL);
        write_sender(j, x->interface, x->source);
        json_str(j, "name", hex(j->t->a, x->raw, sizeof x->raw));
        json_int(j, "identity", x->name.identity);
        json_int(j, "manufacturer", x->name.manufacturer);
        json_int(j, "ecu_instance", x->name.ecu_instance);
        json_int(j, "function_instance", x->name.function_instance);
        json_int(j, "function", x->name.function);
        json_int(j, "vehicle_system", x->name.vehicle_system);
        json_int(j, "vehicle_system_instance", x->name.vehicle_system_instance);
        json_int(j, "industry_group", x->name.industry_group);
        json_bool(j, "arbitrary_capable", x->name.arbitrary_capable);
        json_end_object(j);
    }
    json_end_array(j);
}

/* Texts by which a controller names itself. */
static void write_identifications(struct json *j, const struct bus_summary *s)
{
    json_begin_array(j, "identifications");
    for (size_t i = 0; i < s->n_identifications; i++) {
        const struct bus_identification *x = &s->identifications[i];
        json_begin_object(j, NULL);
        write_sender(j, x->interface, x->source);
        json_int(j, "pgn", x->pgn);
        json_str(j, "text", latin1(j->t->a, x->text));
        json_end_object(j);
    }
    json_end_array(j);
}

/* Sessions of messages longer than a frame. */
static void write_transports(struct json *j, const struct bus_summary *s)
{
    json_int(j, "transport_packets_without_session", (int64_t)s->decoder.data_without_session);
    json_int(j, "transport_announcements_invalid", (int64_t)s->decoder.announcements_invalid);
    json_begin_array(j, "transports");
    for (size_t i = 0; i < s->n_ended; i++) {
        const struct bus_transport_end *x = &s->ended[i];
        json_begin_object(j, NULL);
        json_str(j, "time", seconds(j->t->a, x->time_us));
        write_sender(j, x->interface, x->source);
        json_int(j, "destination", x->destination);
        json_int(j, "pgn", x->pgn);
        json_bool(j, "directed", x->directed);
        json_int(j, "size", (int64_t)x->size);
        json_int(j, "packets", (int64_t)x->packets);
        json_int(j, "packets_of", (int64_t)x->packets_of);
        json_strz(j, "outcome", bus_transport_text(x->outcome));
        if (x->data) {
            json_str(j, "data", hex(j->t->a, x->data, x->size));
        }
        json_end_object(j);
    }
    json_end_array(j);
}

void bus_summary_json(struct json *j, const struct bus_summary *s)
{
    json_begin_object(j, NULL);
    write_counts(j, s);
    write_signals(j, s);
    write_faults(j, s);
    write_lamps(j, s);
    write_claims(j, s);
    write_identifications(j, s);
    write_transports(j, s);
    json_end_object(j);
}
