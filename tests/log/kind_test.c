/* What each kind of entry may say, and what is told about a body that does not fit, word for word. */
#include "scratch.h"

#include "log_internal.h"

#include <stdlib.h>
#include <string.h>

#define ID "\"01890a5d-ac96-774b-bcce-b302099a8057\""
#define HASH "\"ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad\""

static void good_bodies(void **state)
{
    (void)state;
    static const struct {
        enum entry_kind kind;
        const char *body;
    } rows[] = {
        {KIND_MACHINE_IN, "{\"book\": \"beach-cleaner\", \"serial\": \"M1\", \"options\": []}"},
        {KIND_MACHINE_IN,
         "{\"book\": \"b\", \"serial\": \"M1\", \"label\": \"Beach 1\", \"options\": [\"cab\", "
         "\"tow\"], \"site\": \"north "
         "mole\", \"severe\": true, \"in_service\": \"2024-02-29\", \"meters\": [\"engine\", \"broom\"]}"},
        {KIND_MACHINE_OUT, "{\"reason\": \"sold\\nto the county\"}"},
        {KIND_METER, "{\"hours\": 0}"},
        {KIND_METER, "{\"hours\": 1203.4, \"meter\": \"engine\", \"import_key\": \"x\"}"},
        {KIND_METER_REPLACED, "{\"old\": 4312.5, \"new\": 0}"},
        {KIND_READING, "{\"checkpoint\": \"coolant\", \"value\": -24, \"unit\": \"degC\", \"with\": {\"air\": "
                       "{\"value\": 3.5, \"unit\": "
                       "\"degC\"}}, \"gauge\": {\"uncertainty\": 0.5, \"unit\": \"K\"}, \"note\": \"refractometer\"}"},
        {KIND_READING, "{\"checkpoint\": \"count\", \"value\": 3, \"unit\": \"\"}"},
        {KIND_FOUND, "{\"checkpoint\": \"hoses\", \"look\": \"ok\"}"},
        {KIND_FOUND,
         "{\"checkpoint\": \"hoses\", \"look\": \"chafed at the clamp\", \"severity\": \"soon\", \"note\": \"left\"}"},
        {KIND_DONE, "{\"task\": \"engine-oil\", \"hours\": 500, \"parts\": [{\"part\": \"filter\", \"number\": "
                    "\"HT-1\", \"quantity\": 1}], "
                    "\"fluids\": [{\"fluid\": \"engine oil\", \"value\": 7.5, \"unit\": \"l\"}], \"minutes\": 45, "
                    "\"note\": \"x\"}"},
        {KIND_TURN, "{\"adjuster\": \"relief\", \"turns\": -0.25, \"accepted\": false, \"note\": \"out\"}"},
        {KIND_TURN,
         "{\"adjuster\": \"relief\", \"turns\": 0.5, \"saw\": \"less\", \"confirmed\": [\"load-supported\"]}"},
        {KIND_TURN, "{\"adjuster\": \"relief\", \"turns\": 0, \"found\": true}"},
        {KIND_MOVED, "{\"distance\": {\"value\": 120, \"unit\": \"m\"}}"},
        {KIND_MOVED, "{\"distance\": {\"value\": 400, \"unit\": \"ft\"}, \"time\": {\"value\": 4, \"unit\": \"min\"}, "
                     "\"slope\": {\"value\": 3, \"unit\": \"%\"}, \"load\": {\"value\": 0, \"unit\": \"kg\"}, "
                     "\"note\": \"on sand\"}"},
        {KIND_HANDED_BACK, "{\"to\": \"north beach\"}"},
        {KIND_HANDED_BACK, "{\"open\": [{\"what\": \"bypass\", \"label\": \"Bypass is open\", \"since\": "
                           "\"2026-11-24T08:00:00.000Z\", \"by\": \"Ines\"}], \"despite\": \"goes on the trailer\"}"},
        {KIND_FAULT_SEEN, "{\"spn\": 524287, \"fmi\": 31, \"count\": 126}"},
        {KIND_FAULT_SEEN, "{\"text\": \"red lamp\"}"},
        {KIND_FAULT_CLEARED, "{\"code\": \"E-12\"}"},
        {KIND_BURN, "{\"type\": \"parked\", \"minutes\": 32}"},
        {KIND_OPENED, "{\"what\": \"body prop\"}"},
        {KIND_PUT_BACK, "{\"what\": \"body prop\", \"note\": \"stowed\"}"},
        {KIND_STOCK, "{\"part\": \"filter\", \"quantity\": -2}"},
        {KIND_NOTE, "{\"text\": \"\\u00bd\\ttab\"}"},
        {KIND_ATTACHMENT,
         "{\"sha256\": " HASH ", \"name\": \"a.jpg\", \"type\": \"image/jpeg\", \"bytes\": 5, \"about\": " ID "}"},
        {KIND_TRACE, "{\"step\": \"started\", \"symptom\": \"valve-chatters\"}"},
        {KIND_TRACE,
         "{\"step\": \"seen\", \"trace\": \"01890a5d-ac96-774b-bcce-b302099a8057\", \"what\": \"only-cold\"}"},
        {KIND_TRACE,
         "{\"step\": \"done\", \"trace\": \"01890a5d-ac96-774b-bcce-b302099a8057\", \"what\": \"read-charge\", "
         "\"result\": \"yes\"}"},
        {KIND_TRACE,
         "{\"step\": \"ended\", \"trace\": \"01890a5d-ac96-774b-bcce-b302099a8057\", \"cause\": \"oil-low\", "
         "\"confirmed\": true, \"mode\": \"noise\", \"mechanism\": \"leakage\", \"root\": \"unknown\"}"},
        {KIND_CALENDAR,
         "{\"type\": \"visit\", \"label\": \"rake chain\", \"from\": \"2026-11-30\", \"to\": \"2026-11-30\", "
         "\"hours\": 2.5, \"site\": \"quay\", \"note\": \"bring the hoist\"}"},
        {KIND_CALENDAR,
         "{\"type\": \"season\", \"label\": \"leaf season\", \"from\": \"2026-10-12\", \"to\": \"2026-11-30\"}"},
        {KIND_CORRECTION, "{\"corrects\": " ID ", \"reason\": \"r\", \"void\": true}"},
        {KIND_CORRECTION,
         "{\"corrects\": " ID ", \"reason\": \"r\", \"body\": {\"any\": 1}, \"at\": \"2026-03-02T08:00:00.000Z\"}"},
        {KIND_ROUND,
         "{\"round\": " ID ", \"is\": \"started\", \"title\": \"250 h\", \"order\": [\"change/start-engine\", "
         "\"check/fuses\"], \"condition\": [\"engine=off\"]}"},
        {KIND_ROUND, "{\"round\": " ID ", \"is\": \"step\", \"step\": \"check/fuses\", \"outcome\": \"not-reached\", "
                     "\"reason\": \"seized screws\", \"entries\": [" ID "]}"},
        {KIND_ROUND, "{\"round\": " ID ", \"is\": \"handed-over\", \"to\": \"Joaquim\"}"},
        {KIND_ROUND,
         "{\"round\": " ID ", \"is\": \"ended\", \"left\": [\"open/prop\"], \"reason\": \"parts missing\"}"},
    };
    struct arena a = arena_new(&arena_libc);
    bool seen[KIND_COUNT] = {false};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        json_t *body = body_of("%s", rows[i].body);
        struct err e = err_new(&a);
        if (!kind_check(rows[i].kind, body, S("M1"), &e)) {
            print_error("%s: %s\n", rows[i].body, str_z(&a, err_text(&a, &e)));
            fail();
        }
        seen[rows[i].kind] = true;
        json_decref(body);
    }
    for (int k = 0; k < KIND_COUNT; k++) {
        assert_true(seen[k]);
    }
    arena_free(&a);
}

static void bad_bodies(void **state)
{
    (void)state;
    static const struct {
        enum entry_kind kind;
        const char *body, *says;
    } rows[] = {
        {KIND_METER, "[1]", "body: [1] is not an object; write {...}"},
        {KIND_METER, "{}", "body.hours: it is missing; add it"},
        {KIND_METER, "{\"hour\": 3}", "body.hour: there is no such member; did you mean \"hours\"?"},
        {KIND_METER, "{\"hours\": 3, \"altitude\": 1}",
         "body.altitude: there is no such member; it may have hours and meter"},
        {KIND_METER, "{\"hours\": null}", "body.hours: null is not a number; write a number"},
        {KIND_METER, "{\"hours\": \"3\"}", "body.hours: \"3\" is text, not a number; write a number without quotes"},
        {KIND_METER, "{\"hours\": -1}", "body.hours: -1 is out of range; write 0 or more"},
        {KIND_METER, "{\"hours\": 9007199254740993}",
         "body.hours: the number is too large to be kept exactly; at most 9007199254740991; choose a larger unit"},
        {KIND_METER, "{\"hours\": 1e300}",
         "body.hours: the number is too large to be kept exactly; at most 9007199254740991; choose a larger unit"},
        {KIND_METER, "{\"hours\": 1, \"meter\": \"\"}",
         "body.meter: the text is empty; say it, or leave the member out"},
        {KIND_METER, "{\"hours\": 1, \"meter\": \"a\\nb\"}",
         "body.meter: \"a\\nb\" has a control character; write it in one line"},
        {KIND_METER, "{\"hours\": 1, \"meter\": 7}", "body.meter: 7 is not text; write it in quotes"},
        {KIND_METER, "{\"hours\": 1, \"import_key\": \"\"}",
         "body.import_key: the text is empty; say it, or leave the member out"},
        {KIND_MACHINE_IN, "{\"book\": \"b\", \"serial\": \"M2\", \"options\": []}",
         "body.serial: \"M2\" is not the machine of the entry; the entry's machine and body.serial are the same serial "
         "number"},
        {KIND_MACHINE_IN, "{\"book\": \"b\", \"serial\": \"M1\", \"options\": \"cab\"}",
         "body.options: \"cab\" is not a list; write a list of texts: [\"...\"]"},
        {KIND_MACHINE_IN, "{\"book\": \"b\", \"serial\": \"M1\", \"options\": [\"cab\", 2]}",
         "body.options[1]: 2 is not text; write it in quotes"},
        {KIND_MACHINE_IN, "{\"book\": \"b\", \"serial\": \"M1\", \"options\": [\"cab\", \"tow\", \"cab\"]}",
         "body.options[2]: \"cab\" is there twice; name each once"},
        {KIND_MACHINE_IN, "{\"book\": \"b\", \"serial\": \"M1\", \"options\": [], \"in_service\": \"2023-02-29\"}",
         "body.in_service: \"2023-02-29\" is not a date; write YYYY-MM-DD"},
        {KIND_READING, "{\"checkpoint\": \"c\", \"value\": 1}", "body.unit: it is missing; add it"},
        {KIND_READING, "{\"checkpoint\": \"c\", \"value\": 1, \"unit\": \"baar\"}",
         "body.unit: \"baar\" is not a unit known here; did you mean \"bar\"?"},
        {KIND_READING, "{\"checkpoint\": \"c\", \"value\": 1, \"unit\": 3}",
         "body.unit: 3 is not text; write a unit in quotes, \"\" for a bare number"},
        {KIND_READING, "{\"checkpoint\": \"c\", \"value\": 1, \"unit\": \"bar\", \"with\": {}}",
         "body.with: it is empty; leave the member out"},
        {KIND_READING,
         "{\"checkpoint\": \"c\", \"value\": 1, \"unit\": \"bar\", \"with\": {\" \": {\"value\": 50, \"unit\": "
         "\"degC\"}}}",
         "body.with: the text is empty; say it, or leave the member out"},
        {KIND_READING, "{\"checkpoint\": \"c\", \"value\": 1, \"unit\": \"bar\", \"with\": {\"oil\": {\"value\": 50}}}",
         "body.with.oil.unit: it is missing; add it"},
        {KIND_READING,
         "{\"checkpoint\": \"c\", \"value\": 1, \"unit\": \"bar\", \"gauge\": {\"uncertainty\": -1, \"unit\": "
         "\"bar\"}}",
         "body.gauge.uncertainty: -1 is out of range; write 0 or more"},
        {KIND_DONE, "{\"task\": \"t\", \"parts\": {\"part\": \"p\"}}",
         "body.parts: {\"part\":\"p\"} is not a list; write a list: [{...}]"},
        {KIND_DONE,
         "{\"task\": \"t\", \"parts\": [{\"part\": \"p\", \"quantity\": 1}, {\"part\": \"q\", \"quantity\": 0}]}",
         "body.parts[1].quantity: 0 is out of range; write a number above 0"},
        {KIND_DONE, "{\"task\": \"t\", \"fluids\": [{\"fluid\": \"oil\", \"amount\": 3, \"unit\": \"l\"}]}",
         "body.fluids[0].amount: there is no such member; it may have fluid, value and unit"},
        {KIND_TURN, "{\"adjuster\": \"a\", \"turns\": 0.5, \"accepted\": \"yes\"}",
         "body.accepted: \"yes\" is not true or false; write true or false"},
        {KIND_FAULT_SEEN, "{\"fmi\": 3}", "body: it does not say which fault; name it by spn (and fmi), code or text"},
        {KIND_FAULT_SEEN, "{\"spn\": 524288}", "body.spn: 524288 is out of range; write a whole number, 0 to 524287"},
        {KIND_FAULT_SEEN, "{\"spn\": 100.5}",
         "body.spn: 100.5 is not a whole number; write a whole number, 0 to 524287"},
        {KIND_BURN, "{\"type\": \"Parked\"}",
         "body.type: \"Parked\" is no type of burn; write passive, active, parked, inhibited or released"},
        {KIND_TRACE, "{\"step\": \"begun\"}",
         "body.step: \"begun\" is no step of a trace; write started, seen, not-seen, done, cannot or ended"},
        {KIND_TRACE, "{\"step\": \"started\"}", "body: it does not say from which symptom; add symptom"},
        {KIND_TRACE, "{\"step\": \"seen\", \"what\": \"a\"}",
         "body: it does not say to which trace it belongs; add trace: the id of its start"},
        {KIND_TRACE, "{\"step\": \"cannot\", \"trace\": \"01890a5d-ac96-774b-bcce-b302099a8057\"}",
         "body: it does not say what was seen or done; add what"},
        {KIND_TRACE, "{\"step\": \"done\", \"trace\": \"01890a5d-ac96-774b-bcce-b302099a8057\", \"what\": \"a\"}",
         "body: a step done has a result, and no other has one; result: how what was done came out"},
        {KIND_CALENDAR, "{\"type\": \"Visit\", \"label\": \"l\", \"from\": \"2026-01-02\", \"to\": \"2026-01-02\"}",
         "body.type: \"Visit\" is nothing that a calendar holds; write season, event, blocked, visit or hands"},
        {KIND_CALENDAR, "{\"type\": \"event\", \"label\": \"l\", \"from\": \"2026-01-02\", \"to\": \"2026-01-01\"}",
         "body.to: \"2026-01-01\" is before `from`; the last day, the same as `from` for one day"},
        {KIND_ROUND, "{\"round\": \"r1\", \"is\": \"started\"}",
         "body.round: \"r1\" is not the id of an entry; write it as 01890a5d-ac96-774b-bcce-b302099a8057"},
        {KIND_ROUND, "{\"round\": " ID ", \"is\": \"paused\"}",
         "body.is: \"paused\" does not become of a round; write started, step, handed-over or ended"},
        {KIND_ROUND, "{\"round\": " ID ", \"is\": \"started\"}",
         "body: a round that has started has an order; order: the steps by name"},
        {KIND_ROUND, "{\"round\": " ID ", \"is\": \"step\", \"step\": \"check/a\"}",
         "body: it does not say which step, or what became of it; step, and outcome: done, damaged, not-reached, "
         "not-fitted or not-done"},
        {KIND_ROUND, "{\"round\": " ID ", \"is\": \"step\", \"step\": \"check/a\", \"outcome\": \"skipped\"}",
         "body.outcome: \"skipped\" does not become of a step; write done, damaged, not-reached, not-fitted or "
         "not-done"},
        {KIND_ROUND, "{\"round\": " ID ", \"is\": \"ended\", \"left\": [\"check/a\"]}",
         "body: something is left and no reason is given; reason: why it is left"},
        {KIND_TURN, "{\"adjuster\": \"a\", \"turns\": 0.5, \"saw\": \"nothing\"}",
         "body.saw: \"nothing\" is not what a turn does; write gone, less, same or worse"},
        {KIND_TURN, "{\"adjuster\": \"a\", \"turns\": 0.5, \"found\": true}",
         "body.turns: 0.5 turns with found; 0 where the count begins anew"},
        {KIND_MOVED, "{\"distance\": {\"value\": 3, \"unit\": \"bar\"}}",
         "body.distance: {\"value\":3,\"unit\":\"bar\"} is none; a distance, 0 or more: {\"value\": 120, \"unit\": "
         "\"m\"}"},
        {KIND_MOVED, "{\"distance\": {\"value\": 3, \"unit\": \"m\"}, \"slope\": {\"value\": -3, \"unit\": \"%\"}}",
         "body.slope: {\"value\":-3,\"unit\":\"%\"} is none; a slope, 0 or more: {\"value\": 3, \"unit\": \"%\"}"},
        {KIND_HANDED_BACK, "{\"open\": [{\"what\": \"bypass\"}]}",
         "body: something is open, and no reason is given; what is open and the reason go together: open and despite, "
         "or "
         "neither"},
        {KIND_HANDED_BACK, "{\"despite\": \"why not\"}",
         "body: a reason is given, and nothing is open; what is open and the reason go together: open and despite, or "
         "neither"},
        {KIND_ATTACHMENT, "{\"sha256\": \"AB\", \"name\": \"n\", \"type\": \"t\", \"bytes\": 1}",
         "body.sha256: \"AB\" is not a SHA-256 hash; write 64 hex digits in lower case"},
        {KIND_CORRECTION, "{\"corrects\": \"018\", \"reason\": \"r\", \"void\": true}",
         "body.corrects: \"018\" is not the id of an entry; write it as 01890a5d-ac96-774b-bcce-b302099a8057"},
        {KIND_CORRECTION, "{\"corrects\": " ID ", \"reason\": \"r\"}",
         "body: it does not say what changes; give either void: true, or a new body or at (or both)"},
        {KIND_CORRECTION,
         "{\"corrects\": " ID ", \"reason\": \"r\", \"void\": true, \"at\": \"2026-03-02T08:00:00.000Z\"}",
         "body: it withdraws the entry and changes it; give either void: true, or a new body or at (or both)"},
        {KIND_CORRECTION, "{\"corrects\": " ID ", \"reason\": \"r\", \"void\": false}",
         "body.void: false is not true; write true, or leave the member out"},
        {KIND_CORRECTION, "{\"corrects\": " ID ", \"reason\": \"r\", \"at\": \"2026-03-02T09:00:00+01:00\"}",
         "body.at: \"2026-03-02T09:00:00+01:00\" is not a time; write YYYY-MM-DDThh:mm:ss.sssZ, in UTC"},
        {KIND_NOTE, "{\"text\": \"a\\u0007\"}",
         "body.text: \"a\\u0007\" has a control character; tab and line feed are allowed"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        json_t *body = body_of("%s", rows[i].body);
        struct err e = err_new(&a);
        assert_false(kind_check(rows[i].kind, body, S("M1"), &e));
        assert_int_equal(e.kind, ERR_INPUT);
        assert_string_equal(str_z(&a, err_text(&a, &e)), rows[i].says);
        json_decref(body);
    }
    arena_free(&a);
}

static void words(void **state)
{
    (void)state;
    for (int k = 0; k < KIND_COUNT; k++) {
        enum entry_kind back = KIND_COUNT;
        assert_true(kind_parse(str_of(kind_word((enum entry_kind)k)), &back));
        assert_int_equal(back, k);
    }
    enum entry_kind none;
    assert_false(kind_parse(S("metre"), &none));
    assert_string_equal(kind_nearest(S("metre")), "meter");
    assert_null(kind_nearest(S("xyzzyxyzzy")));
}

/* docs/entries.md names the members of every kind as the tables have them. */
static void documented(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 1);
    const char *source = getenv("WITMARK_SOURCE");
    struct text path = text_new(&b.a);
    text_join(&path, source ? source : ".", "/docs/entries.md", (char *)0);
    struct str page = read_whole(&b, text_z(&path));
    for (int k = 0; k < KIND_COUNT; k++) {
        struct text t = text_new(&b.a);
        text_join(&t, "| `", kind_word((enum entry_kind)k), "` | ", (char *)0);
        text_kind_members(&t, (enum entry_kind)k);
        text_addz(&t, " |");
        if (str_find(page, text_str(&t)) < 0) {
            print_error("docs/entries.md lacks: %s\n", text_z(&t));
            fail();
        }
    }
    for (int k = 0; k < FINDING_COUNT; k++) {
        struct text t = text_new(&b.a);
        text_join(&t, "| `", finding_word((enum finding_kind)k), "` | ", (char *)0);
        if (str_find(page, text_str(&t)) < 0) {
            print_error("docs/entries.md lacks: %s\n", text_z(&t));
            fail();
        }
    }
    bench_tear_down(&b);
}

/* Columns in a line of JSON: counted by hand. */
static void columns(void **state)
{
    (void)state;
    static const char line[] = "{\"a\": {\"b\": [1, {\"c\": \"x\\\"}\"}, [ ] ], \"\xc2\xbd\": true, \"d\": -1.5e3}}";
    static const struct {
        const char *path;
        unsigned column;
    } rows[] = {
        {"", 1},          {"a", 7},       {"a.b", 13},    {"a.b[0]", 14},     {"a.b[1]", 17},
        {"a.b[1].c", 23}, {"a.b[2]", 32}, {"a.b[3]", 13}, {"a.\xc2\xbd", 44}, {"a.d", 55},
        {"a.e", 7},       {"z", 1},       {"a.b.c", 13},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        assert_int_equal(json_column(str_of(line), str_of(rows[i].path)), rows[i].column);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_bodies), cmocka_unit_test(bad_bodies), cmocka_unit_test(words),
        cmocka_unit_test(documented),  cmocka_unit_test(columns),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
