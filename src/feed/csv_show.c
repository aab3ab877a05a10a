/* The plan for people and for programs. */
#include "csv_internal.h"

#include <math.h>

/* "comma", "semicolon" ... */
static const char *separator_word(char c)
{
    return c == ',' ? "comma" : c == ';' ? "semicolon" : c == '\t' ? "tab" : c == '|' ? "bar" : "other";
}

/* "UTF-8" ... */
static const char *encoding_word(enum csv_encoding e)
{
    static const char *const words[] = {
#define X(symbol, word) word,
        CSV_ENCODINGS(X)
#undef X
    };
    return words[e];
}

/* "day-first" ... */
static const char *order_word(enum csv_dates d)
{
    static const char *const words[] = {
#define X(symbol, word) word,
        CSV_DATE_ORDERS(X)
#undef X
    };
    return words[d];
}

/* "point" ... */
static const char *sign_word(enum csv_decimals d)
{
    static const char *const words[] = {
#define X(symbol, word) word,
        CSV_DECIMAL_SIGNS(X)
#undef X
    };
    return words[d];
}

/* "2027-04-14" or "2027-04-14 14:30" */
static void add_when(struct text *t, const struct feed_csv_proposal *p)
{
    if (p->day == DAY_NONE) {
        return;
    }
    text_day(t, p->day);
    if (p->minute >= 0) {
        text_char(t, ' ');
        text_zeros(t, p->minute / 60, 2);
        text_char(t, ':');
        text_zeros(t, p->minute % 60, 2);
    }
}

/* Words on one line: every run of white space a blank. */
static void add_line(struct text *t, struct str s)
{
    for (size_t i = 0; i < s.n; i++) {
        bool white = s.p[i] == '\n' || s.p[i] == '\r' || s.p[i] == '\t' || s.p[i] == ' ';
        if (!white || i == 0 || t->p[t->n - 1] != ' ') {
            text_char(t, white ? ' ' : s.p[i]);
        }
    }
}

/* What would be recorded: "front-tyre 1.5 bar", "412.5 h". */
static void add_content(struct text *t, const struct feed_csv_proposal *p)
{
    text_add(t, p->name);
    if (isfinite(p->value)) {
        text_addz(t, p->name.n ? " " : "");
        text_number(t, p->value, 4);
        if (p->kind == FEED_CSV_METER) {
            text_addz(t, " h");
        } else if (p->kind == FEED_CSV_PART) {
            text_addz(t, " pc");
        } else if (p->unit) {
            text_char(t, ' ');
            text_addz(t, p->unit->shown);
        }
    }
    bool says_more = p->kind == FEED_CSV_FOUND || p->kind == FEED_CSV_NOTE || p->kind == FEED_CSV_FAULT ||
                     p->mark == FEED_CSV_REFUSED || (p->kind == FEED_CSV_PART && !p->name.n);
    if (says_more && p->text.n) {
        text_addz(t, p->name.n || isfinite(p->value) ? " \"" : "\"");
        add_line(t, p->text);
        text_char(t, '"');
    }
    if (p->note.n) {
        text_addz(t, " (");
        add_line(t, p->note);
        text_char(t, ')');
    }
}

/* One proposal: a line, and a line for each reason. */
static void print_proposal(struct text *t, const struct feed_csv_input *in, const struct feed_csv_proposal *p)
{
    text_add(t, p->where.name);
    text_char(t, ':');
    text_int(t, p->where.line);
    text_char(t, ':');
    text_int(t, p->where.column);
    text_join(t, ": ", feed_csv_mark_text(p->mark), ": ", feed_csv_kind_text(p->kind), (char *)0);
    if (p->machine >= 0) {
        text_char(t, ' ');
        text_add(t, in->machines[p->machine].serial);
    }
    text_addz(t, p->day != DAY_NONE ? " " : "");
    add_when(t, p);
    text_char(t, ' ');
    add_content(t, p);
    text_char(t, '\n');
    for (size_t i = 0; i < p->n_why; i++) {
        text_addz(t, "    ");
        add_line(t, p->why[i].what);
        if (p->why[i].right.n) {
            text_addz(t, "; right: ");
            text_add(t, p->why[i].right);
        }
        text_char(t, '\n');
    }
}

/* How each column was understood. */
static void print_columns(struct text *t, const struct feed_csv_plan *plan)
{
    text_addz(t, "columns:\n");
    for (size_t k = 0; k < plan->n_columns; k++) {
        const struct feed_csv_column *c = &plan->columns[k];
        text_addz(t, "    ");
        text_pad(t, c->header, 28);
        text_join(t, " ", c->meaning, (char *)0);
        if (c->unit) {
            text_join(t, ", in ", c->unit->shown, (char *)0);
        }
        if (c->dates != CSV_DATES_FIND) {
            text_join(t, ", dates ", order_word(c->dates), (char *)0);
        }
        if (c->decimals != CSV_DECIMALS_FIND) {
            text_join(t, ", decimal ", sign_word(c->decimals), (char *)0);
        }
        text_char(t, '\n');
    }
}

/* Whether a proposal is only what has been said: every reason stands further up already. What is refused always stands
 * by itself. Remembers the reasons. */
static bool is_said(struct map *said, const struct feed_csv_proposal *p)
{
    bool all = p->n_why > 0 && p->mark != FEED_CSV_REFUSED;
    for (size_t i = 0; i < p->n_why; i++) {
        all = !map_put(said, p->why[i].what, 1) && all;
    }
    return all;
}

/* The proposals that somebody should look at, each reason once; or every proposal. */
static void print_proposals(struct text *t, const struct feed_csv_input *in, const struct feed_csv_plan *plan, bool all)
{
    struct map said = map_new(t->a);
    size_t more = 0;
    for (size_t i = 0; i < plan->n_proposals; i++) {
        const struct feed_csv_proposal *p = &plan->proposals[i];
        if (!all && p->mark == FEED_CSV_TAKE) {
            continue;
        }
        if (!all && is_said(&said, p)) {
            more++;
        } else {
            print_proposal(t, in, p);
        }
    }
    if (more) {
        text_addz(t, "and ");
        text_int(t, (int64_t)more);
        text_addz(t, " more for reasons that stand above\n");
    }
}

void feed_csv_print(struct text *t, const struct feed_csv_input *in, const struct feed_csv_plan *plan, bool all)
{
    text_add(t, plan->name);
    text_join(t, ": ", encoding_word(plan->encoding), ", separated by ", separator_word(plan->separator), ", ",
              (char *)0);
    text_int(t, (int64_t)plan->rows);
    text_addz(t, plan->rows == 1 ? " row" : " rows");
    if (plan->header_line) {
        text_addz(t, " below the header in line ");
        text_int(t, plan->header_line);
    }
    text_char(t, '\n');
    print_columns(t, plan);
    for (size_t i = 0; i < plan->findings.n; i++) {
        diag_print(t, &plan->findings.at[i]);
    }
    print_proposals(t, in, plan, all);
    for (int m = 0; m < 4; m++) {
        text_addz(t, m ? ", " : "");
        text_int(t, (int64_t)plan->count[m]);
        text_join(t, " ", m == FEED_CSV_TAKE ? "to take" : feed_csv_mark_text((enum feed_csv_mark)m), (char *)0);
    }
    text_addz(t, plan->may_take ? "\n"
                 : plan->broken ? "; nothing is taken from a damaged file\n"
                                : "; nothing is taken as long as something is refused\n");
}

/* Reasons or findings as an array. */
static void json_diags(struct json *j, const char *key, const struct diag *d, size_t n)
{
    json_begin_array(j, key);
    for (size_t i = 0; i < n; i++) {
        json_begin_object(j, NULL);
        json_strz(j, "level", diag_level_text(d[i].level));
        json_strz(j, "rule", d[i].rule);
        json_int(j, "line", d[i].where.line);
        json_int(j, "column", d[i].where.column);
        json_str(j, "what", d[i].what);
        json_str(j, "right", d[i].right);
        json_end_object(j);
    }
    json_end_array(j);
}

/* A member that is left out when empty. */
static void json_some(struct json *j, const char *key, struct str value)
{
    if (value.n) {
        json_str(j, key, value);
    }
}

/* One proposal as an object; what it does not have is left out. */
static void json_proposal(struct json *j, const struct feed_csv_input *in, const struct feed_csv_proposal *p)
{
    json_begin_object(j, NULL);
    json_strz(j, "mark", feed_csv_mark_text(p->mark));
    json_strz(j, "kind", feed_csv_kind_text(p->kind));
    json_int(j, "line", p->where.line);
    json_int(j, "column", p->where.column);
    if (p->machine >= 0) {
        json_str(j, "serial", in->machines[p->machine].serial);
    }
    if (p->day != DAY_NONE) {
        struct text when = text_new(j->t->a);
        add_when(&when, p);
        json_str(j, "when", text_str(&when));
    }
    json_some(j, "name", p->name);
    if (isfinite(p->value)) {
        json_num(j, "value", p->value);
        json_strz(j, "unit", p->kind == FEED_CSV_METER ? "h" : p->unit ? p->unit->symbol : "");
    }
    json_some(j, "text", p->text);
    if (p->spn >= 0) {
        json_int(j, "spn", p->spn);
        json_int(j, "fmi", p->fmi);
    }
    if (isfinite(p->meter_h)) {
        json_num(j, "meter", p->meter_h);
    }
    if (isfinite(p->labour_min)) {
        json_num(j, "minutes", p->labour_min);
    }
    json_some(j, "by", p->by);
    json_some(j, "note", p->note);
    json_some(j, "import-key", p->import_key);
    json_bool(j, "asks", p->asks);
    json_diags(j, "why", p->why, p->n_why);
    json_end_object(j);
}

void feed_csv_json(struct json *j, const struct feed_csv_input *in, const struct feed_csv_plan *plan)
{
    json_str(j, "file", plan->name);
    json_strz(j, "encoding", encoding_word(plan->encoding));
    json_strz(j, "separator", separator_word(plan->separator));
    json_int(j, "header-line", plan->header_line);
    json_int(j, "rows", (int64_t)plan->rows);
    json_int(j, "skipped", (int64_t)plan->skipped);
    json_begin_array(j, "columns");
    for (size_t k = 0; k < plan->n_columns; k++) {
        const struct feed_csv_column *c = &plan->columns[k];
        json_begin_object(j, NULL);
        json_str(j, "header", c->header);
        json_strz(j, "meaning", c->meaning);
        if (c->unit) {
            json_strz(j, "unit", c->unit->symbol);
        }
        json_strz(j, "dates", order_word(c->dates));
        json_strz(j, "decimals", sign_word(c->decimals));
        json_end_object(j);
    }
    json_end_array(j);
    json_diags(j, "findings", plan->findings.at, plan->findings.n);
    json_begin_array(j, "proposals");
    for (size_t i = 0; i < plan->n_proposals; i++) {
        json_proposal(j, in, &plan->proposals[i]);
    }
    json_end_array(j);
    json_begin_object(j, "count");
    for (int m = 0; m < 4; m++) {
        json_int(j, feed_csv_mark_text((enum feed_csv_mark)m), (int64_t)plan->count[m]);
    }
    json_end_object(j);
    json_int(j, "asks", (int64_t)plan->asks);
    json_bool(j, "may-take", plan->may_take);
}
