/* The books that come with the project: proved without an error or a doubt, and no `closes` in them can be left out. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "generate.h"

#include <dirent.h>
#include <stdlib.h>
#include <unistd.h>

#define SAMPLES 6 /* `closes` left out per book */

static const char *books_folder(struct arena *a)
{
    const char *root = getenv("WITMARK_SOURCE");
    return generate_path(a, root ? root : ".", "books");
}

/* Whether a drawing lies in the folder. */
static bool exists(void *folder, struct str name)
{
    struct arena a = arena_new(&arena_libc);
    bool there = access(generate_path(&a, folder, str_z(&a, name)), R_OK) == 0;
    arena_free(&a);
    return there;
}

/* Errors and doubts in the text; printed when they should not be there. */
static size_t serious(struct arena *a, const char *folder, struct str text, const char *name, const char *rule,
                      bool print)
{
    struct diags d = diags_new(a, 200);
    struct bookfile *bf = bookfile_read(text, str_of(name), a, &d);
    struct text place = text_new(a);
    text_addz(&place, folder);
    void *place_z = (text_z(&place), place.p);
    if (bf) {
        bookfile_check(bf, (struct bookfile_folder){exists, place_z}, a, &d);
    }
    size_t n = 0;
    for (size_t i = 0; i < d.n; i++) {
        if (d.at[i].level != DIAG_HINT && (!rule || strcmp(d.at[i].rule, rule) == 0)) {
            n++;
            struct text t = text_new(a);
            diag_print(&t, &d.at[i]);
            if (print) {
                print_message("%s", text_z(&t));
            }
        }
    }
    return n + d.left_out;
}

/* The book without one "closes: NAME" of its tasks and changes; what goes is ", closes: NAME" or a whole line. */
static struct str without(struct arena *a, struct str text, size_t at)
{
    size_t from = at;
    size_t to = at;
    while (to < text.n && text.p[to] != '\n' && text.p[to] != ',' && text.p[to] != '}' && text.p[to] != ']') {
        to++;
    }
    to += to < text.n && text.p[to] == ']';
    bool line = text.p[to] == '\n';
    while (from > 0 && text.p[from - 1] == ' ') {
        from--;
    }
    from -= !line && text.p[from - 1] == ','; /* the comma before goes with it */
    struct text t = text_new(a);
    text_add(&t, str_cut(text, 0, from));
    text_add(&t, str_cut(text, to + (line ? 1 : 0), text.n));
    return text_str(&t);
}

static void each_closes_matters(const char *folder, struct str text, const char *name)
{
    struct arena a = arena_new(&arena_libc);
    size_t place[1024];
    size_t n = 0;
    for (size_t i = 0; i + 8 < text.n && n < 1024; i++) {
        if (str_starts(str_cut(text, i, text.n), S("closes: ")) && text.p[i + 8] != '[' && text.p[i - 2] != '-' &&
            text.p[i - 1] == ' ') {
            place[n++] = i;
        }
    }
    for (size_t k = 0; k < SAMPLES && n > 0; k++) {
        struct arena_mark mark = arena_mark(&a);
        size_t at = place[k * n / SAMPLES];
        struct str spoiled = without(&a, text, at);
        if (serious(&a, folder, spoiled, name, "not-closed", false) == 0) {
            fail_msg("%s: nobody misses \"%s\"", name, str_z(&a, str_cut(text, at, at + 40)));
        }
        arena_rewind(&a, mark);
    }
    arena_free(&a);
}

static void books_are_proved(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    const char *folder = books_folder(&a);
    DIR *dir = opendir(folder);
    int books = 0;
    assert_non_null(dir);
    for (struct dirent *entry = readdir(dir); entry; entry = readdir(dir)) {
        struct str name = str_of(entry->d_name);
        struct str text;
        if (!str_ends(name, S(".yaml"))) {
            continue;
        }
        books++;
        const char *kept = str_z(&a, name);
        assert_true(generate_read(&a, generate_path(&a, folder, kept), &text));
        assert_int_equal(serious(&a, folder, text, kept, NULL, true), 0);
        each_closes_matters(folder, text, kept);
    }
    closedir(dir);
    assert_true(books > 0);
    arena_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(books_are_proved)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
