/* Spreadsheets as people have them: tests/data/csv/NAME.csv, and in NAME.expect what must come out, written by hand.
 * All files are invented; the reading of each is common practice of the trade, with no source but what a comment names.
 *
 * An .expect file: lines starting with # say what the file is for. "option: ..." sets an option. The others are
 * compared, in order, with the plan in the same short form (see describe): one line for the file, one for each finding,
 * one for each proposal with its place, mark, kind, content and the rules that speak about it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "csv_depot.h"

#include <dirent.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A whole file; empty when it can't be read. */
static struct str read_all(struct arena *a, const char *path)
{
    FILE *f = fopen(path, "rb");
    struct text t = text_new(a);
    char block[4096];
    size_t n = 0;
    while (f && (n = fread(block, 1, sizeof block, f)) > 0) {
        text_add(&t, (struct str){block, n});
    }
    if (f) {
        fclose(f);
    }
    return text_str(&t);
}

/* ---- the short form ---- */

static void add_place(struct text *t, struct where w)
{
    text_int(t, w.line);
    text_char(t, ':');
    text_int(t, w.column);
}

static void describe_proposal(struct text *t, const struct feed_csv_input *in, const struct feed_csv_proposal *p)
{
    add_place(t, p->where);
    text_join(t, " ", feed_csv_mark_text(p->mark), " ", feed_csv_kind_text(p->kind), (char *)0);
    if (p->machine >= 0) {
        text_char(t, ' ');
        text_add(t, in->machines[p->machine].serial);
    }
    if (p->day != DAY_NONE) {
        text_char(t, ' ');
        text_day(t, p->day);
    }
    if (p->minute >= 0) {
        text_char(t, 'T');
        text_zeros(t, p->minute / 60, 2);
        text_char(t, ':');
        text_zeros(t, p->minute % 60, 2);
    }
    if (p->name.n) {
        text_char(t, ' ');
        text_add(t, p->name);
    }
    if (isfinite(p->value)) {
        text_char(t, ' ');
        text_double(t, p->value);
        text_join(t, p->unit ? " " : "", p->unit ? p->unit->symbol : "", (char *)0);
    }
    if (p->spn >= 0) {
        text_addz(t, " spn ");
        text_int(t, p->spn);
        text_addz(t, " fmi ");
        text_int(t, p->fmi);
    }
    struct {
        const char *word;
        struct str s;
    } texts[] = {{"", p->text}, {"by ", p->by}, {"note ", p->note}};
    for (size_t i = 0; i < 3; i++) {
        if (texts[i].s.n) {
            text_join(t, " ", texts[i].word, (char *)0);
            text_json_string(t, texts[i].s);
        }
    }
    if (isfinite(p->labour_min)) {
        text_addz(t, " work ");
        text_double(t, p->labour_min);
    }
    for (size_t i = 0; i < p->n_why; i++) {
        text_join(t, " [", p->why[i].rule, (char *)0);
        if (p->why[i].where.line != p->where.line || p->why[i].where.column != p->where.column) {
            text_char(t, ' ');
            add_place(t, p->why[i].where);
        }
        text_char(t, ']');
    }
    text_addz(t, p->asks ? " asks\n" : "\n");
}

/* The plan, a line for each thing in it. */
static struct str describe(struct arena *a, const struct feed_csv_input *in, const struct feed_csv_plan *plan)
{
    static const char *const encodings[] = {"?", "utf-8", "utf-16le", "utf-16be", "windows-1252"};
    struct text t = text_new(a);
    text_join(&t, "file ", encodings[plan->encoding], plan->separator == '\t' ? " tab" : "", (char *)0);
    if (plan->separator != '\t') {
        text_char(&t, ' ');
        text_char(&t, plan->separator);
    }
    text_addz(&t, " header ");
    text_int(&t, plan->header_line);
    text_addz(&t, " rows ");
    text_int(&t, (int64_t)plan->rows);
    text_addz(&t, plan->may_take ? " may-take\n" : " nothing-taken\n");
    for (size_t i = 0; i < plan->findings.n; i++) {
        const struct diag *d = &plan->findings.at[i];
        add_place(&t, d->where);
        text_join(&t, " ", diag_level_text(d->level), " ", d->rule, "\n", (char *)0);
    }
    for (size_t i = 0; i < plan->n_proposals; i++) {
        describe_proposal(&t, in, &plan->proposals[i]);
    }
    return text_str(&t);
}

/* ---- the files ---- */

/* "dates=day-first", "column Hrs=meter", "machine=Beach 1", "skip-refused" */
static void set_option(struct arena *a, struct feed_csv_options *o, struct str line)
{
    struct str value = line;
    struct str word;
    if (str_starts(line, S("column "))) {
        struct feed_csv_mapping *m = ARENA_ARRAY(a, struct feed_csv_mapping, o->n_mappings + 1);
        struct err e = err_new(a);
        for (size_t i = 0; i < o->n_mappings; i++) {
            m[i] = o->mappings[i];
        }
        assert_true(feed_csv_mapping_parse(str_cut(line, 7, line.n), &m[o->n_mappings++], &e));
        o->mappings = m;
        return;
    }
    str_next(&value, '=', &word);
    if (str_eq(word, S("dates"))) {
        assert_true(csv_dates_parse(value, &o->dates));
    } else if (str_eq(word, S("decimals"))) {
        assert_true(csv_decimals_parse(value, &o->decimals));
    } else if (str_eq(word, S("machine"))) {
        o->machine = value;
    } else if (str_eq(word, S("skip-refused"))) {
        o->skip_refused = true;
    } else {
        fail_msg("unknown option in an .expect file: %.*s", STR_ARG(line));
    }
}

/* Reads one .csv and compares. Returns the number of lines that differ, and prints the first. */
static int check_file(const char *folder, const char *name)
{
    struct arena a = arena_new(&arena_libc);
    char path[1024];
    snprintf(path, sizeof path, "%s/%s.csv", folder, name);
    struct feed_csv_input in = {.name = str_of(name), .bytes = read_all(&a, path), .today = DAY_NONE};
    snprintf(path, sizeof path, "%s/%s.expect", folder, name);
    struct str expect = read_all(&a, path);
    in.machines = csv_depot(&a, &in.n_machines);
    day_parse(S("2027-06-30"), &in.today);
    struct text wanted = text_new(&a);
    struct str line;
    while (str_next(&expect, '\n', &line)) {
        if (str_starts(line, S("option: "))) {
            set_option(&a, &in.options, str_cut(line, 8, line.n));
        } else if (line.n && line.p[0] != '#') {
            text_add(&wanted, line);
            text_char(&wanted, '\n');
        }
    }
    struct err e = err_new(&a);
    const struct feed_csv_plan *plan = feed_csv_plan(&a, &in, &e);
    struct text got = text_new(&a);
    if (plan) {
        text_add(&got, describe(&a, &in, plan));
    } else {
        text_addz(&got, "error ");
        text_add(&got, err_text(&a, &e));
        text_char(&got, '\n');
    }
    struct str w = text_str(&wanted);
    struct str g = text_str(&got);
    struct str wl = {0};
    struct str gl = {0};
    int differences = w.n == 0;
    while (w.n || g.n) {
        wl = gl = (struct str){0};
        str_next(&w, '\n', &wl);
        str_next(&g, '\n', &gl);
        if (!str_eq(wl, gl)) {
            print_message("# %s: expected: %.*s\n# %s:      got: %.*s\n", name, STR_ARG(wl), name, STR_ARG(gl));
            differences++;
        }
    }
    arena_free(&a);
    return differences;
}

static int is_csv(const struct dirent *d)
{
    size_t n = strlen(d->d_name);
    return n > 4 && strcmp(d->d_name + n - 4, ".csv") == 0;
}

/* Every file of tests/data/csv. */
static void files_give_what_is_expected(void **state)
{
    (void)state;
    char folder[900];
    snprintf(folder, sizeof folder, "%s/csv", getenv("WITMARK_DATA"));
    struct dirent **list = NULL;
    int n = scandir(folder, &list, is_csv, alphasort);
    int differences = 0;
    assert_true(n >= 15);
    for (int i = 0; i < n; i++) {
        list[i]->d_name[strlen(list[i]->d_name) - 4] = '\0';
        differences += check_file(folder, list[i]->d_name);
        free(list[i]);
    }
    free(list);
    assert_int_equal(differences, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(files_give_what_is_expected),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
