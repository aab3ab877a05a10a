/* Files and programs for the tests of sheets. */
#include "sheet_files.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>

static struct str read_stream(struct arena *a, FILE *f)
{
    struct text t = text_new(a);
    char piece[65536];
    for (size_t n; (n = fread(piece, 1, sizeof piece, f)) > 0;) {
        text_add(&t, (struct str){piece, n});
    }
    return text_str(&t);
}

struct str file_read(struct arena *a, const char *path)
{
    FILE *f = fopen(path, "rb");
    if (!f) {
        return S("");
    }
    struct str s = read_stream(a, f);
    (void)fclose(f);
    return s;
}

void file_write(const char *path, struct str bytes)
{
    FILE *f = fopen(path, "wb");
    if (!f || fwrite(bytes.p, 1, bytes.n, f) != bytes.n || fclose(f) != 0) {
        abort();
    }
}

struct str sample(struct arena *a, const char *name)
{
    struct text path = text_new(a);
    text_join(&path, getenv("WITMARK_PRINT_DATA"), "/", name, ".json", (char *)0);
    struct str s = file_read(a, text_z(&path));
    if (!s.n) {
        (void)fprintf(stderr, "%s cannot be read\n", text_z(&path));
        abort();
    }
    return s;
}

struct str command(struct arena *a, const char *line, int *status)
{
    FILE *f = popen(line, "r");
    if (!f) {
        abort();
    }
    struct str s = read_stream(a, f);
    int ended = pclose(f);
    *status = WIFEXITED(ended) ? WEXITSTATUS(ended) : -1;
    return s;
}

bool have(const char *program)
{
    char line[200];
    (void)snprintf(line, sizeof line, "command -v %s >/dev/null", program);
    return system(line) == 0;
}

struct str squeezed(struct arena *a, struct str s)
{
    struct text t = text_new(a);
    for (size_t i = 0; i < s.n; i++) {
        if (!strchr(" \t\r\n\f", s.p[i])) {
            text_char(&t, s.p[i]);
        }
    }
    return text_str(&t);
}
