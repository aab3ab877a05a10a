/* A machine's bus: recordings of SAE J1939 traffic, what they say, and the log entries that could be made of them.
 *
 *     recording text -> frames -> messages, readings, faults -> summary -> proposals
 *     bus_recording     bus_decoder                             bus_summary   feed_bus_read
 *
 * Each stage knows only the struct before it: a live bus or another file format is one more bus_source, a telematics
 * snapshot one more maker of proposals. Everything works on memory; nothing here opens a file or a socket, and nothing
 * is ever sent. Rules and sources: docs of the wire format are named beside each function (J1939-21 transport, -71
 * signals, -73 faults, -81 address claims, all by public implementations; see data/README.md).
 *
 * Texts in results live in the arena or are borrowed from the recording's text, which must outlive them.
 */
#ifndef WITMARK_FEED_BUS_H
#define WITMARK_FEED_BUS_H

#include "base/date.h"
#include "base/err.h"
#include "base/json.h"
#include "base/text.h"

#include <stdbool.h>
#include <stdint.h>

/* ---- frames ------------------------------------------------------------------------------------------------- */

enum bus_frame_kind {
    BUS_FRAME_29,     /* the only kind that can be J1939 */
    BUS_FRAME_11,     /* short identifier */
    BUS_FRAME_REMOTE, /* asks, carries no data */
    BUS_FRAME_ERROR,  /* the controller reports a disturbed bus */
    BUS_FRAME_FD,     /* CAN FD; its data are not kept */
};
#define BUS_FRAME_KINDS 5

struct bus_frame {
    int64_t time_us;      /* as the source counts: since 1970 or since its start */
    struct str interface; /* "can0" */
    enum bus_frame_kind kind;
    uint32_t id;
    uint8_t n; /* data bytes, 0..8 (FD: up to 64) */
    uint8_t data[8];
    uint32_t line; /* of the recording; 0 = live */
};

/* Where frames come from; next returns false at the end. */
struct bus_source {
    bool (*next)(void *ctx, struct bus_frame *frame);
    void *ctx;
};

/* ---- recordings --------------------------------------------------------------------------------------------- */

enum bus_format { BUS_FORMAT_CANDUMP, BUS_FORMAT_ASC };

/* What the times of a recording mean. */
enum bus_clock {
    BUS_CLOCK_NONE,  /* since the start, which is not known (or counted from the logger's power-on) */
    BUS_CLOCK_UTC,   /* since 1970 */
    BUS_CLOCK_LOCAL, /* since start_ms, which is the writer's local time taken for UTC */
};

/* A recording being read line by line. Fields behind the marked line are for the readers. */
struct bus_recording {
    struct arena *a;
    struct diags *findings;
    struct str name;
    enum bus_format format;
    enum bus_clock clock;
    instant_ms start_ms;   /* of time_us 0; INSTANT_NONE while clock is BUS_CLOCK_NONE */
    int64_t resolution_us; /* the step of the coarsest time seen, at least 1 */
    uint64_t lines;        /* lines that are not blank */
    uint64_t frames[BUS_FRAME_KINDS];
    uint64_t malformed, other; /* lines that could not be read; lines that are no frames */
    uint64_t backwards;        /* frames whose time is before that of the frame before */
    /* -- */
    struct str rest, line;
    uint32_t number;
    int64_t last_us, asc_us; /* of the last frame; of the last event, for relative times */
    bool hex, relative, any;
    struct str interfaces[256];
};

/* Looks at the text and gets ready to read. `name` and `text` are borrowed; findings (rule "bus-line", level doubt:
 * such a line is left out and the rest is read) go to `findings`. Formats: candump's log file and Vector's ASC, as in
 * shared/can/J1939_RULES.md. Errors: ERR_INPUT when it is neither, with the first line that should have been one. */
bool bus_recording_open(struct bus_recording *r, struct arena *a, struct str name, struct str text,
                        struct diags *findings, struct err *e);
/* The next frame; false at the end. Malformed lines are passed over and reported. */
bool bus_recording_next(struct bus_recording *r, struct bus_frame *frame);
struct bus_source bus_recording_source(struct bus_recording *r);

/* ---- the 29-bit identifier, raw values, NAME ---------------------------------------------------------------- */

#define BUS_EVERYBODY 255
#define BUS_NO_ADDRESS 254

struct bus_id {
    uint32_t pgn;     /* 18 bits: extended data page, data page, format, and for broadcasts the specific byte */
    uint8_t priority; /* 0 highest */
    uint8_t source;
    uint8_t destination; /* BUS_EVERYBODY for broadcasts */
};
struct bus_id bus_id_of(uint32_t id);

enum bus_status { BUS_OK, BUS_RESERVED, BUS_ERROR, BUS_NOT_AVAILABLE };
const char *bus_status_text(enum bus_status status); /* "ok", "reserved", "error", "not available" */

/* The 64-bit NAME of an address claim. */
struct bus_name {
    uint32_t identity;
    uint16_t manufacturer;
    uint8_t ecu_instance, function_instance, function, vehicle_system, vehicle_system_instance, industry_group;
    bool arbitrary_capable;
};
struct bus_name bus_name_of(const uint8_t data[8]);

/* ---- signals ------------------------------------------------------------------------------------------------ */

struct bus_state {
    uint32_t low, high; /* raw values, inclusive */
    enum bus_status status;
    const char *text;
};

/* One signal. value = (raw * scale + offset) / 10^places, in `unit`; a discrete one has the raw value. */
struct bus_signal {
    uint32_t spn, pgn;
    const char *name, *group, *unit, *note;
    uint16_t start_bit; /* from 0, little endian */
    uint8_t bits;       /* 1..32 */
    int64_t scale, offset;
    int places;
    bool discrete;
    uint32_t valid_max, error_low, error_high, not_available_low;
    const struct bus_state *states; /* they come before the limits */
    size_t n_states;
};

/* Sorted by pgn; signals of one pgn in the order in which readings come out. */
struct bus_table {
    const struct bus_signal *at;
    size_t n;
};
extern const struct bus_table bus_table_builtin;

/* The signals of a group: *n of them, null when there is none. */
const struct bus_signal *bus_table_group(const struct bus_table *t, uint32_t pgn, size_t *n);
/* The first signal of that number, null when there is none. */
const struct bus_signal *bus_table_spn(const struct bus_table *t, uint32_t spn);

/* `base` with the rows of a CSV (columns as in data/j1939_signals.csv, in any order; unknown ones are passed over)
 * added or, for a pgn and spn that is there, put in its place. base->n may be 0. Errors: each wrong cell is a finding
 * with line and column (rule "signal-table"); then false and *out is left alone. */
bool bus_table_extend(struct arena *a, const struct bus_table *base, struct str name, struct str csv,
                      struct bus_table *out, struct diags *findings);

/* Status of a raw value, and its value when the status is BUS_OK. */
enum bus_status bus_signal_status(const struct bus_signal *s, uint32_t raw);
double bus_signal_value(const struct bus_signal *s, uint32_t raw);
/* Text of a state, empty when it has none. */
const char *bus_signal_state(const struct bus_signal *s, uint32_t raw);
/* The raw bits; false when the message is too short to hold them. */
bool bus_signal_raw(const struct bus_signal *s, const uint8_t *data, size_t n, uint32_t *raw);

#define BUS_FAILURE_MODES 32
struct bus_failure_mode {
    const char *meaning, *reading, *severity;
};
extern const struct bus_failure_mode bus_failure_modes[BUS_FAILURE_MODES];

/* ---- what the decoder says ---------------------------------------------------------------------------------- */

/* A whole message, in one frame or put together from several; its time is that of the last frame. */
struct bus_message {
    int64_t time_us;
    struct str interface;
    uint32_t pgn;
    uint8_t source, destination;
    bool transported;
    const uint8_t *data; /* borrowed for the call */
    size_t n;            /* 0..1785 */
};

struct bus_reading {
    int64_t time_us;
    struct str interface;
    uint8_t source;
    const struct bus_signal *signal;
    uint32_t raw;
    enum bus_status status;
    double value; /* NaN unless the status is BUS_OK */
};

/* One fault of a DM1 or DM2. */
struct bus_fault {
    uint32_t spn;
    uint8_t failure_mode;
    uint8_t occurrences;    /* 127 = not available */
    bool conversion_method; /* set: the number is uncertain, see spn_candidates */
    uint8_t raw[4];
};
struct bus_fault bus_fault_of(const uint8_t data[4]);
/* What the three old layouts would make of it (conversion method 1): spn_candidates[2] is the layout of today. */
void bus_fault_candidates(const struct bus_fault *f, uint32_t spn_candidates[3]);

/* 2 bits each: 0 off, 1 on, 3 not available; flash: 0 slow, 1 fast, 3 does not flash. */
struct bus_lamps {
    uint8_t protect, amber, red, malfunction;
    uint8_t protect_flash, amber_flash, red_flash, malfunction_flash;
};

struct bus_fault_message {
    int64_t time_us;
    struct str interface;
    uint8_t source;
    bool active; /* DM1; otherwise DM2, previously active */
    struct bus_lamps lamps;
    const struct bus_fault *faults; /* borrowed for the call */
    size_t n;
};

struct bus_claim {
    int64_t time_us;
    struct str interface;
    uint8_t source; /* BUS_NO_ADDRESS: could not get one */
    uint8_t raw[8];
    struct bus_name name;
};

/* Vehicle number (65260), component (65259) or software identification (65242), byte for byte. */
struct bus_identification {
    int64_t time_us;
    struct str interface;
    uint8_t source;
    uint32_t pgn;
    struct str text; /* borrowed for the call */
};

enum bus_transport_outcome {
    BUS_TRANSPORT_COMPLETE,
    BUS_TRANSPORT_GAP, /* a broadcast's packet is missing or out of order */
    BUS_TRANSPORT_TIMEOUT,
    BUS_TRANSPORT_REPLACED, /* the sender began anew */
    BUS_TRANSPORT_ABORTED,  /* by either side */
    BUS_TRANSPORT_UNSEEN,   /* acknowledged, but the listener missed packets */
    BUS_TRANSPORT_LOG_ENDED,
    BUS_TRANSPORT_CROWDED, /* more sessions at once than a bus can have: given up for a newer one */
};
#define BUS_TRANSPORT_OUTCOMES 8
const char *bus_transport_text(enum bus_transport_outcome outcome); /* "log ended" */

struct bus_transport_end {
    int64_t time_us;
    struct str interface;
    uint32_t pgn;
    uint8_t source, destination;
    bool directed; /* RTS/CTS; otherwise broadcast */
    size_t size, packets, packets_of;
    enum bus_transport_outcome outcome;
    const uint8_t *data; /* of a complete one; borrowed for the call */
};

/* Who wants to know; any pointer may be null. */
struct bus_sink {
    void *ctx;
    void (*message)(void *ctx, const struct bus_message *m);
    void (*reading)(void *ctx, const struct bus_reading *r);
    void (*faults)(void *ctx, const struct bus_fault_message *f);
    void (*claim)(void *ctx, const struct bus_claim *c);
    void (*identification)(void *ctx, const struct bus_identification *i);
    void (*transport)(void *ctx, const struct bus_transport_end *t);
};

/* Frames in, events out. Lamps and faults of DM1 come as `faults`, not as readings. Memory: a few kilobytes and the
 * sessions that are open, whatever comes in. */
struct bus_decoder;
struct bus_decoder *bus_decoder_new(struct arena *a, const struct bus_table *table, struct bus_sink sink);
void bus_decoder_frame(struct bus_decoder *d, const struct bus_frame *frame);
void bus_decoder_end(struct bus_decoder *d); /* open sessions end as BUS_TRANSPORT_LOG_ENDED */

struct bus_decoder_counts {
    uint64_t data_without_session; /* data packets of a session whose beginning was not seen */
    uint64_t interfaces_too_many;  /* frames of interfaces past the sixteenth */
    uint64_t announcements_invalid;
};
struct bus_decoder_counts bus_decoder_counts(const struct bus_decoder *d);

/* ---- summary ------------------------------------------------------------------------------------------------ */

/* What the engine did when a value was read. */
enum bus_engine_state { BUS_ENGINE_UNKNOWN, BUS_ENGINE_STOPPED, BUS_ENGINE_CRANKING, BUS_ENGINE_RUNNING };

struct bus_sample {
    int64_t time_us;
    double value;
    double speed_rpm; /* NaN when not known within the last second */
    enum bus_engine_state engine;
    bool steady;    /* speed within 2.5 % for two seconds */
    bool after_run; /* the engine has run earlier in the recording */
};

/* Samples of one signal, thinned evenly when there are many; the first always, in order of coming. */
struct bus_series {
    struct bus_sample *at;
    size_t n, cap;
    int64_t spacing_us;
};

struct bus_signal_summary {
    struct str interface;
    uint8_t source;
    const struct bus_signal *signal;
    uint64_t n[4];                                                                    /* by enum bus_status */
    struct bus_sample first, last, lowest, highest, lowest_cranking, highest_running; /* of status ok */
    uint64_t n_cranking, n_running;
    uint32_t last_raw;
    struct bus_series series;
};

struct bus_fault_summary {
    struct str interface;
    uint8_t source;
    bool active;
    struct bus_fault fault; /* as first seen */
    uint64_t seen;          /* messages that carry it */
    uint8_t occurrences_last;
    int64_t first_us, last_us;
    int64_t gone_us; /* of the first later message of that kind without it; INT64_MIN while the last one has it */
    bool lamp_red, lamp_amber, lamp_protect, lamp_malfunction; /* lit in any message with it */
};

struct bus_lamp_state {
    uint8_t bytes[2]; /* as sent */
    uint64_t messages;
};

struct bus_lamp_summary {
    struct str interface;
    uint8_t source;
    bool active;
    uint64_t messages;
    struct bus_lamp_state *states;
    size_t n, cap;
};

struct bus_summary {
    uint64_t frames[BUS_FRAME_KINDS];
    struct bus_decoder_counts decoder;
    int64_t first_us, last_us;           /* of all frames; INT64_MIN when there is none */
    struct bus_signal_summary **signals; /* with any status; by interface, source, pgn, spn */
    size_t n_signals, cap_signals;
    struct bus_fault_summary *faults; /* by interface, source, active first, spn, failure mode */
    size_t n_faults, cap_faults;
    struct bus_lamp_summary *lamps;
    size_t n_lamps, cap_lamps;
    struct bus_claim *claims; /* different ones; by interface, source */
    size_t n_claims, cap_claims;
    struct bus_identification *identifications; /* different ones; by interface, source, pgn */
    size_t n_identifications, cap_identifications;
    struct bus_transport_end *ended; /* in order of ending; at most BUS_TRANSPORTS_KEPT */
    size_t n_ended, cap_ended;
    uint64_t transports[BUS_TRANSPORT_OUTCOMES]; /* by outcome; all of them */
    uint32_t **groups;  /* messages by pgn: groups[pgn >> 8][pgn & 255]; null pages are all zero */
    uint64_t left_out;  /* faults, claims and texts past a thousand different ones */
    uint8_t digest[32]; /* SHA-256 of the frames: times from the first one, interface by order, identifier, data */
};
#define BUS_TRANSPORTS_KEPT 10000

/* Reads a source to its end and sums it up. Interfaces past the sixteenth are counted, not decoded. */
struct bus_summary *bus_summarise(struct arena *a, const struct bus_table *table, struct bus_source source);
/* As the object described in docs/bus.md: counts, groups, signals, faults, lamps, claims, identifications, transports.
 */
void bus_summary_json(struct json *j, const struct bus_summary *s);

/* ---- readings as text, and check files ---------------------------------------------------------------------- */

/* Every reading that is not "not available", a line each, after the header
 *     time,iface,source_address,pgn,spn,raw,status,value,unit
 * time in seconds with six decimals as the source counts, value empty unless the status is ok. */
void bus_readings_csv(struct text *t, struct arena *a, const struct bus_table *table, struct bus_source source);

struct bus_case_result {
    uint64_t readings, expected;
    uint64_t differences;
    struct str text; /* the first ten differences, a line each, with the line of the expected file */
};
/* Holds a recording against the readings it should give. Times of a candump recording must be the same; those of an ASC
 * recording are counted from its first reading, to its own resolution, and its channels stand for one interface each. A
 * value is the same when it rounds to the expected text. Returns true when nothing differs. Errors: a file that is no
 * recording or no list of readings (then also false, and e is set). */
bool feed_bus_case(struct arena *a, struct str recording_name, struct str recording, struct str expected_name,
                   struct str expected_csv, struct bus_case_result *result, struct err *e);

/* ---- proposals for the log ---------------------------------------------------------------------------------- */

#define FEED_PROPOSAL_KINDS(X)                                                                         \
    X(FEED_METER, "meter")                 /* the engine's hour meter */                               \
    X(FEED_READING, "reading")             /* a measurement with its conditions */                     \
    X(FEED_STATE, "state")                 /* a discrete state; value is its number, note its words */ \
    X(FEED_FAULT_SEEN, "fault-seen")       /* active: from..to are first and last seen */              \
    X(FEED_FAULT_CLEARED, "fault-cleared") /* was active and no longer is */                           \
    X(FEED_FAULT_STORED, "fault-stored")   /* reported as previously active; when is not known */      \
    X(FEED_BURN, "burn")                   /* an active regeneration, from..to */

enum feed_proposal_kind {
#define X(symbol, text) symbol,
    FEED_PROPOSAL_KINDS(X)
#undef X
};
const char *feed_proposal_kind_text(enum feed_proposal_kind kind);

/* What the machine was doing when a reading was taken, as far as it was chosen for it: a book asks for battery voltage
 * at rest or while charging, and those are not the same checkpoint. */
#define FEED_REGIMES(X)                                                        \
    X(FEED_ANY, "any")                                                         \
    X(FEED_STOPPED, "stopped")                                                 \
    X(FEED_CRANKING, "cranking")                                               \
    X(FEED_LOW_IDLE, "low-idle")     /* steady */                              \
    X(FEED_WORKING, "working-speed") /* steady, at least 1.5 times low idle */ \
    X(FEED_RUNNING, "running")       /* steady, at any speed */

enum feed_regime {
#define X(symbol, text) symbol,
    FEED_REGIMES(X)
#undef X
};
const char *feed_regime_text(enum feed_regime regime);

/* "engine speed", 901, "rpm" */
struct feed_condition {
    struct str name;
    double value;
    struct str unit;
};

/* One entry that could be made. */
struct feed_proposal {
    enum feed_proposal_kind kind;
    struct str import_key; /* 64 hex digits: the same recording gives the same keys, whatever file format or name */
    struct str what;       /* stable word: "engine-oil-pressure.low-idle", "fault.100.4" */
    struct str name;       /* for people: "engine oil pressure, steady at low idle" */
    enum feed_regime regime;
    struct str interface;
    uint8_t source; /* address of the sender on the bus */
    uint32_t spn;
    int failure_mode;    /* of a fault; -1 otherwise */
    double value;        /* NaN for faults and burns */
    struct str unit;     /* symbol as in quantity.h: "kPa", "degC", "V", "h", "%" */
    instant_ms at;       /* INSTANT_NONE when the recording has no date and none was given */
    instant_ms from, to; /* the part of the recording it rests on */
    uint64_t count;      /* readings or messages it rests on */
    struct feed_condition *conditions;
    size_t n_conditions, cap_conditions;
    struct str note;  /* plain words */
    struct str doubt; /* why it is doubtful; empty when it is not */
};

/* What the dry run tells besides the proposals and their doubts: what was left out, or is to be looked at, and why. */
struct feed_remark {
    bool refused; /* otherwise doubtful */
    struct str what, why;
};

struct feed_bus_options {
    struct str name;               /* of the recording, for findings */
    const struct bus_table *table; /* null: the built-in one */
    instant_ms started_at;         /* when the first frame was recorded; INSTANT_NONE: as the recording says */
    int offset_minutes;            /* of the writer's local time from UTC, for recordings that carry local time */
    instant_ms now;                /* INSTANT_NONE: don't look for times to come */
};

struct feed_bus_result {
    struct bus_summary *summary;
    enum bus_clock clock;
    uint64_t lines, malformed, other;
    struct feed_proposal *proposals; /* meter, readings, states, burns, faults */
    size_t n_proposals, cap_proposals;
    struct feed_remark *remarks;
    size_t n_remarks, cap_remarks;
};

/* Everything a recording of one machine proposes for its log. The same recording gives the same proposals with the same
 * keys, so that importing again adds nothing. Findings: as bus_recording_open. Errors: ERR_INPUT when it is no
 * recording or holds no 29-bit frame. */
bool feed_bus_read(struct arena *a, struct str recording, const struct feed_bus_options *options,
                   struct feed_bus_result *out, struct diags *findings, struct err *e);

#endif
