/* Lists of jobs: CSV, YAML by libyaml's events, and one line. */
#include "feed_jobs.h"

#include "base/csv.h"

#include <string.h>
#include <yaml.h>

struct rows {
    struct arena *a;
    struct str name; /* of the file */
    struct burn_row *at;
    size_t n, cap;
};

static bool push(struct rows *r, struct burn_row row, struct err *e)
{
    if (r->n >= BURN_JOBS_MOST) {
        return err_at(e, row.where, ERR_INPUT, "at most 60 jobs", "too many jobs", (char *)0);
    }
    ARENA_PUSH(r->a, r->at, r->n, r->cap) = row;
    return true;
}

/* The field of a column's or key's word. */
static bool field_of(struct str word, struct where where, enum burn_row_field *field, struct err *e)
{
    struct str wanted = str_trim(word);
    if (burn_row_field_find(wanted, field)) {
        return true;
    }
    struct str known[BURN_ROW_FIELD_COUNT];
    struct text all = text_new(e->a);
    for (int i = 0; i < BURN_ROW_FIELD_COUNT; i++) {
        known[i] = str_of(burn_row_word((enum burn_row_field)i));
        text_join(&all, i ? ", " : "", burn_row_word((enum burn_row_field)i), (char *)0);
    }
    ptrdiff_t near = str_nearest(wanted, known, BURN_ROW_FIELD_COUNT);
    struct text right = text_new(e->a);
    if (near >= 0) {
        text_join(&right, "did you mean ", burn_row_word((enum burn_row_field)near), "? ", (char *)0);
    }
    text_add(&right, text_str(&all));
    return err_at(e, where, ERR_INPUT, text_z(&right), "'", str_z(e->a, wanted), "' is nothing that a job has",
                  (char *)0);
}

/* ---- CSV --------------------------------------------------------------------------------------------------------- */

/* Semicolons as commas where the first line has no comma: as spreadsheets write lists in half of Europe. */
static struct str with_commas(struct arena *a, struct str data)
{
    struct str rest = data;
    struct str first;
    if (!str_next(&rest, '\n', &first) || str_find(first, S(",")) >= 0 || str_find(first, S(";")) < 0) {
        return data;
    }
    char *copy = arena_copy(a, data.p, data.n);
    bool quoted = false;
    for (size_t i = 0; i < data.n; i++) {
        quoted = copy[i] == '"' ? !quoted : quoted;
        if (!quoted && copy[i] == ';') {
            copy[i] = ',';
        } else if (!quoted && copy[i] == ',') {
            copy[i] = '.'; /* a decimal comma */
        }
    }
    return (struct str){copy, data.n};
}

static bool is_blank(const struct csv_record *record)
{
    for (size_t i = 0; i < record->n; i++) {
        if (str_trim(record->fields[i]).n) {
            return false;
        }
    }
    return true;
}

static bool read_csv(struct rows *r, struct str data, struct err *e)
{
    struct str rest = with_commas(r->a, data);
    uint32_t line = 1;
    struct csv_record head = {0};
    if (!csv_record_read(r->a, &rest, &line, &head, e)) {
        return e->kind != ERR_NONE || err_at(e, (struct where){r->name, 1, 1}, ERR_INPUT, "job,duty,hours,places ...",
                                             "the file is empty", (char *)0);
    }
    enum burn_row_field *columns = ARENA_ARRAY(r->a, enum burn_row_field, head.n + 1);
    for (size_t i = 0; i < head.n; i++) {
        if (!field_of(head.fields[i], (struct where){r->name, 1, (uint32_t)i + 1}, &columns[i], e)) {
            return false;
        }
    }
    for (;;) {
        struct csv_record record = {0};
        uint32_t at = line;
        if (!csv_record_read(r->a, &rest, &line, &record, e)) {
            return e->kind == ERR_NONE;
        }
        struct burn_row row = {.where = {r->name, at, 1}};
        if (is_blank(&record)) {
            continue;
        }
        if (record.n > head.n) {
            return err_at(e, row.where, ERR_INPUT, "as many fields as columns", "more fields than columns", (char *)0);
        }
        for (size_t i = 0; i < record.n; i++) {
            row.field[columns[i]] = str_copy(r->a, str_trim(record.fields[i]));
        }
        if (!push(r, row, e)) {
            return false;
        }
    }
}

/* ---- YAML -------------------------------------------------------------------------------------------------------- */

/* Where the reader stands: outside, in the list, in a job, in a job's list of words. */
enum place { OUTSIDE, IN_LIST, IN_JOB, IN_WORDS, DONE };

struct reader {
    struct rows *rows;
    enum place place;
    bool has_field; /* a key was read, its value is next */
    enum burn_row_field field;
    struct burn_row row;
    struct text words;
};

static struct where where_of(const struct reader *r, const yaml_event_t *event)
{
    return (struct where){r->rows->name, (uint32_t)event->start_mark.line + 1, (uint32_t)event->start_mark.column + 1};
}

static bool shape(const struct reader *r, const yaml_event_t *event, struct err *e)
{
    return err_at(e, where_of(r, event), ERR_INPUT, "- { job: .., duty: .., hours: 7, places: [dry-vegetation] }",
                  "not a list of jobs", (char *)0);
}

static bool on_scalar(struct reader *r, const yaml_event_t *event, struct err *e)
{
    struct str s = {(const char *)event->data.scalar.value, event->data.scalar.length};
    if (r->place == IN_WORDS) {
        text_addz(&r->words, r->words.n ? " " : "");
        text_add(&r->words, s);
        return true;
    }
    if (r->place != IN_JOB) {
        return shape(r, event, e);
    }
    if (!r->has_field) {
        r->has_field = field_of(s, where_of(r, event), &r->field, e);
        return r->has_field;
    }
    r->has_field = false;
    r->row.field[r->field] = str_copy(r->rows->a, str_trim(s));
    return true;
}

/* A list opens: that of the jobs, or the words of a value. */
static bool on_list(struct reader *r, const yaml_event_t *event, struct err *e)
{
    if (r->place == OUTSIDE) {
        r->place = IN_LIST;
        return true;
    }
    if (r->place != IN_JOB || !r->has_field) {
        return shape(r, event, e);
    }
    r->words = text_new(r->rows->a);
    r->place = IN_WORDS;
    return true;
}

static bool on_event(struct reader *r, const yaml_event_t *event, struct err *e)
{
    switch ((int)event->type) {
    case YAML_ALIAS_EVENT:
        return err_at(e, where_of(r, event), ERR_INPUT, NULL, "anchors and aliases are not read", (char *)0);
    case YAML_SCALAR_EVENT:
        return on_scalar(r, event, e);
    case YAML_SEQUENCE_START_EVENT:
        return on_list(r, event, e);
    case YAML_SEQUENCE_END_EVENT:
        if (r->place == IN_WORDS) {
            r->row.field[r->field] = text_str(&r->words);
            r->has_field = false;
            r->place = IN_JOB;
        } else {
            r->place = DONE;
        }
        return true;
    case YAML_MAPPING_START_EVENT:
        if (r->place != IN_LIST) {
            return shape(r, event, e);
        }
        r->row = (struct burn_row){.where = where_of(r, event)};
        r->place = IN_JOB;
        return true;
    case YAML_MAPPING_END_EVENT:
        r->place = IN_LIST;
        return push(r->rows, r->row, e);
    case YAML_DOCUMENT_START_EVENT:
        return r->place == OUTSIDE ||
               err_at(e, where_of(r, event), ERR_INPUT, "one document", "a second document", (char *)0);
    default:
        return true;
    }
}

static bool read_yaml(struct rows *rows, struct str data, struct err *e)
{
    struct reader r = {.rows = rows};
    yaml_parser_t parser;
    if (!yaml_parser_initialize(&parser)) {
        return err_set(e, ERR_SYSTEM, NULL, "no memory to read YAML", (char *)0);
    }
    yaml_parser_set_input_string(&parser, (const unsigned char *)data.p, data.n);
    bool ok = true;
    for (bool more = true; ok && more;) {
        yaml_event_t event;
        if (!yaml_parser_parse(&parser, &event)) {
            struct where where = {rows->name, (uint32_t)parser.problem_mark.line + 1,
                                  (uint32_t)parser.problem_mark.column + 1};
            ok = err_at(e, where, ERR_INPUT, "a YAML list of jobs", parser.problem ? parser.problem : "not YAML",
                        (char *)0);
            break;
        }
        more = event.type != YAML_STREAM_END_EVENT;
        ok = on_event(&r, &event, e);
        yaml_event_delete(&event);
    }
    yaml_parser_delete(&parser);
    return ok;
}

/* ---- which of them ----------------------------------------------------------------------------------------------- */

/* CSV unless the name or the first sign that is no comment says otherwise. */
static bool is_yaml(struct str name, struct str data)
{
    if (str_ends(name, S(".yaml")) || str_ends(name, S(".yml")) || str_ends(name, S(".json"))) {
        return true;
    }
    struct str rest = data;
    struct str line;
    while (!str_ends(name, S(".csv")) && str_next(&rest, '\n', &line)) {
        struct str t = str_trim(line);
        if (t.n && t.p[0] != '#') {
            return t.p[0] == '-' || t.p[0] == '[';
        }
    }
    return false;
}

bool feed_jobs_read(struct arena *a, struct str name, struct str data, struct burn_row **rows, size_t *n, struct err *e)
{
    struct rows r = {.a = a, .name = name};
    struct where start = {name, 1, 1};
    if (data.n > FEED_JOBS_BYTES_MOST || !str_is_utf8(data)) {
        return err_at(e, start, ERR_INPUT, "UTF-8, at most 256 KiB", "not a list of jobs", (char *)0);
    }
    if (str_starts(data, S("\xef\xbb\xbf"))) {
        data = str_cut(data, 3, data.n);
    }
    if (!(is_yaml(name, data) ? read_yaml(&r, data, e) : read_csv(&r, data, e))) {
        if (e->where.name.n == 0) {
            e->where.name = name;
        }
        return false;
    }
    *rows = r.at;
    *n = r.n;
    return r.n > 0 || err_at(e, start, ERR_INPUT, "at least one job", "no job in it", (char *)0);
}

/* ---- one line ---------------------------------------------------------------------------------------------------- */

/* Adds a word to a field. */
static void add_word(struct arena *a, struct str *field, struct str word)
{
    struct text t = text_new(a);
    text_add(&t, *field);
    text_addz(&t, field->n ? " " : "");
    text_add(&t, word);
    *field = text_str(&t);
}

static void line_word(struct arena *a, struct burn_row *row, struct str word, bool *stop)
{
    double number = 0;
    bool numeric = num_parse(word, &number);
    if (str_eq(word, S("stop"))) {
        *stop = true;
    } else if (str_eq(word, S("burn")) || str_eq(word, S("no-burn"))) {
        row->field[ROW_BURN] = str_eq(word, S("burn")) ? S("yes") : S("no");
    } else if (*stop && row->field[ROW_STOP].n == 0 && (numeric || str_eq(word, S("none")))) {
        row->field[ROW_STOP] = word;
    } else if (*stop) {
        add_word(a, &row->field[ROW_AT], word);
    } else if (numeric && row->field[ROW_HOURS].n == 0) {
        row->field[ROW_HOURS] = word;
    } else if (row->field[ROW_HOURS].n == 0) {
        add_word(a, &row->field[ROW_DUTY], word);
    } else {
        add_word(a, &row->field[ROW_PLACES], word);
    }
}

bool feed_jobs_line(struct arena *a, struct str line, struct burn_row **rows, size_t *n, struct err *e)
{
    struct rows r = {.a = a};
    struct str rest = line;
    struct str job;
    while (str_next(&rest, ';', &job)) {
        struct burn_row row = {.where = {.name = S("jobs")}};
        bool stop = false;
        struct str words = str_trim(job);
        struct str word;
        while (str_next(&words, ' ', &word)) {
            if (str_trim(word).n) {
                line_word(a, &row, str_trim(word), &stop);
            }
        }
        if (str_trim(job).n == 0) {
            continue; /* after the last ';' */
        }
        if (row.field[ROW_HOURS].n == 0) {
            return err_set(e, ERR_USAGE, "DUTY HOURS [PLACE...] [stop MINUTES [PLACE...]]; ...",
                           "a job without hours: '", str_z(e->a, str_trim(job)), "'", (char *)0);
        }
        if (!push(&r, row, e)) {
            return false;
        }
    }
    *rows = r.at;
    *n = r.n;
    return r.n > 0 || err_set(e, ERR_USAGE, "raking 7 dry-vegetation; raking 7", "no job is named", (char *)0);
}
