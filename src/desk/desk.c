/* Opening a depot as a desk; the depot's clock and time zone. */
#include "desk_internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

struct desk_options desk_options_default(const char *depot)
{
    return (struct desk_options){.depot = depot, .today = DAY_NONE, .log = depot_options_default()};
}

/* Does the system know that time zone? Names are relative, without climbing. */
static bool zone_known(struct str zone)
{
    if (zone.n == 0 || zone.n > 100 || str_find(zone, S("..")) >= 0 || zone.p[0] == '/') {
        return false;
    }
    char path[160] = "/usr/share/zoneinfo/";
    memcpy(path + strlen(path), zone.p, zone.n);
    return access(path, R_OK) == 0;
}

/* The process has one zone: that of its depot. Set once, before threads, so that localtime_r only reads. */
static bool set_zone(struct arena *a, struct str zone, struct err *e)
{
    if (!zone_known(zone)) {
        return err_set(e, ERR_INPUT, "an IANA name such as Europe/Lisbon, and the package tzdata installed",
                       "time zone '", str_z(a, zone), "' is not known on this system", (char *)0);
    }
    const char *before = getenv("TZ");
    if (before && str_eq(str_of(before), zone)) { /* a second desk, perhaps of another thread */
        tzset();
        return true;
    }
    if (setenv("TZ", str_z(a, zone), 1) != 0) {
        return err_set(e, ERR_SYSTEM, NULL, "cannot set the time zone", (char *)0);
    }
    tzset();
    return true;
}

bool desk_depot_new(const struct desk_options *options, struct str name, struct str zone, struct err *e)
{
    if (!set_zone(e->a, zone, e)) {
        return false;
    }
    struct depot *depot = NULL;
    if (!depot_create(options->depot, &options->log, &depot, e)) {
        return false;
    }
    bool ok = depot_setting_put(depot, "name", name, e) && depot_setting_put(depot, "zone", zone, e) &&
              depot_setting_put(depot, "units", str_of(options->units ? options->units : "as-written"), e) &&
              depot_setting_put(depot, "paper", str_of(options->paper ? options->paper : "a4"), e);
    depot_close(depot);
    return ok;
}

/* A setting, or what it is when it was never set. */
static bool setting(struct desk *d, const char *name, const char *otherwise, struct str *value, struct err *e)
{
    if (!depot_setting_get(d->depot, name, &d->arena, value, e)) {
        *value = str_of(otherwise);
    }
    return e->kind == ERR_NONE;
}

bool desk_open(const struct desk_options *options, struct desk **out, struct err *e)
{
    *out = NULL;
    struct depot *depot = NULL;
    struct depot_options log = options->log;
    log.read_only = log.read_only || options->read_only;
    if (!depot_open(options->depot, &log, &depot, e)) {
        return false;
    }
    struct desk *d = calloc(1, sizeof *d);
    if (!d) {
        depot_close(depot);
        return err_set(e, ERR_SYSTEM, NULL, "out of memory", (char *)0);
    }
    d->arena = arena_new(&arena_libc);
    d->state = arena_new(&arena_libc);
    d->depot = depot;
    d->options = *options;
    d->place = -1;
    struct str units = {0};
    bool ok = setting(d, "name", "Depot", &d->name, e) && setting(d, "zone", "UTC", &d->zone, e) &&
              setting(d, "units", "as-written", &units, e) && set_zone(&d->arena, d->zone, e);
    if (ok && options->units) {
        units = str_of(options->units);
    }
    if (ok && !unit_system_parse(units, &d->units)) {
        ok = err_set(e, ERR_USAGE, "as-written, si or us", "units '", str_z(&d->arena, units), "' are not known",
                     (char *)0);
    }
    if (!ok) {
        desk_close(d);
        return false;
    }
    *out = d;
    return true;
}

bool desk_again(const struct desk *d, struct desk **again, struct err *e)
{
    struct desk_options options = d->options;
    options.depot = depot_path(d->depot);
    return desk_open(&options, again, e);
}

void desk_close(struct desk *d)
{
    if (d) {
        depot_close(d->depot);
        arena_free(&d->state);
        arena_free(&d->arena);
        free(d);
    }
}

struct depot *desk_depot(struct desk *d)
{
    return d->depot;
}

struct str desk_name(const struct desk *d)
{
    return d->name;
}

struct str desk_zone(const struct desk *d)
{
    return d->zone;
}

enum unit_system desk_units(const struct desk *d)
{
    return d->units;
}

/* Minutes east of UTC in the depot's zone. */
static int offset_at(instant_ms at)
{
    time_t seconds = (time_t)(at / 1000 - (at % 1000 < 0));
    struct tm local;
    if (!localtime_r(&seconds, &local)) {
        return 0;
    }
    day_t day = 0;
    if (!day_of_civil((struct civil){local.tm_year + 1900, local.tm_mon + 1, local.tm_mday}, &day)) {
        return 0;
    }
    int64_t as_utc = (((int64_t)day * 24 + local.tm_hour) * 60 + local.tm_min) * 60 + local.tm_sec;
    return (int)((as_utc - seconds) / 60);
}

/* RFC 5545 3.3.5: local time that occurs twice is the first of the two; one that does not exist is counted with the
 * offset before the gap. Both are the offset in force a day earlier, unless the clock has changed in between. */
static instant_ms utc_of_local(instant_ms local)
{
    int before = offset_at(local - 86400000);
    int after = offset_at(local + 86400000);
    instant_ms first = local - (instant_ms)before * 60000;
    instant_ms second = local - (instant_ms)after * 60000;
    if (offset_at(first) != before && offset_at(second) == after) {
        return second;
    }
    return first;
}

int desk_offset_of_local(const struct desk *d, instant_ms local)
{
    (void)d;
    return (int)((local - utc_of_local(local)) / 60000);
}

instant_ms desk_noon(const struct desk *d, day_t day)
{
    (void)d;
    return utc_of_local((instant_ms)day * 86400000 + 43200000);
}

day_t desk_day_of(const struct desk *d, instant_ms at)
{
    (void)d;
    return day_of_instant(at, offset_at(at));
}

instant_ms desk_now(const struct desk *d)
{
    struct world world = depot_world(d->depot);
    return d->options.today != DAY_NONE ? desk_noon(d, d->options.today) : world.now(world.ctx);
}

day_t desk_today_day(const struct desk *d)
{
    return desk_day_of(d, desk_now(d));
}

void text_local(struct text *t, const struct desk *d, instant_ms at)
{
    (void)d;
    instant_ms local = at + (instant_ms)offset_at(at) * 60000;
    day_t day = day_of_instant(local, 0);
    int64_t minutes = (local - (instant_ms)day * 86400000) / 60000;
    text_day(t, day);
    text_char(t, ' ');
    text_zeros(t, minutes / 60, 2);
    text_char(t, ':');
    text_zeros(t, minutes % 60, 2);
}

bool desk_instant(const struct desk *d, struct str s, instant_ms *at, struct err *e)
{
    s = str_trim(s);
    day_t day = 0;
    if (str_eq_nocase(s, S("now"))) {
        *at = desk_now(d);
    } else if (str_eq_nocase(s, S("today"))) {
        *at = desk_noon(d, desk_today_day(d));
    } else if (day_parse(s, &day)) {
        *at = desk_noon(d, day);
    } else if (!instant_parse(s, at)) {
        /* A local time: the date, a blank or T, hours and minutes; read as if it were UTC, then shifted. */
        struct text t = text_new(e->a);
        text_add(&t, s);
        text_char(&t, 'Z');
        if (!instant_parse(text_str(&t), at)) {
            return err_set(e, ERR_USAGE, "2026-09-06, 2026-09-06 07:40, today, now, or RFC 3339 with an offset", "'",
                           str_z(e->a, s), "' is no date or time", (char *)0);
        }
        *at = utc_of_local(*at);
    }
    return true;
}

bool desk_refresh(struct desk *d, struct err *e)
{
    if (d->place >= 0 && d->day == desk_today_day(d)) {
        struct entry_filter newer = {.view = VIEW_RECORDED, .after_place = d->place};
        struct arena scratch = arena_new(&arena_libc);
        struct entries found = {0};
        bool ok = depot_list(d->depot, &newer, &scratch, &found, e);
        bool up_to_date = ok && (found.n == 0 || desk_grow_state(d, &found));
        entries_free(&found);
        arena_free(&scratch);
        if (!ok || up_to_date) {
            return ok;
        }
    }
    return desk_load_books(d, e) && desk_load_state(d, e);
}

/* ---- Words for people, shared by the desk's files ---------------------------------------------------------------- */

void text_day_words(struct text *t, day_t day)
{
    static const char *const months[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                         "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    struct civil c = civil_of_day(day);
    text_int(t, c.day);
    text_join(t, " ", months[c.month - 1], " ", (char *)0);
    text_int(t, c.year);
}

void text_hours(struct text *t, double hours)
{
    text_number(t, hours, fabs(hours) < 10 ? 1 : 0);
    text_addz(t, " h");
}

void text_time(struct text *t, double seconds)
{
    if (seconds < 90) {
        text_number(t, seconds, 0);
        text_addz(t, " s");
        return;
    }
    int64_t minutes = (int64_t)(seconds / 60 + 0.5);
    if (minutes >= 60) {
        text_int(t, minutes / 60);
        text_addz(t, " h");
        minutes %= 60;
        if (minutes == 0) {
            return;
        }
        text_char(t, ' ');
    }
    text_int(t, minutes);
    text_addz(t, " min");
}

struct str desk_entry_ref(struct arena *a, struct entry_id id)
{
    struct text t = text_new(a);
    text_addz(&t, "entry ");
    struct text full = text_new(a);
    text_entry_id(&full, id);
    text_add(&t, text_str(&full));
    return text_str(&t);
}

struct str desk_book_line(struct arena *a, const struct book *b, struct book_pos pos)
{
    struct text t = text_new(a);
    text_addz(&t, "book ");
    text_add(&t, b->id);
    text_char(&t, ' ');
    text_add(&t, b->edition);
    text_addz(&t, ", line ");
    text_int(&t, pos.line);
    return text_str(&t);
}

bool desk_pairs(struct arena *a, struct str s, struct pair **at, size_t *n, struct err *e)
{
    size_t cap = 0;
    *at = NULL;
    *n = 0;
    struct str piece;
    while (str_trim(s).n && str_next(&s, ',', &piece)) {
        piece = str_trim(piece);
        ptrdiff_t equals = str_find(piece, S("="));
        if (equals <= 0) {
            return err_set(e, ERR_USAGE, "NAME=VALUE, several separated by commas", "'", str_z(a, piece),
                           "' is not a name and a value", (char *)0);
        }
        struct pair pair = {str_trim(str_cut(piece, 0, (size_t)equals)),
                            str_trim(str_cut(piece, (size_t)equals + 1, piece.n))};
        ARENA_PUSH(a, *at, *n, cap) = pair;
    }
    return true;
}

void text_limits(struct text *t, const struct desk *d, struct quantity_range r)
{
    const struct unit *unit = r.unit ? unit_preferred(d->units, r.unit) : NULL;
    struct quantity low = {r.low, r.unit};
    struct quantity high = {r.high, r.unit};
    if (!isfinite(r.low) && !isfinite(r.high)) {
        text_addz(t, "no limit");
    } else if (!isfinite(r.low) || !isfinite(r.high)) {
        text_addz(t, isfinite(r.low) ? "at least " : "at most ");
        text_quantity_in(t, isfinite(r.low) ? low : high, d->units);
    } else {
        /* One unit for both: "1.4 to 1.6 bar". The lower one is printed with it and cut where the unit begins. */
        struct text first = text_new(t->a);
        text_quantity_in(&first, low, d->units);
        struct str shown = str_of(unit ? unit->shown : "");
        struct str number = text_str(&first);
        text_add(t, str_ends(number, shown) ? str_trim(str_cut(number, 0, number.n - shown.n)) : number);
        text_addz(t, " to ");
        text_quantity_in(t, high, d->units);
    }
}
