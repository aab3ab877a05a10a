/* Reading, resolving and proving books against libyaml merely telling its events of the same text, in one run.
 *
 *   book_bench FILE...     each many times, for about a second in all
 */
#include "bookfile.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include <yaml.h>

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

/* The whole file in the arena. */
static struct str file_text(struct arena *a, const char *path)
{
    struct text t = text_new(a);
    FILE *f = fopen(path, "rb");
    char piece[4096];
    size_t n = 0;
    if (!f) {
        fprintf(stderr, "%s: can't be read\n", path);
        exit(1);
    }
    while ((n = fread(piece, 1, sizeof piece, f)) > 0) {
        text_add(&t, (struct str){piece, n});
    }
    fclose(f);
    return text_str(&t);
}

/* All events of the text; returns how many. */
static size_t count_events(struct str text)
{
    yaml_parser_t p;
    yaml_event_t e;
    size_t n = 0;
    bool end = false;
    if (!yaml_parser_initialize(&p)) {
        exit(1);
    }
    yaml_parser_set_input_string(&p, (const unsigned char *)text.p, text.n);
    while (!end && yaml_parser_parse(&p, &e)) {
        end = e.type == YAML_STREAM_END_EVENT;
        yaml_event_delete(&e);
        n++;
    }
    yaml_parser_delete(&p);
    return n;
}

enum job { EVENTS, READ, RESOLVE, CHECK, JOBS };

static void run(enum job job, struct str text)
{
    struct arena a = arena_new(&arena_libc);
    struct diags d = diags_new(&a, 1000);
    struct bookfile *bf = job == EVENTS ? NULL : bookfile_read(text, S("bench"), &a, &d);
    if (job == EVENTS) {
        count_events(text);
    } else if (job == RESOLVE && bf) {
        struct err e = err_new(&a);
        struct book b;
        bookfile_resolve(bf, bookfile_head(bf)->first, (struct book_texts){0}, &a, &b, &e);
    } else if (job == CHECK && bf) {
        bookfile_check(bf, (struct bookfile_folder){0}, &a, &d);
    }
    arena_free(&a);
}

/* Seconds for one run: the least of several, since other jobs only make it longer. */
static double measure(enum job job, struct str text)
{
    double best = 1e9;
    double began = now();
    for (int i = 0; i < 5 || now() - began < 0.25; i++) {
        double from = now();
        run(job, text);
        double took = now() - from;
        best = took < best ? took : best;
    }
    return best;
}

int main(int argc, char **argv)
{
    static const char *const names[] = {"libyaml events", "read", "read and resolve", "read and check"};
    for (int f = 1; f < argc; f++) {
        struct arena a = arena_new(&arena_libc);
        struct str text = file_text(&a, argv[f]);
        double base = measure(EVENTS, text);
        printf("%s, %.0f kB\n", argv[f], (double)text.n / 1e3);
        for (int job = EVENTS; job < JOBS; job++) {
            double took = job == EVENTS ? base : measure((enum job)job, text);
            printf("  %-18s %8.2f ms %8.1f MB/s   x %.2f\n", names[job], took * 1e3, (double)text.n / took / 1e6,
                   took / base);
        }
        arena_free(&a);
    }
    return 0;
}
