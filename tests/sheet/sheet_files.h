/* Files and programs for the tests of sheets. */
#ifndef WITMARK_TESTS_SHEET_FILES_H
#define WITMARK_TESTS_SHEET_FILES_H

#include "base/arena.h"
#include "base/text.h"

#include <stdbool.h>

/* The sample document tests/data/print/NAME.json. */
struct str sample(struct arena *a, const char *name);
/* A whole file; empty when it cannot be read. */
struct str file_read(struct arena *a, const char *path);
void file_write(const char *path, struct str bytes);
/* What a command writes to standard output; its exit status in *status. */
struct str command(struct arena *a, const char *line, int *status);
/* Whether a program of that name can be run here. */
bool have(const char *program);
/* The text without its white space: lines are broken where the page wants it. */
struct str squeezed(struct arena *a, struct str s);

#endif
