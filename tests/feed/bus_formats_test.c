/* Lines of candump and ASC logs, good and bad, and signal tables of a depot. Source of the formats: J1939_RULES.md,
 * "Log formats"; the ASC rows marked V are forms that Vector's own tools and python-can write. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "feed_bus.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define N(rows) (sizeof(rows) / sizeof *(rows))

/* "us interface kind id data" for each frame, a line each. */
static struct str frames_of(struct arena *a, const char *log, struct bus_recording *r, struct diags *d)
{
    static const char *const kinds[] = {"long", "short", "remote", "error", "fd"};
    struct err e = err_new(a);
    struct text t = text_new(a);
    struct bus_frame f;
    if (!bus_recording_open(r, a, S("log"), str_of(log), d, &e)) {
        return err_text(a, &e);
    }
    while (bus_recording_next(r, &f)) {
        char line[80];
        snprintf(line, sizeof line, "%lld %.*s %s %X", (long long)f.time_us, STR_ARG(f.interface), kinds[f.kind], f.id);
        text_addz(&t, line);
        text_char(&t, ' ');
        text_int(&t, f.n);
        for (int i = 0; f.kind <= BUS_FRAME_11 && i < f.n; i++) {
            snprintf(line, sizeof line, " %02X", f.data[i]);
            text_addz(&t, line);
        }
        text_char(&t, '\n');
    }
    return text_str(&t);
}

struct good {
    const char *log, *frames;
};

static void check_good(const struct good *rows, size_t n, unsigned malformed)
{
    for (size_t i = 0; i < n; i++) {
        struct arena a = arena_new(&arena_libc);
        struct diags d = diags_new(&a, 5);
        struct bus_recording r;
        assert_string_equal(str_z(&a, frames_of(&a, rows[i].log, &r, &d)), rows[i].frames);
        assert_int_equal(d.n, malformed);
        assert_int_equal(r.malformed, malformed);
        arena_free(&a);
    }
}

static void candump_lines(void **state)
{
    (void)state;
    static const struct good rows[] = {
        {"(1546300800.028000) can0 0CF00400#F0FF00", "1546300800028000 can0 long CF00400 3 F0 FF 00\n"},
        {"(0.5) vcan12 7DF#\r\n", "500000 vcan12 short 7DF 0\n"},
        {"(1.000001) can0 18feee00#aB", "1000001 can0 long 18FEEE00 1 AB\n"},
        {"(1.0000019) can0 18FEEE00#00", "1000001 can0 long 18FEEE00 1 00\n"}, /* past the microsecond it is cut */
        {"(1.0) can0 123#R\n(1.0) can0 123#R5\n(1.0) can0 18FEEE00#R8_F",
         "1000000 can0 remote 123 0\n1000000 can0 remote 123 5\n1000000 can0 remote 18FEEE00 8\n"},
        {"(1.0) can0 123##1AABB\n(1.0) can0 18FEEE00##0", "1000000 can0 fd 123 2\n1000000 can0 fd 18FEEE00 0\n"},
        {"(1.0) can0 20000080#0000000000000000", "1000000 can0 error 80 8\n"},
        {"(1.0) can0 123#01 R\n(1.0) can0 123#02 T", "1000000 can0 short 123 1 01\n1000000 can0 short 123 1 02\n"},
        {"(1.0) can0 123#0102030405060708_A", "1000000 can0 short 123 8 01 02 03 04 05 06 07 08\n"},
        {"\xEF\xBB\xBF\n  \n(1.0) can0 123#01\n\n", "1000000 can0 short 123 1 01\n"},
    };
    check_good(rows, N(rows), 0);
}

static void asc_lines(void **state)
{
    (void)state;
    static const struct good rows[] = {
        {"date Tue Jun  1 11:43:50 2021\nbase hex  timestamps absolute\nno internal events logged\n"
         "   0.000600 1  CF00400x        Rx   d 8 F0 FF 7D 00 00 FF FF FF\n",
         "600 can0 long CF00400 8 F0 FF 7D 00 00 FF FF FF\n"},
        {"base dec  timestamps absolute\n0.1 2  217056256x Rx d 3 240 255 0\n0.2 1 2015 Tx d 0",
         "100000 can1 long CF00400 3 F0 FF 00\n200000 can0 short 7DF 0\n"}, /* 0xCF00400 = 217056256 */
        {"base hex  timestamps relative\n0.5 1 123 Rx d 0\n0.25 1 123 Rx d 0\n0.25 1  ErrorFrame\n0.5 1 123 Rx d 0",
         "500000 can0 short 123 0\n750000 can0 short 123 0\n1000000 can0 error 0 0\n1500000 can0 short 123 0\n"},
        {"base hex  timestamps absolute\n0.1 1 18FEEE00x Rx r\n0.2 1 123 Rx r 8",
         "100000 can0 remote 18FEEE00 0\n200000 can0 remote 123 8\n"},
        /* V */
        {"date Sat Sep 30 03:06:13.191 pm 2017\nbase hex  timestamps absolute\ninternal events logged\n// version "
         "9.0.0\n"
         "Begin Triggerblock Sat Sep 30 03:06:13.191 pm 2017\n   0.000000 Start of measurement\n"
         "   0.000000 1  Statistic: D 0 R 0 XD 0 XR 0 E 0 O 0 B 0.00%\n"
         " 2.501000 1  ErrorFrame\n 3.098426 1  18EBFF00x       Rx   d 8 01 A0 0F A6 60 3B D1 40 "
         " Length = 273910 BitCount = 141 ID = 418119424x\n"
         " 4.000000 CANFD   1 Rx   18FEEE00x  name 0 0 8 8 00 11 22 33 44 55 66 77 130000 130 0 0 0 0 0\n"
         " 4.1 1  123 TxRq d 1 00\nEnd TriggerBlock\n",
         "2501000 can0 error 0 0\n3098426 can0 long 18EBFF00 8 01 A0 0F A6 60 3B D1 40\n4000000 can0 fd 0 0\n"},
    };
    check_good(rows, N(rows), 0);
}

/* Column from 1; the other lines of the recording are read all the same. */
static void bad_lines(void **state)
{
    (void)state;
    static const struct {
        const char *line;
        unsigned column;
        const char *what;
    } candump[] = {
        {"rubbish", 1, "does not begin with a time"},
        {"(x) can0 123#00", 2, "time is not seconds"},
        {"(12345678901.0) can0 123#00", 2, "time is not seconds"},
        {"(1.0 can0 123#00", 2, "time is not seconds"},
        {"(1.) can0 123#00", 2, "time is not seconds"},
        {"(1.0)", 6, "an interface should follow"},
        {"(1.0)can0 123#00", 6, "an interface should follow"},
        {"(1.0) can0", 11, "an identifier should follow"},
        {"(1.0) c\xFFn0 123#00", 7, "no interface's name"},
        {"(1.0) can0 1234#00", 12, "3 or 8 hex digits"},
        {"(1.0) can0 123456789#00", 12, "3 or 8 hex digits"},
        {"(1.0) can0 #00", 12, "3 or 8 hex digits"},
        {"(1.0) can0 12300", 12, "3 or 8 hex digits"},
        {"(1.0) can0 123 00", 15, "# should follow"},
        {"(1.0) can0 800#00", 12, "above 7FF"},
        {"(1.0) can0 98FEEE00#00", 12, "above 1FFFFFFF"},
        {"(1.0) can0 123#0", 16, "half a byte"},
        {"(1.0) can0 123#00 0", 18, "neither hex nor a direction"},
        {"(1.0) can0 123#00G", 18, "neither hex nor a direction"},
        {"(1.0) can0 123#001122334455667788", 32, "more data"},
        {"(1.0) can0 123##", 17, "flags of a CAN FD frame"},
        {"(1.0) can0 123#R9", 17, "neither hex nor a direction"},
    };
    static const struct {
        const char *line;
        unsigned column;
        const char *what;
    } asc[] = {
        {"rubbish", 1, "no line of an ASC log"},
        {"base oct  timestamps absolute", 6, "unknown base"},
        {"date Die Jun  1 11:43:50", 5, "date cannot be read"},
        {"date Tue Jun 31 11:43:50 2021", 5, "date cannot be read"},
        {"date Tue Foo  1 11:43:50 2021", 5, "date cannot be read"},
        {"date Tue Jun  1 25:43:50 2021", 5, "date cannot be read"},
        {"0.1 1  CF00400  Rx d 0", 8, "no identifier"},
        {"0.1 1  3CF00400x  Rx d 0", 8, "no identifier"},
        {"0.1 1  ", 6, "no identifier"},
        {"0.1 1  123  Up d 0", 13, "Rx or Tx"},
        {"0.1 1  123  Rx q 0", 16, "d (data) or r (remote)"},
        {"0.1 1  123  Rx d 10 00", 18, "length is not 0 to 15"},
        {"0.1 1  123  Rx d 2 00", 22, "fewer data bytes"},
        {"0.1 1  123  Rx d 2 00 1FF", 23, "no data byte"},
    };
    for (size_t i = 0; i < N(candump) + N(asc); i++) {
        bool is_asc = i >= N(candump);
        const char *line = is_asc ? asc[i - N(candump)].line : candump[i].line;
        unsigned column = is_asc ? asc[i - N(candump)].column : candump[i].column;
        const char *what = is_asc ? asc[i - N(candump)].what : candump[i].what;
        struct arena a = arena_new(&arena_libc);
        struct diags d = diags_new(&a, 5);
        struct bus_recording r;
        struct text t = text_new(&a);
        const char *good = is_asc ? "0.0 1 123 Rx d 1 55\n" : "(1.0) can0 123#55\n";
        text_join(&t, good, line, "\n", good, (char *)0);
        frames_of(&a, text_z(&t), &r, &d);
        assert_int_equal(r.frames[BUS_FRAME_11], 2);
        assert_int_equal(d.n, 1);
        if (d.at[0].where.line != 2 || d.at[0].where.column != column || str_find(d.at[0].what, str_of(what)) < 0 ||
            d.at[0].right.n == 0 || !str_eq(d.at[0].where.name, S("log"))) {
            fail_msg("%s: %u:%u: %.*s", line, d.at[0].where.line, d.at[0].where.column, STR_ARG(d.at[0].what));
        }
        arena_free(&a);
    }
}

/* What the times mean. 1622547830 is 2021-06-01T11:43:50Z. */
static void clocks(void **state)
{
    (void)state;
    static const struct {
        const char *log;
        enum bus_clock clock;
        instant_ms start;
    } rows[] = {
        {"(1622547830.1) can0 123#00", BUS_CLOCK_UTC, 0},
        {"(12.1) can0 123#00", BUS_CLOCK_NONE, INSTANT_NONE},
        {"date Tue Jun  1 11:43:50 2021\n0.1 1 123 Rx d 0", BUS_CLOCK_LOCAL, 1622547830000},
        {"date Tue Jun 1 11:43:50.250 pm 2021\n0.1 1 123 Rx d 0", BUS_CLOCK_LOCAL, 1622547830250 + 43200000},
        {"date Tue Jun 1 12:43:50 am 2021\n0.1 1 123 Rx d 0", BUS_CLOCK_LOCAL, 1622547830000 - 39600000},
        {"0.1 1 123 Rx d 0", BUS_CLOCK_NONE, INSTANT_NONE},
    };
    for (size_t i = 0; i < N(rows); i++) {
        struct arena a = arena_new(&arena_libc);
        struct diags d = diags_new(&a, 5);
        struct bus_recording r;
        frames_of(&a, rows[i].log, &r, &d);
        assert_int_equal(r.clock, rows[i].clock);
        assert_true(r.start_ms == rows[i].start);
        arena_free(&a);
    }
}

/* ---- signal tables ---- */

static const struct bus_table nothing;

/* The generator of the built-in table and the reader of a depot's table agree on every field of every row. */
static void table_readers_agree(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct diags d = diags_new(&a, 5);
    struct text path = text_new(&a);
    const char *source = getenv("WITMARK_SOURCE");
    text_join(&path, source ? source : ".", "/src/feed/data/j1939_signals.csv", (char *)0);
    FILE *f = fopen(text_z(&path), "rb");
    assert_non_null(f);
    struct text csv = text_new(&a);
    char block[8192];
    size_t n = 0;
    while ((n = fread(block, 1, sizeof block, f)) > 0) {
        text_add(&csv, (struct str){block, n});
    }
    fclose(f);
    struct bus_table t;
    assert_true(bus_table_extend(&a, &nothing, S("signals"), text_str(&csv), &t, &d));
    assert_int_equal(t.n, bus_table_builtin.n);
    assert_int_equal(t.n, 145); /* README of the table */
    for (size_t i = 0; i < t.n; i++) {
        const struct bus_signal *x = &t.at[i];
        const struct bus_signal *y = &bus_table_builtin.at[i];
        assert_int_equal(x->spn, y->spn);
        assert_int_equal(x->pgn, y->pgn);
        assert_string_equal(x->name, y->name);
        assert_string_equal(x->group, y->group);
        assert_string_equal(x->unit, y->unit);
        assert_string_equal(x->note, y->note);
        assert_int_equal(x->start_bit, y->start_bit);
        assert_int_equal(x->bits, y->bits);
        assert_int_equal(x->scale, y->scale);
        assert_int_equal(x->offset, y->offset);
        assert_int_equal(x->places, y->places);
        assert_int_equal(x->discrete, y->discrete);
        assert_int_equal(x->valid_max, y->valid_max);
        assert_int_equal(x->error_low, y->error_low);
        assert_int_equal(x->error_high, y->error_high);
        assert_int_equal(x->not_available_low, y->not_available_low);
        assert_int_equal(x->n_states, y->n_states);
        for (size_t k = 0; k < x->n_states; k++) {
            assert_int_equal(x->states[k].low, y->states[k].low);
            assert_int_equal(x->states[k].high, y->states[k].high);
            assert_int_equal(x->states[k].status, y->states[k].status);
            assert_string_equal(x->states[k].text, y->states[k].text);
        }
    }
    /* Merged into itself nothing changes. */
    struct bus_table again;
    assert_true(bus_table_extend(&a, &bus_table_builtin, S("signals"), text_str(&csv), &again, &d));
    assert_int_equal(again.n, 145);
    arena_free(&a);
}

/* A depot's rows are found, come in order of their groups, and replace. */
static void table_extends(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct diags d = diags_new(&a, 5);
    struct bus_table t;
    assert_true(bus_table_extend(&a, &bus_table_builtin, S("own.csv"),
                                 S("name,pgn,spn,start_bit0,bit_length,scale,offset,unit,states\n"
                                   "\"Broom speed, front\",65400,520200,0,16,0.5,0,rpm,\n"
                                   "Broom lowered,65400,520201,16,2,,,,0=up;1=down;2=error;3=not available\n"
                                   "Engine oil pressure,65263,100,24,8,8,0,kPa,\n"),
                                 &t, &d));
    size_t n = 0;
    const struct bus_signal *s = bus_table_group(&t, 65400, &n);
    assert_int_equal(n, 2);
    assert_string_equal(s[0].name, "Broom speed, front");
    assert_true(bus_signal_value(&s[0], 1001) == 500.5);
    assert_int_equal(bus_signal_status(&s[0], 0xFE00), BUS_ERROR);
    assert_int_equal(bus_signal_status(&s[1], 2), BUS_ERROR);
    assert_string_equal(bus_signal_state(&s[1], 1), "down");
    assert_int_equal(t.n, 147);
    assert_true(bus_signal_value(bus_table_spn(&t, 100), 60) == 480);
    assert_true(bus_signal_value(bus_table_spn(&bus_table_builtin, 100), 60) == 240);
    for (size_t i = 1; i < t.n; i++) {
        assert_true(t.at[i - 1].pgn <= t.at[i].pgn);
    }
    arena_free(&a);
}

static void table_errors(void **state)
{
    (void)state;
#define HEAD "spn,name,pgn,start_bit0,bit_length,scale,offset,unit,states\n"
    static const struct {
        const char *csv;
        unsigned line, column;
        const char *what;
    } rows[] = {
        {"", 1, 1, "spn: the header has no such column"},
        {"spn,name,pgn,start_bit0\n", 1, 1, "bit_length: the header has no such column"},
        {HEAD "524288,x,65400,0,8,1,0,,\n", 2, 1, "spn: not a whole number in range"},
        {HEAD "1,,65400,0,8,1,0,,\n", 2, 3, "name: empty"},
        {HEAD "1,x,262144,0,8,1,0,,\n", 2, 5, "pgn: not a whole number in range"},
        {HEAD "1,x,0xFEEE,0,8,1,0,,\n", 2, 5, "pgn: not a whole number in range"},
        {HEAD "1,x,61185,0,8,1,0,,\n", 2, 5, "pgn: the low byte of a directed group"},
        {HEAD "1,x,60416,0,8,1,0,,\n", 2, 5, "pgn: this group carries other messages"},
        {HEAD "1,x,65400,14280,8,1,0,,\n", 2, 11, "start_bit0: not a whole number"},
        {HEAD "1,x,65400,0,33,1,0,,\n", 2, 13, "bit_length: not a whole number"},
        {HEAD "1,x,65400,0,8,1e3,0,,\n", 2, 15, "scale: not a number that can scale"},
        {HEAD "1,x,65400,0,8,0,0,,\n", 2, 15, "scale: not a number that can scale"},
        {HEAD "1,x,65400,0,8,1,none,,\n", 2, 17, "offset: not a number"},
        {HEAD "1,x,65400,0,8,1000000,0.000000000001,,\n", 2, 15, "scale: too many digits"},
        {HEAD "1,x,65400,0,2,,,,off;on\n", 2, 18, "states: a state without a number"},
        {HEAD "1,x,65400,0,2,,,,a=off\n", 2, 18, "states: the number of a state"},
        {HEAD "1,x,65400,0,8,1,0,,\n2,\"a\n\"\"b\"\"\",65400,8,8,q,0,,\n", 4, 18, "scale: not a number"},
    };
    for (size_t i = 0; i < N(rows); i++) {
        struct arena a = arena_new(&arena_libc);
        struct diags d = diags_new(&a, 20);
        struct bus_table t = {0};
        assert_false(bus_table_extend(&a, &bus_table_builtin, S("own.csv"), str_of(rows[i].csv), &t, &d));
        assert_null(t.at); /* nothing half-made */
        const struct diag *x = &d.at[0];
        assert_true(d.errors > 0);
        if (x->where.line != rows[i].line || x->where.column != rows[i].column ||
            str_find(x->what, str_of(rows[i].what)) != 0 || x->right.n == 0) {
            fail_msg("row %zu: %u:%u: %.*s", i, x->where.line, x->where.column, STR_ARG(x->what));
        }
        arena_free(&a);
    }
}

/* A case file that is wrong says where; a value may be rounded, a raw number may not be another. */
static void cases(void **state)
{
    (void)state;
#define LIST "time,iface,source_address,pgn,spn,raw,status,value,unit\n"
    static const struct {
        const char *log, *list;
        bool same;
        const char *text; /* of the first difference */
    } rows[] = {
        {"(1.5) can0 18FEEE00#48", LIST "1.500000,can0,0,65262,110,72,ok,32,degC\n", true, ""},
        {"(1.5) can0 18FEEE00#48", LIST "1.500000,can0,0,65262,110,72,ok,32.0,degC\n", true, ""},
        {"(1.5) can0 18FEEE00#48", LIST "1.500000,can0,0,65262,110,72,ok,33,degC\n", false, "line 2: expected 1.5"},
        {"(1.5) can0 18FEEE00#48", LIST "1.500001,can0,0,65262,110,72,ok,32,degC\n", false, "line 2: expected 1.5"},
        {"(1.5) can0 18FEEE00#48", LIST "1.500000,can1,0,65262,110,72,ok,32,degC\n", false, "line 2: expected 1.5"},
        {"(1.5) can0 18FEEE00#48", LIST "1.500000,can0,0,65262,110,73,ok,32,degC\n", false, "line 2: expected 1.5"},
        {"(1.5) can0 18FEEE00#48", LIST, false, "line 2: expected no more readings but read 1.500000,can0,0,65262"},
        {"(1.5) can0 18FEEE00#FF", LIST "1.500000,can0,0,65262,110,72,ok,32,degC\n", false,
         "line 2: expected a reading that the recording does not give"},
        {"(1.5) can0 18FEF100#FF0100", LIST "1.500000,can0,0,65265,84,1,ok,0.004,km/h\n", true, ""}, /* 0.00390625 */
        {"(1.5) can0 18FEF100#FF0100", LIST "1.500000,can0,0,65265,84,1,ok,0.003,km/h\n", false, "line 2"},
        {"(1.5) can0 18FEEE00#FE", LIST "1.500000,can0,0,65262,110,254,error,,degC\n", true, ""},
        /* ASC: from the first reading on, channels for interfaces */
        {"0.5 2 18FEEE00x Rx d 1 48\n0.7 1 18FEEE00x Rx d 1 48",
         LIST "100.5,b,0,65262,110,72,ok,32,degC\n100.7,a,0,65262,110,72,ok,32,degC\n", true, ""},
        {"0.5 2 18FEEE00x Rx d 1 48\n0.7 1 18FEEE00x Rx d 1 48",
         LIST "100.5,b,0,65262,110,72,ok,32,degC\n100.7,b,0,65262,110,72,ok,32,degC\n", false, "line 3"},
        {"0.500000 2 18FEEE00x Rx d 1 48\n0.700000 1 18FEEE00x Rx d 1 48",
         LIST "100.5,b,0,65262,110,72,ok,32,degC\n100.700001,a,0,65262,110,72,ok,32,degC\n", false, "line 3"},
    };
    for (size_t i = 0; i < N(rows); i++) {
        struct arena a = arena_new(&arena_libc);
        struct err e = err_new(&a);
        struct bus_case_result r;
        bool same = feed_bus_case(&a, S("log"), str_of(rows[i].log), S("list"), str_of(rows[i].list), &r, &e);
        uint64_t listed = 0; /* lines behind the header */
        for (const char *p = rows[i].list; (p = strchr(p, '\n')) != NULL && *++p;) {
            listed++;
        }
        assert_int_equal(r.expected, listed);
        if (same != rows[i].same || e.kind != ERR_NONE || !str_starts(r.text, str_of(rows[i].text))) {
            fail_msg("row %zu: %d %.*s", i, same, STR_ARG(r.text));
        }
        arena_free(&a);
    }
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct bus_case_result r;
    assert_false(feed_bus_case(&a, S("log"), S("(1.5) can0 18FEEE00#48"), S("list"), S("a,b\n"), &r, &e));
    assert_true(str_starts(err_text(&a, &e), S("list:1:1: this is no list of readings")));
    arena_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(candump_lines),       cmocka_unit_test(asc_lines),
        cmocka_unit_test(bad_lines),           cmocka_unit_test(clocks),
        cmocka_unit_test(table_extends),       cmocka_unit_test(table_errors),
        cmocka_unit_test(table_readers_agree), cmocka_unit_test(cases),
    };
    return cmocka_run_group_tests_name("bus_formats", tests, NULL, NULL);
}
