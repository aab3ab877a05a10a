/* A picture of readings against their limits: what was read, when it was put right, where it may not go, and the band
 * in which it is expected. One description, drawn as SVG (for page, print and offline) or in letters (for a terminal).
 *
 * x is days since 1970-01-01 with their fraction, or machine hours; y is in the unit that `unit` names. Nothing here
 * knows a machine or a log. Only one colour is used, `currentColor`, so that a page may set it and print stays black;
 * what differs, differs in shape, thickness and words.
 */
#ifndef WITMARK_PLOT_H
#define WITMARK_PLOT_H

#include "base/date.h"

struct plot_xy {
    double x, y;
};

/* How a reading is marked: filled in limits, half filled close to them, a cross when out, hollow when not judged. */
enum plot_mark { PLOT_IN, PLOT_CLOSE, PLOT_OUT, PLOT_HOLLOW };

struct plot_reading {
    double x, y;
    double spread; /* uncertainty to both sides, NAN = not stated */
    enum plot_mark mark;
};

/* What began a new count or trend: a filter changed, oil changed, a tyre inflated. */
struct plot_reset {
    double x;
    struct str label; /* may be empty */
};

struct plot {
    struct str title;   /* "Hydraulic return filter" */
    struct str machine; /* "B-03 BR6-02204" */
    struct str unit;    /* "bar" */
    struct str says;    /* what the picture comes to, one sentence */
    bool by_hours;      /* x is machine hours, else days */
    double now;         /* where x is today; NAN = not shown */
    double low, high;   /* limits; NAN = none that way */
    double end;         /* x of a limit in time, as the calendar sets it; NAN = none */
    struct str end_label;
    const struct plot_reading *readings;
    size_t n_readings;
    const struct plot_xy *line; /* joined from one to the next; a NAN breaks it */
    size_t n_line;
    const struct plot_reset *resets;
    size_t n_resets;
    /* The band, and the middle of it: both borders have the same number of points, going away from now. */
    const struct plot_xy *band_a, *band_b, *middle;
    size_t n_band;
    /* Where it crosses a limit with a probability of 10, 50 and 90 %, at height `crossing_y`; NAN = not known. */
    double p10, p50, p90, crossing_y;
    const struct str *months;                    /* [12] short names for the days' axis; null = English */
    struct str word_now, word_limit, word_hours; /* "today", "limit", "machine hours"; empty = English */
};

/* What is shown of it: the data, the limits near them, the band as far as it matters. */
struct plot_view {
    double x0, x1, y0, y1;
};
/* Room is left around the data. A plot without a single finite number gets x 0 to 1, y 0 to 1. */
struct plot_view plot_view_of(const struct plot *p);

/* Marks of an axis at round numbers: at most `most` in [from, to]. step is a power of ten times 1, 2 or 5. */
struct plot_ticks {
    double first, step;
    int n;
    int decimals; /* that the step needs */
};
struct plot_ticks plot_ticks_of(double from, double to, int most);
/* What stands at a mark: as many decimals as the step needs; beyond ten million with an exponent. */
void plot_tick_label(struct text *t, double at, int decimals);

/* Marks of an axis of days: at the beginning of days, Mondays, months, quarters or years. At most `most`, at least one
 * when the span is longer than a day. */
#define PLOT_DAYS_MOST 24
struct plot_day_ticks {
    double at[PLOT_DAYS_MOST];
    int n;
    enum plot_day_step { PLOT_BY_DAY, PLOT_BY_WEEK, PLOT_BY_MONTH, PLOT_BY_QUARTER, PLOT_BY_YEAR } step;
};
struct plot_day_ticks plot_day_ticks_of(double from, double to, int most);
/* "4 Sep", "Sep 2026" or "2026", as the step wants it. */
void plot_day_label(struct text *t, double at, enum plot_day_step step, const struct str *months);

/* A whole SVG 1.1 document of width w and height h (CSS pixels; at least 240 x 140), with a title and a description
 * for who cannot see it. Deterministic. Texts are escaped; characters that XML does not allow become U+FFFD. */
void plot_svg(struct text *out, const struct plot *p, double w, double h);

/* Lines of `columns` characters (24 to 240) and `rows` (5 to 60), axes included, each ended by a line feed: o a reading
 * in limits, @ close, x out, ? not judged; = a limit, : the band, # from P10 to P90 with V at P50, | a reset, ! today,
 * E the end by the calendar. Scratch in out's arena. */
void plot_text(struct text *out, const struct plot *p, int columns, int rows);

#endif
