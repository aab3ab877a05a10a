/* The case runner as WebAssembly: one case in, one line out, as `witmark-cases --results` prints it. */
#include <jansson.h>

#include "cases.h"
#include "wasm/answer.h"

/* Offset from UTC, in minutes, of the zone at an instant in seconds; the host knows zones. INT32_MIN: no such zone. */
__attribute__((import_module("host"), import_name("zone_offset"))) int32_t host_zone_offset(const char *zone,
                                                                                            double at);

/* The instant within (low, high] from which the offset is another; they differ at the ends. */
static int64_t change_between(const char *zone, int64_t low, int64_t high)
{
    int32_t before = host_zone_offset(zone, (double)low);
    while (high - low > 1) {
        int64_t mid = low + (high - low) / 2;
        if (host_zone_offset(zone, (double)mid) == before) {
            low = mid;
        } else {
            high = mid;
        }
    }
    return high;
}

bool case_zone(struct arena *a, struct str name, day_t around, struct zone *z, struct err *e)
{
    const char *zone = str_z(a, name);
    const int64_t day = 86400;
    int64_t at = (around - 730) * day;
    struct zone_change *changes = NULL;
    size_t n = 0;
    size_t cap = 0;
    z->offset_minutes = host_zone_offset(zone, (double)at);
    if (z->offset_minutes == INT32_MIN) {
        return err_set(e, ERR_MISSING, "a name of the zone database, such as Europe/Berlin", "no time zone \"", zone,
                       "\"", (char *)0);
    }
    for (; at < (around + 730) * day; at += day) {
        if (host_zone_offset(zone, (double)at) != host_zone_offset(zone, (double)(at + day))) {
            int64_t change = change_between(zone, at, at + day);
            ARENA_PUSH(a, changes, n, cap) =
                (struct zone_change){change * 1000, host_zone_offset(zone, (double)change)};
        }
    }
    z->changes = changes;
    z->n = n;
    return true;
}

__attribute__((export_name("run_case"))) char *run_case(const char *p, uint32_t n);

/* An answer of wasm/answer.h: the line. */
char *run_case(const char *p, uint32_t n)
{
    struct arena a = arena_new(&arena_libc);
    struct text line = text_new(&a);
    json_t *one = json_text(p, n);
    if (one) {
        struct case_outcome o = case_outcome(one, &a);
        case_outcome_line(&o, &line);
    }
    char *answer = wasm_answer(&line);
    arena_free(&a);
    json_forget();
    return answer;
}
