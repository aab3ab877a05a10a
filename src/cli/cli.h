/* The command line: a table of commands, from which parsing, --help, the manual page and shell completion are made. */
#ifndef WITMARK_CLI_H
#define WITMARK_CLI_H

#include "desk.h"

#include <stdio.h>

/* One option: --name or -letter, with a value when `value` names it. */
struct option_def {
    const char *name;
    char letter;       /* 0 = none */
    const char *value; /* "DAY"; null = a flag */
    const char *help;
};

/* Ends a list of options. */
#define END_OF_OPTIONS      \
    {                       \
        NULL, 0, NULL, NULL \
    }

#define OPTIONS_MOST 24
#define ARGUMENTS_MOST 4096

struct call;

struct command {
    const char *words;     /* "book check" */
    const char *arguments; /* "FILE..." */
    int least, most;       /* arguments; most < 0 = any number */
    const char *summary;   /* one line */
    const char *details;   /* paragraphs for --help and the manual; may be null */
    const struct option_def *options;
    int (*run)(struct call *c);
    bool no_depot; /* does not open a depot */
    bool writes;   /* opens it for writing */
};

/* One call of a command. */
struct call {
    const struct command *command;
    struct arena arena;
    struct err err;
    struct desk *desk; /* open unless no_depot */
    const char *depot; /* path */
    bool json, csv, wants_help;
    const char *values[OPTIONS_MOST]; /* of command->options; "" for a flag that was given */
    const char *arguments[ARGUMENTS_MOST];
    int n;
    const char *units, *by;
    day_t today;
};

/* Exit statuses. */
enum {
    EXIT_FINE = 0,
    EXIT_FINDINGS = 1, /* the question was answered, and the answer is not good: findings, refusals of a dry run */
    EXIT_USAGE = 2,
    EXIT_INPUT = 3, /* the file or value is wrong */
    EXIT_MISSING = 4,
    EXIT_REFUSED = 5, /* a rule forbids it, or it contradicts what is there */
    EXIT_SYSTEM = 6,  /* disk, another process, missing program */
    EXIT_INTERNAL = 7,
};

extern const struct option_def common_options[];

const char *option_value(const struct call *c, const char *name); /* null when not given */
bool option_given(const struct call *c, const char *name);
struct str option_str(const struct call *c, const char *name); /* empty when not given */
/* Writes the text to stdout; EXIT_SYSTEM when that fails. */
int print_text(const struct text *t);
/* Says what is wrong on stderr and gives the exit status. */
int failed(const struct call *c);
/* The time that was named with --at, or INSTANT_NONE. */
bool call_at(struct call *c, instant_ms *at);
/* What every record has in common, from the options. */
bool call_stamp(struct call *c, struct str machine, struct desk_stamp *s);
/* Progress of long work on stderr, only when that is a terminal. */
struct progress call_progress(struct call *c, const char *what);

/* A table of columns as wide as their widest cell; the last one is not padded. */
struct table {
    struct arena *a;
    int columns;
    struct str *cells;
    size_t n, cap;
};
struct table table_new(struct arena *a, int columns);
void table_add(struct table *t, struct str cell);
void table_addz(struct table *t, const char *cell);
void table_print(struct text *out, const struct table *t);

/* Writes a page or picture: to the file named by --output, put in place in one step; else to standard output unless
 * that is a terminal. Gives the exit status. */
int print_page(struct call *c, struct str bytes);
/* The document through the printing program, in the format of --format (otherwise `format`), as print_page. */
int print_document(struct call *c, const struct text *document, const char *format);

/* Says what was recorded (and the verdict, when it was judged), or what went wrong. A reading that is out is no
 * failure: it is recorded. */
int print_recorded(struct call *c, bool ok, const struct desk_recorded *r);
/* Prints an explanation. */
int print_why(struct call *c, const struct desk_why *why);

/* Proof of the whole depot: depot check and log verify. */
int run_verify(struct call *c);

/* The command at place i of all families one after the other; null past the end. */
const struct command *command_at(size_t i);
/* Prints what --help says of a command. */
int command_help(const struct command *c);

/* Runs a query and prints its answer as a table. Gives the exit status. */
int run_as_csv(struct call *c, int (*run)(struct call *c));

/* Runs one command on the depot that `outer` has open. Gives its exit status; says on stderr what is wrong. */
int run_words(struct call *outer, int argc, char **argv);

/* Families of commands, each ended by a null name. */
extern const struct command depot_commands[], book_commands[], machine_commands[], record_commands[], log_commands[],
    feed_commands[], today_commands[], horizon_commands[], round_commands[], plot_commands[], calc_commands[],
    help_commands[];
extern const struct command trace_commands[];
extern const struct command judge_commands[];
extern const struct command person_commands[];
extern const struct command authority_commands[];
extern const struct command exhaust_commands[];
extern const struct command adjust_commands[], putback_commands[], recover_commands[];
extern const struct command stock_commands[];

#endif
