/* What the server lends and keeps: desks for one request each, answers until the depot changes. */
#include "web_client.h"

#include "keep.h"
#include "pool.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static struct kept answer_of(const char *text, size_t bytes)
{
    struct kept k = {.bytes = bytes};
    strcpy(k.etag[0], "\"a\"");
    k.response[0] = MHD_create_response_from_buffer(strlen(text), (void *)(uintptr_t)text, MHD_RESPMEM_MUST_COPY);
    assert_non_null(k.response[0]);
    return k;
}

static void put(struct keep *k, const char *key, int64_t state, size_t bytes)
{
    struct kept none;
    assert_int_equal(keep_find(k, key, state, &none), KEEP_MAKE);
    struct kept made = answer_of(key, bytes);
    keep_put(k, key, state, &made);
}

static bool here(struct keep *k, const char *key, int64_t state)
{
    struct kept found;
    bool is = keep_find(k, key, state, &found) == KEEP_HERE;
    if (is) {
        keep_release(k);
    } else {
        keep_drop(k, key);
    }
    return is;
}

static void an_answer_is_good_for_one_state(void **state)
{
    struct keep *k = calloc(1, sizeof *k);
    (void)state;
    keep_open(k);
    put(k, "/api/today", 1, 100);
    assert_true(here(k, "/api/today", 1));
    assert_true(here(k, "/api/today", 1));
    assert_false(here(k, "/api/today?days=1", 1));
    assert_false(here(k, "/api/today", 2)); /* something was recorded */
    assert_false(here(k, "/api/today", 1)); /* and it does not come back */
    keep_close(k);
    free(k);
}

static void room_is_made_by_dropping_what_is_asked_for_least(void **state)
{
    struct keep *k = calloc(1, sizeof *k);
    char key[32];
    (void)state;
    keep_open(k);
    put(k, "first", 1, 100);
    put(k, "second", 1, 100);
    for (int i = 0; i < KEEP_SLOTS - 2; i++) {
        assert_true(here(k, "first", 1));
        (void)snprintf(key, sizeof key, "other %d", i);
        put(k, key, 1, 100);
    }
    put(k, "one more", 1, 100);
    assert_true(here(k, "first", 1));
    assert_false(here(k, "second", 1));
    put(k, "large", 1, KEEP_BYTES / 2 - 1);
    put(k, "larger", 1, KEEP_BYTES / 2 - 1);
    assert_true(k->bytes <= KEEP_BYTES);
    put(k, "too large", 1, KEEP_BYTES); /* not kept at all */
    assert_false(here(k, "too large", 1));
    keep_close(k);
    free(k);
}

struct waiter {
    struct keep *k;
    enum keep_found found;
};

static void *wait_for_it(void *arg)
{
    struct waiter *w = arg;
    struct kept found;
    w->found = keep_find(w->k, "slow", 1, &found);
    if (w->found == KEEP_HERE) {
        keep_release(w->k);
    } else {
        keep_drop(w->k, "slow");
    }
    return NULL;
}

/* Those who ask meanwhile get what is being made, or make it themselves when it fails; one after the other. */
static void who_asks_meanwhile_gets_the_same(void **state)
{
    (void)state;
    for (int fails = 0; fails < 2; fails++) {
        struct keep *k = calloc(1, sizeof *k);
        struct waiter waiters[4];
        pthread_t threads[4];
        struct kept none;
        keep_open(k);
        assert_int_equal(keep_find(k, "slow", 1, &none), KEEP_MAKE);
        for (int i = 0; i < 4; i++) {
            waiters[i] = (struct waiter){.k = k};
            assert_int_equal(pthread_create(&threads[i], NULL, wait_for_it, &waiters[i]), 0);
        }
        if (fails) {
            keep_drop(k, "slow");
        } else {
            struct kept made = answer_of("slow", 100);
            keep_put(k, "slow", 1, &made);
        }
        for (int i = 0; i < 4; i++) {
            assert_int_equal(pthread_join(threads[i], NULL), 0);
            assert_int_equal(waiters[i].found, fails ? KEEP_MAKE : KEEP_HERE);
        }
        keep_close(k);
        free(k);
    }
}

/* Two requests have two desks; both see what is recorded through either, and an edition that one of them takes. */
static void desks_are_lent_to_one_request_each(void **state)
{
    struct bench b = {0};
    struct pool p;
    (void)state;
    open_depot(&b);
    pool_open(&p, b.d);
    struct desk *one = pool_take(&p);
    struct desk *two = pool_take(&p);
    assert_ptr_equal(one, b.d);
    assert_ptr_not_equal(one, two);
    const struct desk_machine *at = NULL;
    size_t n = 0;
    ok(&b, desk_machines(two, &at, &n, &b.e));
    assert_int_equal(n, 2);
    struct desk_machine_new more = {
        .serial = S("BR6-02031"), .by = S("Ines"), .in_service = DAY_NONE, .at = INSTANT_NONE};
    struct entry_id id;
    ok(&b, desk_machine_add(one, &more, &id, &b.e));
    ok(&b, desk_machines(two, &at, &n, &b.e));
    assert_int_equal(n, 3);
    struct desk_edition *editions = NULL;
    char path[512];
    (void)snprintf(path, sizeof path, "%s/books/stoat24.yaml", source_folder());
    struct diags findings = diags_new(&b.a, 50);
    struct log_hash edition;
    ok(&b, desk_book_take(one, path, &findings, &edition, &b.e));
    ok(&b, desk_book_list(two, &b.a, &editions, &n, &b.e));
    assert_int_equal(n, 3);
    pool_give(&p, one);
    assert_ptr_equal(pool_take(&p), one);
    pool_give(&p, one);
    pool_give(&p, two);
    pool_close(&p);
    close_depot(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_answer_is_good_for_one_state),
        cmocka_unit_test(room_is_made_by_dropping_what_is_asked_for_least),
        cmocka_unit_test(who_asks_meanwhile_gets_the_same),
        cmocka_unit_test(desks_are_lent_to_one_request_each),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
