/* Every calculation, every input, every sort of bad input: a refusal that says what is wrong and what would be right,
 * and never a number. A row is one call that answers (values chosen within the formula's range; no result of it is
 * looked at here); each of its inputs in turn is then replaced by each bad value. A calculation without a row fails the
 * test. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "calc/calc.h"

#include <math.h>

/* name; inputs that the call is made with, "NAME=VALUE; ..." */
static const struct {
    const char *name, *good;
} rows[] = {
    {"tyre-pressure", "gauge=1.5 bar; from=41 degC; to=20 degC; altitude1=300 m; altitude2=0 m"},
    {"atmosphere", "altitude=1500 m"},
    {"tyre-leak", "reading1=20 psi; temperature1=20 degC; reading2=17.5 psi; temperature2=5 degC; time=14 d; "
                  "reference=20 degC; minimum=16 psi; ambient=101.3 kPa"},
    {"thread-area", "diameter=12 mm; pitch=1.75 mm; form=iso"},
    {"proof-load", "class=8.8; diameter=12 mm; area=84.3 mm2"},
    {"clamp-torque", "diameter=12 mm; area=84.3 mm2; proof=580 MPa; share=75 %; k=0.2"},
    {"bolt-torque", "k=0.2; diameter=12 mm; preload=30000 N"},
    {"bolt-preload", "torque=82 N.m; k=0.2; diameter=12 mm; area=84.3 mm2; proof=48900 N"},
    {"crowfoot", "torque=135 N.m; wrench=400 mm; adapter=60 mm; angle=0 deg"},
    {"crowfoot-applied", "setting=117 N.m; wrench=400 mm; adapter=60 mm; angle=0 deg"},
    {"angle-preload", "angle=30 deg; pitch=1.75 mm; bolt=300000 N/mm; members=900000 N/mm; proof=48900 N"},
    {"preload-angle", "preload=20000 N; pitch=1.75 mm; bolt=300000 N/mm; members=900000 N/mm; proof=48900 N"},
    {"viscosity", "t1=40 degC; v1=46 mm2/s; t2=100 degC; v2=6.8 mm2/s; zero=273.15; at=50 degC"},
    {"viscosity-temperature", "t1=40 degC; v1=46 mm2/s; t2=100 degC; v2=6.8 mm2/s; zero=273.15; v=30 mm2/s"},
    {"viscosity-index", "v40=73.3 mm2/s; v100=8.86 mm2/s"},
    {"iso-grade", "v40=46 mm2/s"},
    {"iso-grade-limits", "grade=68"},
    {"engine-oil-grade", "v100=12.5 mm2/s"},
    {"blend-number", "v=46 mm2/s"},
    {"blend", "shares=50 %,50 %; v=46 mm2/s,100 mm2/s; method=refutas"},
    {"fuel-dilution", "fresh=160 mm2/s; used=137 mm2/s; fuel=3 mm2/s"},
    {"saybolt", "v=32 mm2/s"},
    {"saybolt-viscosity", "seconds=150 s"},
    {"pump-window",
     "v=12 mm2/s; floor=10.3 mm2/s; optimum-low=15.7 mm2/s; optimum-high=38.5 mm2/s; start-most=1619 mm2/s"},
    {"filter-drop", "drop=2.6 bar; v1=133 mm2/s; v2=30 mm2/s; flow1=50 L/min; flow2=80 L/min; t1=20 degC; t2=50 degC; "
                    "density15=870 kg/m3; expansion=0.00064"},
    {"filter-cold",
     "drop=0.5 bar; v=30 mm2/s; limit=3.5 bar; t1=40 degC; v1=46 mm2/s; t2=100 degC; v2=6.8 mm2/s; zero=273.15"},
    {"filter-assembly", "element=0.4 bar; element-v=30 mm2/s; housing=0.1 bar; v=100 mm2/s; flow-ratio=1"},
    {"cleanliness-code", "counts=4000,500,30; per=1"},
    {"cleanliness-scale", "count=1300"},
    {"cleanliness-range", "scale=16"},
    {"cleanliness-target", "code=19/16/12; target=18/16/13"},
    {"cleanliness-class", "a=100000; b=20000; c=3000; d=500; e=80; f=10"},
    {"wear-rate", "concentration=42; sump=9 L; top-up=0.01 L; time=200 h"},
    {"wear-after-loss", "sump=9 L; loss=1.5 L; at-loss=25; now=42; time=200 h"},
    {"wear-between", "sump=9 L; loss=1.5 L; first=25; second=42"},
    {"oil-limits", "values=12,15,11,14,18,13,16,12,17,14; k=2,3"},
    {"oil-change", "fresh=14.5; used=11.9"},
    {"oil-limit", "value=0.25; limit=0.2"},
    {"coolant-freezing", "glycol=ethylene; share=50 %"},
    {"coolant-freezing-mass", "glycol=ethylene; share=50 %"},
    {"coolant-drain", "volume=12 L; now=30 %; target=50 %; fill=100 %"},
    {"water-boiling", "pressure=100 kPa"},
    {"coolant-boiling", "glycol=ethylene; share=50 %; cap=100 kPa; altitude=500 m"},
    {"pump-flow", "displacement=45 cm3/rev; speed=2200 rpm; measured=92 L/min"},
    {"motor", "displacement=250 cm3/rev; flow=92 L/min; volumetric=92 %; pressure=210 bar; mechanical=95 %"},
    {"cylinder", "bore=63 mm; rod=36 mm; pressure=210 bar; flow=40 L/min"},
    {"load-pressure", "mass=2500 kg; bore=63 mm"},
    {"hydraulic-power", "pressure=210 bar; flow=99 L/min; efficiency=85 %"},
    {"line-velocity", "flow=30 L/min; inside=25.4 mm; line=suction"},
    {"counterbalance", "load=140 bar; factor=1.3; ratio=3"},
    {"screw-turns", "now=150 bar; want=182 bar; per-turn=40 bar"},
    {"relief-margin", "relief=210 bar; counterbalance=182 bar"},
    {"acid-gravity", "reading=1.245; temperature=5 degC; reference=20 degC; factor=0.0007"},
    {"charge-voltage", "voltage=12.4 V; system=12 V"},
    {"charge-gravity", "gravity=1.225"},
    {"battery-load-test", "cca=680 A; temperature=10 degC; voltage=9.5 V"},
    {"acid-freezing", "gravity=1.155; temperature=-10 degC"},
    {"cranking-voltage", "system=12 V; temperature=15 degC; voltage=9 V"},
    {"charging-voltage",
     "temperature=50 degC; voltage=14.2 V; nominal=14.4 V; half=0.3 V; reference=20 degC; slope=0.01 V"},
    {"charging-voltage-table", "temperature=40 degC; voltage=14 V"},
    {"cranking-drop", "current=300 A; measured=0.5 V; per-100-a=0.2 V"},
    {"wire-drop", "current=15 A; length=4 m; section=2.5 mm2; system=12 V; temperature=20 degC"},
    {"wire-section", "current=15 A; length=4 m; system=12 V; share=3 %; temperature=20 degC"},
    {"fuse", "load=15 A; factor=1.35; wire=30 A; series=5 A,10 A,25 A,30 A"},
    {"ash-mass", "oil=3 L; density=0.87 kg/L; ash=1 %; retained=100 %"},
    {"ash-hours", "oil=0.004 L; density=0.87 kg/L; ash=1 %; retained=60 %; filter=5 L; limit=15 g/L; now=0 g"},
    {"ash-share", "ash=6 g/L; soot=6 g/L"},
    {"soot-load", "soot=21 g; filter=5 L; limit=6 g/L"},
    {"burn-range", "temperature=400 degC"},
    {"ash-ratio", "ash-a=2 %; ash-b=1 %"},
    {"belt-span", "centre=760 mm; large=350 mm; small=150 mm"},
    {"belt-deflection", "span=320 mm"},
    {"belt-force", "force=33 N; used=28 N; new=42 N"},
    {"belt-tension", "force=30 N; span=320 mm; deflection=5 mm"},
    {"chain-elongation", "pitches=24; pitch=25.4 mm; measured=620 mm; teeth=40; fixed=no"},
    {"chain-limit", "teeth=80; fixed=no"},
    {"grease-quantity", "outside=52 mm; width=15 mm"},
    {"grease-interval", "k=10; speed=1500 rpm; bore=50 mm; temperature=60 degC"},
    {"grease-temperature", "time=11199 h; temperature=85 degC"},
    {"grease-strokes", "grease=3.9 g; stroke=1.2 g"},
    {"economic-life", "first-cost=13000; market=9000,8000,6000; annual=2500,2700,3000; rate=10 %"},
    {"ownership", "price=300000; salvage=75000; years=6; hours=2800; rate=6 %"},
    {"present-worth", "amount=1500; rate=8 %; years=3"},
    {"present-worth-flows", "years=0,7,14; amounts=-18000,-500,-800; rate=10 %; annual=-250; annual-years=20"},
    {"date-after", "date=2026-08-31; months=6; days=1"},
    {"date-forms", "date=2027-01-01"},
    {"days-between", "from=2026-08-31; to=2027-01-01"},
    {"due", "last=2026-03-10; last-hours=812 h; every-hours=250 h; every-months=12; every-days=10; today=2026-11-24; "
            "hours-now=958 h"},
    {"duration", "duration=P15DT5H0M20S"},
    {"oil-consumption", "before=1 L; now=0.6 L; added=0.5 L; time=50 h"},
    {"level-left", "before=4 L; now=3 L; added=0.5 L; minimum=1 L; time=9 d"},
    {"coolant-share", "glycol=ethylene; gravity=1.07; temperature=20 degC"},
    {"case-drain", "displacement=45 cm3/rev; speed=2200 rpm; drain=3 L/min; most=10 %"},
    {"torque-factor", "diameter=12 mm; pitch=1.75 mm; thread=0.15; head=0.15"},
    {"tow-check", "distance=200 m; speed=4 km/h; slope=2 %; most-distance=300 m; most-speed=5 km/h; most-slope=10 %; "
                  "most-time=10 min"},
    {"brake-stop", "speed=10 km/h; distance=2 m; least=1.5"},
    {"convert", "value=22 psi; to=bar; difference=no"},
};

#define BAD_MOST 16

/* What is bad for an input of that form and kind. */
static size_t bad_values(const struct calc_field *f, const char *bad[BAD_MOST])
{
    size_t n = 0;
    bad[n++] = "";
    bad[n++] = "  ";
    bad[n++] = "no such thing";
    if (f->form == CALC_TEXT || f->form == CALC_FLAG) {
        return n;
    }
    static const char *const no_numbers[] = {"nan", "NaN", "inf", "-inf", "infinity", "1e999", "0x10", "1,5,x"};
    for (size_t i = 0; i < sizeof no_numbers / sizeof *no_numbers; i++) {
        bad[n++] = no_numbers[i];
    }
    bad[n++] = f->kind == Q_MASS ? "3 V" : "3 kg"; /* another dimension, also where a bare number belongs */
    if (f->kind == Q_PRESSURE) {
        bad[n++] = "-2 bar"; /* below nothing at all */
    } else if (f->kind == Q_TEMPERATURE) {
        bad[n++] = "-300 degC";
        bad[n++] = "0 K";
    } else if (f->kind != Q_NONE && f->kind != Q_RATIO) {
        bad[n++] = "3"; /* no unit */
    }
    assert_true(n <= BAD_MOST);
    return n;
}

/* Gives the good inputs, but `value` for `name`; null gives that one not at all. False with the refusal. */
static bool ask(struct calc_call *call, const char *good, struct str name, const char *value, double number,
                struct err *e)
{
    struct str rest = str_of(good);
    struct str pair;
    bool given = false;
    while (str_next(&rest, ';', &pair)) {
        ptrdiff_t equals = str_find(pair, S("="));
        struct str key = str_trim(str_cut(pair, 0, (size_t)equals));
        if (str_eq(key, name)) {
            given = true;
            continue;
        }
        if (!calc_give(call, key, str_cut(pair, (size_t)equals + 1, pair.n), e)) {
            return false;
        }
    }
    (void)given;
    if (name.n && value && !calc_give(call, name, str_of(value), e)) {
        return false;
    }
    if (name.n && !value && !isfinite(number) && !calc_give_number(call, name, number, e)) {
        return false;
    }
    return calc_run(call, e);
}

static void check_refused(struct arena *a, const struct calc *c, const char *good, struct str name, const char *value,
                          double number)
{
    struct calc_call call = calc_call_new(c, a);
    struct err e = err_new(a);
    if (ask(&call, good, name, value, number, &e)) {
        fail_msg("%s answers with %s=\"%s\"", c->name, str_z(a, name), value ? value : "not finite");
    }
    if (e.kind == ERR_NONE || e.what.n == 0 || e.right.n == 0) {
        fail_msg("%s refuses %s=\"%s\" without saying what is wrong and what would be right: %s", c->name,
                 str_z(a, name), value ? value : "not finite", str_z(a, err_text(a, &e)));
    }
    for (size_t i = 0; i < calc_output_count(c); i++) {
        if (call.out[i].form != CALC_ABSENT) {
            fail_msg("%s refuses %s and still gives %s", c->name, str_z(a, name), c->outputs[i].name);
        }
    }
}

static const char *row_of(const char *name)
{
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        if (str_eq(str_of(rows[i].name), str_of(name))) {
            return rows[i].good;
        }
    }
    return NULL;
}

static void every_input_refuses_what_is_bad(void **state)
{
    (void)state;
    const struct calc *c = NULL;
    size_t tried = 0;
    for (size_t k = 0; (c = calc_at(k)) != NULL; k++) {
        struct arena a = arena_new(&arena_libc);
        const char *good = row_of(c->name);
        struct calc_call call = calc_call_new(c, &a);
        struct err e = err_new(&a);
        if (!good || !ask(&call, good, (struct str){0}, NULL, 0, &e)) {
            fail_msg("%s: no row that answers: %s", c->name, str_z(&a, err_text(&a, &e)));
        }
        for (size_t i = 0; i < calc_input_count(c); i++) {
            const struct calc_field *f = &c->inputs[i];
            const char *bad[BAD_MOST];
            size_t n = bad_values(f, bad);
            for (size_t b = 0; b < n; b++, tried++) {
                check_refused(&a, c, good, str_of(f->name), bad[b], 0);
            }
            if (f->form == CALC_NUMBER) {
                check_refused(&a, c, good, str_of(f->name), NULL, (double)NAN);
                check_refused(&a, c, good, str_of(f->name), NULL, (double)INFINITY);
                check_refused(&a, c, good, str_of(f->name), NULL, -(double)INFINITY);
            }
            if (!f->preset && f->form != CALC_FLAG) {
                check_refused(&a, c, good, str_of(f->name), NULL, 0); /* left out */
            }
        }
        arena_free(&a);
    }
    print_message("%zu calls with a bad input\n", tried);
}

/* A refusal of a value outside the formula's range names the range: both ends, in the unit of the value. */
static void refusals_name_the_range(void **state)
{
    (void)state;
    static const struct {
        const char *name, *input, *bad, *right;
    } outside[] = {
        {"tyre-pressure", "from", "-100 degC", "within -73.15 .. 126.9 °C"},
        {"atmosphere", "altitude", "30000 m", "within -5000 .. 11000 m"},
        {"coolant-freezing", "share", "95 %", "within 0 .. 60 %"},
        {"coolant-share", "temperature", "95 degC", "within 0 .. 80 °C"},
        {"cranking-voltage", "temperature", "-40 degC", "within -23 .. 27 °C"},
        {"belt-tension", "deflection", "200 mm", "within 0 .. 32 mm"},
        {"chain-elongation", "measured", "900 mm", "within -1 .. 20 %"},
        {"pump-flow", "measured", "120 L/min", "within 0 .. 99 L/min"},
        {"case-drain", "drain", "120 L/min", "within 0 .. 99 L/min"},
        {"brake-stop", "distance", "0.2 m", "within 0 .. 100 %"},
        {"torque-factor", "thread", "0.9", "within 0.02 .. 0.5"},
        {"tow-check", "slope", "150 %", "within 0 .. 100 %"},
        {"acid-freezing", "gravity", "1.3", "within 1 .. 1.28"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof outside / sizeof *outside; i++) {
        struct calc_call call = calc_call_new(calc_find(str_of(outside[i].name)), &a);
        struct err e = err_new(&a);
        assert_false(ask(&call, row_of(outside[i].name), str_of(outside[i].input), outside[i].bad, 0, &e));
        assert_int_equal(e.kind, ERR_DOMAIN);
        assert_string_equal(str_z(&a, e.right), outside[i].right);
    }
    arena_free(&a);
}

/* New formulas by hand. K about 0.20 for friction 0.15 and 0.15, whatever the size: Shigley 9th ed., text to eq. 8-27.
 * Stop from 10 km/h in 2 m: (10/3.6)^2 / 4 = 1.929 m/s2. 200 m at 4 km/h: 3 min. 50 % glycol at 20 degC: 1073.3 kg/m3
 * (ASHRAE 2001) over 998.2. 3 of 99 L/min. */
static void by_hand(void **state)
{
    (void)state;
    static const struct {
        const char *name, *input, *value, *output;
        double expected, tolerance;
    } cases[] = {
        {"torque-factor", "pitch", "1.75 mm", "k", 0.20, 0.01},
        {"torque-factor", "pitch", "1.25 mm", "k", 0.20, 0.01},
        {"brake-stop", "distance", "2 m", "deceleration", 1.929, 0.001},
        {"tow-check", "distance", "200 m", "time", 180, 1e-9},
        {"coolant-share", "gravity", "1.07523", "share", 0.5, 0.001},
        {"case-drain", "drain", "9.9 L/min", "share", 0.1, 1e-9},
        {"oil-consumption", "before", "1 L", "per-100-h", 1.8e-3, 1e-12},
        {"level-left", "minimum", "1 L", "left", 12 * 86400.0, 1e-6},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct calc_call call = calc_call_new(calc_find(str_of(cases[i].name)), &a);
        struct err e = err_new(&a);
        if (!ask(&call, row_of(cases[i].name), str_of(cases[i].input), cases[i].value, 0, &e)) {
            fail_msg("%s: %s", cases[i].name, str_z(&a, err_text(&a, &e)));
        }
        double found = calc_result(&call, str_of(cases[i].output))->number;
        if (!(fabs(found - cases[i].expected) <= cases[i].tolerance)) {
            fail_msg("%s %s: %g, expected %g", cases[i].name, cases[i].output, found, cases[i].expected);
        }
    }
    arena_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_input_refuses_what_is_bad),
        cmocka_unit_test(refusals_name_the_range),
        cmocka_unit_test(by_hand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
