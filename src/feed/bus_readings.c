/* Readings as lines of CSV, and a recording held against such a list. */
#include "bus_internal.h"

#include <math.h>

#define HEADER "time,iface,source_address,pgn,spn,raw,status,value,unit"
#define COLUMNS 9
#define DIFFERENCES_TOLD 10

/* "1546300800.028000" */
static void add_seconds(struct text *t, int64_t us)
{
    text_int(t, us / 1000000);
    text_char(t, '.');
    text_zeros(t, us % 1000000, 6);
}

/* What a line of the list says of a reading behind its time and interface. */
static void add_rest(struct text *t, const struct bus_reading *r)
{
    text_int(t, r->source);
    text_char(t, ',');
    text_int(t, r->signal->pgn);
    text_char(t, ',');
    text_int(t, r->signal->spn);
    text_char(t, ',');
    text_int(t, r->raw);
    text_join(t, ",", bus_status_text(r->status), ",", (char *)0);
    if (r->status == BUS_OK) {
        text_double(t, r->value);
    }
    text_join(t, ",", r->signal->unit, (char *)0);
}

/* One line of the list. */
static void add_reading(struct text *t, const struct bus_reading *r)
{
    add_seconds(t, r->time_us);
    text_char(t, ',');
    text_add(t, r->interface);
    text_char(t, ',');
    add_rest(t, r);
}

/* Sink for bus_readings_csv. */
static void write_reading(void *ctx, const struct bus_reading *r)
{
    struct text *t = ctx;
    if (r->status != BUS_NOT_AVAILABLE) {
        add_reading(t, r);
        text_char(t, '\n');
    }
}

/* Reads a source to its end into a sink. */
static void decode_all(struct arena *a, const struct bus_table *table, struct bus_source source, struct bus_sink sink)
{
    struct bus_decoder *d = bus_decoder_new(a, table, sink);
    struct bus_frame f;
    while (source.next(source.ctx, &f)) {
        bus_decoder_frame(d, &f);
    }
    bus_decoder_end(d);
}

void bus_readings_csv(struct text *t, struct arena *a, const struct bus_table *table, struct bus_source source)
{
    text_addz(t, HEADER "\n");
    decode_all(a, table, source, (struct bus_sink){.ctx = t, .reading = write_reading});
}

/* A comparison under way. */
struct comparison {
    struct arena *a;
    struct bus_csv expected;
    const struct bus_recording *recording;
    struct bus_case_result *result;
    struct text text;
    bool more; /* the expected list has not ended */
    bool first;
    int64_t offset_us;               /* expected time - ours */
    struct str ours[16], theirs[16]; /* interfaces of an ASC recording and what the list calls them */
    size_t n_interfaces;
};

/* Begins the text of a difference; null when enough have been told. */
static struct text *differ(struct comparison *c)
{
    if (c->result->differences++ >= DIFFERENCES_TOLD) {
        return NULL;
    }
    text_addz(&c->text, "line ");
    text_int(&c->text, c->expected.line);
    text_addz(&c->text, ": ");
    return &c->text;
}

/* The value rounds to the expected text: at most half a unit of its last digit away. */
static bool value_same(struct str expected, const struct bus_reading *r)
{
    double v = 0;
    if (expected.n == 0 || r->status != BUS_OK) {
        return expected.n == 0 && r->status != BUS_OK;
    }
    if (!num_parse(expected, &v)) {
        return false;
    }
    ptrdiff_t point = str_find(expected, S("."));
    ptrdiff_t exponent = str_find(expected, S("e"));
    double last = point < 0 ? 1 : pow(10, -(double)((exponent < 0 ? (ptrdiff_t)expected.n : exponent) - point - 1));
    if (exponent >= 0) {
        double e = 0;
        num_parse(str_cut(expected, (size_t)exponent + 1, expected.n), &e);
        last *= pow(10, e);
    }
    /* A whole number may be a rounded one, but then our value must be exactly it when ours is whole as well. */
    return fabs(v - r->value) <= (point < 0 && exponent < 0 ? 1e-9 : last / 2) + fabs(v) * 1e-12;
}

/* The interface is the expected one; those of an ASC recording are numbers and learn their names. */
static bool interface_same(struct comparison *c, struct str expected, struct str ours)
{
    if (c->recording->format != BUS_FORMAT_ASC) {
        return str_eq(expected, ours);
    }
    for (size_t i = 0; i < c->n_interfaces; i++) {
        bool same = str_eq(c->ours[i], ours);
        if (same || str_eq(c->theirs[i], expected)) {
            return same && str_eq(c->theirs[i], expected);
        }
    }
    if (c->n_interfaces < sizeof c->ours / sizeof *c->ours) {
        c->ours[c->n_interfaces] = ours;
        c->theirs[c->n_interfaces++] = str_copy(c->a, expected);
    }
    return true;
}

/* The time is the expected one; an ASC recording counts from its start, to its own resolution. */
static bool time_same(struct comparison *c, struct str expected, int64_t time_us)
{
    int64_t us = 0;
    int64_t step = 0;
    size_t end = 0;
    if (!bus_seconds(expected, &end, &us, &step) || end != expected.n) {
        return false;
    }
    bool counted = c->recording->format == BUS_FORMAT_ASC;
    if (c->first && counted) {
        c->offset_us = us - time_us;
    }
    c->first = false;
    int64_t off = us - time_us - c->offset_us;
    int64_t most = counted && c->recording->resolution_us > 1 ? c->recording->resolution_us : 0;
    return off >= -most && off <= most;
}

/* A whole number cell is that number. */
static bool number_same(struct str expected, uint32_t ours)
{
    int64_t v = 0;
    return num_parse_i64(expected, &v) && v == ours;
}

/* Holds a reading against the row the list stands on. */
static bool same(struct comparison *c, const struct bus_reading *r)
{
    const struct str *cell = c->expected.cell;
    return c->expected.n == COLUMNS && time_same(c, cell[0], r->time_us) && interface_same(c, cell[1], r->interface) &&
           number_same(cell[2], r->source) && number_same(cell[3], r->signal->pgn) &&
           number_same(cell[4], r->signal->spn) && number_same(cell[5], r->raw) &&
           str_eq(cell[6], str_of(bus_status_text(r->status))) && value_same(cell[7], r) &&
           str_eq(cell[8], str_of(r->signal->unit));
}

/* Sink: compares one reading with the next row. */
static void compare_reading(void *ctx, const struct bus_reading *r)
{
    struct comparison *c = ctx;
    if (r->status == BUS_NOT_AVAILABLE) {
        return;
    }
    c->result->readings++;
    c->more = c->more && bus_csv_next(&c->expected);
    c->result->expected += c->more;
    if (c->more && same(c, r)) {
        return;
    }
    struct text *t = differ(c);
    if (!t) {
        return;
    }
    text_addz(t, "expected ");
    for (size_t i = 0; c->more && i < c->expected.n; i++) {
        text_addz(t, i ? "," : "");
        text_add(t, c->expected.cell[i]);
    }
    text_addz(t, c->more ? " but read " : "no more readings but read ");
    struct bus_reading shown = *r;
    shown.time_us += c->offset_us;
    add_reading(t, &shown);
    text_char(t, '\n');
}

/* Checks the header of the list. */
static bool read_header(struct bus_csv *csv, struct str name, struct err *e)
{
    struct str rest = S(HEADER);
    struct str column = {0};
    bool ok = bus_csv_next(csv);
    for (size_t i = 0; ok && str_next(&rest, ',', &column); i++) {
        ok = i < csv->n && str_eq(csv->cell[i], column);
    }
    return (ok && csv->n == COLUMNS) || err_at(e, (struct where){name, csv->line, 1}, ERR_INPUT, "a first line " HEADER,
                                               "this is no list of readings", (char *)0);
}

bool feed_bus_case(struct arena *a, struct str recording_name, struct str recording, struct str expected_name,
                   struct str expected_csv, struct bus_case_result *result, struct err *e)
{
    *result = (struct bus_case_result){0};
    struct bus_recording r;
    struct diags findings = diags_new(a, DIFFERENCES_TOLD);
    struct bus_csv csv = bus_csv_new(a, expected_csv);
    if (!bus_recording_open(&r, a, recording_name, recording, &findings, e) || !read_header(&csv, expected_name, e)) {
        return false;
    }
    struct comparison c = {
        .a = a, .expected = csv, .recording = &r, .result = result, .text = text_new(a), .more = true, .first = true};
    decode_all(a, &bus_table_builtin, bus_recording_source(&r),
               (struct bus_sink){.ctx = &c, .reading = compare_reading});
    while (c.more && bus_csv_next(&c.expected)) {
        result->expected++;
        struct text *t = differ(&c);
        if (t) {
            text_addz(t, "expected a reading that the recording does not give\n");
        }
    }
    result->text = text_str(&c.text);
    return result->differences == 0;
}
