/* Rows of texts to jobs. */
#include "exhaust/burn_jobs.h"

#include <math.h>

const char *burn_row_word(enum burn_row_field field)
{
    static const char *const words[] = {
#define X(symbol, word) [symbol] = (word),
        BURN_ROW_FIELDS(X)
#undef X
    };
    return words[field];
}

bool burn_row_field_find(struct str word, enum burn_row_field *field)
{
    for (int i = 0; i < BURN_ROW_FIELD_COUNT; i++) {
        if (str_eq_nocase(word, str_of(burn_row_word((enum burn_row_field)i)))) {
            *field = (enum burn_row_field)i;
            return true;
        }
    }
    return false;
}

static bool is_gap(char c)
{
    return c == ' ' || c == ',' || c == '+' || c == '\t' || c == ';';
}

static bool one_place(struct str word, struct where where, burn_places *out, struct err *e)
{
    enum burn_place place = PLACE_HARD;
    if (burn_place_find(word, &place)) {
        *out |= 1U << place;
        return true;
    }
    struct str known[BURN_PLACE_COUNT];
    struct text all = text_new(e->a);
    for (int i = 0; i < BURN_PLACE_COUNT; i++) {
        known[i] = str_of(burn_place_word((enum burn_place)i));
        text_join(&all, i ? ", " : "", burn_place_word((enum burn_place)i), (char *)0);
    }
    ptrdiff_t near = str_nearest(word, known, BURN_PLACE_COUNT);
    struct text right = text_new(e->a);
    if (near >= 0) {
        text_join(&right, "did you mean ", burn_place_word((enum burn_place)near), "? ", (char *)0);
    }
    text_add(&right, text_str(&all));
    return err_at(e, where, ERR_INPUT, text_z(&right), "'", str_z(e->a, word), "' is no kind of place", (char *)0);
}

bool burn_places_parse(struct str s, struct where where, burn_places *out, struct err *e)
{
    *out = 0;
    size_t from = 0;
    for (size_t i = 0; i <= s.n; i++) {
        if (i < s.n && !is_gap(s.p[i])) {
            continue;
        }
        if (i > from && !one_place(str_cut(s, from, i), where, out, e)) {
            return false;
        }
        from = i + 1;
    }
    return true;
}

/* A number with or without that unit behind it. */
static bool number_of(struct str s, const char *unit, double *value)
{
    struct str t = str_trim(s);
    if (str_ends(t, str_of(unit))) {
        t = str_trim(str_cut(t, 0, t.n - str_of(unit).n));
    }
    return num_parse(t, value) && *value >= 0;
}

static bool find_duty(const struct burn_row *row, const struct burn_duties *duties, int *duty, struct err *e)
{
    struct str wanted = str_trim(row->field[ROW_DUTY]);
    *duty = SOOT_USUAL;
    if (wanted.n == 0 || str_eq_nocase(wanted, S("usual"))) {
        return true;
    }
    for (int i = 0; i < duties->n; i++) {
        if (str_eq_nocase(wanted, duties->name[i]) || str_eq_nocase(wanted, duties->label[i])) {
            *duty = i;
            return true;
        }
    }
    ptrdiff_t near = str_nearest(wanted, duties->name, (size_t)duties->n);
    struct text right = text_new(e->a);
    if (near >= 0) {
        text_addz(&right, "did you mean ");
        text_add(&right, duties->name[near]);
        text_addz(&right, "? ");
    }
    text_addz(&right, "usual");
    for (int i = 0; i < duties->n; i++) {
        text_addz(&right, ", ");
        text_add(&right, duties->name[i]);
    }
    return err_at(e, row->where, ERR_MISSING, text_z(&right), "the book has no duty '", str_z(e->a, wanted), "'",
                  (char *)0);
}

static bool read_stop(const struct burn_row *row, struct burn_job *job, struct err *e)
{
    struct str stop = str_trim(row->field[ROW_STOP]);
    job->stop_min = BURN_STOP_ENOUGH;
    if (str_eq_nocase(stop, S("none"))) {
        job->stop_min = 0;
    } else if (stop.n && !str_eq_nocase(stop, S("enough")) && !number_of(stop, "min", &job->stop_min)) {
        return err_at(e, row->where, ERR_INPUT, "minutes, none or enough", "stop '", str_z(e->a, stop),
                      "' is no duration", (char *)0);
    }
    return true;
}

static bool read_burn(const struct burn_row *row, struct burn_job *job, struct err *e)
{
    struct str burn = str_trim(row->field[ROW_BURN]);
    job->wanted = str_eq_nocase(burn, S("yes"));
    job->unwanted = str_eq_nocase(burn, S("no"));
    return burn.n == 0 || job->wanted || job->unwanted ||
           err_at(e, row->where, ERR_INPUT, "yes or no, or nothing", "burn '", str_z(e->a, burn), "'", (char *)0);
}

bool burn_job_of(const struct burn_row *row, const struct burn_duties *duties, bool fire_ban, struct burn_job *job,
                 struct err *e)
{
    *job = (struct burn_job){.when = str_trim(row->field[ROW_WHEN]), .stop_name = str_trim(row->field[ROW_STOP_NAME])};
    struct str hours = str_trim(row->field[ROW_HOURS]);
    if (!number_of(hours, "h", &job->hours)) {
        return err_at(e, row->where, ERR_INPUT, "machine hours, a number", "hours '", str_z(e->a, hours), "'",
                      (char *)0);
    }
    if (!find_duty(row, duties, &job->duty, e) || !read_stop(row, job, e) || !read_burn(row, job, e) ||
        !burn_places_parse(row->field[ROW_PLACES], row->where, &job->places, e) ||
        !burn_places_parse(row->field[ROW_AT], row->where, &job->stop, e)) {
        return false;
    }
    if (fire_ban) {
        job->places |= 1U << PLACE_FIRE_BAN;
    }
    /* A ban on the day holds for the stop before the job as well. */
    job->stop |= job->places & 1U << PLACE_FIRE_BAN;
    job->name = str_trim(row->field[ROW_JOB]);
    if (job->name.n == 0) {
        job->name = job->duty == SOOT_USUAL ? S("usual work") : duties->label[job->duty];
    }
    return true;
}
