/* witmark help, man, completion, serve: all words come from the table of commands. */
#include "cli.h"

#include "base/map.h"

#include <string.h>

static void option_line(struct table *table, struct arena *a, const struct option_def *o)
{
    struct text t = text_new(a);
    if (o->letter) {
        text_addz(&t, "  -");
        text_char(&t, o->letter);
        text_addz(&t, ", --");
    } else {
        text_addz(&t, "      --");
    }
    text_addz(&t, o->name);
    if (o->value) {
        text_join(&t, "=", o->value, (char *)0);
    }
    table_add(table, text_str(&t));
    table_addz(table, o->help);
}

int command_help(const struct command *c)
{
    struct arena a = arena_new(&arena_libc);
    struct text t = text_new(&a);
    text_join(&t, "usage: witmark ", c->words, c->arguments[0] ? " " : "", c->arguments, " [OPTION...]\n\n", c->summary,
              "\n", (char *)0);
    if (c->details) {
        text_join(&t, "\n", c->details, "\n", (char *)0);
    }
    struct table table = table_new(&a, 2);
    for (const struct option_def *o = c->options; o && o->name; o++) {
        option_line(&table, &a, o);
    }
    for (const struct option_def *o = common_options; o->name; o++) {
        option_line(&table, &a, o);
    }
    text_addz(&t, "\noptions\n");
    table_print(&t, &table);
    int status = print_text(&t);
    arena_free(&a);
    return status;
}

static int run_help(struct call *c)
{
    struct text t = text_new(&c->arena);
    text_addz(&t, "Witmark " WITMARK_VERSION
                  ": service of self-propelled diesel-hydraulic grounds machines, by the book of each "
                  "serial number.\nThe maker's manual, local rules and licensed practice come first.\n\n");
    struct table table = table_new(&c->arena, 2);
    for (size_t i = 0; command_at(i); i++) {
        struct text words = text_new(&c->arena);
        text_join(&words, "  ", command_at(i)->words, " ", command_at(i)->arguments, (char *)0);
        table_add(&table, text_str(&words));
        table_addz(&table, command_at(i)->summary);
    }
    table_print(&t, &table);
    text_addz(&t, "\nwitmark COMMAND --help tells its options. Exit status: 0 fine, 1 findings, 2 wrong call, 3 wrong "
                  "input, 4 not "
                  "there, 5 refused, 6 system, 7 our mistake.\n");
    return print_text(&t);
}

/* Text for roff: a backslash and a dash have meanings there, and a line must not start with a dot. */
static void roff(struct text *t, const char *s)
{
    for (; *s; s++) {
        if (*s == '\\') {
            text_addz(t, "\\e");
        } else if (*s == '-') {
            text_addz(t, "\\-");
        } else if ((*s == '.' || *s == '\'') && (t->n == 0 || t->p[t->n - 1] == '\n')) {
            text_addz(t, "\\&");
            text_char(t, *s);
        } else {
            text_char(t, *s);
        }
    }
}

static void roff_options(struct text *t, const struct option_def *o)
{
    for (; o && o->name; o++) {
        text_addz(t, ".TP\n");
        if (o->letter) {
            text_addz(t, "\\fB\\-");
            text_char(t, o->letter);
            text_addz(t, "\\fR, ");
        }
        text_addz(t, "\\fB\\-\\-");
        roff(t, o->name);
        text_addz(t, "\\fR");
        if (o->value) {
            text_addz(t, "=\\fI");
            roff(t, o->value);
            text_addz(t, "\\fR");
        }
        text_char(t, '\n');
        roff(t, o->help);
        text_char(t, '\n');
    }
}

static int run_man(struct call *c)
{
    struct text t = text_new(&c->arena);
    text_addz(&t, ".TH WITMARK 1 \"\" \"Witmark " WITMARK_VERSION
                  "\"\n.SH NAME\nwitmark \\- service of grounds machines by the book of "
                  "each serial number\n.SH SYNOPSIS\n.B witmark\n.I COMMAND\n[\\fIARGUMENT\\fR...] "
                  "[\\fIOPTION\\fR...]\n.SH DESCRIPTION\n"
                  "Knows what applies to a serial number, keeps a signed log of readings and work, says what is due "
                  "and why, finds the "
                  "fastest safe round and prints its sheet. The maker's manual, local rules and licensed practice come "
                  "first. The "
                  "program only listens on a machine's bus: it never sends.\n.SH OPTIONS OF EVERY COMMAND\n");
    roff_options(&t, common_options);
    text_addz(&t, ".SH COMMANDS\n");
    for (size_t i = 0; command_at(i); i++) {
        const struct command *k = command_at(i);
        text_addz(&t, ".SS \"witmark ");
        roff(&t, k->words);
        text_char(&t, ' ');
        roff(&t, k->arguments);
        text_addz(&t, "\"\n");
        roff(&t, k->summary);
        text_addz(&t, ".\n");
        if (k->details) {
            text_addz(&t, ".PP\n");
            roff(&t, k->details);
            text_char(&t, '\n');
        }
        roff_options(&t, k->options);
    }
    text_addz(&t, ".SH EXIT STATUS\n0 fine; 1 findings; 2 wrong call; 3 wrong input; 4 not there; 5 refused by a rule; "
                  "6 disk, another "
                  "process or a missing program; 7 our own mistake.\n.SH ENVIRONMENT\n.TP\n.B WITMARK_DEPOT\nthe "
                  "depot's file\n.TP\n.B "
                  "WITMARK_BY\nwho records\n.TP\n.B WITMARK_SHEET\nthe printing program\n");
    return print_text(&t);
}

static void shell_options(struct text *t, const struct option_def *o)
{
    for (; o && o->name; o++) {
        text_join(t, " --", o->name, o->value ? "=" : "", (char *)0);
    }
}

static int run_completion(struct call *c)
{
    struct text t = text_new(&c->arena);
    text_addz(&t, "# bash completion for witmark, made by: witmark completion\n_witmark()\n{\n    local "
                  "word=\"${COMP_WORDS[COMP_CWORD]}\" "
                  "line=\"${COMP_WORDS[*]:1}\" options first=\"\" second=\"\"\n    case \"$line\" in\n");
    for (size_t i = 0; command_at(i); i++) {
        text_join(&t, "    \"", command_at(i)->words, " \"*) options=\"", (char *)0);
        shell_options(&t, command_at(i)->options);
        shell_options(&t, common_options);
        text_addz(&t, "\" ;;\n");
    }
    text_addz(&t, "    esac\n    if [ \"$COMP_CWORD\" -eq 1 ]; then\n        options=\"");
    struct map offered = map_new(&c->arena); /* families stand in several tables */
    for (size_t i = 0; command_at(i); i++) {
        struct str rest = str_of(command_at(i)->words);
        struct str word;
        (void)str_next(&rest, ' ', &word);
        if (!map_get(&offered, word, NULL)) {
            map_put(&offered, word, 1);
            text_add(&t, word);
            text_char(&t, ' ');
        }
    }
    text_addz(&t, "\"\n    elif [ \"$COMP_CWORD\" -eq 2 ]; then\n        case \"${COMP_WORDS[1]}\" in\n");
    static const char *const families[] = {"depot", "book", "machine", "record",   "log",
                                           "feed",  "calc", "person",  "authority"};
    for (size_t f = 0; f < sizeof families / sizeof *families; f++) {
        text_join(&t, "        ", families[f], ") options=\"", (char *)0);
        for (size_t i = 0; command_at(i); i++) {
            size_t n = strlen(families[f]);
            if (strncmp(command_at(i)->words, families[f], n) == 0 && command_at(i)->words[n] == ' ') {
                text_join(&t, command_at(i)->words + n + 1, " ", (char *)0);
            }
        }
        text_addz(&t, "\" ;;\n");
    }
    text_addz(&t, "        esac\n    fi\n    mapfile -t COMPREPLY < <(compgen -W \"$options\" -- \"$word\"; [[ $word "
                  "== -* ]] || compgen -f -- "
                  "\"$word\")\n}\ncomplete -o nospace -F _witmark witmark\n");
    return print_text(&t);
}

/* Cuts a line into words as a shell does: blanks separate, '...' and "..." hold together. False when a quote is not
 * closed. */
static bool cut_words(struct arena *a, char *line, char **argv, int most, int *n)
{
    *n = 0;
    char *from = line;
    for (;;) {
        while (*from == ' ' || *from == '\t') {
            from++;
        }
        if (*from == '\0' || *from == '#' || *n == most) {
            return true;
        }
        struct text word = text_new(a);
        char quote = '\0';
        for (; *from && (quote || (*from != ' ' && *from != '\t')); from++) {
            if (quote ? *from == quote : (*from == '"' || *from == '\'')) {
                quote = quote ? '\0' : *from;
            } else {
                text_char(&word, *from);
            }
        }
        if (quote) {
            return false;
        }
        argv[(*n)++] = (char *)(uintptr_t)text_z(&word);
    }
}

static int run_file(struct call *c)
{
    struct str text = {0};
    if (!desk_read_file(&c->arena, c->arguments[0], (size_t)64 << 20, &text, &c->err)) {
        return failed(c);
    }
    struct str line;
    int number = 0;
    int status = EXIT_FINE;
    while (status == EXIT_FINE && str_next(&text, '\n', &line)) {
        number++;
        struct arena_mark mark = arena_mark(&c->arena);
        char *argv[64];
        int n = 0;
        char *words = arena_copy(&c->arena, line.p, line.n && line.p[line.n - 1] == '\r' ? line.n - 1 : line.n);
        if (!cut_words(&c->arena, words, argv, 64, &n)) {
            (void)fprintf(stderr, "witmark: a quote is not closed\n");
            status = EXIT_INPUT;
        } else if (n) {
            status = run_words(c, n, argv);
        }
        arena_rewind(&c->arena, mark);
    }
    if (status != EXIT_FINE) {
        (void)fprintf(stderr, "witmark: stopped at %s:%d; what came before it is recorded\n", c->arguments[0], number);
    }
    return status;
}

const struct command help_commands[] = {
    {"run", "FILE", 1, 1, "run commands from a file, one a line, without the word witmark",
     "Words are cut as a shell does; # begins a remark. It stops at the first command that fails.", NULL, run_file,
     false, true},
    {"help", "", 0, 0, "all commands", NULL, NULL, run_help, true, false},
    {"man", "", 0, 0, "the manual page, as roff", NULL, NULL, run_man, true, false},
    {"completion", "", 0, 0, "completion for bash", "eval \"$(witmark completion)\"", NULL, run_completion, true,
     false},
    {0},
};
