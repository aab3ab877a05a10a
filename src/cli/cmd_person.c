/* witmark person ...: who signs in to the page. */
#include "cli.h"

#include "desk_people.h"

#include <stdio.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

/* One line of standard input without its end; on a terminal without showing it. */
static bool read_line(struct call *c, const char *prompt, struct str *out)
{
    char line[PASSWORD_MOST + 2];
    bool terminal = isatty(STDIN_FILENO) == 1;
    struct termios before;
    bool hidden = terminal && tcgetattr(STDIN_FILENO, &before) == 0;
    if (terminal) {
        (void)fputs(prompt, stderr);
    }
    if (hidden) {
        struct termios quiet = before;
        quiet.c_lflag &= ~(tcflag_t)ECHO;
        (void)tcsetattr(STDIN_FILENO, TCSAFLUSH, &quiet);
    }
    bool ok = fgets(line, sizeof line, stdin) != NULL;
    if (hidden) {
        (void)tcsetattr(STDIN_FILENO, TCSAFLUSH, &before);
        (void)fputc('\n', stderr);
    }
    size_t n = ok ? strcspn(line, "\r\n") : 0;
    *out = str_copy(&c->arena, (struct str){line, n});
    return ok || err_set(&c->err, ERR_USAGE, "type it, or give it as a line of standard input", "no password was given",
                         (char *)0);
}

/* The new password; typed twice on a terminal. */
static bool new_password(struct call *c, struct str *password)
{
    struct str again;
    if (!read_line(c, "New password: ", password)) {
        return false;
    }
    if (isatty(STDIN_FILENO) != 1) {
        return true;
    }
    return read_line(c, "Once more: ", &again) &&
           (str_eq(*password, again) ||
            err_set(&c->err, ERR_INPUT, "type it again", "the two are not the same", (char *)0));
}

/* --role, or what it is when it was not given. */
static bool role_asked(struct call *c, struct str word, enum role *role)
{
    return role_parse(word, role) || err_set(&c->err, ERR_USAGE, "look, record, plan or books", "'",
                                             str_z(&c->arena, word), "' is no role", (char *)0);
}

static int say(const char *name, const char *what)
{
    return printf("%s %s\n", name, what) < 0 ? EXIT_SYSTEM : EXIT_FINE;
}

static int run_add(struct call *c)
{
    enum role role = ROLE_RECORD;
    struct str password;
    if ((option_given(c, "role") && !role_asked(c, option_str(c, "role"), &role)) || !new_password(c, &password) ||
        !desk_person_add(c->desk, str_of(c->arguments[0]), role, password, COST_USUAL, &c->err)) {
        return failed(c);
    }
    return say(c->arguments[0], "may sign in");
}

static int run_list(struct call *c)
{
    struct desk_person *at = NULL;
    size_t n = 0;
    if (!desk_people(c->desk, &c->arena, &at, &n, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    struct table table = table_new(&c->arena, 2);
    struct json j = json_new(&t, true);
    if (c->json) {
        json_begin_array(&j, NULL);
    }
    for (size_t i = 0; i < n; i++) {
        if (c->json) {
            json_begin_object(&j, NULL);
            json_str(&j, "name", at[i].name);
            json_strz(&j, "role", role_word(at[i].role));
            json_end_object(&j);
        }
        table_add(&table, at[i].name);
        table_addz(&table, role_word(at[i].role));
    }
    if (c->json) {
        json_end_array(&j);
        text_char(&t, '\n');
    } else if (n == 0) {
        text_addz(&t, "nobody signs in: the page is served to this machine only\n");
    } else {
        table_print(&t, &table);
    }
    return print_text(&t);
}

static int run_remove(struct call *c)
{
    return desk_person_remove(c->desk, str_of(c->arguments[0]), &c->err)
               ? say(c->arguments[0], "may no longer sign in; what they recorded stays")
               : failed(c);
}

static int run_role(struct call *c)
{
    enum role role = ROLE_LOOK;
    struct str word = str_of(c->arguments[1]);
    return role_asked(c, word, &role) && desk_person_role(c->desk, str_of(c->arguments[0]), role, &c->err)
               ? say(c->arguments[0], "has the new role and signs in again")
               : failed(c);
}

static int run_password(struct call *c)
{
    struct str password;
    return new_password(c, &password) &&
                   desk_person_password(c->desk, str_of(c->arguments[0]), password, COST_USUAL, &c->err)
               ? say(c->arguments[0], "has the new password and signs in again")
               : failed(c);
}

static const struct option_def add_options[] = {
    {"role", 0, "ROLE", "look, record (otherwise), plan or books"},
    {NULL, 0, NULL, NULL},
};

const struct command person_commands[] = {
    {"person add", "NAME", 1, 1, "somebody who signs in to the page",
     "The name is the one that their entries carry. Roles: look reads everything; record also makes entries; plan also "
     "takes machines in and out and keeps the calendar; books also keeps editions of books. The password is asked for, "
     "or read as a line of standard input.",
     add_options, run_add, false, true},
    {"person list", "", 0, 0, "who may sign in, and their roles", NULL, NULL, run_list, false, false},
    {"person remove", "NAME", 1, 1, "somebody no longer signs in", NULL, NULL, run_remove, false, true},
    {"person role", "NAME ROLE", 2, 2, "another role: look, record, plan, books", NULL, NULL, run_role, false, true},
    {"person password", "NAME", 1, 1, "a new password; all their devices sign in again", NULL, NULL, run_password,
     false, true},
    {0},
};
