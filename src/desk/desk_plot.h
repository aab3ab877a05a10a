/* Pictures of checkpoints: readings, resets, limits and the band of the forecast, made from the log. */
#ifndef WITMARK_DESK_PLOT_H
#define WITMARK_DESK_PLOT_H

#include "desk.h"

#include "plot/plot.h"

/* The picture of one checkpoint of a machine. What is measured is drawn over time (over machine hours when it wears by
 * them), every reading brought to its reference condition, with the line of its trend since the last reset. What goes
 * by hours is drawn as the hours since it was last done, what goes by the calendar alone as the days. Units as the desk
 * shows them. Lives in `a`. Errors: ERR_MISSING no such machine or checkpoint (names the nearest); ERR_REFUSED nothing
 * to draw, with the reason. */
bool desk_plot(struct desk *d, struct str machine, struct str checkpoint, struct arena *a, struct plot *out,
               struct err *e);

/* Puts the plot's own words into a language: "en" (also empty), "es". Errors: ERR_USAGE another one. */
bool desk_plot_language(struct plot *plot, struct str language, struct err *e);

/* Names of the checkpoints of which there is something to draw, in the book's order. */
bool desk_plots_of(struct desk *d, struct str machine, struct arena *a, const struct str **names, size_t *n,
                   struct err *e);

/* The document of several pictures, for the printing program (docs/print.md). No names = all there are. */
bool desk_print_plots(struct desk *d, struct str machine, const struct str *names, size_t n, struct str paper,
                      struct text *out, struct err *e);

/* The data of a picture: days as RFC 3339 instants in UTC, docs/json.md. */
void desk_plot_json(struct json *j, const struct desk *d, const struct plot *plot);

#endif
