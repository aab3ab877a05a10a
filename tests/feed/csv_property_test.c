/* Spreadsheets: what must hold for every file. RFC 4180's examples, libcsv and iconv as judges of splitting and
 * decoding, the same table written in any way, random bytes. Seeds are printed when something fails. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "csv_depot.h"
#include "csv_internal.h"

#include <csv.h>
#include <iconv.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static uint64_t next_random(uint64_t *x)
{
    *x ^= *x << 13;
    *x ^= *x >> 7;
    *x ^= *x << 17;
    return *x;
}

static size_t below(uint64_t *x, size_t n)
{
    return (size_t)(next_random(x) >> 11) % n;
}

/* ---- splitting ---- */

/* RFC 4180 section 2, items 1, 2, 5, 6 and 7, word for word. */
static void splits_the_examples_of_rfc4180(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        const char *cells; /* cells in < >, rows ended by / */
    } rows[] = {
        {"aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", "<aaa><bbb><ccc>/<zzz><yyy><xxx>/"},
        {"aaa,bbb,ccc\r\nzzz,yyy,xxx", "<aaa><bbb><ccc>/<zzz><yyy><xxx>/"},
        {"\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", "<aaa><bbb><ccc>/<zzz><yyy><xxx>/"},
        {"\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx", "<aaa><b\r\nbb><ccc>/<zzz><yyy><xxx>/"},
        {"\"aaa\",\"b\"\"bb\",\"ccc\"", "<aaa><b\"bb><ccc>/"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct csv_table t = csv_split(&a, str_of(rows[i].text), ',', SIZE_MAX);
        struct text got = text_new(&a);
        for (size_t r = 0; r < t.n_rows; r++) {
            for (size_t k = 0; k < t.rows[r].n; k++) {
                text_char(&got, '<');
                text_add(&got, t.cells[t.rows[r].first + k].text);
                text_char(&got, '>');
            }
            text_char(&got, '/');
        }
        assert_string_equal(text_z(&got), rows[i].cells);
    }
    arena_free(&a);
}

/* Lines and columns: of characters, not bytes; line ends within quotes count; CR LF is one end. */
static void knows_where_cells_are(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct csv_table t =
        csv_split(&a, S("\xC3\xB6l,\"b\r\n\r\nb\",c\r\n\r\n \"d\" ,e\re2,\xE2\x82\xAC,f\n"), ',', SIZE_MAX);
    static const uint32_t places[][2] = {{1, 1}, {1, 4}, {3, 4}, {5, 2}, {5, 7}, {6, 1}, {6, 4}, {6, 6}};
    assert_int_equal(t.n_rows, 3);
    assert_int_equal(t.n_cells, 8);
    for (size_t i = 0; i < 8; i++) {
        assert_int_equal(t.cells[i].line, places[i][0]);
        assert_int_equal(t.cells[i].column, places[i][1]);
    }
    arena_free(&a);
}

/* What libcsv says, in one text: cells ended by U+0001, rows by U+0002. */
static void libcsv_cell(void *cell, size_t n, void *data)
{
    text_add(data, str_trim((struct str){cell, n}));
    text_char(data, 1);
}
static void libcsv_row(int end, void *data)
{
    (void)end;
    text_char(data, 2);
}

/* libcsv reads random text as we do, wherever every quote is closed. */
static void splits_as_libcsv_does(void **state)
{
    (void)state;
    const uint64_t seed = 20270403;
    uint64_t x = seed;
    int compared = 0;
    for (int run = 0; run < 12000; run++) {
        struct arena a = arena_new(&arena_libc);
        char s[40];
        size_t n = 1 + below(&x, sizeof s - 1);
        for (size_t i = 0; i < n; i++) {
            s[i] = "ab ,,\"\"\"\n\r"[below(&x, 10)];
        }
        struct csv_table t = csv_split(&a, (struct str){s, n}, ',', SIZE_MAX);
        if (t.open_line == 0) {
            struct text ours = text_new(&a);
            for (size_t r = 0; r < t.n_rows; r++) {
                for (size_t k = 0; k < t.rows[r].n; k++) {
                    text_add(&ours, t.cells[t.rows[r].first + k].text);
                    text_char(&ours, 1);
                }
                text_char(&ours, 2);
            }
            struct text theirs = text_new(&a);
            struct csv_parser p;
            assert_int_equal(csv_init(&p, 0), 0);
            csv_parse(&p, s, n, libcsv_cell, libcsv_row, &theirs);
            csv_fini(&p, libcsv_cell, libcsv_row, &theirs);
            csv_free(&p);
            if (!str_eq(text_str(&ours), text_str(&theirs))) {
                struct text shown = text_new(&a);
                text_json_string(&shown, (struct str){s, n});
                text_json_string(&shown, text_str(&ours));
                text_json_string(&shown, text_str(&theirs));
                fail_msg("seed %llu run %d: %s", (unsigned long long)seed, run, text_z(&shown));
            }
            compared++;
        }
        arena_free(&a);
    }
    assert_true(compared > 4000);
}

/* ---- decoding ---- */

/* iconv as the judge: every byte of Windows-1252, and UTF-16 of both orders with characters beyond 16 bits. */
static void decodes_as_iconv_does(void **state)
{
    (void)state;
    static const struct {
        const char *iconv;
        enum csv_encoding encoding;
    } rows[] = {{"CP1252", CSV_WINDOWS1252}, {"UTF-16LE", CSV_UTF16LE}, {"UTF-16BE", CSV_UTF16BE}};
    struct arena a = arena_new(&arena_libc);
    struct text all = text_new(&a);
    text_addz(&all, "Date;\xC3\x84\xC3\x96\xC3\x9C\xC3\x9F\xE2\x82\xAC\xC5\xBE\r\n");
    for (uint32_t c = 0xA0; c < 0x100; c++) {
        text_utf8(&all, c);
    }
    for (size_t i = 0; i < 3; i++) {
        if (i == 1) {
            text_utf8(&all, 0x1F69C);
            text_utf8(&all, 0x4E2D);
        }
        char bytes[2000];
        char *in = all.p;
        char *out = bytes;
        size_t left = all.n;
        size_t room = sizeof bytes;
        iconv_t cd = iconv_open(rows[i].iconv, "UTF-8");
        assert_true(cd != (iconv_t)-1);
        assert_int_equal(iconv(cd, &in, &left, &out, &room), 0);
        iconv_close(cd);
        struct feed_csv_input input = {.bytes = {bytes, sizeof bytes - room}};
        struct str text = {0};
        enum csv_encoding found = CSV_ENCODING_FIND;
        struct diags findings = diags_new(&a, 10);
        struct err e = err_new(&a);
        assert_true(csv_decode(&a, &input, &text, &found, &findings, &e));
        assert_int_equal(found, i == 0 ? CSV_WINDOWS1252 : rows[i].encoding);
        assert_true(str_eq(text, text_str(&all)));
    }
    arena_free(&a);
}

/* Broken bytes are found and their place said; what is no text is refused. */
static void says_what_is_damaged(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    const struct {
        struct str bytes;
        bool text;
        uint32_t line, column; /* of the first damage; 0 = none */
    } rows[] = {
        {S("\xC3\xB6\xC3\xB6\n\xC3\xB6\xFF"), true, 2, 2},
        {S("a\xFF\xFE"), true, 0, 0}, /* Windows-1252 letters */
        {S("a\nb\x81"), true, 2, 2},  /* not assigned there */
        {S("PK\x03\x04 zip"), false, 0, 0},
        {S("\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1"), false, 0, 0},
        {S("a\0b,c,d,e,f,g"), false, 0, 0},
        {S("\xFF\xFE\x61\x00\x00\xD8"), true, 1, 2}, /* half a pair */
        {S("\xFE\xFF\x00\x61\x00"), true, 1, 2},     /* half a unit */
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct feed_csv_input input = {.name = S("x"), .bytes = rows[i].bytes};
        struct str text = {0};
        enum csv_encoding found = CSV_ENCODING_FIND;
        struct diags findings = diags_new(&a, 10);
        struct err e = err_new(&a);
        assert_int_equal(csv_decode(&a, &input, &text, &found, &findings, &e), rows[i].text);
        assert_true(!rows[i].text || str_is_utf8(text));
        uint32_t line = 0;
        uint32_t column = 0;
        for (size_t k = findings.n; k-- > 0;) {
            if (findings.at[k].level == DIAG_DOUBT) {
                line = findings.at[k].where.line;
                column = findings.at[k].where.column;
            }
        }
        assert_int_equal(line, rows[i].line);
        assert_int_equal(column, rows[i].column);
    }
    arena_free(&a);
}

/* ---- writing ---- */

/* What is written is read back, for random text; what a spreadsheet would run is not: the list of OWASP, "CSV
 * Injection". */
static void writes_what_it_reads(void **state)
{
    (void)state;
    const uint64_t seed = 4180;
    uint64_t x = seed;
    struct arena a = arena_new(&arena_libc);
    static const char separators[] = ",;\t|";
    for (int run = 0; run < 5000; run++) {
        struct arena_mark mark = arena_mark(&a);
        char s[12];
        size_t n = 1 + below(&x, sizeof s - 1);
        for (size_t i = 0; i < n; i++) {
            s[i] = "ab,;\t|\"\n\r'=+-@."[below(&x, 15)];
        }
        struct str field = str_trim((struct str){s, n}); /* blanks around a cell carry no meaning when read */
        char separator = separators[below(&x, 4)];
        struct text t = text_new(&a);
        csv_write_field(&t, field, separator);
        text_char(&t, separator);
        csv_write_number(&t, -1.5);
        csv_write_end(&t);
        struct csv_table table = csv_split(&a, text_str(&t), separator, SIZE_MAX);
        if (table.n_rows != 1 || table.n_cells != 2 || !str_eq(table.cells[0].text, field)) {
            struct text shown = text_new(&a);
            text_json_string(&shown, field);
            text_json_string(&shown, text_str(&t));
            fail_msg("seed %llu run %d: %s", (unsigned long long)seed, run, text_z(&shown));
        }
        assert_true(str_eq(table.cells[1].text, S("-1.5")));
        arena_rewind(&a, mark);
    }
    static const char *const rows[][2] = {
        {"=1+1", "'=1+1"},
        {"+1", "'+1"},
        {"-2+3", "'-2+3"},
        {"@SUM(A1)", "'@SUM(A1)"},
        {"\t=1", "'\t=1"},
        {"a=1", "a=1"},
        {"", ""},
        {"a,b", "\"a,b\""},
        {"say \"x\"", "\"say \"\"x\"\"\""},
        {"=\"a\"", "\"'=\"\"a\"\"\""},
        {"\r=1", "\"'\r=1\""},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct text t = text_new(&a);
        csv_write_field(&t, str_of(rows[i][0]), ',');
        assert_string_equal(text_z(&t), rows[i][1]);
    }
    arena_free(&a);
}

/* ---- the same table in any form ---- */

struct entry {
    int year, month, day;
    const char *machine;
    double meter, pressure;
    const char *work, *note;
};
/* 14 and 25 settle the order of day and month; .5 and .25 the decimal sign. Words are within Latin-1. */
static const struct entry table[] = {
    {2027, 4, 3, "BR6-01234", 412.5, 1.5, "Change the engine oil", "\xC3\x96l war schwarz"},
    {2027, 4, 14, "BR6-01240", 1234.5, 1.25, "Grease the rake", "says \"fine\", he; does"},
    {2027, 4, 14, "BR6-01234", 420.75, 1.5, "", "two\nlines"},
    {2026, 12, 25, "Beach 2", 1100, 1.55, "radio mended", ""},
    {2027, 5, 6, "CF2-00880", 5012.5, 2.5, "", "tab\tand | bar"},
    {2027, 5, 7, "CF2-00880", 5020, 2.25, "", "caf\xC3\xA9"},
};
#define ENTRIES (sizeof table / sizeof *table)

struct style {
    enum csv_encoding encoding;
    bool mark, quote_all, comma, thousands, crlf;
    char separator;
    int dates;    /* 0 ISO, 1 d.m.Y, 2 d/m/Y, 3 m/d/Y, 4 d Month Y, 5 ISO compact, 6 d/m/y */
    int language; /* of the header */
    size_t rows[ENTRIES], columns[6];
    bool twice; /* the first row again at the end */
    bool title;
};

/* A number with the style's signs, always with decimals where it has some. */
static struct str number_in(struct arena *a, const struct style *s, double v)
{
    struct text plain = text_new(a);
    text_double(&plain, v);
    struct str p = text_str(&plain);
    ptrdiff_t point = str_find(p, S("."));
    size_t whole = point < 0 ? p.n : (size_t)point;
    struct text t = text_new(a);
    for (size_t i = 0; i < p.n; i++) {
        if (s->thousands && i > 0 && i < whole && (whole - i) % 3 == 0 && point >= 0) {
            text_char(&t, s->comma ? '.' : ',');
        }
        text_char(&t, p.p[i] == '.' && s->comma ? ',' : p.p[i]);
    }
    return text_str(&t);
}

static struct str date_in(struct arena *a, const struct style *s, const struct entry *e)
{
    static const char *const months[] = {"Jan", "Feb", "M\xC3\xA4rz", "April", "mai", "juin", "", "", "",
                                         "",    "",    "diciembre"};
    char z[60];
    switch (s->dates) {
    case 1:
        snprintf(z, sizeof z, "%02d.%02d.%d", e->day, e->month, e->year);
        break;
    case 2:
        snprintf(z, sizeof z, "%d/%d/%d", e->day, e->month, e->year);
        break;
    case 3:
        snprintf(z, sizeof z, "%02d/%02d/%d", e->month, e->day, e->year);
        break;
    case 4:
        snprintf(z, sizeof z, "%d. %s %d", e->day, months[e->month - 1], e->year);
        break;
    case 5:
        snprintf(z, sizeof z, "%d%02d%02d", e->year, e->month, e->day);
        break;
    case 6:
        snprintf(z, sizeof z, "%d/%d/%02d", e->day, e->month, e->year % 100);
        break;
    default:
        snprintf(z, sizeof z, "%d-%02d-%02d", e->year, e->month, e->day);
    }
    return str_of(str_z(a, str_of(z)));
}

static struct str cell_in(struct arena *a, const struct style *s, const struct entry *e, size_t column)
{
    switch (column) {
    case 0:
        return date_in(a, s, e);
    case 1:
        return str_of(e->machine);
    case 2:
        return number_in(a, s, e->meter);
    case 3:
        return number_in(a, s, e->pressure);
    case 4:
        return str_of(e->work);
    default:
        return str_of(e->note);
    }
}

/* One cell: quoted when the style says so or the text needs it. */
static void add_cell(struct text *t, const struct style *s, struct str cell)
{
    struct text plain = text_new(t->a);
    csv_write_field(&plain, cell, s->separator);
    if (s->quote_all && !(plain.n && plain.p[0] == '"')) {
        text_char(t, '"');
        text_add(t, text_str(&plain));
        text_char(t, '"');
    } else {
        text_add(t, text_str(&plain));
    }
}

/* The table written in a style, as UTF-8. */
static struct str write_table(struct arena *a, const struct style *s)
{
    static const char *const headers[4][6] = {
        {"Date", "Machine", "Hours", "Tyre FL (bar)", "Work done", "Notes"},
        {"Datum", "Maschine", "Betriebsstunden [h]", "Reifen vorn links / bar", "Arbeiten", "Bemerkung"},
        {"Fecha", "M\xC3\xA1quina", "Hor\xC3\xB3metro", "neumatico delantero izquierdo en bar", "Trabajo", "Notas"},
        {"Date", "Engin", "Heures moteur", "pneu avant gauche [bar]", "Travaux", "Remarques"},
    };
    const char *end = s->crlf ? "\r\n" : "\n";
    struct text t = text_new(a);
    if (s->title) {
        text_join(&t, "Port Sennet 2027", end, end, (char *)0);
    }
    for (size_t r = 0; r < ENTRIES + 1 + s->twice; r++) {
        for (size_t k = 0; k < 6; k++) {
            size_t column = s->columns[k];
            struct str cell = r == 0 ? str_of(headers[s->language][column])
                                     : cell_in(a, s, &table[s->rows[(r - 1) % ENTRIES]], column);
            if (k) {
                text_char(&t, s->separator);
            }
            add_cell(&t, s, cell);
        }
        text_addz(&t, end);
    }
    return text_str(&t);
}

/* Bytes of the text in the style's encoding. iconv encodes; that is the outside judge of our decoding. */
static struct str encode(struct arena *a, const struct style *s, struct str text)
{
    static const char *const names[] = {"", "UTF-8", "UTF-16LE", "UTF-16BE", "CP1252"};
    static const struct str marks[] = {{"", 0}, {"\xEF\xBB\xBF", 3}, {"\xFF\xFE", 2}, {"\xFE\xFF", 2}, {"", 0}};
    char *bytes = arena_alloc(a, 2 * text.n + 16, 1);
    size_t mark = s->mark ? marks[s->encoding].n : 0;
    memcpy(bytes, marks[s->encoding].p, mark);
    char *in = arena_copy(a, text.p, text.n);
    char *out = bytes + mark;
    size_t left = text.n;
    size_t room = 2 * text.n + 8;
    iconv_t cd = iconv_open(names[s->encoding], "UTF-8");
    assert_true(cd != (iconv_t)-1);
    assert_int_equal(iconv(cd, &in, &left, &out, &room), 0);
    iconv_close(cd);
    return (struct str){bytes, (size_t)(out - bytes)};
}

static void shuffle(uint64_t *x, size_t *at, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        at[i] = i;
    }
    for (size_t i = n; i > 1; i--) {
        size_t k = below(x, i);
        size_t keep = at[i - 1];
        at[i - 1] = at[k];
        at[k] = keep;
    }
}

static int compare_str(const void *x, const void *y)
{
    return str_cmp(*(const struct str *)x, *(const struct str *)y);
}

/* The import keys that would be taken, sorted, in one text. */
static struct str keys_of(struct arena *a, const struct feed_csv_plan *plan, size_t *n)
{
    struct str *keys = ARENA_ARRAY(a, struct str, plan->n_proposals + 1);
    *n = 0;
    for (size_t i = 0; i < plan->n_proposals; i++) {
        const struct feed_csv_proposal *p = &plan->proposals[i];
        if (p->mark == FEED_CSV_TAKE || p->mark == FEED_CSV_DOUBTFUL) {
            keys[(*n)++] = p->import_key;
        }
    }
    qsort(keys, *n, sizeof *keys, compare_str);
    struct text t = text_new(a);
    for (size_t i = 0; i < *n; i++) {
        text_add(&t, keys[i]);
        text_char(&t, '\n');
    }
    return text_str(&t);
}

static struct style random_style(uint64_t *x, bool plain)
{
    struct style s = {.encoding = CSV_UTF8, .separator = ','};
    for (size_t i = 0; i < ENTRIES; i++) {
        s.rows[i] = i;
    }
    for (size_t i = 0; i < 6; i++) {
        s.columns[i] = i;
    }
    if (!plain) {
        s.encoding = (enum csv_encoding)(1 + below(x, 4));
        s.mark = below(x, 2) || s.encoding == CSV_UTF16BE || s.encoding == CSV_UTF16LE;
        s.quote_all = below(x, 2);
        s.comma = below(x, 2);
        s.thousands = below(x, 2);
        s.crlf = below(x, 2);
        s.separator = ",;\t|"[below(x, 4)];
        s.dates = (int)below(x, 7);
        s.language = (int)below(x, 4);
        s.twice = below(x, 2);
        s.title = below(x, 2);
        shuffle(x, s.rows, ENTRIES);
        shuffle(x, s.columns, 6);
    }
    return s;
}

static const struct feed_csv_plan *plan_of(struct arena *a, struct str bytes, struct feed_csv_input *in)
{
    struct err e = err_new(a);
    *in = (struct feed_csv_input){.name = S("table.csv"), .bytes = bytes, .today = DAY_NONE};
    in->machines = csv_depot(a, &in->n_machines);
    const struct feed_csv_plan *plan = feed_csv_plan(a, in, &e);
    if (!plan) {
        print_message("# %s\n", str_z(a, err_text(a, &e)));
    }
    return plan;
}

/* Any encoding, separator, quoting, line end, order of rows and columns, style of dates and numbers, and language of
 * the header gives the same entries: six meters, six readings, three tasks or notes of their own. */
static void any_form_gives_the_same_keys(void **state)
{
    (void)state;
    const uint64_t seed = 20270414;
    uint64_t x = seed;
    struct arena a = arena_new(&arena_libc);
    struct feed_csv_input in;
    struct style plain = random_style(&x, true);
    size_t n = 0;
    struct str first = keys_of(&a, plan_of(&a, write_table(&a, &plain), &in), &n);
    assert_int_equal(n, 6 + 6 + 3);
    for (int run = 0; run < 400; run++) {
        struct arena_mark mark = arena_mark(&a);
        struct style s = random_style(&x, false);
        struct str text = write_table(&a, &s);
        const struct feed_csv_plan *plan = plan_of(&a, encode(&a, &s, text), &in);
        size_t k = 0;
        if (!plan || !plan->may_take || !str_eq(keys_of(&a, plan, &k), first)) {
            struct text shown = text_new(&a);
            if (plan) {
                feed_csv_print(&shown, &in, plan, true);
            }
            fail_msg("seed %llu run %d: %zu keys\n%s\n%s", (unsigned long long)seed, run, k, str_z(&a, text),
                     text_z(&shown));
        }
        assert_int_equal(plan->count[FEED_CSV_KNOWN] > 0, s.twice);
        arena_rewind(&a, mark);
    }
    arena_free(&a);
}

static bool in_keys(void *ctx, struct str key)
{
    return str_find(*(struct str *)ctx, key) >= 0;
}

/* The same file twice adds nothing. */
static void the_second_time_adds_nothing(void **state)
{
    (void)state;
    uint64_t x = 1;
    struct arena a = arena_new(&arena_libc);
    struct feed_csv_input in;
    struct style plain = random_style(&x, true);
    size_t n = 0;
    struct str keys = keys_of(&a, plan_of(&a, write_table(&a, &plain), &in), &n);
    in.known = in_keys;
    in.ctx = &keys;
    struct err e = err_new(&a);
    const struct feed_csv_plan *again = feed_csv_plan(&a, &in, &e);
    assert_non_null(again);
    assert_true(again->may_take);
    assert_int_equal(again->count[FEED_CSV_TAKE] + again->count[FEED_CSV_DOUBTFUL], 0);
    assert_int_equal(again->count[FEED_CSV_KNOWN], n);
    arena_free(&a);
}

static int two_hours_east(void *ctx, day_t day, int minute)
{
    (void)ctx;
    (void)day;
    (void)minute;
    return 120;
}

/* Civil times are the depot's; a time with its own offset is turned to the depot's clock; no time is noon. */
static void times_are_those_of_the_depot(void **state)
{
    (void)state;
    static const struct {
        const char *when, *day, *at; /* the instant, RFC 3339 */
        int minute;
    } rows[] = {
        {"2027-04-14 14:30", "2027-04-14", "2027-04-14T12:30:00Z", 870},
        {"2027-04-14", "2027-04-14", "2027-04-14T10:00:00Z", -1},
        {"2027-04-14T22:30:00Z", "2027-04-15", "2027-04-14T22:30:00Z", 30},
        {"2027-04-14T01:00-05:00", "2027-04-14", "2027-04-14T06:00:00Z", 480},
        {"14.4.2027, 9.05 Uhr", "2027-04-14", "2027-04-14T07:05:00Z", 545},
        {"1/13/68", "2068-01-13", "2068-01-13T10:00:00Z", -1}, /* two digits of a year: POSIX strptime, %y */
        {"1/13/69", "1969-01-13", "1969-01-13T10:00:00Z", -1},
        {"4/14/27 12:10 am", "2027-04-14", "2027-04-13T22:10:00Z", 10},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct text t = text_new(&a);
        text_join(&t, "Date;Machine;Hours\n", rows[i].when, ";Beach 2;10\n", (char *)0);
        struct feed_csv_input in = {.name = S("x"), .bytes = text_str(&t), .today = DAY_NONE, .zone = two_hours_east};
        in.machines = csv_depot(&a, &in.n_machines);
        struct err e = err_new(&a);
        const struct feed_csv_plan *plan = feed_csv_plan(&a, &in, &e);
        assert_non_null(plan);
        assert_int_equal(plan->n_proposals, 1);
        day_t day = 0;
        instant_ms at = 0;
        assert_true(day_parse(str_of(rows[i].day), &day));
        assert_true(instant_parse(str_of(rows[i].at), &at));
        assert_int_equal(plan->proposals[0].day, day);
        assert_int_equal(plan->proposals[0].minute, rows[i].minute);
        assert_true(plan->proposals[0].at == at);
    }
    arena_free(&a);
}

/* Messages of what can't be planned at all. */
static void says_why_there_is_no_plan(void **state)
{
    (void)state;
    static const struct {
        const char *text, *mapping, *machine, *message;
    } rows[] = {
        {"", "", "", "x:1:1: the file is empty; a header row and rows below it"},
        {"\n\n", "", "", "x:1:1: the file is empty; a header row and rows below it"},
        {"\nDate,Hours\n2027-04-03,4\n", "", "",
         "x:2:1: no column names the machine; a column such as Serial or Machine, or say which machine the file is "
         "about"},
        {"Machine,Hours\nBeach 2,4\n", "", "",
         "x:1:1: no column holds the date; a column such as Date, Datum, Fecha; or say which it is: column=date"},
        {"Date,Hours\n2027-04-03,4\n", "", "Beach 7",
         "no machine \"Beach 7\" is known; perhaps BR6-01234 (Beach 1), the nearest known"},
        {"Date,Machine,Hrs.\n", "Stand=meter", "",
         "there is no column \"Stand\"; one of \"Date\", \"Machine\", \"Hrs.\""},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct err e = err_new(&a);
        struct feed_csv_mapping mapping;
        struct feed_csv_input in = {.name = S("x"), .bytes = str_of(rows[i].text), .today = DAY_NONE};
        in.options.machine = str_of(rows[i].machine);
        in.machines = csv_depot(&a, &in.n_machines);
        if (*rows[i].mapping) {
            assert_true(feed_csv_mapping_parse(str_of(rows[i].mapping), &mapping, &e));
            in.options.mappings = &mapping;
            in.options.n_mappings = 1;
        }
        assert_null(feed_csv_plan(&a, &in, &e));
        assert_string_equal(str_z(&a, err_text(&a, &e)), rows[i].message);
    }
    static const char *const bad[] = {"Hours", "=meter", "Hours="};
    for (size_t i = 0; i < 3; i++) {
        struct feed_csv_mapping mapping;
        struct err e = err_new(&a);
        assert_false(feed_csv_mapping_parse(str_of(bad[i]), &mapping, &e));
        assert_int_equal(e.kind, ERR_USAGE);
    }
    arena_free(&a);
}

/* What a cell means as a machine, where several are alike: the strictest reading that fits decides; several are
 * refused. */
static void tells_machines_apart(void **state)
{
    (void)state;
    static const struct feed_csv_machine machines[] = {
        {.serial = {"AV-00012", 8}, .label = {"Sweeper 7", 9}, .meter_day = DAY_NONE},
        {.serial = {"BV-00012", 8}, .label = {"Sweeper 8", 9}, .meter_day = DAY_NONE},
        {.serial = {"AV-00120", 8}, .label = {"Sweeper 12", 10}, .meter_day = DAY_NONE},
    };
    static const struct {
        const char *cell;
        int machine;     /* -1 = refused */
        const char *why; /* of a refusal or doubt; null = plain */
    } rows[] = {
        {"AV-00012", 0, NULL},
        {"sweeper 8", 1, NULL},
        {"unit AV-00120, east shed", 2, NULL},
        {"av12", 0, "\"av12\" is taken for AV-00012"},
        {"AV 120", 2, "\"AV 120\" is taken for AV-00120"},
        {"8", 1, "\"8\" is taken for BV-00012"},
        {"12", -1, "\"12\" could be AV-00012 or BV-00012"},
        {"AV-00012 and BV-00012", -1, "\"AV-00012 and BV-00012\" could be AV-00012 or BV-00012"},
        {"CV-00012", -1, "no machine \"CV-00012\" is known"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct text t = text_new(&a);
        text_join(&t, "Date;Machine;Hours\n2027-04-03;", rows[i].cell, ";10\n", (char *)0);
        struct feed_csv_input in = {
            .name = S("x"), .bytes = text_str(&t), .machines = machines, .n_machines = 3, .today = DAY_NONE};
        struct err e = err_new(&a);
        const struct feed_csv_plan *plan = feed_csv_plan(&a, &in, &e);
        assert_non_null(plan);
        assert_int_equal(plan->n_proposals, 1);
        assert_int_equal(plan->proposals[0].machine, rows[i].machine);
        assert_int_equal(plan->proposals[0].n_why, rows[i].why != NULL);
        if (rows[i].why) {
            assert_string_equal(str_z(&a, plan->proposals[0].why[0].what), rows[i].why);
        }
    }
    arena_free(&a);
}

/* Words of options; an unknown one leaves the option as it was. */
static void reads_the_words_of_options(void **state)
{
    (void)state;
    enum csv_dates dates = CSV_ISO;
    enum csv_decimals decimals = CSV_COMMA;
    enum csv_encoding encoding = CSV_UTF8;
    char separator = ';';
    assert_false(csv_dates_parse(S("sometimes"), &dates));
    assert_false(csv_decimals_parse(S(""), &decimals));
    assert_false(csv_encoding_parse(S("ebcdic"), &encoding));
    assert_false(csv_separator_parse(S("blank"), &separator));
    assert_true(dates == CSV_ISO && decimals == CSV_COMMA && encoding == CSV_UTF8 && separator == ';');
    assert_true(csv_dates_parse(S("Month-first"), &dates) && dates == CSV_MONTH_FIRST);
    assert_true(csv_decimals_parse(S("point"), &decimals) && decimals == CSV_POINT);
    assert_true(csv_encoding_parse(S("latin-1"), &encoding) && encoding == CSV_WINDOWS1252);
    assert_true(csv_separator_parse(S("tab"), &separator) && separator == '\t');
    assert_true(csv_separator_parse(S("|"), &separator) && separator == '|');
}

/* The printed plan: what was understood, each reason once, what is right, and the count. */
static void prints_each_reason_once(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct feed_csv_input in;
    const struct feed_csv_plan *plan = plan_of(
        &a, S("Date;Serial;Hours\n2027-04-03;BR6-1240;10\n2027-04-04;BR6-1240;11\n2027-04-05;BR6-1242;12\n"), &in);
    assert_non_null(plan);
    struct text t = text_new(&a);
    feed_csv_print(&t, &in, plan, false);
    assert_string_equal(
        text_z(&t), "table.csv: UTF-8, separated by semicolon, 3 rows below the header in line 1\n"
                    "columns:\n"
                    "    Date                         date, dates iso\n"
                    "    Serial                       machine\n"
                    "    Hours                        meter\n"
                    "table.csv:2:21: doubtful: meter BR6-01240 2027-04-03 10 h\n"
                    "    \"BR6-1240\" is taken for BR6-01240; right: BR6-01240 or Beach 2\n"
                    "table.csv:4:12: refused: row \"BR6-1242\"\n"
                    "    no machine \"BR6-1242\" is known; right: perhaps BR6-01240 (Beach 2), the nearest known\n"
                    "and 1 more for reasons that stand above\n"
                    "0 to take, 2 doubtful, 0 known, 1 refused; nothing is taken as long as something is refused\n");
    arena_free(&a);
}

/* Random bytes, and random damage to a good file, give a plan or an error, never anything else; a plan can be printed
 * and is JSON, and every place in it lies within the file. */
static void random_bytes_do_no_harm(void **state)
{
    (void)state;
    const uint64_t seed = 77;
    uint64_t x = seed;
    struct style plain = random_style(&x, true);
    for (int run = 0; run < 900; run++) {
        struct arena a = arena_new(&arena_libc);
        struct str good = write_table(&a, &plain);
        char *bytes = arena_copy(&a, good.p, good.n);
        size_t n = good.n;
        if (run % 3 == 0) {
            n = below(&x, good.n);
            for (size_t i = 0; i < n; i++) {
                bytes[i] = (char)below(&x, 256);
            }
        } else {
            for (size_t i = 0; i < 1 + below(&x, 20); i++) {
                bytes[below(&x, n)] = run % 3 == 1 ? (char)below(&x, 256) : ",;\t|\"\n\r=#0-./ "[below(&x, 14)];
            }
        }
        size_t lines = 1;
        for (size_t i = 0; i < n; i++) {
            lines += bytes[i] == '\n' || bytes[i] == '\r';
        }
        struct err e = err_new(&a);
        struct feed_csv_input in = {.name = S("x"), .bytes = {bytes, n}, .today = 20000};
        in.machines = csv_depot(&a, &in.n_machines);
        const struct feed_csv_plan *plan = feed_csv_plan(&a, &in, &e);
        if (!plan) {
            assert_true(e.what.n > 0);
        } else {
            struct text t = text_new(&a);
            feed_csv_print(&t, &in, plan, true);
            struct text written = text_new(&a);
            struct json j = json_new(&written, false);
            json_begin_object(&j, NULL);
            feed_csv_json(&j, &in, plan);
            json_end_object(&j);
            json_t *read = json_loadb(written.p, written.n, 0, NULL);
            assert_non_null(read);
            assert_int_equal(json_array_size(json_object_get(read, "proposals")), plan->n_proposals);
            json_decref(read);
            for (size_t i = 0; i < plan->n_proposals; i++) {
                const struct feed_csv_proposal *p = &plan->proposals[i];
                assert_in_range(p->where.line, 1, lines);
                assert_true(p->where.column >= 1);
                assert_true(p->mark == FEED_CSV_TAKE || p->n_why > 0);
                assert_true(p->mark == FEED_CSV_REFUSED ||
                            (p->machine >= 0 && p->day != DAY_NONE && p->import_key.n == 32));
            }
        }
        arena_free(&a);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(splits_the_examples_of_rfc4180), cmocka_unit_test(knows_where_cells_are),
        cmocka_unit_test(splits_as_libcsv_does),          cmocka_unit_test(decodes_as_iconv_does),
        cmocka_unit_test(says_what_is_damaged),           cmocka_unit_test(writes_what_it_reads),
        cmocka_unit_test(any_form_gives_the_same_keys),   cmocka_unit_test(the_second_time_adds_nothing),
        cmocka_unit_test(times_are_those_of_the_depot),   cmocka_unit_test(says_why_there_is_no_plan),
        cmocka_unit_test(tells_machines_apart),           cmocka_unit_test(reads_the_words_of_options),
        cmocka_unit_test(prints_each_reason_once),        cmocka_unit_test(random_bytes_do_no_harm),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
