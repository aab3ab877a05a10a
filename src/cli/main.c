/* From argv to a command: finding it, its options, the depot; then exit status and message. */
#include "cli.h"

#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

const struct option_def common_options[] = {
    {"depot", 'd', "FILE", "the depot's file (otherwise WITMARK_DEPOT, otherwise depot.witmark here)"},
    {"json", 'j', NULL, "answer as JSON (docs/json.md)"},
    {"units", 0, "SYSTEM", "show quantities as-written, si or us (otherwise the depot's setting)"},
    {"today", 0, "DAY", "answer as if it were that day, e.g. 2026-09-06"},
    {"by", 0, "NAME", "who does it (otherwise WITMARK_BY, otherwise USER)"},
    {"help", 'h', NULL, "what the command does and its options"},
    {"csv", 0, NULL, "answer as a table, CSV of RFC 4180 (today, machine list, log list, kit, horizon ...)"},
    {NULL, 0, NULL, NULL},
};

static const struct command *const families[] = {
    /* one a line: branches that add families do not meet. clang-format wants exactly these words: */
    /* clang-format off */
    depot_commands,
    book_commands,
    machine_commands,
    record_commands,
    log_commands,
    feed_commands,
    today_commands,
    exhaust_commands,
    stock_commands,
    judge_commands,
    trace_commands,
    horizon_commands,
    round_commands,
    adjust_commands,
    putback_commands,
    recover_commands,
    plot_commands,
    calc_commands,
    person_commands,
    authority_commands,
    help_commands,
    /* clang-format on */
};

/* The command at place i of all families one after the other; null past the end. */
const struct command *command_at(size_t i)
{
    for (size_t f = 0; f < sizeof families / sizeof *families; f++) {
        for (const struct command *c = families[f]; c->words; c++) {
            if (i-- == 0) {
                return c;
            }
        }
    }
    return NULL;
}

/* How many of argv's words name this command; 0 = they do not. */
static int words_match(const struct command *c, int argc, char **argv)
{
    struct str rest = str_of(c->words);
    struct str word;
    int n = 0;
    while (str_next(&rest, ' ', &word)) {
        if (n >= argc || !str_eq(word, str_of(argv[n]))) {
            return 0;
        }
        n++;
    }
    return n;
}

static int unknown_command(int argc, char **argv)
{
    struct arena a = arena_new(&arena_libc);
    struct text said = text_new(&a);
    for (int i = 0; i < argc && i < 2 && argv[i][0] != '-'; i++) {
        text_addz(&said, i ? " " : "");
        text_shown(&said, str_of(argv[i]), 100);
    }
    struct str names[128];
    size_t n = 0;
    bool family = false;
    struct text begins = text_new(&a);
    for (const struct command *c = NULL; n < 128 && (c = command_at(n)) != NULL; n++) {
        names[n] = str_of(c->words);
        if (argc > 0 && str_starts(names[n], str_of(argv[0])) && names[n].n > strlen(argv[0]) &&
            names[n].p[strlen(argv[0])] == ' ') {
            family = true;
            text_join(&begins, begins.n ? ", " : "", c->words, (char *)0);
        }
    }
    ptrdiff_t near = str_nearest(text_str(&said), names, n);
    (void)fprintf(stderr, "witmark: no command '%s'", text_z(&said));
    if (family && (argc < 2 || argv[1][0] == '-')) {
        (void)fprintf(stderr, "; there are %s", text_z(&begins));
    } else if (near >= 0) {
        (void)fprintf(stderr, "; did you mean '%.*s'?", STR_ARG(names[near]));
    } else {
        (void)fprintf(stderr, "; witmark help lists all");
    }
    (void)fputc('\n', stderr);
    arena_free(&a);
    return EXIT_USAGE;
}

static const struct option_def *find_option(const struct option_def *at, struct str name, char letter, int *index)
{
    for (int i = 0; at && at[i].name; i++) {
        if (letter ? at[i].letter == letter : str_eq(name, str_of(at[i].name))) {
            *index = i;
            return &at[i];
        }
    }
    return NULL;
}

/* Says that there is no such option and which one is nearest. */
static bool no_option(struct call *c, const char *said)
{
    struct str names[64];
    size_t n = 0;
    const struct option_def *lists[] = {c->command->options, common_options};
    for (int k = 0; k < 2; k++) {
        for (int i = 0; lists[k] && lists[k][i].name && n < 64; i++) {
            names[n++] = str_of(lists[k][i].name);
        }
    }
    struct str bare = str_of(said);
    while (bare.n && bare.p[0] == '-') {
        bare = str_cut(bare, 1, bare.n);
    }
    ptrdiff_t near = str_nearest(bare, names, n);
    struct text right = text_new(&c->arena);
    if (near >= 0) {
        text_addz(&right, "did you mean --");
        text_add(&right, names[near]);
        text_char(&right, '?');
    } else {
        text_join(&right, "witmark ", c->command->words, " --help lists them", (char *)0);
    }
    return err_set(&c->err, ERR_USAGE, text_z(&right), "witmark ", c->command->words, " has no option ", said,
                   (char *)0);
}

/* A common option's value goes to its place in the call. */
static bool common_option(struct call *c, int index, const char *value)
{
    switch (index) {
    case 0:
        c->depot = value;
        return true;
    case 1:
        c->json = true;
        return true;
    case 2:
        c->units = value;
        return true;
    case 3:
        return day_parse(str_of(value), &c->today) ||
               err_set(&c->err, ERR_USAGE, "a day such as 2026-09-06", "--today '", value, "' is no day", (char *)0);
    case 4:
        c->by = value;
        return true;
    case 6:
        c->csv = true;
        return true;
    default:
        return true;
    }
}

/* One word that starts with a dash; *i moves on when the value is the next word. */
static bool take_option(struct call *c, int argc, char **argv, int *i)
{
    struct str word = str_of(argv[*i]);
    bool is_long = str_starts(word, S("--"));
    ptrdiff_t equals = is_long ? str_find(word, S("=")) : -1;
    struct str name = is_long ? str_cut(word, 2, equals > 0 ? (size_t)equals : word.n) : word;
    int index = 0;
    bool common = false;
    const struct option_def *o = find_option(c->command->options, name, is_long ? 0 : word.p[1], &index);
    if (!o) {
        o = find_option(common_options, name, is_long ? 0 : word.p[1], &index);
        common = true;
    }
    if (!o) {
        return no_option(c, argv[*i]);
    }
    const char *value = "";
    if (o->value) {
        if (equals > 0) {
            value = argv[*i] + equals + 1;
        } else if (!is_long && word.n > 2) {
            value = argv[*i] + 2;
        } else if (*i + 1 < argc) {
            value = argv[++*i];
        } else {
            return err_set(&c->err, ERR_USAGE, o->value, "--", o->name, " needs a value", (char *)0);
        }
    } else if (equals > 0) {
        return err_set(&c->err, ERR_USAGE, NULL, "--", o->name, " takes no value", (char *)0);
    }
    if (!common) {
        c->values[index] = value;
        return true;
    }
    if (str_eq(str_of(o->name), S("help"))) {
        c->json = false;
        c->wants_help = true;
    }
    return common_option(c, index, value);
}

/* A dash starts an option, but "-12 degC" is a value: no option's letter is a digit. */
static bool is_option(const char *word)
{
    return word[0] == '-' && word[1] != '\0' && !(word[1] >= '0' && word[1] <= '9') && word[1] != '.';
}

static bool parse(struct call *c, int argc, char **argv)
{
    bool words_only = false;
    for (int i = 0; i < argc; i++) {
        if (!words_only && strcmp(argv[i], "--") == 0) {
            words_only = true;
        } else if (!words_only && is_option(argv[i])) {
            if (!take_option(c, argc, argv, &i)) {
                return false;
            }
        } else if (c->n == ARGUMENTS_MOST) {
            return err_set(&c->err, ERR_USAGE, NULL, "too many arguments", (char *)0);
        } else {
            c->arguments[c->n++] = argv[i];
        }
    }
    if (c->wants_help) {
        return true;
    }
    if (c->n < c->command->least || (c->command->most >= 0 && c->n > c->command->most)) {
        return err_set(&c->err, ERR_USAGE, NULL, c->n < c->command->least ? "something is missing" : "too many words",
                       ": witmark ", c->command->words, " ", c->command->arguments, (char *)0);
    }
    return true;
}

const char *option_value(const struct call *c, const char *name)
{
    int index = 0;
    const struct option_def *o = find_option(c->command->options, str_of(name), 0, &index);
    return o ? c->values[index] : NULL;
}

bool option_given(const struct call *c, const char *name)
{
    return option_value(c, name) != NULL;
}

struct str option_str(const struct call *c, const char *name)
{
    return str_of(option_value(c, name));
}

int print_text(const struct text *t)
{
    if (fwrite(t->p ? t->p : "", 1, t->n, stdout) != t->n || fflush(stdout) != 0) {
        (void)fputs("witmark: cannot write to standard output\n", stderr);
        return EXIT_SYSTEM;
    }
    return EXIT_FINE;
}

int failed(const struct call *c)
{
    struct arena a = arena_new(&arena_libc);
    struct text said = text_new(&a);
    text_shown(&said, err_text(&a, &c->err), 2000);
    (void)fprintf(stderr, "witmark: %s\n", text_z(&said));
    arena_free(&a);
    static const int statuses[] = {
        [ERR_NONE] = EXIT_INTERNAL,     [ERR_INPUT] = EXIT_INPUT,     [ERR_USAGE] = EXIT_USAGE,
        [ERR_DOMAIN] = EXIT_INPUT,      [ERR_MISSING] = EXIT_MISSING, [ERR_CONFLICT] = EXIT_REFUSED,
        [ERR_REFUSED] = EXIT_REFUSED,   [ERR_SYSTEM] = EXIT_SYSTEM,   [ERR_BUSY] = EXIT_SYSTEM,
        [ERR_INTERNAL] = EXIT_INTERNAL,
    };
    return statuses[c->err.kind];
}

bool call_at(struct call *c, instant_ms *at)
{
    *at = INSTANT_NONE;
    return !option_given(c, "at") || desk_instant(c->desk, option_str(c, "at"), at, &c->err);
}

bool call_stamp(struct call *c, struct str machine, struct desk_stamp *s)
{
    *s = (struct desk_stamp){.machine = machine, .by = str_of(c->by), .note = option_str(c, "note")};
    return call_at(c, &s->at);
}

static bool show_progress(void *ctx, uint64_t done, uint64_t total)
{
    const char *what = ctx;
    if (total) {
        (void)fprintf(stderr, "\r%s %3d %%", what, (int)(done * 100 / total));
    } else {
        (void)fprintf(stderr, "\r%s %llu", what, (unsigned long long)done);
    }
    if (total && done >= total) {
        (void)fputc('\n', stderr);
    }
    return true;
}

struct progress call_progress(struct call *c, const char *what)
{
    (void)c;
    return isatty(2) ? (struct progress){show_progress, (void *)(uintptr_t)what} : (struct progress){NULL, NULL};
}

static int run(struct call *c)
{
    if (c->wants_help) {
        return command_help(c->command);
    }
    if (!c->command->no_depot) {
        struct desk_options options = desk_options_default(c->depot);
        options.read_only = !c->command->writes;
        options.today = c->today;
        options.units = c->units;
        if (!desk_open(&options, &c->desk, &c->err)) {
            return failed(c);
        }
    }
    int status = c->command->run(c);
    desk_close(c->desk);
    return status;
}

/* The first of these that says something. */
static const char *first_given(const char *a, const char *b, const char *otherwise)
{
    return a && *a ? a : b && *b ? b : otherwise;
}

/* The command that argv's first words name; *words = how many. */
static const struct command *find_command(int argc, char **argv, int *words)
{
    const struct command *found = NULL;
    *words = 0;
    for (size_t i = 0; command_at(i); i++) {
        int n = words_match(command_at(i), argc, argv);
        if (n > *words) {
            *words = n;
            found = command_at(i);
        }
    }
    return found;
}

int run_words(struct call *outer, int argc, char **argv)
{
    int words = 0;
    const struct command *command = find_command(argc, argv, &words);
    if (!command) {
        return unknown_command(argc, argv);
    }
    if (command->no_depot || command->run == outer->command->run) {
        (void)fprintf(stderr, "witmark: '%s' does not go in a file of commands\n", command->words);
        return EXIT_USAGE;
    }
    struct call *c = ARENA_NEW(&outer->arena, struct call);
    c->command = command;
    c->arena = arena_new(&arena_libc);
    c->err = err_new(&c->arena);
    c->depot = outer->depot;
    c->by = outer->by;
    c->today = outer->today;
    c->desk = outer->desk;
    int status = parse(c, argc - words, argv + words) ? command->run(c) : failed(c);
    arena_free(&c->arena);
    return status;
}

int main(int argc, char **argv)
{
    static const char *const help[] = {"help"};
    argc--;
    argv++;
    if (argc == 0 || strcmp(argv[0], "--help") == 0 || strcmp(argv[0], "-h") == 0) {
        argv = (char **)(uintptr_t)help;
        argc = 1;
    } else if (strcmp(argv[0], "--version") == 0) {
        (void)puts("witmark " WITMARK_VERSION);
        return EXIT_FINE;
    }
    static struct call c; /* large; one per process */
    int words = 0;
    c.command = find_command(argc, argv, &words);
    if (!c.command) {
        return unknown_command(argc, argv);
    }
    c.arena = arena_new(&arena_libc);
    c.err = err_new(&c.arena);
    c.today = DAY_NONE;
    c.depot = first_given(getenv("WITMARK_DEPOT"), NULL, "depot.witmark");
    c.by = first_given(getenv("WITMARK_BY"), getenv("USER"), "unknown");
    int status = !parse(&c, argc - words, argv + words) ? failed(&c)
                 : c.csv && !c.wants_help               ? run_as_csv(&c, run)
                                                        : run(&c);
    arena_free(&c.arena);
    return status;
}
