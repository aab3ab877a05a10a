/* What applies to one serial number: a service book after every variant has been chosen.
 *
 * A book file (src/book) holds variants by serial range and option. Resolving a machine gives exactly one struct book,
 * which is all that judging, forecasting, ordering a round and printing a sheet ever see. It is plain data in one
 * arena: arrays with counts, references as indices into the arrays of the same book (BOOK_NONE = none), values in SI
 * beside the quantity as it was written, and for everything the line of the book it came from, so that any figure can
 * be asked "why".
 */
#ifndef WITMARK_BOOK_H
#define WITMARK_BOOK_H

#include "base/err.h"
#include "base/text.h"
#include "quantity/quantity.h"

#include <stdbool.h>
#include <stdint.h>

#define BOOK_NONE (-1)
#define BOOK_VARIABLES_MAX 12 /* condition variables of a machine */
#define BOOK_VALUES_MAX 16    /* values of one variable */

/* Line and column in the book file, from 1. */
struct book_pos {
    uint32_t line, column;
};

/* Indices into one of the book's arrays. */
struct book_refs {
    const int *at;
    int n;
};

struct book_texts {
    const struct str *at;
    int n;
};

/* A short word and what it stands for, e.g. a tool and where it is stowed. */
struct book_pair {
    struct str name, text;
};
struct book_pairs {
    const struct book_pair *at;
    int n;
};

/* A quantity as written and its value in SI. unit null in `q` with value 0 and `given` false = the book says nothing.
 */
struct book_quantity {
    bool given;
    struct quantity q;
    double si;
};

/* A partial condition: per variable a bit mask of allowed values, bit v = value v; 0 = the variable does not matter. */
struct book_condition {
    uint16_t allow[BOOK_VARIABLES_MAX];
};

/* A condition variable, e.g. engine: off, low-idle, working. Value 0 is the parked one. */
struct book_variable {
    struct book_pos pos;
    struct str name, label;
    const struct str *values;
    int n_values;
};

/* A combination that must not exist, whatever the order. */
struct book_never {
    struct book_pos pos;
    struct book_condition when;
    struct str why;
};

/* A drawing in the book's folder and its numbered marks. */
struct book_mark {
    struct str label;
    int number;  /* as drawn */
    double x, y; /* in the drawing, 0..1 from its upper left corner */
};
struct book_figure {
    struct book_pos pos;
    struct str name, title, file; /* file: relative to the book, SVG or PNG */
    const struct book_mark *marks;
    int n_marks;
};
/* "figure: engine-left, mark: 3" */
struct book_shown {
    int figure; /* BOOK_NONE = not shown */
    int mark;   /* number as drawn, 0 = the figure as a whole */
};

struct book_place {
    struct book_pos pos;
    struct str name, label;
    double x_m, y_m;             /* plan view, metres from the rear left corner: x to the right, y forward */
    struct book_condition needs; /* to be there at all, e.g. under the body: propped */
    struct book_shown shown;
};

/* Signal words of ANSI Z535 / ISO 3864-2. */
#define BOOK_CAUTION_LEVELS(X)    \
    X(CAUTION_NOTICE, "NOTICE")   \
    X(CAUTION_CAUTION, "CAUTION") \
    X(CAUTION_WARNING, "WARNING") \
    X(CAUTION_DANGER, "DANGER")
enum book_caution_level {
#define X(symbol, word) symbol,
    BOOK_CAUTION_LEVELS(X)
#undef X
};
struct book_caution {
    struct book_pos pos;
    struct str name;
    enum book_caution_level level;
    struct str say; /* at most three short lines */
};

/* Something that can be opened, shut off, propped, released, unplugged and must be put back. */
struct book_open_item {
    struct book_pos pos;
    struct str name, label;           /* "sump-plug", "Sump plug is out" */
    struct book_condition while_open; /* must hold as long as it is open, e.g. engine: off */
};

/* An allowed transition of the machine's condition. */
struct book_change {
    struct book_pos pos;
    struct str name;               /* given or made from `act` */
    struct str act;                /* what to do: "Start the engine and leave it at low idle" */
    struct book_condition from;    /* must hold before */
    int8_t to[BOOK_VARIABLES_MAX]; /* value after, or BOOK_NONE = unchanged */
    int place;                     /* where it is done; BOOK_NONE = anywhere */
    double takes_s;
    struct book_refs cautions, opens, closes; /* cautions; open items */
    struct book_texts tools;
    struct book_shown shown;
    bool waiting; /* passes by itself: cooling down */
};

struct book_fluid {
    struct book_pos pos;
    struct str name, label;
    struct str is; /* specification: "ISO 3448 VG 46, DIN 51524-3 HVLP" */
    struct book_quantity capacity;
    double viscosity_40_m2s, viscosity_100_m2s; /* 0 = not given; for corrections to reference viscosity */
    struct str note;
    bool waste; /* what is drained goes back as hazardous waste */
};

struct book_part {
    struct book_pos pos;
    struct str name, label;
    struct str number;       /* as in the book */
    struct str now;          /* after supersession: the last number of the chain (= number when none) */
    struct book_texts chain; /* every number from `number` to `now` */
    int pack;                /* pieces per pack, at least 1 */
    int keep;                /* pieces to hold in stock, 0 = none */
    double lead_s;           /* from order to shelf; 0 = not said */
};

struct book_torque {
    struct book_pos pos;
    struct str name, label; /* "wheel-nut/front" has name and label of its own */
    struct book_quantity torque;
    struct book_quantity again_after; /* machine hours after refitting */
    struct str thread;
    struct str note;
};

enum book_checkpoint_kind { CHECK_DONE_BY, CHECK_MEASURE, CHECK_LOOK };
#define BOOK_LATE(X) /* what it means to be late, worst last */ \
    X(LATE_WEAR, "wear")                                        \
    X(LATE_DAMAGE, "damage")                                    \
    X(LATE_SAFETY, "safety")
enum book_late {
#define X(symbol, word) symbol,
    BOOK_LATE(X)
#undef X
};

/* How a reading is brought to what its limits mean before it is judged: the first word of `refer-to`. What each one
 * reads, gives and needs: core/judge/correction.h. */
#define BOOK_CORRECTIONS(X)                                                                                  \
    X(CORRECT_NONE, "as read")                                                                               \
    X(CORRECT_COLD, "cold")               /* tyre pressure to the cold temperature, by the gas law */        \
    X(CORRECT_VISCOSITY, "viscosity")     /* filter pressure drop to a fluid's viscosity at a temperature */ \
    X(CORRECT_BATTERY, "battery")         /* rest voltage or specific gravity, rested, to a temperature */   \
    X(CORRECT_CHARGE, "charge")           /* rest voltage or specific gravity to state of charge */          \
    X(CORRECT_CHARGING, "charging")       /* charging voltage to a temperature */                            \
    X(CORRECT_CRANKING, "cranking")       /* voltage while cranking to a temperature */                      \
    X(CORRECT_FREEZING, "freezing")       /* coolant's share or specific gravity to its freezing point */    \
    X(CORRECT_BOILING, "boiling")         /* the same to its boiling point under a cap */                    \
    X(CORRECT_TENSION, "tension")         /* a belt's deflection, or force at one, to its tension */         \
    X(CORRECT_ELONGATION, "elongation")   /* a chain's length over some pitches to its elongation */         \
    X(CORRECT_NUT, "nut")                 /* torque set at a wrench with an extension to that at the nut */  \
    X(CORRECT_CONSUMPTION, "consumption") /* level and top-ups since an earlier level to volume per hour */  \
    X(CORRECT_LEAK, "leak")               /* level or pressure and an earlier one to the time left */
enum book_correction {
#define X(symbol, word) symbol,
    BOOK_CORRECTIONS(X)
#undef X
};

/* A figure of the book that a correction takes, e.g. span: 320 mm. */
struct book_given {
    struct str name;
    struct quantity value;
};

/* What is read with a value must lie here for it to be judged at all, e.g. engine speed: 900 .. 1000 1/min. */
struct book_judged_at {
    struct str name;
    struct quantity_range range;
};

/* What must be read together with a value, e.g. oil temperature. */
struct book_also {
    struct str name;
    const struct unit *unit;
};

/* Anything on the machine that has a limit. */
struct book_checkpoint {
    struct book_pos pos;
    struct str name, label;
    enum book_checkpoint_kind kind;
    struct str system; /* engine, cooling, air, fuel, hydraulic, electric, tyres, drive, safety ... */
    int place;
    struct book_condition needs; /* the condition it must be read in */
    struct book_shown shown;
    double takes_s; /* time of the check itself */
    struct book_refs cautions;
    struct book_texts tools;
    struct book_refs after;               /* checkpoints that come before it in a round */
    struct interval every, first, severe; /* severe applies on machines marked as severe duty */
    enum book_late late;
    int task;  /* CHECK_DONE_BY: the task that resets it */
    int mends; /* the task that puts an "out" right; BOOK_NONE = not said */
    /* CHECK_MEASURE */
    struct str measure;           /* what is read: "pressure", "rest voltage" */
    struct quantity_range limits; /* as written */
    double low_si, high_si;       /* -INFINITY / INFINITY when open */
    struct book_quantity want;
    struct quantity_range gauge;      /* range of the gauge; unit null = not given */
    struct book_quantity uncertainty; /* of the gauge, when stated */
    enum book_correction correction;
    double reference_k;  /* reference temperature; NAN = the correction has none */
    int reference_fluid; /* BOOK_NONE = none */
    bool propylene;      /* of a coolant; otherwise ethylene glycol */
    const struct book_given *given;
    int n_given;
    const struct book_judged_at *judged_at;
    int n_judged_at;
    const struct book_also *also;
    int n_also;
    int bus_spn; /* SAE J1939 signal that reads it, 0 = none */
    /* CHECK_LOOK */
    struct book_texts look; /* what to look for */
};

/* Parts and fluids that a task uses. */
struct book_use {
    int item;                     /* part or fluid */
    double quantity;              /* pieces, or m3 */
    struct book_quantity written; /* of a fluid; when not given its capacity counts */
};

/* A figure of a step that a calculation gives: strokes of the gun, the wrench's setting, litres to drain. */
struct book_work_out {
    bool given;
    struct str calc, result; /* names of the calculation and of its output */
    struct str from;         /* its inputs as written: "torque 190 N·m (wheel-nut/front), wrench 450 mm" */
    struct quantity value;   /* of a number */
    struct str text;         /* of anything else; null for a number */
};

struct book_step {
    struct book_pos pos;
    struct str act;
    int place;                   /* BOOK_NONE = that of the step before, or of the task */
    struct book_condition needs; /* together with the task's */
    double takes_s;
    struct book_refs cautions, opens, closes, torques;
    struct book_texts tools;
    struct str waste; /* what is left to take back */
    struct str undo;  /* recovery: the words of the reverse step */
    struct book_work_out work_out;
    struct book_shown shown;
};

struct book_task {
    struct book_pos pos;
    struct str name, label;
    int place;
    struct book_condition needs;
    double labour_s;                    /* as stated; the sum of the steps when not */
    struct book_texts tools, equipment; /* tools; protective equipment */
    const struct book_use *parts;
    int n_parts;
    const struct book_use *fluids;
    int n_fluids;
    struct book_refs cautions, torques;
    struct book_refs after;   /* tasks that come before it when both are in a round */
    struct book_refs adjusts; /* adjusters that it settles: the sheet has a ledger for each */
    const struct book_step *steps;
    int n_steps;
};

/* A named bundle, e.g. daily, 500 h service. */
struct book_service {
    struct book_pos pos;
    struct str name, label;
    struct book_refs checkpoints, tasks;
};

struct book_adjuster {
    struct book_pos pos;
    struct str name, label;
    int place;
    struct book_condition needs;
    struct book_texts first;          /* what must be true before: "rake lowered to the ground" */
    struct book_pairs confirm;        /* of that, what is to be confirmed at every step: "load-supported", in words */
    struct str circuit;               /* hydraulic circuit; one adjuster of a circuit is tried at a time */
    bool turn_in;                     /* direction that the book tries first: in (clockwise) or out */
    double first_step, step, at_most; /* turns */
    struct str between, watch, note;
    struct book_refs cautions;
    struct book_shown shown;
};

/* What the machine does, or what can be seen with it. */
struct book_symptom {
    struct book_pos pos;
    struct str name, label;
    struct book_texts says;  /* the technician's words */
    struct str part;         /* on which part of the machine */
    bool clue;               /* only asked about in a trace; none starts from it */
    struct book_texts codes; /* fault codes that are this sign: "110/0", "110" (whatever the FMI) */
    double by_itself;        /* chance that it is seen without any of its causes */
    double takes_s;          /* to look for it */
    struct book_refs cautions;
    struct book_refs not_with; /* symptoms that it makes no sense to look for together with this one */
};

#define BOOK_DEEDS(X)          \
    X(DEED_REPAIR, "repair")   \
    X(DEED_LOOK, "look")       \
    X(DEED_MEASURE, "measure") \
    X(DEED_ADJUST, "adjust")   \
    X(DEED_SWAP, "swap")       \
    X(DEED_HELP, "call for help")
enum book_deed {
#define X(symbol, word) symbol,
    BOOK_DEEDS(X)
#undef X
};

/* A look or a measurement that tells causes apart: it comes out yes or no. */
struct book_test {
    struct book_pos pos;
    struct str name, label;
    enum book_deed kind;
    struct str act;     /* what to do, as an order */
    struct str yes, no; /* what it shows then */
    int place;
    struct book_condition needs;
    double takes_s, cost_s; /* time; what is used up, as time of the same worth */
    struct book_refs cautions;
    struct book_texts tools;
    struct book_shown shown;
    int checkpoint;   /* whose reading out of limits is a yes; BOOK_NONE = by eye */
    double by_itself; /* chance of a yes without any of its causes */
};

/* A named thing and a number: the chance that a cause shows a symptom, how many times likelier it makes it. */
struct book_share {
    int item;
    double value;
};
struct book_shares {
    const struct book_share *at;
    int n;
};

struct book_cause {
    struct book_pos pos;
    struct str name, label;
    double weight;
    struct book_shares shows;     /* symptoms: chance that it shows them */
    struct book_shares proves;    /* tests: chance of a yes */
    struct book_shares reads_out; /* checkpoints: chance that the reading is out */
    struct book_shares after;     /* tasks: times likelier when that was done lately */
    struct book_shares left_open; /* put-back items: times likelier when it is open */
    int wears;                    /* task that renews what wears; BOOK_NONE = it does not age */
    double life_s;                /* machine time that it lasts; 0 = the interval of that task */
    struct str mends, test, note; /* task, adjuster or words */
    enum book_deed kind;          /* of the repair */
    int place;
    struct book_condition needs;
    double takes_s, cost_s; /* of the repair, when mends is no task */
    double cures;           /* chance that the repair cures it; 0 = not said */
    struct book_refs cautions;
    struct book_texts tools;
    int mode, mechanism, root; /* words of failure_words.h, 0 = not said */
};

/* Calling for help: what it costs when nothing here cures it. */
struct book_help {
    bool given;
    struct book_pos pos;
    struct str label;
    double takes_s;
};

/* Fuses and relays. */
struct book_fuse {
    struct book_pos pos;
    struct str name, label, position; /* position in the box as printed on it */
    int place;
    double rating_a; /* 0 = a relay */
    struct str protects;
};

/* A kind of work, as far as the exhaust filter feels it. */
struct book_duty {
    struct book_pos pos;
    struct str name, label;
    double made;   /* soot an hour, of the gauge's 100 % */
    double burnt;  /* share of the soot that burns off an hour by itself */
    double finish; /* chance an hour that a burn the engine has begun by itself comes to its end */
    double share;  /* of the usual hours */
};

/* The exhaust filter. Loads are shares of what the gauge calls full. */
struct book_exhaust {
    bool given;
    struct book_pos pos;
    int soot, ash, burn; /* the checkpoint read by the gauge, the one of cleaning, the task of a parked burn */
    double begin, demand, derate, past;
    double active_leaves, parked_leaves;
    double spread, scatter; /* of the rates between machines; of a day's work */
    double burn_s, cool_s;
    struct book_texts inhibit; /* places that forbid burning while working, besides those that always do */
    int oil;                   /* fluid; BOOK_NONE = no ash by mass balance */
    double oil_m3_per_h, oil_spread, oil_density_kgm3, oil_ash, retained;
    double volume_m3, ash_limit_kgm3;
};

/* Moving a dead machine. */
struct book_recovery {
    bool given;
    struct book_pos pos;
    struct book_quantity distance, speed, slope, time, load; /* at most */
    struct book_quantity mass;                               /* of the machine, ready to work */
    struct book_texts tools, equipment;
    struct book_pairs stowed; /* tool, as in `tools`, and where it is kept */
    struct book_refs cautions;
    const struct book_step *steps;
    int n_steps; /* the way back is these, reversed, with their `undo` words */
};

struct book {
    struct str id, title, maker, edition; /* edition as the book names it */
    struct str hash;                      /* "sha256:..." of the file */
    struct str file;                      /* for `where` */
    struct str serial;                    /* the serial number this was resolved for */
    uint32_t serial_number;               /* its counted part */
    struct book_texts options;            /* fitted, in the book's order */
    struct str first_words;               /* what every sheet says on top: defer to the maker's manual ... */

    const struct book_variable *variables;
    int n_variables;
    const struct book_never *nevers;
    int n_nevers;
    const struct book_figure *figures;
    int n_figures;
    const struct book_place *places;
    int n_places;
    const struct book_caution *cautions;
    int n_cautions;
    const struct book_open_item *open_items;
    int n_open_items;
    const struct book_change *changes;
    int n_changes;
    const struct book_fluid *fluids;
    int n_fluids;
    const struct book_part *parts;
    int n_parts;
    const struct book_torque *torques;
    int n_torques;
    const struct book_checkpoint *checkpoints;
    int n_checkpoints;
    const struct book_task *tasks;
    int n_tasks;
    const struct book_service *services;
    int n_services;
    const struct book_adjuster *adjusters;
    int n_adjusters;
    const struct book_symptom *symptoms;
    int n_symptoms;
    const struct book_cause *causes;
    int n_causes;
    const struct book_test *tests;
    int n_tests;
    struct book_help help;
    const struct book_fuse *fuses;
    int n_fuses;
    struct book_recovery recovery;
    const struct book_duty *duties;
    int n_duties;
    struct book_exhaust exhaust;
    int start_place; /* where a round starts and ends; place 0 unless the book says */
};

/* Index of the named thing, or BOOK_NONE. Linear; books are small. */
int book_find_checkpoint(const struct book *b, struct str name);
int book_find_task(const struct book *b, struct str name);
int book_find_part(const struct book *b, struct str name);
int book_find_fluid(const struct book *b, struct str name);
int book_find_place(const struct book *b, struct str name);
int book_find_service(const struct book *b, struct str name);
int book_find_adjuster(const struct book *b, struct str name);
int book_find_open_item(const struct book *b, struct str name);
int book_find_symptom(const struct book *b, struct str name);
int book_find_cause(const struct book *b, struct str name);
int book_find_test(const struct book *b, struct str name);

/* "Set the wrench (setting 168 N·m)": the step's words with the figure worked out for it, when it has one. */
void text_step(struct text *t, const struct book_step *step, enum unit_system system);

const char *book_caution_level_text(enum book_caution_level level);
const char *book_late_text(enum book_late late);
const char *book_deed_text(enum book_deed deed);
const char *book_correction_text(enum book_correction correction);

/* Both must hold: variable by variable the values that both allow. False when a variable is left with none. */
bool book_condition_both(struct book_condition a, struct book_condition b, struct book_condition *both);
/* "engine at low idle or off, body propped" from the book's labels; empty when nothing matters. */
void text_condition(struct text *t, const struct book *b, struct book_condition c);

#endif
