/* witmark exhaust: the exhaust filter of a machine, and its burns planned over the coming jobs. */
#include "cli.h"

#include "desk_exhaust.h"
#include "exhaust/burn_plan_json.h"

#include <math.h>
#include <string.h>

static void percent(struct text *t, double share)
{
    text_number(t, 100 * share, 0);
    text_addz(t, " %");
}

/* "62 % (55 to 70 %)" */
static void load_band(struct text *t, double p10, double p50, double p90)
{
    percent(t, p50);
    text_addz(t, " (");
    text_number(t, 100 * p10, 0);
    text_addz(t, " to ");
    percent(t, p90);
    text_char(t, ')');
}

/* "in 14 h of usual work (9 to 22 h)" */
static void hours_band(struct text *t, const struct desk_band *b)
{
    if (!isfinite(b->p50)) {
        text_addz(t,
                  isfinite(b->p10) ? "hardly in the next 160 h of usual work" : "not in the next 160 h of usual work");
        if (isfinite(b->p10)) {
            text_addz(t, "; one case of ten by ");
            text_number(t, b->p10, 0);
            text_addz(t, " h");
        }
        return;
    }
    if (b->p50 <= 0) {
        text_addz(t, "now");
        return;
    }
    text_addz(t, "in ");
    text_number(t, b->p50, 0);
    text_addz(t, " h of usual work (");
    text_number(t, b->p10, 0);
    text_addz(t, " to ");
    if (isfinite(b->p90)) {
        text_number(t, b->p90, 0);
        text_addz(t, " h)");
    } else {
        text_addz(t, "much later)");
    }
}

static void day_of(struct text *t, const struct reserve *r)
{
    if (r->p50 != DAY_NONE && !r->out) {
        text_addz(t, ", about ");
        text_day(t, r->p50);
    }
}

static void row(struct table *table, const char *head, const struct text *t)
{
    table_addz(table, head);
    table_add(table, text_str(t));
}

static void soot_rows(struct call *c, struct table *table, const struct desk_exhaust *x)
{
    struct text t = text_new(&c->arena);
    if (!x->known) {
        text_addz(&t, "not known: no gauge reading and no burn is recorded (witmark record reading, record burn)");
        row(table, "soot", &t);
        return;
    }
    load_band(&t, x->load.p10, x->load.p50, x->load.p90);
    text_join(&t, ", from the ", x->from, str_eq(str_of(x->from), S("reading")) ? " of " : " burn of ", (char *)0);
    text_local(&t, c->desk, x->from_at);
    text_addz(&t, ", ");
    percent(&t, x->from_load);
    if (isfinite(x->hours_since)) {
        text_addz(&t, ", and ");
        text_number(&t, x->hours_since, 1);
        text_addz(&t, " h of work since");
    }
    row(table, "soot", &t);
    t = text_new(&c->arena);
    hours_band(&t, &x->demanded);
    day_of(&t, &x->soot_reserve);
    row(table, "parked burn demanded", &t);
    t = text_new(&c->arena);
    hours_band(&t, &x->derated);
    row(table, "power reduced", &t);
    t = text_new(&c->arena);
    hours_band(&t, &x->past);
    row(table, "past field burning", &t);
    if (!x->inhibited) {
        t = text_new(&c->arena);
        text_addz(&t, "demanded ");
        hours_band(&t, &x->inhibited_demanded);
        row(table, "inhibited from now on", &t);
    }
}

static void rate_rows(struct call *c, struct table *table, const struct desk_exhaust *x)
{
    struct text t = text_new(&c->arena);
    text_number(&t, 100 * x->rate, 1);
    text_addz(&t, " % an hour of usual work, give or take ");
    text_number(&t, 100 * x->rate_deviation, 1);
    text_addz(&t, "; the book says ");
    text_number(&t, 100 * x->book_rate, 1);
    text_addz(&t, " %; learned from ");
    text_int(&t, x->stretches);
    text_addz(&t, x->stretches == 1 ? " stretch" : " stretches");
    if (x->left_out) {
        text_addz(&t, ", ");
        text_int(&t, x->left_out);
        text_addz(&t, " left out as a burn went unseen");
    }
    row(table, "soot made", &t);
    if (!x->ash_known) {
        return;
    }
    t = text_new(&c->arena);
    text_number(&t, x->ash_kg * 1000, 0);
    text_addz(&t, " of ");
    text_number(&t, x->ash_limit_kg * 1000, 0);
    text_addz(&t, " g by ");
    text_number(&t, x->oil_per_h * 1e6, 1);
    text_addz(&t, " mL of oil an hour");
    if (x->oil_hours > 0) {
        text_addz(&t, " (");
        text_number(&t, x->oil_topped_m3 * 1e3, 1);
        text_addz(&t, " L topped up in ");
        text_number(&t, x->oil_hours, 0);
        text_addz(&t, " h)");
    }
    text_addz(&t, "; full in ");
    text_number(&t, x->ash_left.p50, 0);
    text_addz(&t, " h (");
    text_number(&t, x->ash_left.p10, 0);
    text_addz(&t, " to ");
    text_number(&t, x->ash_left.p90, 0);
    text_addz(&t, " h)");
    row(table, "ash", &t);
}

static void history(struct call *c, struct text *out, const struct desk_exhaust *x)
{
    struct table table = table_new(&c->arena, 5);
    size_t n = option_given(c, "all") || x->n_history < 12 ? x->n_history : 12;
    text_addz(out, "\nReadings and burns\n");
    for (size_t i = 0; i < n; i++) {
        const struct desk_burn *burn = &x->history[i];
        bool reading = strcmp(burn->word, "reading") == 0;
        struct text at = text_new(&c->arena);
        struct text hours = text_new(&c->arena);
        struct text value = text_new(&c->arena);
        text_local(&at, c->desk, burn->at);
        if (isfinite(burn->total_h)) {
            text_number(&hours, burn->total_h, 1);
            text_addz(&hours, " h");
        }
        if (isfinite(burn->value)) {
            text_number(&value, reading ? 100 * burn->value : burn->value, 0);
            text_addz(&value, reading ? " %" : " min");
        }
        table_add(&table, text_str(&at));
        table_add(&table, text_str(&hours));
        table_addz(&table, burn->word);
        table_add(&table, text_str(&value));
        table_add(&table, burn->by);
    }
    table_print(out, &table);
    if (n < x->n_history) {
        text_addz(out, "and ");
        text_int(out, (int64_t)(x->n_history - n));
        text_addz(out, " more with --all\n");
    }
    if (n == 0) {
        text_addz(out, "none\n");
    }
}

static void inhibition(struct call *c, struct text *t, const struct desk_exhaust *x)
{
    if (!x->inhibited) {
        text_addz(t, "burning is not inhibited\n");
        return;
    }
    text_addz(t, "CAUTION: burning has been inhibited since ");
    text_local(t, c->desk, x->inhibited_since);
    if (x->inhibited_by.n) {
        text_addz(t, " (");
        text_add(t, x->inhibited_by);
        text_char(t, ')');
    }
    if (isfinite(x->inhibited_h)) {
        text_addz(t, ", ");
        text_number(t, x->inhibited_h, 1);
        text_addz(t, " h of work");
    }
    text_addz(t, ". Soot only grows meanwhile.\nRelease it at the machine as soon as the place allows, then: witmark "
                 "record burn ");
    text_add(t, x->machine->name);
    text_addz(t, " released\n");
}

static int show_state(struct call *c)
{
    struct desk_exhaust x;
    if (!desk_exhaust(c->desk, str_of(c->arguments[0]), &c->arena, &x, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_exhaust_json(&j, c->desk, &x);
        text_char(&t, '\n');
        return print_text(&t);
    }
    text_add(&t, x.machine->name);
    text_addz(&t, "  ");
    text_add(&t, x.machine->book->title);
    text_addz(&t, "  ");
    text_add(&t, x.machine->serial);
    text_addz(&t, ": exhaust filter\n");
    inhibition(c, &t, &x);
    text_char(&t, '\n');
    struct table table = table_new(&c->arena, 2);
    soot_rows(c, &table, &x);
    rate_rows(c, &table, &x);
    table_print(&t, &table);
    history(c, &t, &x);
    return print_text(&t);
}

/* ---- the plan ---------------------------------------------------------------------------------------------------- */

/* "not permitted: a fire ban is in force; the stop has 30 min and a burn needs 65" */
static void stop_words(struct text *t, const struct desk_burn_plan *p, int k)
{
    const struct burn_stop_plan *s = &p->plan.stops[k];
    if (s->burn) {
        text_addz(t, "PARKED BURN at about ");
        percent(t, s->p50);
        text_addz(t, ": ");
        text_number(t, p->ask.costs.prepare, 0);
        text_addz(t, " min to clean and look round, ");
        text_number(t, p->ask.burn_min, 0);
        text_addz(t, " min burn, ");
        text_number(t, p->ask.cool_min, 0);
        text_addz(t, " min to cool");
        text_addz(t, s->ask_ban ? "; ask first whether the fire ban allows it on hard standing" : "");
        return;
    }
    if (s->permitted) {
        text_addz(t, "a burn could be made; none needed");
        return;
    }
    text_addz(t, "no burn here: ");
    bool first = true;
    for (int i = 0; i < BURN_PLACE_COUNT; i++) {
        if (s->because & 1U << i) {
            text_join(t, first ? "" : "; ", burn_place_why((enum burn_place)i), (char *)0);
            first = false;
        }
    }
    if (s->too_short) {
        text_addz(t, first ? "" : "; ");
        text_addz(t, "the stop is shorter than the ");
        text_number(t, s->needs_min, 0);
        text_addz(t, " min it takes");
        first = false;
    }
    text_addz(t, first ? "not wanted" : "");
}

static void job_words(struct text *t, const struct desk_burn_plan *p, int k)
{
    const struct burn_job_plan *j = &p->plan.jobs[k];
    if (j->inhibit) {
        text_addz(t, "INHIBIT burning (");
        text_burn_places(t, j->because);
        text_addz(t, ")");
    } else {
        text_addz(t, "let it burn by itself");
    }
    text_addz(t, "; soot after ");
    load_band(t, j->p10, j->p50, j->p90);
    if (j->demanded >= 0.005) {
        text_addz(t, "; parked burn demanded meanwhile ");
        percent(t, j->demanded);
    }
    if (j->derated >= 0.005) {
        text_addz(t, ", power lost ");
        percent(t, j->derated);
    }
}

static void plan_table(struct call *c, struct text *out, const struct desk_burn_plan *p)
{
    struct table table = table_new(&c->arena, 3);
    for (int k = 0; k < p->plan.n; k++) {
        const struct burn_job *job = &p->ask.jobs[k];
        struct text stop = text_new(&c->arena);
        stop_words(&stop, p, k);
        struct text name = text_new(&c->arena);
        text_add(&name, job->stop_name.n ? job->stop_name : S("stop"));
        if (p->plan.stops[k].burn || !p->plan.stops[k].permitted) {
            table_addz(&table, "");
            table_add(&table, text_str(&name));
            table_add(&table, text_str(&stop));
        }
        struct text head = text_new(&c->arena);
        text_int(&head, k + 1);
        struct text what = text_new(&c->arena);
        text_add(&what, job->when);
        text_addz(&what, job->when.n ? " " : "");
        text_add(&what, job->name);
        text_addz(&what, ", ");
        text_number(&what, job->hours, 1);
        text_addz(&what, " h");
        struct text words = text_new(&c->arena);
        job_words(&words, p, k);
        table_add(&table, text_str(&head));
        table_add(&table, text_str(&what));
        table_add(&table, text_str(&words));
    }
    table_print(out, &table);
}

static void risks(struct text *t, const struct desk_burn_plan *p)
{
    const struct burn_plan *plan = &p->plan;
    text_addz(t, "By this plan a parked burn is demanded at the wrong time with ");
    percent(t, plan->demanded);
    text_addz(t, ", power lost with ");
    percent(t, plan->derated);
    text_addz(t, "; expected loss ");
    text_number(t, plan->cost_min, 0);
    text_addz(t, " min.\nWithout any planned burn: ");
    percent(t, plan->idle_demanded);
    text_addz(t, ", ");
    percent(t, plan->idle_derated);
    text_addz(t, ", ");
    text_number(t, plan->idle_cost_min, 0);
    text_addz(t, " min.\n");
}

static void checklist(struct text *t)
{
    text_addz(t, "\nWARNING: surfaces and outlet gas reach several hundred degrees. Before a parked burn, at the "
                 "machine:\n");
    for (int i = 0; i < BURN_CHECK_COUNT; i++) {
        text_join(t, "  [ ] ", burn_check_says((enum burn_check)i), "\n", (char *)0);
    }
    text_addz(t,
              "The maker's manual and the site's own rules come first. Witmark sends nothing to the machine: inhibit, "
              "burn and release\nwith its own switches, and record it: witmark record burn MACHINE "
              "parked|inhibited|released.\n");
}

#define INPUT_MOST ((size_t)256 << 10)

/* All of standard input. */
static bool read_input(struct call *c, struct str *data)
{
    char *at = arena_alloc(&c->arena, INPUT_MOST + 1, 1);
    size_t n = fread(at, 1, INPUT_MOST + 1, stdin);
    *data = (struct str){at, n};
    if (ferror(stdin)) {
        return err_set(&c->err, ERR_SYSTEM, NULL, "standard input can't be read", (char *)0);
    }
    return n <= INPUT_MOST || err_set(&c->err, ERR_INPUT, "at most 256 KiB", "too long a list", (char *)0);
}

static int show_plan(struct call *c)
{
    struct desk_jobs jobs = {.list = option_str(c, "next"), .fire_ban = option_given(c, "fire-ban")};
    const char *path = option_value(c, "jobs");
    if (path && jobs.list.n) {
        (void)err_set(&c->err, ERR_USAGE, "one of them", "--jobs and --next together", (char *)0);
        return failed(c);
    }
    if (path) {
        bool standard = strcmp(path, "-") == 0;
        jobs.name = standard ? S("standard input") : str_of(path);
        if (!(standard ? read_input(c, &jobs.data)
                       : desk_read_file(&c->arena, path, INPUT_MOST, &jobs.data, &c->err))) {
            return failed(c);
        }
        if (!jobs.data.p) {
            jobs.data.p = "";
        }
    }
    struct desk_burn_plan p;
    if (!desk_exhaust_plan(c->desk, str_of(c->arguments[0]), &jobs, &c->arena, &p, &c->err)) {
        return failed(c);
    }
    bool safe = p.plan.word == BURN_NONE_NEEDED || p.plan.word == BURN_PLANNED;
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_exhaust_plan_json(&j, c->desk, &p);
        text_char(&t, '\n');
        int printed = print_text(&t);
        return printed == EXIT_FINE && !safe ? EXIT_FINDINGS : printed;
    }
    text_add(&t, p.state.machine->name);
    text_join(&t, ": ", burn_word_text(p.plan.word), "\n", (char *)0);
    if (!safe) {
        text_add(&t, p.plan.refused);
        text_addz(&t, "\nwhat would be safe: ");
        text_add(&t, p.plan.right);
        text_char(&t, '\n');
    }
    if (p.state.inhibited) {
        inhibition(c, &t, &p.state);
    }
    text_char(&t, '\n');
    plan_table(c, &t, &p);
    text_char(&t, '\n');
    risks(&t, &p);
    if (p.plan.n_burns || !safe) {
        checklist(&t);
    }
    int printed = print_text(&t);
    return printed == EXIT_FINE && !safe ? EXIT_FINDINGS : printed;
}

static int run_exhaust(struct call *c)
{
    bool plan = option_given(c, "jobs") || option_given(c, "next");
    if (!plan && option_given(c, "fire-ban")) {
        (void)err_set(&c->err, ERR_USAGE, "--jobs FILE or --next \"raking 7; raking 7\" beside it",
                      "--fire-ban without jobs", (char *)0);
        return failed(c);
    }
    return plan ? show_plan(c) : show_state(c);
}

static const struct option_def exhaust_options[] = {
    {"jobs", 'j', "FILE", "plan these coming jobs: CSV or YAML; - reads standard input"},
    {"next", 'n', "JOBS", "plan these: \"raking 7 dry-vegetation; raking 6 stop 60 hard-standing\""},
    {"fire-ban", 0, NULL, "a fire ban is in force all the time"},
    {"all", 'a', NULL, "the whole history of readings and burns"},
    END_OF_OPTIONS,
};

const struct command exhaust_commands[] = {
    {"exhaust", "MACHINE", 1, 1, "the exhaust filter: soot, ash, burns, hours left; with jobs, where a burn fits",
     "Without jobs: where soot and ash stand, hours of usual work until a parked burn is demanded, until power is "
     "reduced, until nothing in the field helps, whether burning is inhibited, and the burns so far.\n\n"
     "With --jobs or --next: during which of the coming jobs burning must be inhibited, and the best stops for a "
     "parked "
     "burn. Columns or keys of a job: job, when, duty, hours, places, stop (minutes at hand before it), at (what the "
     "place of that stop is like), stop-name, burn (yes or no). Places: dusty, dry-vegetation, indoors, public, "
     "combustibles, fire-ban, hard-standing. Duties are the book's. Exit status 1 when no plan is safe.\n\n"
     "On one line: DUTY HOURS [PLACE...] [stop MINUTES [PLACE...]] [burn|no-burn]; the next job ...",
     exhaust_options, run_exhaust, false, false},
    {0},
};
