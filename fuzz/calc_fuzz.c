/* The parsers around the workshop's arithmetic: written inputs of every calculation, ISO 4406 codes, durations, local
 * times, CSV records, calendar text. The first byte picks the parser. What reads must print and read back. */
#include "base/csv.h"
#include "calc/calc.h"
#include "calendar/duration.h"
#include "calendar/icalendar.h"
#include "calendar/zone.h"
#include "fluid/cleanliness.h"

#include <math.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(bool what)
{
    if (!what) {
        abort();
    }
}

/* name=value lines for the calculation that the second byte picks. */
static void calculation(struct arena *a, struct str s)
{
    size_t count = 0;
    while (calc_at(count)) {
        count++;
    }
    struct calc_call call = calc_call_new(calc_at(s.n ? (unsigned char)s.p[0] % count : 0), a);
    struct str rest = str_cut(s, 1, s.n);
    struct str line;
    struct err e = err_new(a);
    while (str_next(&rest, '\n', &line)) {
        struct str value = line;
        struct str name;
        str_next(&value, '=', &name);
        struct err own = err_new(a);
        must(calc_give(&call, name, value, &own) || own.what.n > 0);
    }
    if (!calc_run(&call, &e)) {
        must(e.what.n > 0);
        return;
    }
    for (size_t i = 0; i < calc_output_count(call.calc); i++) {
        struct text t = text_new(a);
        must(call.out[i].form != CALC_NUMBER || isfinite(call.out[i].number));
        text_calc_value(&t, &call.calc->outputs[i], &call.out[i], UNITS_US);
    }
}

static void duration(struct arena *a, struct str s)
{
    int64_t seconds = 0;
    int64_t back = 0;
    struct err e = err_new(a);
    struct text t = text_new(a);
    if (duration_parse(s, &seconds, &e)) {
        text_duration(&t, seconds);
        must(duration_parse(text_str(&t), &back, &e) && back == seconds);
    }
}

static void cleanliness(struct arena *a, struct str s)
{
    struct iso4406 code;
    struct iso4406 back;
    struct err e = err_new(a);
    struct text t = text_new(a);
    if (iso4406_parse(s, &code, &e)) {
        text_iso4406(&t, code);
        must(iso4406_parse(text_str(&t), &back, &e));
        for (int i = 0; i < 3; i++) {
            must(back.scale[i] == code.scale[i]);
        }
    }
}

static void csv(struct arena *a, struct str s)
{
    struct csv_record record;
    struct csv_record back;
    uint32_t line = 1;
    struct err e = err_new(a);
    struct str rest = s;
    while (csv_record_read(a, &rest, &line, &record, &e)) {
        struct text t = text_new(a);
        uint32_t again = 1;
        text_csv_record(&t, record.fields, record.n, false);
        struct str written = text_str(&t);
        must(csv_record_read(a, &written, &again, &back, &e) && written.n == 0 && back.n == record.n);
        for (size_t i = 0; i < back.n; i++) {
            must(str_eq(back.fields[i], record.fields[i]));
        }
    }
}

static void calendar(struct arena *a, struct str s)
{
    struct text folded = text_new(a);
    struct text unfolded = text_new(a);
    struct text escaped = text_new(a);
    struct text plain = text_new(a);
    int64_t local = 0;
    struct err e = err_new(a);
    local_parse(s, &local, &e);
    ical_escape(&escaped, s);
    ical_line(&folded, text_str(&escaped));
    ical_unfold(&unfolded, str_cut(text_str(&folded), 0, folded.n - 2));
    must(str_eq(text_str(&unfolded), text_str(&escaped)));
    ical_unescape(&plain, s);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static void (*const parsers[])(struct arena *, struct str) = {calculation, duration, cleanliness, csv, calendar};
    struct arena a = arena_new(&arena_libc);
    if (size > 0) {
        parsers[data[0] % 5](&a, (struct str){(const char *)data + 1, size - 1});
    }
    arena_free(&a);
    return 0;
}
