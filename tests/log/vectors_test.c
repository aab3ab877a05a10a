/* Published vectors: RFC 8785 (canonical JSON), RFC 8032 (Ed25519), RFC 9562 (UUIDv7), FIPS 180-4 (SHA-256); and the
 * properties that ids promise. */
#include "scratch.h"

#include "jcs.h"
#include "log_internal.h"

#include <sodium.h>
#include <string.h>

/* RFC 8785 3.2.2 to 3.2.4 (the worked example and its bytes), 3.2.3 (sorting), and the author's test data for the RFC
 * (testdata of cyberphone/json-canonicalization, Apache-2.0: structures, values, weird). */
static void canonical_json(void **state)
{
    (void)state;
    static const struct {
        const char *in, *out;
    } rows[] = {
        {"{\"numbers\": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],"
         "\"string\": \"\\u20ac$\\u000F\\u000aA'\\u0042\\u0022\\u005c\\\\\\\"\\/\", \"literals\": [null, true, false]}",
         "{\"literals\":[null,true,false],\"numbers\":[333333333.3333333,1e+30,4.5,0.002,1e-27],"
         "\"string\":\"\xe2\x82\xac$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}"},
        {"{\"\\u20ac\": \"Euro Sign\", \"\\r\": \"Carriage Return\", \"\\ufb33\": \"Hebrew Letter Dalet With Dagesh\", "
         "\"1\": \"One\","
         "\"\\ud83d\\ude00\": \"Emoji: Grinning Face\", \"\\u0080\": \"Control\","
         "\"\\u00f6\": \"Latin Small Letter O With Diaeresis\"}",
         "{\"\\r\":\"Carriage Return\",\"1\":\"One\",\"\xc2\x80\":\"Control\",\"\xc3\xb6\":\"Latin Small Letter O With "
         "Diaeresis\","
         "\"\xe2\x82\xac\":\"Euro Sign\",\"\xf0\x9f\x98\x80\":\"Emoji: Grinning Face\","
         "\"\xef\xac\xb3\":\"Hebrew Letter Dalet With Dagesh\"}"},
        {"{\n  \"1\": {\"f\": {\"f\": \"hi\",\"F\": 5} ,\"\\n\": 56.0},\n  \"10\": { },\n  \"\": \"empty\",\n  \"a\": "
         "{ },\n  \"111\": [ { } ],\n"
         "  \"A\": { }\n}",
         "{\"\":\"empty\",\"1\":{\"\\n\":56,\"f\":{\"F\":5,\"f\":\"hi\"}},\"10\":{},\"111\":[{}],\"A\":{},\"a\":{}}"},
        {"{\"</script>\": \"Browser Challenge\", \"\\ud83d\\ude02\": \"Smiley\", \"1\": \"One\", \"\\u0080\": "
         "\"Control\\u007f\"}",
         "{\"1\":\"One\",\"</script>\":\"Browser "
         "Challenge\",\"\xc2\x80\":\"Control\x7f\",\"\xf0\x9f\x98\x82\":\"Smiley\"}"},
        {"[]", "[]"},
        {"[-0.0, -0, 1.0, 9007199254740991]", "[0,0,1,9007199254740991]"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        json_t *tree = json_loads(rows[i].in, 0, NULL);
        assert_non_null(tree);
        struct text t = text_new(&a);
        text_jcs(&t, tree);
        assert_string_equal(text_z(&t), rows[i].out);
        json_decref(tree);
        /* canonical JSON is its own canonical form */
        tree = json_loads(rows[i].out, 0, NULL);
        assert_non_null(tree);
        t = text_new(&a);
        text_jcs(&t, tree);
        assert_string_equal(text_z(&t), rows[i].out);
        json_decref(tree);
    }
    arena_free(&a);
}

/* RFC 8032 7.1: secret key, public key, message, signature. */
static void ed25519(void **state)
{
    (void)state;
    static const struct {
        const char *secret, *public, *message, *sig;
    } rows[] = {
        {"9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
         "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
         "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bb"
         "e24655141438e"
         "7a100b"},
        {"4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
         "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
         "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302"
         "aeeb00d291612"
         "bb0c00"},
        {"c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
         "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "af82",
         "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed"
         "28dc027beceea"
         "1ec40a"},
    };
    assert_true(sodium_init() >= 0);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        uint8_t seed[32];
        uint8_t public[32];
        uint8_t message[8];
        uint8_t sig[64];
        uint8_t made[64];
        size_t n = strlen(rows[i].message) / 2;
        assert_true(hex_parse(str_of(rows[i].secret), seed, 32));
        assert_true(hex_parse(str_of(rows[i].public), public, 32));
        assert_true(hex_parse(str_of(rows[i].message), message, n));
        assert_true(hex_parse(str_of(rows[i].sig), sig, 64));
        struct key_pair key = key_of_seed(seed);
        assert_memory_equal(key.public.b, public, 32);
        crypto_sign_detached(made, NULL, message, n, key.secret);
        assert_memory_equal(made, sig, 64);
        assert_int_equal(crypto_sign_verify_detached(sig, message, n, public), 0);
    }
}

/* FIPS 180-4 / NIST examples: one block, two blocks, and the empty message. */
static void sha256(void **state)
{
    (void)state;
    static const struct {
        const char *in, *out;
    } rows[] = {
        {"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
        {"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
         "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
        {"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct text t = text_new(&a);
        struct log_hash h = log_sha256(str_of(rows[i].in));
        text_hex(&t, h.b, sizeof h.b);
        assert_string_equal(text_z(&t), rows[i].out);
    }
    arena_free(&a);
}

/* RFC 9562 A.6: unix_ts_ms 0x017F22E279B0 (2022-02-22T19:22:22.000Z), rand_a 0xCC3, rand_b 0x18C4DC0C0C07398F. */
static void uuid_v7(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    instant_ms at = 0;
    assert_true(instant_parse(S("2022-02-22T19:22:22.000Z"), &at));
    assert_int_equal(at, 0x017F22E279B0);
    struct entry_id id = entry_id_make(at, 0xcc3, 0x18C4DC0C0C07398F);
    struct text t = text_new(&a);
    text_entry_id(&t, id);
    assert_string_equal(text_z(&t), "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
    struct entry_id back;
    assert_true(entry_id_parse(S("017F22E2-79B0-7CC3-98C4-DC0C0C07398F"), &back));
    assert_true(entry_id_eq(id, back));
    static const char *const wrong[] = {"", "017F22E2-79B0-7CC3-98C4-DC0C0C07398",
                                        "017F22E279B07CC398C4DC0C0C07398F0000", "017F22E2-79B0-7CC3-98C4-DC0C0C07398G",
                                        "017F22E2-79B0-7CC3-98C4+DC0C0C07398F"};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        assert_false(entry_id_parse(str_of(wrong[i]), &back));
    }
    arena_free(&a);
}

/* Ids of one writer grow, with a clock that stands still, goes back, or jumps; also when the counter is full. */
static void ids_grow(void **state)
{
    (void)state;
    uint64_t x = 99;
    struct entry_id last = {{0}};
    instant_ms now = TEST_NOW;
    for (int i = 0; i < 20000; i++) {
        uint8_t random[10];
        for (size_t k = 0; k < sizeof random; k++) {
            random[k] = (uint8_t)draw(&x);
        }
        uint64_t what = draw(&x) % 1000;
        now += what == 0 ? -86400000 : what == 1 ? 3600000 : what < 5 ? 1 : 0;
        struct entry_id next = entry_id_next(last, now, random);
        assert_true(memcmp(next.b, last.b, sizeof next.b) > 0);
        assert_int_equal(next.b[6] >> 4, 7);
        assert_int_equal(next.b[8] >> 6, 2);
        last = next;
    }
    /* a full counter borrows the next millisecond */
    uint8_t zeros[10] = {0};
    struct entry_id full = entry_id_make(1000, 0xfff, 5);
    struct entry_id next = entry_id_next(full, 1000, zeros);
    assert_true(entry_id_eq(next, entry_id_make(1001, 0, 0)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(canonical_json), cmocka_unit_test(ed25519),  cmocka_unit_test(sha256),
        cmocka_unit_test(uuid_v7),        cmocka_unit_test(ids_grow),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
