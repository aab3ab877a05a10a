/* The reader of the document to print: what it accepts, and each message with its place. The places are counted by hand
 * in the texts below. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "document.h"
#include "sheet_files.h"

#include <math.h>
#include <string.h>

#define HEAD "{\"type\": \"round\", \"title\": \"T\", \"machine\": {\"serial\": \"S1\"},\n"

static const struct {
    const char *name, *json, *message;
} wrong_rows[] = {
    {"empty", "", "d:1: this is not JSON: '[' or '{' expected near end of file"},
    {"cut off", "{\"type\": \"round\",\n \"title\"", "d:2:8: this is not JSON: ':' expected near end of file"},
    {"a list", "[1]", "d:1:1: the document is no object; {\"type\": \"round\", ...}"},
    {"no type", "{}", "d:1:1: type is missing"},
    {"unknown type", "{\"type\": \"poster\"}", "d:1:10: type is nothing that can be printed; round, plots or labels"},
    {"no title", "{\"type\": \"round\"}", "d:1:1: title is missing"},
    {"no machine", "{\"type\": \"round\", \"title\": \"T\"}", "d:1:1: machine is missing"},
    {"no serial", "{\"type\": \"round\", \"title\": \"T\",\n  \"machine\": {}}", "d:2:14: machine.serial is missing"},
    {"empty serial", "{\"type\": \"round\", \"title\": \"T\", \"machine\": {\"serial\": \" \"}}",
     "d:1:55: machine.serial is empty"},
    {"twice", "{\"type\": \"round\", \"type\": \"round\"}",
     "d:1:24: this is not JSON: duplicate object key near '\"type\"'"},
    {"misspelt cautions", HEAD "\"steps\": [{\"type\": \"check\", \"label\": \"L\",\n  \"caution\": []}]}",
     "d:3:14: steps[0].caution is no known member; did you mean cautions?"},
    {"unknown member", HEAD "\"zebra\": 1}",
     "d:2:10: zebra is no known member; docs/print.md lists what may stand here"},
    {"unknown level",
     HEAD "\"before\": [{\"level\": \"NOTICE\", \"say\": \"a\"}, {\"level\": \"DANGEROUS\", \"say\": \"b\"}]}",
     "d:2:55: before[1].level is no signal word; DANGER, WARNING, CAUTION or NOTICE"},
    {"caution without words", HEAD "\"before\": [{\"level\": \"NOTICE\"}]}", "d:2:12: before[0].say is missing"},
    {"step type", HEAD "\"steps\": [{\"type\": \"walk\", \"label\": \"L\"}]}",
     "d:2:20: steps[0].type is no kind of step; change, check or task"},
    {"change needs act", HEAD "\"steps\": [{\"type\": \"change\", \"label\": \"L\"}]}",
     "d:2:11: steps[0].act is missing"},
    {"text expected", HEAD "\"depot\": 7}", "d:2:10: depot is no text; a text in quotes"},
    {"number expected", HEAD "\"total_s\": \"7\"}", "d:2:12: total_s is no number"},
    {"time below zero", HEAD "\"total_s\": -1}", "d:2:12: total_s is out of range; a number from 0 to 100000000"},
    {"list expected", HEAD "\"steps\": {}}", "d:2:10: steps is no list; [...]"},
    {"proven", HEAD "\"proven\": \"yes\"}", "d:2:11: proven is neither true nor false"},
    {"limits the wrong way round",
     HEAD "\"steps\": [{\"type\": \"check\", \"label\": \"L\", \"read\": {\"low\": 3, \"high\": 2}}]}",
     "d:2:59: steps[0].read.low is not below high: the limits are the wrong way round"},
    {"half a step", HEAD "\"put_back\": [{\"label\": \"p\", \"opened_at\": 1.5}]}",
     "d:2:42: put_back[0].opened_at is no whole number"},
    {"mark off the figure",
     HEAD "\"figures\": [{\"name\": \"f\", \"media_type\": \"image/png\", \"data\": \"\xc2\xbd\", \"marks\": [{\"x\": "
          "2}]}]}",
     "d:2:83: figures[0].marks[0].x is out of range; a number from 0 to 1"},
    {"paper", HEAD "\"paper\": \"A6\"}", "d:2:10: paper is no paper; A4, A5 or Letter"},
    {"language", HEAD "\"language\": \"xx\"}",
     "d:2:13: language is no language of the sheet; en or es; for others the member words gives each word"},
    {"word", HEAD "\"words\": {\"serail\": \"x\"}}", "d:2:21: words.serail is no word of the sheet; serial"},
    {"label size", "{\"type\": \"labels\", \"size\": \"70\", \"labels\": []}",
     "d:1:28: size is no size of a label; width x height in millimetres, as \"70x37\", from 30x15 to 190x250"},
    {"no labels", "{\"type\": \"labels\"}", "d:1:1: labels is missing"},
    {"bracket in a text", HEAD "\"depot\": \"}]\\\"{\", \"site\": 1}",
     "d:2:27: site is no known member; did you mean title?"},
};

static void wrong(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof wrong_rows / sizeof *wrong_rows; i++) {
        struct arena a = arena_new(&arena_libc);
        struct err e = err_new(&a);
        struct document d;
        bool good = document_read(&a, str_of(wrong_rows[i].json), S("d"), &d, &e);
        const char *said = str_z(&a, err_text(&a, &e));
        if (good || strcmp(said, wrong_rows[i].message) != 0) {
            fail_msg("%s: expected \"%s\", got \"%s\"", wrong_rows[i].name, wrong_rows[i].message,
                     good ? "no error" : said);
        }
        arena_free(&a);
    }
}

/* A QR code longer than a phone reads. */
static void qr_too_long(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct text t = text_new(&a);
    text_addz(&t, HEAD "\"qr\": \"");
    for (int i = 0; i < 301; i++) {
        text_addz(&t, "x");
    }
    text_addz(&t, "\"}");
    struct document d;
    assert_false(document_read(&a, text_str(&t), S("d"), &d, &e));
    assert_string_equal(str_z(&a, err_text(&a, &e)),
                        "d:2:7: qr is too long for a code that a phone can read; at most 300 bytes");
    arena_free(&a);
}

/* What may be missing is empty, numbers are not known, steps are numbered, the lockout order is there. */
static void least(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct document d;
    assert_true(document_read(&a, S(HEAD "\"steps\": [{\"type\": \"check\", \"label\": \"L\", \"figure\": null}]}"),
                              S("d"), &d, &e));
    assert_int_equal(d.steps_n, 1);
    assert_int_equal(d.steps[0].number, 1);
    assert_true(isnan(d.total_s) && isnan(d.steps[0].takes_s) && isnan(d.steps[0].read.gauge.low));
    assert_false(d.steps[0].read.there);
    assert_int_equal(d.lockout.n, 7);
    assert_int_equal(d.figures_n + d.put_back_n + d.kit.parts_n, 0);
    arena_free(&a);
}

/* A document's own words come before those of its language, and an empty list takes the lockout order away. */
static void own_words(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct document d;
    struct str json = S(HEAD "\"language\": \"es-MX\", \"words\": {\"kit\": \"Equipo\"}, \"lockout\": []}");
    assert_true(document_read(&a, json, S("d"), &d, &e));
    assert_string_equal(str_z(&a, d.words.kit), "Equipo");
    assert_string_equal(str_z(&a, d.words.danger), "PELIGRO");
    assert_int_equal(d.lockout.n, 0);
    arena_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(wrong),
        cmocka_unit_test(qr_too_long),
        cmocka_unit_test(least),
        cmocka_unit_test(own_words),
    };
    return cmocka_run_group_tests_name("document", tests, 0, 0);
}
