/* witmark-sheet: reads the document of docs/print.md, writes a PDF, PNG or SVG. A program of its own, so that the
 * command line does not load the drawing libraries at each start. Nothing is written before the whole file is made. */
#include "document.h"
#include "sheet.h"

#include <errno.h>
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MOST_INPUT (256u << 20)

static const char help[] =
    "Usage: witmark-sheet [OPTION]... [FILE]\n"
    "Print a round's sheet or labels from the JSON document that `witmark round MACHINE --print-json` writes.\n"
    "Reads FILE, or standard input without one.\n"
    "\n"
    "  -o, --output FILE          write there instead of to standard output\n"
    "      --paper A4|A5|Letter   paper, instead of the document's own\n"
    "      --format pdf|png|svg   kind of file (pdf)\n"
    "      --page N               which page a png or svg shows (1)\n"
    "      --dpi N                resolution of a png, 36 to 600 (110)\n"
    "      --pages                print only how many pages there are\n"
    "  -h, --help                 this text\n"
    "  -V, --version              the version\n"
    "\n"
    "Exit status: 0 printed, 1 the document is wrong or a file failed, 2 the call's words are wrong.\n"
    "Warnings (a character that no font has, a figure that cannot be drawn) go to standard error.\n";

struct call {
    struct sheet_options options;
    const char *input, *output; /* null = standard */
    bool count;
};

/* Says what is wrong with the call; returns its exit status. */
static int usage(const char *what, const char *word, const char *right)
{
    (void)fprintf(stderr, "witmark-sheet: %s '%s'; %s\n", what, word, right);
    return 2;
}

static bool number_in(const char *word, int least, int most, int *value)
{
    int64_t n = 0;
    bool good = num_parse_i64(str_of(word), &n) && n >= least && n <= most;
    *value = good ? (int)n : 0;
    return good;
}

/* One option; returns -1 to go on, or the exit status. */
static int take_option(struct call *call, int option)
{
    int n = 0;
    switch (option) {
    case 'o':
        call->output = optarg;
        return -1;
    case 'p':
        call->options.paper = strcmp(optarg, "Letter") == 0 ? SHEET_LETTER
                              : strcmp(optarg, "A5") == 0   ? SHEET_A5
                                                            : SHEET_A4;
        return call->options.paper != SHEET_A4 || strcmp(optarg, "A4") == 0
                   ? -1
                   : usage("no such paper", optarg, "A4, A5 or Letter");
    case 'f':
        call->options.format = strcmp(optarg, "png") == 0   ? SHEET_PNG
                               : strcmp(optarg, "svg") == 0 ? SHEET_SVG
                                                            : SHEET_PDF;
        return call->options.format != SHEET_PDF || strcmp(optarg, "pdf") == 0
                   ? -1
                   : usage("no such format", optarg, "pdf, png or svg");
    case 'n':
        return number_in(optarg, 1, 100000, &call->options.page) ? -1 : usage("no page", optarg, "a number from 1");
    case 'd':
        if (!number_in(optarg, 36, 600, &n)) {
            return usage("no resolution", optarg, "a number from 36 to 600");
        }
        call->options.dots_per_inch = n;
        return -1;
    case 'c':
        call->count = true;
        return -1;
    case 'h':
        return fputs(help, stdout) < 0;
    case 'V':
        return puts("witmark-sheet " WITMARK_VERSION) < 0;
    default:
        (void)fprintf(stderr, "Try 'witmark-sheet --help'.\n");
        return 2;
    }
}

static int take_call(struct call *call, int argc, char **argv)
{
    static const struct option longs[] = {
        {"output", required_argument, 0, 'o'},
        {"paper", required_argument, 0, 'p'},
        {"format", required_argument, 0, 'f'},
        {"page", required_argument, 0, 'n'},
        {"dpi", required_argument, 0, 'd'},
        {"pages", no_argument, 0, 'c'},
        {"help", no_argument, 0, 'h'},
        {"version", no_argument, 0, 'V'},
        {0, 0, 0, 0},
    };
    for (int option; (option = getopt_long(argc, argv, "o:hV", longs, 0)) != -1;) {
        int status = take_option(call, option);
        if (status >= 0) {
            return status;
        }
    }
    if (argc - optind > 1) {
        return usage("one file at a time, not", argv[optind + 1], "witmark-sheet [OPTION]... [FILE]");
    }
    call->input = optind < argc && strcmp(argv[optind], "-") != 0 ? argv[optind] : 0;
    return -1;
}

static bool read_all(struct arena *a, FILE *f, struct str name, struct str *all, struct err *e)
{
    struct text t = text_new(a);
    char piece[65536];
    size_t n;
    while ((n = fread(piece, 1, sizeof piece, f)) > 0) {
        text_add(&t, (struct str){piece, n});
        if (t.n > MOST_INPUT) {
            return err_at(e, (struct where){.name = name}, ERR_INPUT, "at most 256 MB", "the document is too long",
                          (char *)0);
        }
    }
    *all = text_str(&t);
    return !ferror(f) || err_set(e, ERR_SYSTEM, 0, "reading failed: ", strerror(errno), (char *)0);
}

static bool read_input(struct arena *a, const struct call *call, struct str name, struct str *all, struct err *e)
{
    FILE *f = call->input ? fopen(call->input, "rb") : stdin;
    if (!f) {
        return err_set(e, ERR_SYSTEM, 0, call->input, " cannot be read: ", strerror(errno), (char *)0);
    }
    bool good = read_all(a, f, name, all, e);
    if (f != stdin) {
        (void)fclose(f);
    }
    return good;
}

/* To a new file beside the wanted one, which then takes its name: never a half of it. */
static bool write_file(struct arena *a, const char *path, struct str bytes, struct err *e)
{
    struct text part = text_new(a);
    text_join(&part, path, ".part", (char *)0);
    FILE *f = fopen(text_z(&part), "wb");
    bool good = f && fwrite(bytes.p, 1, bytes.n, f) == bytes.n;
    good = f && fclose(f) == 0 && good && rename(text_z(&part), path) == 0;
    if (!good) {
        int why = errno;
        (void)remove(text_z(&part));
        return err_set(e, ERR_SYSTEM, 0, path, " cannot be written: ", strerror(why), (char *)0);
    }
    return true;
}

static bool write_output(struct arena *a, const struct call *call, const struct sheet_result *result, struct err *e)
{
    if (call->count) {
        return printf("%d\n", result->pages) > 0 || err_set(e, ERR_SYSTEM, 0, "writing failed", (char *)0);
    }
    if (call->output && strcmp(call->output, "-") != 0) {
        return write_file(a, call->output, result->bytes, e);
    }
    bool good = fwrite(result->bytes.p, 1, result->bytes.n, stdout) == result->bytes.n;
    good = fflush(stdout) == 0 && good;
    return good || err_set(e, ERR_SYSTEM, 0, "writing failed: ", strerror(errno), (char *)0);
}

static void say_warnings(struct arena *a, const struct diags *warnings)
{
    for (size_t i = 0; i < warnings->n; i++) {
        struct text t = text_new(a);
        text_addz(&t, "witmark-sheet: ");
        text_add(&t, warnings->at[i].what);
        if (warnings->at[i].right.n) {
            text_addz(&t, "; ");
            text_add(&t, warnings->at[i].right);
        }
        (void)fprintf(stderr, "%s\n", text_z(&t));
    }
}

int main(int argc, char **argv)
{
    struct call call = {.options = {.page = 1, .dots_per_inch = 110}};
    int status = take_call(&call, argc, argv);
    if (status >= 0) {
        return status;
    }
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct diags warnings = diags_new(&a, 50);
    struct str name = call.input ? str_of(call.input) : S("standard input"), json = {0};
    struct sheet_result result = {0};
    bool good = read_input(&a, &call, name, &json, &e) &&
                sheet_print(&a, json, name, call.options, &warnings, &result, &e) &&
                write_output(&a, &call, &result, &e);
    say_warnings(&a, &warnings);
    if (!good) {
        (void)fprintf(stderr, "witmark-sheet: %s\n", str_z(&a, err_text(&a, &e)));
    }
    status = good ? 0 : e.kind == ERR_USAGE ? 2 : 1;
    arena_free(&a);
    return status;
}
