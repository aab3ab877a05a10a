/* --csv: the answer of a query as a table. The command writes its JSON as always, only not to the terminal but into an
 * unnamed file; what comes out is turned into CSV by the desk. */
#include "cli.h"

#include "desk_tables.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* Which table a command's answer is. */
static const char *table_of(const struct command *command)
{
    static const struct {
        const char *words, *table;
    } rows[] = {{"today", "today"}, {"machine list", "machines"}, {"log list", "log"},
                {"kit", "kit"},     {"book list", "books"},       {"put-back", "put-back"},
                {"stock", "shelf"}, {"person list", "people"},    {"horizon", "horizon"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        if (strcmp(rows[i].words, command->words) == 0) {
            return rows[i].table;
        }
    }
    return NULL;
}

/* All that was written into the file. */
static struct str read_back(struct call *c, FILE *f)
{
    struct text t = text_new(&c->arena);
    char piece[65536];
    size_t n = 0;
    rewind(f);
    while ((n = fread(piece, 1, sizeof piece, f)) > 0) {
        text_add(&t, (struct str){piece, n});
    }
    return text_str(&t);
}

int run_as_csv(struct call *c, int (*run)(struct call *c))
{
    const char *table = table_of(c->command);
    FILE *f = table ? tmpfile() : NULL;
    int before = f ? dup(STDOUT_FILENO) : -1;
    if (!table) {
        (void)err_set(&c->err, ERR_USAGE,
                      "today, machine list, log list, kit, stock, put-back, book list, person list, horizon",
                      "witmark ", c->command->words, " is no table: --csv goes with these", (char *)0);
        return failed(c);
    }
    if (before < 0 || fflush(stdout) != 0 || dup2(fileno(f), STDOUT_FILENO) < 0) {
        (void)err_set(&c->err, ERR_SYSTEM, NULL, "there is no room for the answer", (char *)0);
        return failed(c);
    }
    c->json = true;
    int status = run(c);
    (void)fflush(stdout);
    (void)dup2(before, STDOUT_FILENO);
    (void)close(before);
    struct str json = read_back(c, f);
    (void)fclose(f);
    struct text t = text_new(&c->arena);
    if (status != EXIT_FINE && status != EXIT_FINDINGS) {
        return status; /* said on standard error */
    }
    if (!desk_table_csv(&t, table, json, &c->err)) {
        return failed(c);
    }
    int printed = print_text(&t);
    return printed ? printed : status;
}
