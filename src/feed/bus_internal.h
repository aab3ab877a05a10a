/* What the bus files share among themselves. */
#ifndef WITMARK_BUS_INTERNAL_H
#define WITMARK_BUS_INTERNAL_H

#include "feed_bus.h"

/* ---- reading lines (bus_recording.c) ---- */

enum bus_line { BUS_LINE_FRAME, BUS_LINE_OTHER, BUS_LINE_MALFORMED };

/* Each reads r->line, which has no line end, into *frame (zeroed, line number set). */
enum bus_line bus_candump_line(struct bus_recording *r, struct bus_frame *frame);
enum bus_line bus_asc_line(struct bus_recording *r, struct bus_frame *frame);

/* Reports that r->line is wrong at byte `at` (from 0); returns BUS_LINE_MALFORMED. */
enum bus_line bus_line_bad(struct bus_recording *r, size_t at, const char *what, const char *right);

/* Reads decimal "seconds[.fraction]" at *at of s into microseconds, past six digits cut, and the step of its last
 * digit. False when no number is there, it has more than ten digits before or nine behind the point. */
bool bus_seconds(struct str s, size_t *at, int64_t *us, int64_t *step_us);

int bus_hex_digit(char c); /* 0..15, -1 when it is none */
bool bus_is_digit(char c);
bool bus_is_blank(char c); /* blank or tab */

/* ---- transport sessions (bus_transport.c) ---- */

#define BUS_TRANSPORT_MOST 1785
#define BUS_SESSIONS_MOST 256

#define BUS_PGN_TRANSPORT_CONTROL 60416u
#define BUS_PGN_TRANSPORT_DATA 60160u
#define BUS_PGN_ADDRESS_CLAIM 60928u
#define BUS_PGN_FAULTS_ACTIVE 65226u
#define BUS_PGN_FAULTS_PREVIOUS 65227u
#define BUS_PGN_SOFTWARE 65242u
#define BUS_PGN_COMPONENT 65259u
#define BUS_PGN_VEHICLE 65260u

struct bus_session {
    int64_t last_us, wait_us; /* gone when a frame comes later than that */
    size_t interface;         /* index */
    struct str interface_name;
    uint32_t pgn;
    uint8_t source, destination; /* of the data */
    bool directed, cts_seen;
    uint16_t size;
    uint8_t packets, got, block_end; /* block_end: last packet that the last CTS allowed */
    uint8_t have[32];                /* a bit for each packet */
    uint8_t data[255 * 7];
};

/* Sessions that are open; what ends is told to `ended`. */
struct bus_transport {
    struct arena *a;
    struct bus_session **open, **spare;
    size_t n_open, cap_open, n_spare, cap_spare;
    struct bus_decoder_counts counts;
    void (*ended)(void *ctx, const struct bus_transport_end *end);
    void *ctx;
};

/* A frame of TP.CM or TP.DT. */
void bus_transport_frame(struct bus_transport *t, size_t interface, const struct bus_id *id,
                         const struct bus_frame *frame);
/* Ends the sessions whose time is over at now_us. */
void bus_transport_sweep(struct bus_transport *t, int64_t now_us);
/* Ends all sessions. */
void bus_transport_end(struct bus_transport *t, int64_t now_us);

/* ---- representative readings (bus_pick.c) ---- */

/* How one reading is chosen from all of a signal. */
enum bus_pick {
    BUS_PICK_LAST,
    BUS_PICK_HIGHEST, /* with the engine running where that is known */
    BUS_PICK_LOWEST,
    BUS_PICK_CRANKING, /* the lowest while the starter turns the engine */
    BUS_PICK_REST,     /* median with the engine stopped, before it ran where there is such a reading */
    BUS_PICK_LOW_IDLE, /* median at steady low idle */
    BUS_PICK_WORKING,  /* median at steady speeds of at least 1.5 times low idle */
    BUS_PICK_CHARGING, /* median at any steady speed of a running engine */
};

struct bus_picked {
    struct bus_sample sample; /* the reading itself, one that was really sent */
    int64_t from_us, to_us;   /* of those it was chosen from */
    uint64_t count;
    bool after_run; /* at rest, but the engine had run before */
};

/* Chooses; false when no reading qualifies. idle_rpm: see bus_low_idle; NaN when it is not known. */
bool bus_pick(struct arena *a, const struct bus_signal_summary *s, enum bus_pick pick, double idle_rpm,
              struct bus_picked *out);
/* The summary of a signal, of address 0 before others, then of the one that gives it most often; null when nobody does.
 */
const struct bus_signal_summary *bus_signal_best(const struct bus_summary *s, uint32_t spn);
/* Low idle: what the controller says (SPN 188), else the lowest steady speed seen; NaN when the engine never ran
 * steadily. */
double bus_low_idle(const struct bus_summary *s);
/* The sample of a series nearest in time, null when none is within a minute. */
const struct bus_sample *bus_nearest(const struct bus_signal_summary *s, int64_t time_us);

/* ---- making proposals (bus_propose.c, bus_propose_faults.c) ---- */

struct bus_proposer {
    struct arena *a;
    struct feed_bus_result *out;
    double idle_rpm;    /* NaN when not known */
    instant_ms base_ms; /* of base_us; INSTANT_NONE when the recording has no date */
    int64_t base_us;
};

instant_ms bus_instant(const struct bus_proposer *p, int64_t time_us);
/* Adds to the dry run's list, apart from proposals. */
void bus_remark(struct bus_proposer *p, bool refused, struct str what, struct str why);
/* Adds a reason to doubt a proposal. */
void bus_doubt(struct bus_proposer *p, struct feed_proposal *x, struct str why);
void bus_condition(struct bus_proposer *p, struct feed_proposal *x, const char *name, double value, const char *unit);
/* Gives it its key and adds it. */
void bus_propose(struct bus_proposer *p, struct feed_proposal x);

/* Active regenerations with their soot before and after. */
void bus_propose_burns(struct bus_proposer *p);
/* Faults seen, gone, and stored as previously active. */
void bus_propose_faults(struct bus_proposer *p);

/* ---- tables in CSV (bus_csv.c) ---- */

/* RFC 4180 rows over a text: quoted cells, doubled quotes, quoted line ends. */
struct bus_csv {
    struct arena *a; /* unquoted cells live there */
    struct str rest;
    uint32_t line; /* of the row last read */
    uint32_t next_line;
    struct str *cell;
    struct where *at; /* line and column (from 1, in bytes) of each cell */
    size_t n, cap_cell, cap_at;
};
struct bus_csv bus_csv_new(struct arena *a, struct str text);
/* The next row that is not blank; cells stay until the next call. False at the end. */
bool bus_csv_next(struct bus_csv *c);
/* Index of a header cell, -1 when it is not there. */
ptrdiff_t bus_csv_column(const struct bus_csv *c, struct str name);

#endif
