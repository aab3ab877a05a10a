/* witmark plot: readings and reserves as a picture, in letters on a terminal. */
#include "cli.h"

#include "desk_plot.h"

#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

/* Columns of the terminal; 80 where there is none. */
static int terminal_columns(void)
{
    struct winsize size = {0};
    return isatty(1) && ioctl(1, TIOCGWINSZ, &size) == 0 && size.ws_col >= 40 ? (int)size.ws_col : 80;
}

static int list_names(struct call *c)
{
    const struct str *names = NULL;
    size_t n = 0;
    if (!desk_plots_of(c->desk, str_of(c->arguments[0]), &c->arena, &names, &n, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        json_begin_array(&j, NULL);
        for (size_t i = 0; i < n; i++) {
            json_str(&j, NULL, names[i]);
        }
        json_end_array(&j);
        text_char(&t, '\n');
        return print_text(&t);
    }
    for (size_t i = 0; i < n; i++) {
        text_add(&t, names[i]);
        text_char(&t, '\n');
    }
    if (n == 0) {
        text_addz(&t, "nothing to draw yet: record readings or work done\n");
    }
    return print_text(&t);
}

static int in_letters(struct call *c, const struct plot *plot)
{
    struct text t = text_new(&c->arena);
    text_add(&t, plot->machine);
    text_addz(&t, "  ");
    text_add(&t, plot->title);
    text_addz(&t, plot->unit.n ? ", " : "");
    text_add(&t, plot->unit);
    text_char(&t, '\n');
    text_add(&t, plot->says);
    text_addz(&t, plot->says.n ? "\n" : "");
    int columns = terminal_columns();
    plot_text(&t, plot, columns > 100 ? 100 : columns - 1, 18);
    text_addz(&t, "o in limits  @ close  x out  ? not judged  = limit  : 80 % band  # P10 to P90, V P50  | reset  "
                  "! today  E calendar\n");
    return print_text(&t);
}

/* The kind of file by the name's ending or --format; null for letters. */
static const char *wanted(const struct call *c)
{
    const char *format = option_value(c, "format");
    const char *path = option_value(c, "output");
    if (format) {
        return format;
    }
    if (!path) {
        return NULL;
    }
    struct str name = str_of(path);
    return str_ends(name, S(".svg")) ? "svg" : str_ends(name, S(".png")) ? "png" : "pdf";
}

static int run_plot(struct call *c)
{
    const char *format = wanted(c);
    struct str machine = str_of(c->arguments[0]);
    if (format && strcmp(format, "svg") != 0 && strcmp(format, "png") != 0 && strcmp(format, "pdf") != 0) {
        (void)err_set(&c->err, ERR_USAGE, "pdf, png or svg", "no such format '", format, "'", (char *)0);
        return failed(c);
    }
    struct str *names = ARENA_ARRAY(&c->arena, struct str, c->n);
    for (int i = 1; i < c->n; i++) {
        names[i - 1] = str_of(c->arguments[i]);
    }
    size_t n = (size_t)c->n - 1;
    if (format && (strcmp(format, "svg") != 0 || n != 1)) {
        struct text document = text_new(&c->arena);
        return desk_print_plots(c->desk, machine, names, n, option_str(c, "paper"), &document, &c->err)
                   ? print_document(c, &document, format)
                   : failed(c);
    }
    if (n == 0) {
        return list_names(c);
    }
    struct text t = text_new(&c->arena);
    struct json j = json_new(&t, true);
    if (c->json) {
        json_begin_array(&j, NULL);
    }
    for (size_t i = 0; i < n; i++) {
        struct plot plot;
        if (!desk_plot(c->desk, machine, names[i], &c->arena, &plot, &c->err)) {
            return failed(c);
        }
        if (format) {
            plot_svg(&t, &plot, 700, 300);
            return print_page(c, text_str(&t));
        }
        if (c->json) {
            desk_plot_json(&j, c->desk, &plot);
        } else if (in_letters(c, &plot) != EXIT_FINE) {
            return EXIT_SYSTEM;
        }
    }
    if (c->json) {
        json_end_array(&j);
        text_char(&t, '\n');
        return print_text(&t);
    }
    return EXIT_FINE;
}

static const struct option_def plot_options[] = {
    {"output", 'o', "FILE", "a picture instead of letters; FILE ends in .svg, .png or .pdf"},
    {"format", 0, "FORMAT", "svg, png or pdf, whatever the file's name"},
    {"paper", 'p', "SIZE", "A4 or Letter, for a pdf"},
    END_OF_OPTIONS,
};

const struct command plot_commands[] = {
    {"plot", "MACHINE [NAME...]", 1, 60, "readings, limits and the forecast's band of checkpoints as a picture",
     "On a terminal the picture is of letters. With --output it is a file: one picture as SVG, or pages with all the "
     "names given (without a name, with all there are). Without a name and a file: the names that can be drawn. What "
     "is measured is drawn with its limits and, since it was last put right, its trend with an 80 % band; what goes by "
     "hours as the hours since it was done, with the band of the days on which the limit is reached.",
     plot_options, run_plot, false, false},
    {0},
};
