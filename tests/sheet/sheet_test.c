/* Printed pages against the documents they come from, read back by poppler (pdftotext, pdfinfo) and zbar: independent
 * programs that know nothing of ours. Where one is not installed, its test is skipped. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "document.h"
#include "sheet.h"
#include "sheet_files.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct printed {
    struct arena a;
    struct str json, bytes;
    struct document d;
    struct diags warnings;
    int pages;
};

/* The sample of that name, printed. */
static struct printed *print(const char *name, enum sheet_format format, enum sheet_paper paper)
{
    struct printed *p = calloc(1, sizeof *p);
    p->a = arena_new(&arena_libc);
    p->json = sample(&p->a, name);
    p->warnings = diags_new(&p->a, 50);
    struct err e = err_new(&p->a);
    struct sheet_result result;
    struct sheet_options options = {.format = format, .paper = paper, .page = 1, .dots_per_inch = 150};
    if (!sheet_print(&p->a, p->json, S("sample"), options, &p->warnings, &result, &e) ||
        !document_read(&p->a, p->json, S("sample"), &p->d, &e)) {
        fail_msg("%s: %s", name, str_z(&p->a, err_text(&p->a, &e)));
    }
    p->bytes = result.bytes;
    p->pages = result.pages;
    return p;
}

static void done(struct printed *p)
{
    arena_free(&p->a);
    free(p);
}

/* A file of the printed bytes under the build's temporary folder. */
static const char *kept(struct printed *p, const char *end)
{
    struct text path = text_new(&p->a);
    const char *folder = getenv("TMPDIR");
    text_join(&path, folder ? folder : "/tmp", "/witmark-sheet-test-", (char *)0);
    text_int(&path, getpid());
    text_addz(&path, end);
    file_write(text_z(&path), p->bytes);
    return text_z(&path);
}

/* The page's text without white space, and for each byte the page and height it stands at. */
struct page_text {
    struct text text;
    int *page;
    double *y;
    size_t n, page_cap, y_cap;
};

static void add_word(struct page_text *w, struct arena *a, struct str word, int page, double y)
{
    static const struct {
        const char *entity;
        char c;
    } entities[] = {{"&amp;", '&'}, {"&lt;", '<'}, {"&gt;", '>'}, {"&quot;", '"'}, {"&apos;", '\''}};
    for (size_t i = 0; i < word.n;) {
        char c = word.p[i];
        size_t step = 1;
        for (size_t k = 0; k < sizeof entities / sizeof *entities; k++) {
            if (str_starts(str_cut(word, i, word.n), str_of(entities[k].entity))) {
                c = entities[k].c;
                step = strlen(entities[k].entity);
            }
        }
        text_char(&w->text, c);
        size_t n = w->n;
        ARENA_PUSH(a, w->page, n, w->page_cap) = page;
        ARENA_PUSH(a, w->y, w->n, w->y_cap) = y;
        i += step;
    }
}

/* Words as pdftotext -raw -bbox gives them: <word ... yMin="12.3" ...>text</word>, pages as <page ...>. */
static struct page_text read_words(struct arena *a, const char *path)
{
    struct page_text w = {.text = text_new(a)};
    struct text line = text_new(a);
    text_join(&line, "pdftotext -raw -bbox ", path, " -", (char *)0);
    int status = 0, page = 0;
    struct str rest = command(a, text_z(&line), &status), one;
    assert_int_equal(status, 0);
    while (str_next(&rest, '\n', &one)) {
        one = str_trim(one);
        page += str_starts(one, S("<page "));
        ptrdiff_t y = str_find(one, S("yMin=\"")), from = str_find(one, S(">")), to = str_find(one, S("</word>"));
        if (str_starts(one, S("<word ")) && y > 0 && to > from) {
            double height = 0;
            num_read(str_cut(one, (size_t)y + 6, one.n), &height);
            add_word(&w, a, str_cut(one, (size_t)from + 1, (size_t)to), page, height);
        }
    }
    return w;
}

/* The place of a text at or after `from`; fails the test when it isn't there. */
static size_t place(struct printed *p, const struct page_text *w, size_t from, struct str s, const char *what)
{
    struct str all = text_str(&w->text), wanted = squeezed(&p->a, s);
    ptrdiff_t at = str_find(str_cut(all, from, all.n), wanted);
    if (at < 0) {
        fail_msg("the page lacks the %s \"%s\"", what, str_z(&p->a, s));
    }
    return from + (size_t)at;
}

static void present(struct printed *p, const struct page_text *w, size_t from, struct str s, const char *what)
{
    if (s.n) {
        place(p, w, from, s, what);
    }
}

static void all_present(struct printed *p, const struct page_text *w, size_t from, const struct texts *list,
                        const char *what)
{
    for (size_t i = 0; i < list->n; i++) {
        present(p, w, from, list->at[i], what);
    }
}

/* Each caution comes before the text it guards, on the same page and above it. Returns where the guarded text is. */
static size_t guarded(struct printed *p, const struct page_text *w, size_t from, const struct cautions *cautions,
                      struct str text)
{
    size_t at = from, first = from;
    for (size_t i = 0; i < cautions->n; i++) {
        at = place(p, w, at, str_of(caution_level_text(cautions->at[i].level)), "signal word");
        at = place(p, w, at, cautions->at[i].say, "caution");
        first = i ? first : at;
    }
    at = place(p, w, at, text, "step");
    if (cautions->n) {
        assert_int_equal(w->page[first], w->page[at]);
        assert_true(w->y[first] < w->y[at]);
    }
    return at;
}

static size_t check_step(struct printed *p, const struct page_text *w, size_t from, const struct step *step)
{
    size_t at = guarded(p, w, from, &step->cautions, step->label);
    present(p, w, at, step->place, "place");
    present(p, w, at, step->why, "reason");
    present(p, w, at, step->read.unit, "unit");
    present(p, w, at, step->read.limits, "limits");
    present(p, w, at, step->read.want, "figure to aim for");
    present(p, w, at, step->read.refer_to, "reference");
    for (size_t i = 0; i < step->read.also_n; i++) {
        present(p, w, at, step->read.also[i].name, "other reading");
        present(p, w, at, step->read.also[i].unit, "unit of the other reading");
    }
    all_present(p, w, at, &step->look, "thing to look for");
    all_present(p, w, at, &step->parts, "part");
    all_present(p, w, at, &step->fluids, "fluid");
    all_present(p, w, at, &step->opens, "opened thing");
    all_present(p, w, at, &step->closes, "closed thing");
    for (size_t i = 0; i < step->acts_n; i++) {
        at = guarded(p, w, at, &step->acts[i].cautions, step->acts[i].act);
        all_present(p, w, at, &step->acts[i].torques, "torque");
        present(p, w, at, step->acts[i].waste, "waste");
        all_present(p, w, at, &step->acts[i].opens, "opened thing");
    }
    return at;
}

/* Everything of a document is on its pages, in the order of the round. Signal words are those of the language, so the
 * samples for this are in English. */
static void complete(const char *name)
{
    if (!have("pdftotext")) {
        skip();
    }
    struct printed *p = print(name, SHEET_PDF, SHEET_PAPER_OF_DOCUMENT);
    struct page_text w = read_words(&p->a, kept(p, ".pdf"));
    const struct document *d = &p->d;
    size_t at = place(p, &w, 0, d->depot, "depot");
    at = place(p, &w, at, d->machine.serial, "serial number");
    present(p, &w, 0, d->machine.label, "label");
    present(p, &w, 0, d->machine.hours, "hours");
    present(p, &w, 0, d->title, "title");
    present(p, &w, 0, d->first_words, "first words");
    for (size_t i = 0; i < d->before.n; i++) {
        present(p, &w, at, d->before.at[i].say, "general caution");
    }
    all_present(p, &w, at, &d->lockout, "line of the lockout order");
    for (size_t i = 0; i < d->kit.parts_n; i++) {
        at = place(p, &w, at, d->kit.parts[i].label, "part of the kit");
        at = place(p, &w, at, d->kit.parts[i].number, "number of the part");
    }
    for (size_t i = 0; i < d->steps_n; i++) {
        at = check_step(p, &w, at, &d->steps[i]);
    }
    for (size_t i = 0; i < d->put_back_n; i++) {
        at = place(p, &w, at, d->put_back[i].label, "line of the put-back list");
    }
    for (size_t i = 0; i < d->open_n; i++) {
        present(p, &w, 0, d->open[i].label, "open thing");
    }
    place(p, &w, at, d->words.signature, "line to sign");
    for (int page = 1; page <= p->pages; page++) {
        struct text foot = text_new(&p->a);
        text_addz(&foot, "page ");
        text_int(&foot, page);
        text_addz(&foot, " of ");
        text_int(&foot, p->pages);
        text_join(&foot, " · ", str_z(&p->a, d->machine.label), " · ", str_z(&p->a, d->machine.serial), (char *)0);
        size_t stands = place(p, &w, 0, text_str(&foot), "foot");
        assert_int_equal(w.page[stands], page);
    }
    (void)remove(kept(p, ".pdf"));
    done(p);
}

static void complete_round(void **state)
{
    (void)state;
    complete("brine6-round");
}

static void complete_long(void **state)
{
    (void)state;
    complete("long-round");
}

/* German, Spanish, Greek, Russian and signs: every text comes back as it went in, and no character was missing. */
static void languages(void **state)
{
    (void)state;
    if (!have("pdftotext")) {
        skip();
    }
    struct printed *p = print("languages-letter", SHEET_PDF, SHEET_PAPER_OF_DOCUMENT);
    assert_int_equal(p->warnings.n, 0);
    struct page_text w = read_words(&p->a, kept(p, ".pdf"));
    size_t at = 0;
    for (size_t i = 0; i < p->d.steps_n; i++) {
        const struct step *step = &p->d.steps[i];
        for (size_t k = 0; k < step->cautions.n; k++) {
            at = place(p, &w, at, step->cautions.at[k].say, "caution");
        }
        at = place(p, &w, at, step->label, "step");
        all_present(p, &w, at, &step->look, "thing to look for");
    }
    static const char *const signs[] = {"≥1½bar", "20°C",      "≤5µm",        "¼оборота",
                                        "Größte", "Κινητήρας", "ADVERTENCIA", "página1de"};
    for (size_t i = 0; i < sizeof signs / sizeof *signs; i++) {
        place(p, &w, 0, str_of(signs[i]), "text");
    }
    (void)remove(kept(p, ".pdf"));
    done(p);
}

/* Sizes of paper: ISO 216 and ANSI/ASME Y14.1, as pdfinfo names them. */
static void paper(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        enum sheet_paper paper;
        const char *line;
    } rows[] = {
        {"brine6-round", SHEET_PAPER_OF_DOCUMENT, "Page size:       595.276 x 841.89 pts (A4)"},
        {"brine6-round", SHEET_LETTER, "Page size:       612 x 792 pts (letter)"},
        {"languages-letter", SHEET_PAPER_OF_DOCUMENT, "Page size:       612 x 792 pts (letter)"},
        {"languages-letter", SHEET_A4, "Page size:       595.276 x 841.89 pts (A4)"},
        {"empty-round", SHEET_PAPER_OF_DOCUMENT, "Page size:       595.276 x 841.89 pts (A4)"},
        {"labels", SHEET_PAPER_OF_DOCUMENT, "Page size:       595.276 x 841.89 pts (A4)"},
        {"label-single", SHEET_PAPER_OF_DOCUMENT, "Page size:       175.748 x 82.2047 pts"},
    };
    if (!have("pdfinfo")) {
        skip();
    }
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct printed *p = print(rows[i].name, SHEET_PDF, rows[i].paper);
        struct text line = text_new(&p->a), pages = text_new(&p->a);
        text_join(&line, "TZ=UTC pdfinfo -isodates ", kept(p, ".pdf"), (char *)0);
        int status = 0;
        struct str said = command(&p->a, text_z(&line), &status);
        text_addz(&pages, "Pages:           ");
        text_int(&pages, p->pages);
        text_addz(&pages, "\n");
        if (status != 0 || str_find(said, str_of(rows[i].line)) < 0 || str_find(said, text_str(&pages)) < 0 ||
            str_find(said, S("2026-09-06T07:40:00Z")) < 0) {
            fail_msg("%s: pdfinfo says\n%s", rows[i].name, str_z(&p->a, said));
        }
        (void)remove(kept(p, ".pdf"));
        done(p);
    }
}

/* A round of nothing is one page, the long one many. */
static void page_counts(void **state)
{
    (void)state;
    struct printed *empty = print("empty-round", SHEET_PDF, SHEET_PAPER_OF_DOCUMENT);
    struct printed *longer = print("long-round", SHEET_PDF, SHEET_PAPER_OF_DOCUMENT);
    assert_int_equal(empty->pages, 1);
    assert_true(longer->pages > 15);
    assert_int_equal(longer->warnings.n, 1); /* its last check is taller than a page */
    assert_string_equal(longer->warnings.at[0].rule, "too-tall");
    done(empty);
    done(longer);
}

/* The same bytes from two processes, in each format. */
static void deterministic(void **state)
{
    (void)state;
    static const char *const formats[] = {"pdf", "png", "svg"};
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < 3; i++) {
        struct text line = text_new(&a);
        text_join(&line, getenv("WITMARK_SHEET"), " --format ", formats[i], " ", getenv("WITMARK_PRINT_DATA"),
                  "/brine6-round.json", (char *)0);
        int first_status = 0, second_status = 0;
        struct str first = command(&a, text_z(&line), &first_status),
                   second = command(&a, text_z(&line), &second_status);
        assert_int_equal(first_status, 0);
        assert_int_equal(second_status, 0);
        assert_true(first.n > 1000);
        assert_true(str_eq(first, second));
    }
    arena_free(&a);
}

/* zbar reads what the document wanted in the code. */
static void codes(void **state)
{
    (void)state;
    if (!have("zbarimg")) {
        skip();
    }
    static const struct {
        const char *name;
        const char *wanted[8];
    } rows[] = {
        {"brine6-round", {"witmark:BR6-02204"}},
        {"languages-letter", {"witmark:OV30-00417"}},
        {"label-single", {"witmark:BR6-02204"}},
        {"labels",
         {"witmark:BR6-01877", "witmark:BR6-02611", "witmark:BR6-02204", "witmark:CF8-01490", "witmark:CF8-00988",
          "witmark:OV30-00417", "witmark:GU4-03420"}},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct printed *p = print(rows[i].name, SHEET_PNG, SHEET_PAPER_OF_DOCUMENT);
        struct text line = text_new(&p->a);
        text_join(&line, "zbarimg -q --raw ", kept(p, ".png"), " 2>/dev/null", (char *)0);
        int status = 0;
        struct str said = command(&p->a, text_z(&line), &status);
        for (size_t k = 0; k < 8 && rows[i].wanted[k]; k++) {
            if (str_find(said, str_of(rows[i].wanted[k])) < 0) {
                fail_msg("%s: zbarimg found no %s but\n%s", rows[i].name, rows[i].wanted[k], str_z(&p->a, said));
            }
        }
        (void)remove(kept(p, ".png"));
        done(p);
    }
}

/* A figure that is none, a figure that is not there, a character that no font has: said, and printed all the same. */
static void warnings(void **state)
{
    (void)state;
    static const struct {
        const char *json, *rule, *what;
    } rows[] = {
        {"\"steps\": [{\"type\": \"check\", \"label\": \"\xe6\xbc\xa2 x\"}]", "no-glyph",
         "no font here has \xe6\xbc\xa2 (U+6F22)"},
        {"\"steps\": [{\"type\": \"check\", \"label\": \"a\", \"figure\": {\"name\": \"f\", \"mark\": 1}}]", "figure",
         "figure f is referred to and not in the document"},
        {"\"figures\": [{\"name\": \"g\", \"media_type\": \"image/gif\", \"data\": \"R0lGOD\"}]", "figure",
         "figure g is left out: "},
        {"\"figures\": [{\"name\": \"h\", \"media_type\": \"image/svg+xml\", \"data\": \"<svg\"}]", "figure",
         "figure h is left out: "},
        {"\"figures\": [{\"name\": \"i\", \"media_type\": \"image/png\", \"data\": \"iVBORw0K\"}]", "figure",
         "figure i is left out: "},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct arena a = arena_new(&arena_libc);
        struct err e = err_new(&a);
        struct diags said = diags_new(&a, 50);
        struct text json = text_new(&a);
        text_join(&json, "{\"type\": \"round\", \"title\": \"T\", \"machine\": {\"serial\": \"S\"}, ", rows[i].json,
                  "}", (char *)0);
        struct sheet_result result;
        struct sheet_options options = {.format = SHEET_PDF};
        assert_true(sheet_print(&a, text_str(&json), S("d"), options, &said, &result, &e));
        assert_true(str_starts(result.bytes, S("%PDF-")));
        assert_int_equal(said.n, 1);
        assert_string_equal(said.at[0].rule, rows[i].rule);
        assert_true(str_starts(said.at[0].what, str_of(rows[i].what)));
        arena_free(&a);
    }
}

/* The program: exit status, message, and no file where something went wrong. */
static void program(void **state)
{
    (void)state;
    static const struct {
        const char *words, *input;
        int status;
        const char *said;
    } rows[] = {
        {"--help", "", 0, "Usage: witmark-sheet"},
        {"--version", "", 0, "witmark-sheet "},
        {"--pages", "{\"type\":\"labels\",\"labels\":[]}", 0, "1\n"},
        {"--paper A6", "{}", 2, "witmark-sheet: no such paper 'A6'; A4, A5 or Letter"},
        {"--format gif", "{}", 2, "witmark-sheet: no such format 'gif'; pdf, png or svg"},
        {"--page 0", "{}", 2, "witmark-sheet: no page '0'; a number from 1"},
        {"--format png --page 9", "{\"type\":\"labels\",\"labels\":[]}", 2,
         "witmark-sheet: there is no such page; a page from 1 to 1"},
        {"--zebra", "{}", 2, "Try 'witmark-sheet --help'."},
        {"-o sheet-test-none.pdf", "{\"type\":\"round\"}", 1, "witmark-sheet: standard input:1:1: title is missing"},
        {"-o no/such/folder.pdf", "{\"type\":\"labels\",\"labels\":[]}", 1,
         "witmark-sheet: no/such/folder.pdf cannot be written: No such file"},
        {"no-such-file.json", "", 1, "witmark-sheet: no-such-file.json cannot be read: No such file"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct text line = text_new(&a);
        text_join(&line, "printf '%s' '", rows[i].input, "' | ", getenv("WITMARK_SHEET"), " ", rows[i].words, " 2>&1",
                  (char *)0);
        int status = 0;
        struct str said = command(&a, text_z(&line), &status);
        if (status != rows[i].status || str_find(said, str_of(rows[i].said)) < 0) {
            fail_msg("%s: status %d, \"%s\"", rows[i].words, status, str_z(&a, said));
        }
    }
    assert_int_not_equal(access("sheet-test-none.pdf", F_OK), 0);
    assert_int_not_equal(access("sheet-test-none.pdf.part", F_OK), 0);
    arena_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(complete_round), cmocka_unit_test(complete_long), cmocka_unit_test(languages),
        cmocka_unit_test(paper),          cmocka_unit_test(page_counts),   cmocka_unit_test(deterministic),
        cmocka_unit_test(codes),          cmocka_unit_test(warnings),      cmocka_unit_test(program),
    };
    return cmocka_run_group_tests_name("sheet", tests, 0, 0);
}
