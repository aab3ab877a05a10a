/* Units, quantities, ranges, intervals. Expected factors: NIST Special Publication 811 (2008 edition), appendix B.8, to
 * the seven digits printed there (exact ones in full), typed as value and power of ten like the table. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "quantity/quantity.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define assert_text(s, z) assert_string_equal(str_z(&a, (s)), (z))

static void factors_of_nist_sp811(void **state)
{
    (void)state;
    static const struct {
        const char *symbol;
        double factor;
        double rel; /* half a unit of the last digit printed; 0 = exact */
    } rows[] = {
        {"psi", 6.894757e3, 1e-7},
        {"bar", 1e5, 0},
        {"kgf/cm2", 9.80665e4, 0},
        {"atm", 1.01325e5, 0},
        {"Torr", 1.333224e2, 5e-7},
        {"mmHg (conventional)", 1.333224e2, 5e-7},
        {"inHg (conventional)", 3.386389e3, 2e-7},
        {"inHg (32 degF)", 3.38638e3, 2e-6},
        {"inHg (60 degF)", 3.37685e3, 2e-6},
        {"inH2O (conventional)", 2.490889e2, 2e-7},
        {"inH2O (39.2 degF)", 2.49082e2, 2e-6},
        {"inH2O (60 degF)", 2.4884e2, 2e-5},
        {"ftH2O (conventional)", 2.989067e3, 2e-7},
        {"mmH2O (conventional)", 9.80665, 0},
        {"lbf/ft2", 4.788026e1, 1e-7},
        {"in", 2.54e-2, 0},
        {"ft", 3.048e-1, 0},
        {"yd", 9.144e-1, 0},
        {"mi", 1.609344e3, 0},
        {"mil", 2.54e-5, 0},
        {"in2", 6.4516e-4, 0},
        {"ft2", 9.290304e-2, 0},
        {"ha", 1e4, 0},
        {"acre", 4.046873e3, 5e-6}, /* SP 811 prints the acre of the survey foot, 2 ppm longer */
        {"L", 1e-3, 0},
        {"in3", 1.638706e-5, 4e-7},
        {"ft3", 2.831685e-2, 2e-7},
        {"US gal", 3.785412e-3, 2e-7},
        {"US qt", 9.463529e-4, 1e-7},
        {"US pt", 4.731765e-4, 2e-7},
        {"US fl oz", 2.957353e-5, 2e-7},
        {"imp gal", 4.54609e-3, 0},
        {"imp fl oz", 2.841306e-5, 2e-7},
        {"lb", 4.535924e-1, 2e-7},
        {"oz", 2.834952e-2, 2e-7},
        {"short ton", 9.071847e2, 1e-7},
        {"long ton", 1.016047e3, 5e-7},
        {"lb/ft3", 1.601846e1, 4e-7},
        {"lb/US gal", 1.198264e2, 4e-7},
        {"lbf", 4.448222, 1e-7},
        {"ozf", 2.780139e-1, 2e-7},
        {"kgf", 9.80665, 0},
        {"lbf.ft", 1.355818, 1e-7},
        {"lbf.in", 1.129848e-1, 4e-7},
        {"ozf.in", 7.061552e-3, 1e-7},
        {"kgf.m", 9.80665, 0},
        {"Btu", 1.055056e3, 2e-7},
        {"kWh", 3.6e6, 0},
        {"hp", 7.456999e2, 1e-7},
        {"PS", 7.354988e2, 1e-7},
        {"km/h", 2.777778e-1, 1e-7},
        {"mph", 4.4704e-1, 0},
        {"ft/s", 3.048e-1, 0},
        {"ft/min", 5.08e-3, 0},
        {"kn", 5.144444e-1, 1e-7},
        {"rpm", 1.047198e-1, 5e-7},
        {"L/min", 1.666667e-5, 3e-7},
        {"US gal/min", 6.309020e-5, 1e-7},
        {"ft3/min", 4.719474e-4, 1e-7},
        {"cSt", 1e-6, 0},
        {"St", 1e-4, 0},
        {"cP", 1e-3, 0},
        {"P", 1e-1, 0},
        {"lbf/in", 1.751268e2, 3e-7},
        {"Ah", 3.6e3, 0},
        {"deg", 1.745329e-2, 2e-7},
        {"turn", 6.283185, 1e-7},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const struct unit *u = unit_find(str_of(rows[i].symbol));
        if (!u) {
            fail_msg("%s is not known", rows[i].symbol);
        }
        double off = fabs(u->factor / rows[i].factor - 1);
        if (off > (rows[i].rel > 0 ? rows[i].rel : 1e-15)) {
            fail_msg("%s: factor %.17g, NIST SP 811 has %.17g", rows[i].symbol, u->factor, rows[i].factor);
        }
    }
}

/* Fixed points of the temperature scales: NIST SP 811 B.8 formulas; water freezes at 0 degC = 32 degF = 273.15 K. */
static void temperatures(void **state)
{
    (void)state;
    static const struct {
        double value;
        const char *from, *to;
        double expected;
    } rows[] = {
        {-40, "degF", "degC", -40},         {32, "degF", "degC", 0},
        {212, "degF", "degC", 100},         {0, "degC", "K", 273.15},
        {-459.67, "degF", "K", 0},          {-273.15, "degC", "degF", -459.67},
        {491.67, "degR", "degF", 32},       {10, "delta degF", "delta K", 50.0 / 9},
        {5, "delta degC", "delta degF", 9},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct err e = err_new(&a);
        double out = NAN;
        assert_true(
            unit_convert(rows[i].value, unit_find(str_of(rows[i].from)), unit_find(str_of(rows[i].to)), &out, &e));
        assert_true(fabs(out - rows[i].expected) < 1e-9);
    }
    arena_free(&a);
}

static void conversions_refused(void **state)
{
    (void)state;
    const struct {
        double value;
        const char *from, *to, *text;
    } rows[] = {
        {-460, "degF", "degC", "-460 degF is below absolute zero; at least 0 K = -273.15 degC = -459.67 degF"},
        {-0.001, "K", "degC", "-0.001 K is below absolute zero; at least 0 K = -273.15 degC = -459.67 degF"},
        {NAN, "bar", "psi", "not a number bar cannot be converted; a finite number"},
        {-INFINITY, "bar", "psi", "-infinity bar cannot be converted; a finite number"},
        {1, "N.m", "kWh", "N.m is a torque, kWh is a energy; units of the same kind of quantity"},
        {1e308, "MPa", "Pa", "1e+308 MPa is too large for Pa; a smaller number"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct err e = err_new(&a);
        double out = 42;
        assert_false(
            unit_convert(rows[i].value, unit_find(str_of(rows[i].from)), unit_find(str_of(rows[i].to)), &out, &e));
        assert_int_equal(e.kind, ERR_DOMAIN);
        assert_true(out == 42);
        assert_text(err_text(&a, &e), rows[i].text);
    }
    arena_free(&a);
}

/* The table itself: symbols and shown forms lead back to their unit, kinds stand together, counterparts exist, are of
 * the same kind, and are where a reader of that system stays. */
static void table_is_whole(void **state)
{
    (void)state;
    size_t n = 0;
    const struct unit *all = unit_all(&n);
    bool seen[64] = {false};
    assert_true(n > 100);
    for (size_t i = 0; i < n; i++) {
        if (unit_find(str_of(all[i].symbol)) != &all[i] || unit_find(str_of(all[i].shown)) != &all[i]) {
            fail_msg("%s or %s leads elsewhere", all[i].symbol, all[i].shown);
        }
        if (i == 0 || all[i].kind != all[i - 1].kind) {
            assert_false(seen[all[i].kind]);
            seen[all[i].kind] = true;
        }
        assert_true(all[i].factor > 0 && all[i].source[0] && all[i].name[0]);
        for (enum unit_system s = UNITS_SI; s <= UNITS_US; s++) {
            const struct unit *p = unit_preferred(s, &all[i]);
            if (p->kind != all[i].kind || unit_preferred(s, p) != p) {
                fail_msg("%s is shown as %s, which is shown as %s", all[i].symbol, p->symbol,
                         unit_preferred(s, p)->symbol);
            }
        }
    }
    for (int kind = Q_RATIO; kind <= Q_STIFFNESS; kind++) {
        if (!seen[kind]) {
            fail_msg("no unit of kind %s", quantity_kind_text((enum quantity_kind)kind));
        }
    }
    assert_null(unit_find(S("gal")));
    assert_null(unit_find(S("")));
    assert_null(unit_find(S("a unit name much longer than any unit that was ever written down")));
}

static void spellings(void **state)
{
    (void)state;
    static const char *const rows[][2] = {
        {"°C", "degC"},      {"Nm", "N.m"},         {"N·m", "N.m"},
        {"l", "L"},          {"turns", "turn"},     {"ft-lb", "lbf.ft"},
        {"lb/in²", "psi"},   {"kg/cm²", "kgf/cm2"}, {"μm", "um"},
        {"mm^2/s", "mm2/s"}, {"US  gal", "US gal"}, {"inH2O (60 °F)", "inH2O (60 degF)"},
        {"1/min", "rpm"},    {"Ω", "ohm"},          {"Δ°F", "delta degF"},
        {" bar ", "bar"},    {"percent", "%"},      {"imperial gallon", "imp gal"},
        {"m³/h", "m3/h"},    {"\"", "in"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const struct unit *u = unit_find(str_of(rows[i][0]));
        if (!u) {
            fail_msg("%s is not known", rows[i][0]);
        }
        assert_string_equal(u->symbol, rows[i][1]);
    }
    static const char *const near[][2] = {
        {"Bar", "bar"},       {"BAR", "bar"}, {"psy", "psi"}, {"Kpa", "kPa"},   {"litter", "L"},
        {"gallons US", NULL}, {"q", NULL},    {"v", "V"},     {"degc", "degC"}, {"mm2s", "mm2"},
    };
    for (size_t i = 0; i < sizeof near / sizeof *near; i++) {
        const struct unit *u = unit_nearest(str_of(near[i][0]));
        if (!near[i][1]) {
            assert_null(u);
        } else if (!u || strcmp(u->symbol, near[i][1]) != 0) {
            fail_msg("%s: nearest is %s", near[i][0], u ? u->symbol : "nothing");
        }
    }
}

static void quantities(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double value;
        const char *symbol;
        const char *printed;
    } rows[] = {
        {"22 psi", 22, "psi", "22 psi"},
        {"1 1/2 turns", 1.5, "turn", "1.5 turns"},
        {"3/4 turn", 0.75, "turn", "0.75 turn"},
        {"-1 1/4 turns", -1.25, "turn", "-1.25 turns"},
        {"1½ turns", 1.5, "turn", "1.5 turns"},
        {"50 %", 50, "%", "50 %"},
        {"50%", 50, "%", "50 %"},
        {"-24 degC", -24, "degC", "-24 °C"},
        {"12", 12, NULL, "12"},
        {" 1.45bar ", 1.45, "bar", "1.45 bar"},
        {"1500 1/min", 1500, "rpm", "1500 1/min"},
        {"4.6e-5 m2/s", 4.6e-5, "m2/s", "0.000046 m²/s"},
        {"2.456 bar", 2.456, "bar", "2.46 bar"},
        {"0.0042 bar", 0.0042, "bar", "0.0042 bar"},
        {"5 US gal", 5, "US gal", "5 US gal"},
        {"0 K", 0, "K", "0 K"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct err e = err_new(&a);
        struct quantity q = {0};
        if (!quantity_parse(str_of(rows[i].text), &q, &e)) {
            fail_msg("%s: %s", rows[i].text, str_z(&a, err_text(&a, &e)));
        }
        assert_true(fabs(q.value - rows[i].value) < 1e-12);
        assert_true(q.unit == (rows[i].symbol ? unit_find(str_of(rows[i].symbol)) : NULL));
        struct text t = text_new(&a);
        text_quantity(&t, q);
        assert_text(text_str(&t), rows[i].printed);
    }
    arena_free(&a);
}

/* Every refusal with its column, provoked. */
static void quantities_refused(void **state)
{
    (void)state;
    static const struct {
        const char *text, *message;
    } rows[] = {
        {"", ":1: nothing where a quantity is expected"},
        {"bar", ":1: no number where a quantity is expected: \"bar\""},
        {"22 psy", ":4: unknown unit \"psy\"; did you mean psi (pound-force per square inch)?"},
        {"5 gal", ":3: \"gal\" could mean several units; US gal or imp gal"},
        {"1,5 bar", ":2: a comma inside a number: \"1,5 bar\"; a point: 1.5"},
        {".5 bar", ":1: no number where a quantity is expected: \".5 bar\"; a digit before the decimal point: 0.5 bar"},
        {"  -300 degC", ":3: -300 degC is below absolute zero"},
        {"12 zzzzzz", ":4: unknown unit \"zzzzzz\"; a unit such as"},
        {"nan bar", ":1: no number"},
        {"1e999 bar", ":1: no number"},
        {"1 bar bar", ":3: unknown unit \"bar bar\""},
        {"3/0 turn", ":2: unknown unit \"/0 turn\""},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct err e = err_new(&a);
        struct quantity q = {42, NULL};
        assert_false(quantity_parse(str_of(rows[i].text), &q, &e));
        assert_int_equal(e.kind, ERR_INPUT);
        assert_true(q.value == 42);
        struct text t = text_new(&a);
        text_join(&t, ":", "", (char *)0);
        text_int(&t, e.where.column);
        text_join(&t, ": ", (char *)0);
        text_add(&t, e.what);
        if (e.right.n) {
            text_addz(&t, "; ");
            text_add(&t, e.right);
        }
        if (!str_starts(text_str(&t), str_of(rows[i].message))) {
            fail_msg("\"%s\" gives \"%s\"", rows[i].text, text_z(&t));
        }
    }
    arena_free(&a);
}

static void ranges(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double low, high;
        const char *symbol, *printed, *us;
    } rows[] = {
        {"1.4 bar .. 1.6 bar", 1.4, 1.6, "bar", "1.4 .. 1.6 bar", "20.3 .. 23.2 psi"},
        {"1.4 .. 1.6 bar", 1.4, 1.6, "bar", "1.4 .. 1.6 bar", "20.3 .. 23.2 psi"},
        {".. 2.0 bar", -INFINITY, 2, "bar", ".. 2 bar", ".. 29 psi"},
        {"12.4 V ..", 12.4, INFINITY, "V", "12.4 V ..", "12.4 V .."},
        {"12.4 V .. 12700 mV", 12.4, 12.7, "V", "12.4 .. 12.7 V", "12.4 .. 12.7 V"},
        {"-24 .. -10 degC", -24, -10, "degC", "-24 .. -10 °C", "-11.2 .. 14 °F"},
        {"3 .. 5", 3, 5, NULL, "3 .. 5", "3 .. 5"},
        {"2 bar..2 bar", 2, 2, "bar", "2 .. 2 bar", "29 .. 29 psi"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct err e = err_new(&a);
        struct quantity_range r = {0};
        if (!range_parse(str_of(rows[i].text), &r, &e)) {
            fail_msg("%s: %s", rows[i].text, str_z(&a, err_text(&a, &e)));
        }
        assert_true(r.low == rows[i].low || fabs(r.low - rows[i].low) < 1e-12);
        assert_true(r.high == rows[i].high || fabs(r.high - rows[i].high) < 1e-12);
        assert_true(r.unit == (rows[i].symbol ? unit_find(str_of(rows[i].symbol)) : NULL));
        struct text t = text_new(&a);
        text_range(&t, r, UNITS_AS_WRITTEN);
        assert_text(text_str(&t), rows[i].printed);
        t = text_new(&a);
        text_range(&t, r, UNITS_US);
        assert_text(text_str(&t), rows[i].us);
    }
    static const struct {
        const char *text, *what;
        uint32_t column;
    } bad[] = {
        {"1.6 .. 1.4 bar", "limits the wrong way round: \"1.6 .. 1.4 bar\"", 1},
        {"..", "a range without a limit", 1},
        {"2 bar", "no range: \"2 bar\"", 1},
        {"1 bar .. 2 N.m", "N.m is a torque, bar is a pressure", 10},
        {"1 .. 2 .. 3 bar", "unknown unit \".. 3 bar\"", 8},
        {"1.4 .. 1.6 baz", "unknown unit \"baz\"", 12},
        {"x .. 2 bar", "no number where a quantity is expected: \"x \"", 1},
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct err e = err_new(&a);
        struct quantity_range r = {0};
        assert_false(range_parse(str_of(bad[i].text), &r, &e));
        assert_text(e.what, bad[i].what);
        assert_int_equal(e.where.column, bad[i].column);
    }
    arena_free(&a);
}

static void intervals(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        struct interval expected;
        const char *printed;
    } rows[] = {
        {"250 h", {250, 0, 0}, "250 h"},
        {"12 months", {0, 12, 0}, "12 months"},
        {"1 month", {0, 1, 0}, "1 month"},
        {"250 h or 12 months", {250, 12, 0}, "250 h or 12 months, whichever comes first"},
        {"250 h or 12 months, whichever comes first", {250, 12, 0}, "250 h or 12 months, whichever comes first"},
        {"10 days", {0, 0, 10}, "10 days"},
        {"2 years", {0, 24, 0}, "24 months"},
        {"1 1/2 years", {0, 18, 0}, "18 months"},
        {"1 week", {0, 0, 7}, "7 days"},
        {"12 months or 0.5 h or 1 day", {0.5, 12, 1}, "0.5 h or 12 months or 1 day, whichever comes first"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct err e = err_new(&a);
        struct interval got = {0};
        if (!interval_parse(str_of(rows[i].text), &got, &e)) {
            fail_msg("%s: %s", rows[i].text, str_z(&a, err_text(&a, &e)));
        }
        assert_true(got.hours == rows[i].expected.hours);
        assert_int_equal(got.months, rows[i].expected.months);
        assert_int_equal(got.days, rows[i].expected.days);
        struct text t = text_new(&a);
        text_interval(&t, got);
        assert_text(text_str(&t), rows[i].printed);
    }
    static const struct {
        const char *text, *what;
        uint32_t column;
    } bad[] = {
        {"", "nothing where a quantity is expected", 1},
        {"250", "an interval without its unit", 4},
        {"0 h", "an interval of nothing or less", 1},
        {"-5 days", "an interval of nothing or less", 1},
        {"250 h and 12 months", "unexpected \"and 12 months\"", 7},
        {"250 h or", "nothing where a quantity is expected", 9},
        {"250 h or 300 h", "a second count in h", 10},
        {"1.5 months", "a part of a month", 1},
        {"250 hurs", "no unit of an interval: \"hurs\"", 5},
        {"250 bar", "no unit of an interval: \"bar\"", 5},
        {"1e300 h", "an interval beyond any machine's life", 1},
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct err e = err_new(&a);
        struct interval got = {0};
        assert_false(interval_parse(str_of(bad[i].text), &got, &e));
        assert_text(e.what, bad[i].what);
        assert_int_equal(e.where.column, bad[i].column);
    }
    arena_free(&a);
}

static uint64_t next_random(uint64_t *x)
{
    *x ^= *x << 13;
    *x ^= *x >> 7;
    *x ^= *x << 17;
    return *x;
}

static uint64_t seed_of_run(void)
{
    const char *given = getenv("WITMARK_SEED");
    uint64_t seed = given ? strtoull(given, NULL, 10) : 20260301;
    print_message("# seed %llu\n", (unsigned long long)seed);
    return seed ? seed : 1;
}

/* Property: there and back is the same to rounding, for every pair of units of one kind. */
static void round_trip_of_conversion(void **state)
{
    (void)state;
    uint64_t x = seed_of_run();
    struct arena a = arena_new(&arena_libc);
    size_t n = 0;
    const struct unit *all = unit_all(&n);
    for (size_t i = 0; i < n; i++) {
        for (size_t k = 0; k < n; k++) {
            if (all[i].kind != all[k].kind) {
                continue;
            }
            double value = (double)(next_random(&x) % 2000000) / 1000;
            struct err e = err_new(&a);
            double there = 0;
            double back = 0;
            assert_true(unit_convert(value, &all[i], &all[k], &there, &e));
            assert_true(unit_convert(there, &all[k], &all[i], &back, &e));
            if (fabs(back - value) > 1e-12 * fmax(1000, fabs(value))) {
                fail_msg("%.17g %s is %.17g %s is %.17g", value, all[i].symbol, there, all[k].symbol, back);
            }
        }
    }
    arena_free(&a);
}

/* Property: what is printed reads back as the same, for values with the decimals a gauge of that unit shows. */
static void round_trip_of_print(void **state)
{
    (void)state;
    uint64_t x = seed_of_run();
    struct arena a = arena_new(&arena_libc);
    size_t n = 0;
    const struct unit *all = unit_all(&n);
    for (size_t i = 0; i < 4 * n; i++) {
        struct arena_mark mark = arena_mark(&a);
        struct quantity q = {(double)(next_random(&x) % 5000), &all[i % n]};
        struct text t = text_new(&a);
        struct err e = err_new(&a);
        struct quantity back = {0};
        text_quantity(&t, q);
        if (!quantity_parse(text_str(&t), &back, &e) || back.value != q.value || back.unit != q.unit) {
            fail_msg("%.17g %s prints as \"%s\"", q.value, q.unit->symbol, text_z(&t));
        }
        double low = (double)(next_random(&x) % 300);
        struct quantity_range r = {i % 3 == 0 ? (double)-INFINITY : low, i % 3 == 1 ? (double)INFINITY : low + q.value,
                                   q.unit};
        struct quantity_range back_r = {0};
        t = text_new(&a);
        text_range(&t, r, UNITS_AS_WRITTEN);
        if (!range_parse(text_str(&t), &back_r, &e) || back_r.low != r.low || back_r.high != r.high ||
            back_r.unit != r.unit) {
            fail_msg("range prints as \"%s\"", text_z(&t));
        }
        struct interval v = {(double)(next_random(&x) % 1000 + 1), (int)(next_random(&x) % 30),
                             (int)(next_random(&x) % 3)};
        struct interval back_v = {0};
        t = text_new(&a);
        text_interval(&t, v);
        assert_true(interval_parse(text_str(&t), &back_v, &e));
        assert_true(back_v.hours == v.hours && back_v.months == v.months && back_v.days == v.days);
        arena_rewind(&a, mark);
    }
    arena_free(&a);
}

/* Each reader gets his own units. */
static void preferred(void **state)
{
    (void)state;
    static const struct {
        const char *text, *si, *us;
    } rows[] = {
        {"22 psi", "1.52 bar", "22 psi"},
        {"1.5 bar", "1.5 bar", "21.8 psi"},
        {"25 inH2O", "6.2 kPa", "25 inH₂O"},
        {"85 degC", "85 °C", "185 °F"},
        {"120 N.m", "120 N·m", "88.5 lbf·ft"},
        {"4 imp gal", "18.18 L", "4.8 US gal"},
        {"1500 rpm", "1500 1/min", "1500 1/min"},
        {"46 mm2/s", "46 mm²/s", "46 mm²/s"},
        {"7", "7", "7"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct err e = err_new(&a);
        struct quantity q = {0};
        assert_true(quantity_parse(str_of(rows[i].text), &q, &e));
        struct text t = text_new(&a);
        text_quantity_in(&t, q, UNITS_SI);
        assert_text(text_str(&t), rows[i].si);
        t = text_new(&a);
        text_quantity_in(&t, q, UNITS_US);
        assert_text(text_str(&t), rows[i].us);
    }
    arena_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(factors_of_nist_sp811),
        cmocka_unit_test(temperatures),
        cmocka_unit_test(conversions_refused),
        cmocka_unit_test(table_is_whole),
        cmocka_unit_test(spellings),
        cmocka_unit_test(quantities),
        cmocka_unit_test(quantities_refused),
        cmocka_unit_test(ranges),
        cmocka_unit_test(intervals),
        cmocka_unit_test(round_trip_of_conversion),
        cmocka_unit_test(round_trip_of_print),
        cmocka_unit_test(preferred),
    };
    return cmocka_run_group_tests_name("quantity", tests, NULL, NULL);
}
