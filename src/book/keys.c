/* The one table of keys. Reading, unknown keys, the JSON Schema, the reference page and the comparison of books all
 * walk it, so a key is added here, in book.h, and nowhere else - unless its value has a form of its own (special.c). */
#include "bookfile_internal.h"

#include "trace/failure_words.h"

#include <string.h>

#define SHAPE_OF(type, field) (uint16_t) offsetof(type, field)

/* clang-format off */
static const struct key keys[] = {
#define K(section, type, field, key, value, arg, flags, line) \
    {section, key, value, arg, flags, SHAPE_OF(type, field), line},
#define KX(section, key, value, arg, flags, line) {section, key, value, arg, flags, NO_OFFSET, line},

#define B(...) K(SEC_BOOK, struct book, __VA_ARGS__)
    B(id, "book", T_ID, 0, KEY_REQUIRED | KEY_HEAD, "the book's own short name; entries of the log name it")
    B(title, "title", T_TEXT, 0, KEY_REQUIRED | KEY_HEAD, "model family in words")
    B(maker, "maker", T_TEXT, 0, KEY_REQUIRED | KEY_HEAD, "who made the machine")
    B(edition, "edition", T_TEXT, 0, KEY_REQUIRED | KEY_HEAD, "edition of this book, e.g. a month")
    KX(SEC_BOOK, "serials", T_MAPPING, SEC_SERIALS, KEY_REQUIRED | KEY_HEAD | KEY_READ, "which serial numbers the book is for")
    KX(SEC_BOOK, "options", T_OPTIONS, SEC_OPTION, KEY_HEAD, "what a machine may be fitted with")
    B(first_words, "first-words", T_TEXT, 0, 0, "stands on top of every sheet")
    B(start_place, "start", T_REF, SEC_PLACE, 0, "place where a round starts and ends; the first place when left out")
    B(places, "places", T_ENTRIES, SEC_PLACE, KEY_REQUIRED, "where one can stand at the machine")
    B(variables, "conditions", T_ENTRIES, SEC_VARIABLE, KEY_REQUIRED, "the condition of the machine, a few variables")
    B(nevers, "never", T_ITEMS, SEC_NEVER, 0, "combinations that must never exist, in whatever order things are done")
    B(open_items, "put-back", T_ENTRIES, SEC_OPEN, 0, "everything that is opened, shut off, propped, and must be put back")
    B(changes, "changes", T_ITEMS, SEC_CHANGE, 0, "the allowed changes of the condition")
    B(fluids, "fluids", T_ENTRIES, SEC_FLUID, 0, "oils, coolant, grease, fuel")
    B(parts, "parts", T_ENTRIES, SEC_PART, 0, "parts with their numbers")
    B(torques, "torques", T_ENTRIES, SEC_TORQUE, 0, "screwed joints")
    B(cautions, "cautions", T_ENTRIES, SEC_CAUTION, 0, "warnings, shown before the step they guard")
    B(figures, "figures", T_ENTRIES, SEC_FIGURE, 0, "drawings with numbered marks")
    B(checkpoints, "checkpoints", T_ENTRIES, SEC_CHECKPOINT, 0, "everything that has a limit")
    B(tasks, "tasks", T_ENTRIES, SEC_TASK, 0, "work, step by step")
    B(services, "services", T_ENTRIES, SEC_SERVICE, 0, "named bundles: daily round, 500 h service")
    B(adjusters, "adjusters", T_ENTRIES, SEC_ADJUSTER, 0, "screws and valves that are turned in counted steps")
    B(symptoms, "symptoms", T_ENTRIES, SEC_SYMPTOM, 0, "what somebody says is wrong")
    B(causes, "causes", T_ENTRIES, SEC_CAUSE, 0, "what may be behind it")
    B(tests, "tests", T_ENTRIES, SEC_TEST, 0, "looks and measurements that tell causes apart")
    B(help, "help", T_MAPPING, SEC_HELP, 0, "calling for help, when nothing here cures it")
    B(fuses, "fuses", T_ENTRIES, SEC_FUSE, 0, "fuses and relays")
    B(recovery, "recovery", T_MAPPING, SEC_RECOVERY, 0, "moving a dead machine")
    B(duties, "duties", T_ENTRIES, SEC_DUTY, 0, "kinds of work, as far as the exhaust filter feels them")
    B(exhaust, "exhaust", T_MAPPING, SEC_EXHAUST, 0, "the exhaust filter: loads, burns, ash")

    KX(SEC_SERIALS, "pattern", T_PATTERN, 0, KEY_REQUIRED | KEY_HEAD | KEY_READ, "form of a serial number, one run of `#` for the counted digits")
    KX(SEC_SERIALS, "from", T_SERIAL, 0, KEY_REQUIRED | KEY_HEAD | KEY_READ, "the first one")
    KX(SEC_SERIALS, "to", T_SERIAL, 0, KEY_HEAD, "the last one; open upwards when left out")

    KX(SEC_OPTION, "label", T_TEXT, 0, KEY_HEAD, "name for people")

#define P(...) K(SEC_PLACE, struct book_place, __VA_ARGS__)
    P(x_m, "at", T_POINT, 0, KEY_REQUIRED, "metres from the rear left corner, seen from above: x to the right, y forward")
    P(label, "label", T_TEXT, 0, KEY_REQUIRED, "name for people")
    P(needs, "needs", T_CONDITION, 0, 0, "condition in which one may be there")
    P(shown.figure, "figure", T_REF, SEC_FIGURE, 0, "drawing that shows it")
    P(shown.mark, "mark", T_COUNT, 1, 0, "number of the mark in that drawing")

#define V(...) K(SEC_VARIABLE, struct book_variable, __VA_ARGS__)
    V(values, "values", T_VALUES, 0, KEY_REQUIRED, "what it can be; `engine: [off, low-idle]` is short for `engine: { values: [...] }`")
    V(label, "label", T_TEXT, 0, 0, "name for people")

#define N(...) K(SEC_NEVER, struct book_never, __VA_ARGS__)
    N(when, "when", T_CONDITION, 0, KEY_REQUIRED, "the combination; may stand bare: `- { engine: off, body: up }`")
    N(why, "why", T_TEXT, 0, 0, "reason, in words")

#define O(...) K(SEC_OPEN, struct book_open_item, __VA_ARGS__)
    O(label, "label", T_TEXT, 0, 0, "as the put-back list says it: `Sump plug is out`")
    O(while_open, "while-open", T_CONDITION, 0, 0, "must hold as long as it is open")

#define C(...) K(SEC_CHANGE, struct book_change, __VA_ARGS__)
    C(name, "name", T_ID, 0, 0, "made from the words when left out")
    C(act, "do", T_TEXT, 0, KEY_REQUIRED, "what to do, as an order")
    C(from, "from", T_CONDITION, 0, 0, "condition before")
    C(to, "to", T_TO, 0, KEY_REQUIRED, "condition after; what is not named stays")
    C(place, "at", T_REF, SEC_PLACE, 0, "where it is done; anywhere when left out")
    C(takes_s, "takes", T_SI, Q_DURATION, 0, "time")
    C(cautions, "caution", T_REFS, SEC_CAUTION, 0, "said before")
    C(opens, "opens", T_REFS, SEC_OPEN, 0, "goes on the put-back list")
    C(closes, "closes", T_REFS, SEC_OPEN, 0, "comes off the put-back list")
    C(tools, "tools", T_TEXTS, 0, 0, "tools")
    C(shown.figure, "figure", T_REF, SEC_FIGURE, 0, "drawing that shows it")
    C(shown.mark, "mark", T_COUNT, 1, 0, "number of the mark in that drawing")
    C(waiting, "waits", T_YES, 0, 0, "it passes by itself, e.g. cooling down")

#define F(...) K(SEC_FLUID, struct book_fluid, __VA_ARGS__)
    F(label, "label", T_TEXT, 0, 0, "name for people; made from the name when left out")
    F(is, "is", T_TEXT, 0, KEY_REQUIRED, "specification: `ISO 3448 VG 46, DIN 51524-3 HVLP`")
    F(capacity, "capacity", T_QUANTITY, Q_VOLUME, 0, "filling")
    KX(SEC_FLUID, "viscosity", T_VISCOSITY, 0, 0, "at 40 and 100 degrees, for corrections")
    F(note, "note", T_TEXT, 0, 0, "a word of warning or advice")
    F(waste, "waste", T_YES, 0, 0, "what is drained goes back as hazardous waste")

#define R(...) K(SEC_PART, struct book_part, __VA_ARGS__)
    R(label, "label", T_TEXT, 0, 0, "name for people; made from the name when left out")
    R(number, "number", T_TEXT, 0, KEY_REQUIRED, "part number")
    R(chain, "then", T_TEXTS, 0, 0, "number or numbers that replaced it, in order")
    R(pack, "pack", T_COUNT, 1, 0, "pieces in a pack; 1 when left out")
    R(keep, "keep", T_COUNT, 0, 0, "pieces to hold in stock")
    R(lead_s, "lead-time", T_SI, Q_DURATION, 0, "from order to shelf: `10 d`")

#define Q(...) K(SEC_TORQUE, struct book_torque, __VA_ARGS__)
    Q(label, "label", T_TEXT, 0, 0, "name for people; made from the name when left out")
    Q(torque, "torque", T_QUANTITY, Q_TORQUE, 0, "tightening torque; or several positions: `front: 190 N.m`, `rear: 210 N.m`")
    Q(again_after, "again-after", T_QUANTITY, Q_DURATION, 0, "machine hours after which a refitted joint is tightened again")
    Q(thread, "thread", T_TEXT, 0, 0, "thread: `M14x1.5`")
    Q(note, "note", T_TEXT, 0, 0, "a word of warning or advice")

#define W(...) K(SEC_CAUTION, struct book_caution, __VA_ARGS__)
    W(level, "level", T_ENUM, WORDS_LEVEL, KEY_REQUIRED, "signal word of ANSI Z535 and ISO 3864-2")
    W(say, "say", T_TEXT, 0, KEY_REQUIRED, "what can happen and how to avoid it, at most three short lines")

#define G(...) K(SEC_FIGURE, struct book_figure, __VA_ARGS__)
    G(title, "title", T_TEXT, 0, 0, "title; made from the name when left out")
    G(file, "file", T_TEXT, 0, KEY_REQUIRED, "SVG or PNG, relative to the book")
    G(marks, "marks", T_MARKS, SEC_MARK, 0, "numbers in the drawing")

#define M(...) K(SEC_MARK, struct book_mark, __VA_ARGS__)
    M(x, "at", T_POINT, 0, KEY_REQUIRED | KEY_UNIT, "0 to 1 from the drawing's upper left corner")
    M(label, "label", T_TEXT, 0, KEY_REQUIRED, "what it points at")

#define H(...) K(SEC_CHECKPOINT, struct book_checkpoint, __VA_ARGS__)
    H(label, "label", T_TEXT, 0, 0, "name for people; made from the name when left out")
    H(system, "system", T_ID, 0, 0, "engine, cooling, air, fuel, hydraulic, electric, tyres, drive, safety ...")
    H(place, "at", T_REF, SEC_PLACE, 0, "where it is; anywhere when left out")
    H(needs, "needs", T_CONDITION, 0, 0, "condition it must be checked in")
    H(every, "every", T_INTERVAL, 0, 0, "regular interval, whichever comes first")
    H(first, "first", T_INTERVAL, 0, 0, "the first time, when sooner")
    H(severe, "severe", T_INTERVAL, 0, 0, "interval of machines on severe duty")
    H(late, "late", T_ENUM, WORDS_LATE, 0, "what it means to be late; wear when left out")
    H(takes_s, "takes", T_SI, Q_DURATION, 0, "time of the check itself")
    H(cautions, "caution", T_REFS, SEC_CAUTION, 0, "said before")
    H(tools, "tools", T_TEXTS, 0, 0, "tools")
    H(after, "after", T_REFS, SEC_CHECKPOINT, KEY_DROP | KEY_LISTING, "checkpoints that come before it in a round")
    H(shown.figure, "figure", T_REF, SEC_FIGURE, 0, "drawing that shows it")
    H(shown.mark, "mark", T_COUNT, 1, 0, "number of the mark in that drawing")
    H(task, "done-by", T_REF, SEC_TASK, 0, "kind 1, by interval: the task that resets it")
    H(measure, "measure", T_TEXT, 0, 0, "kind 2, by reading: what is read, `pressure`, `rest voltage`")
    H(limits, "limits", T_RANGE, 0, 0, "of a reading, after its correction; inclusive")
    H(want, "want", T_QUANTITY, Q_NONE, 0, "the reading to set")
    H(gauge, "gauge", T_RANGE, 0, 0, "range of the gauge, in the unit that is read")
    H(uncertainty, "uncertainty", T_QUANTITY, Q_NONE, 0, "of the gauge")
    H(also, "also-read", T_ALSO, 0, 0, "what must be read with it")
    KX(SEC_CHECKPOINT, "refer-to", T_REFER, 0, 0, "the condition for which the limits hold; the reading is corrected to it")
    KX(SEC_CHECKPOINT, "given", T_GIVEN, 0, 0, "the book's figures that the correction takes: `span: 320 mm`")
    KX(SEC_CHECKPOINT, "judged-at", T_JUDGED_AT, 0, 0, "judged only when what is read under that name lies there: `engine speed: 900 .. 1000 rpm`")
    H(bus_spn, "from", T_BUS, 0, 0, "signal of the machine's bus that reads it")
    H(look, "look", T_WORDS, 0, 0, "kind 3, by eye: what to look for")
    H(mends, "mends", T_REF, SEC_TASK, 0, "task that puts an \"out\" right")

#define T(...) K(SEC_TASK, struct book_task, __VA_ARGS__)
    T(label, "label", T_TEXT, 0, 0, "name for people; made from the name when left out")
    T(place, "at", T_REF, SEC_PLACE, 0, "where it is done")
    T(needs, "needs", T_CONDITION, 0, 0, "condition for all of its steps")
    T(labour_s, "labour", T_SI, Q_DURATION, 0, "time; the sum of the steps when left out")
    T(tools, "tools", T_TEXTS, 0, 0, "tools")
    T(equipment, "equipment", T_TEXTS, 0, 0, "protective equipment")
    T(parts, "parts", T_USE_PARTS, SEC_PART, 0, "parts it uses")
    T(fluids, "fluids", T_USE_FLUIDS, SEC_FLUID, 0, "fluids it uses")
    T(cautions, "caution", T_REFS, SEC_CAUTION, 0, "said before")
    T(torques, "torques", T_REFS, SEC_TORQUE, 0, "joints it tightens")
    T(after, "after", T_REFS, SEC_TASK, KEY_DROP | KEY_LISTING, "tasks that come before it when both are done")
    T(adjusts, "adjusts", T_REFS, SEC_ADJUSTER, KEY_DROP, "adjusters that it settles; the sheet has a ledger for each")
    T(steps, "steps", T_ITEMS, SEC_STEP, 0, "step by step")

#define E(...) K(SEC_STEP, struct book_step, __VA_ARGS__)
    E(act, "do", T_TEXT, 0, KEY_REQUIRED, "what to do, as an order")
    E(place, "at", T_REF, SEC_PLACE, 0, "where; the place of the step before, or of the task, when left out")
    E(needs, "needs", T_CONDITION, 0, 0, "condition, together with the task's")
    E(takes_s, "takes", T_SI, Q_DURATION, 0, "time")
    E(cautions, "caution", T_REFS, SEC_CAUTION, 0, "said before")
    E(opens, "opens", T_REFS, SEC_OPEN, 0, "goes on the put-back list")
    E(closes, "closes", T_REFS, SEC_OPEN, 0, "comes off the put-back list")
    E(torques, "torque", T_REFS, SEC_TORQUE, 0, "joint that is tightened")
    E(tools, "tools", T_TEXTS, 0, 0, "tools")
    KX(SEC_STEP, "work-out", T_WORK_OUT, 0, 0, "a figure for this step from a calculation (`witmark calc list`); a value may be words of this book: `torque of wheel-nut/front`, `capacity of coolant`")
    E(waste, "waste", T_TEXT, 0, 0, "what is left to take back")
    E(undo, "undo", T_TEXT, 0, 0, "recovery only: the words of the way back")
    E(shown.figure, "figure", T_REF, SEC_FIGURE, 0, "drawing that shows it")
    E(shown.mark, "mark", T_COUNT, 1, 0, "number of the mark in that drawing")

#define I(...) K(SEC_SERVICE, struct book_service, __VA_ARGS__)
    I(label, "label", T_TEXT, 0, 0, "name for people; made from the name when left out")
    I(checkpoints, "checks", T_REFS, SEC_CHECKPOINT, KEY_DROP, "checkpoints; those that are not fitted are left out")
    I(tasks, "tasks", T_REFS, SEC_TASK, KEY_DROP, "tasks; those that are not fitted are left out")

#define A(...) K(SEC_ADJUSTER, struct book_adjuster, __VA_ARGS__)
    A(label, "label", T_TEXT, 0, 0, "name for people; made from the name when left out")
    A(place, "at", T_REF, SEC_PLACE, 0, "where it is")
    A(needs, "needs", T_CONDITION, 0, 0, "condition for turning and for trying")
    A(first, "first", T_TEXTS, 0, KEY_HEADED, "what must be true before: `rake lowered to the ground`")
    A(confirm, "confirm", T_PAIRS, 0, 0, "of that, what is confirmed at every step, by a short word: `load-supported: rake on the ground`")
    A(circuit, "circuit", T_ID, 0, 0, "hydraulic circuit; one adjuster of a circuit is tried at a time")
    A(turn_in, "turn", T_TURN_IN, 0, KEY_REQUIRED, "direction that is tried first; in is clockwise")
    A(first_step, "first-step", T_TURNS, 0, 0, "the first step; as `step` when left out")
    A(step, "step", T_TURNS, 0, KEY_REQUIRED, "every further step")
    A(at_most, "at-most", T_TURNS, 0, KEY_REQUIRED, "never further from where it was found")
    A(between, "between", T_TEXT, 0, 0, "what to do between two steps")
    A(watch, "watch", T_TEXT, 0, 0, "what to watch for")
    A(note, "note", T_TEXT, 0, 0, "a word of warning or advice")
    A(cautions, "caution", T_REFS, SEC_CAUTION, 0, "said before")
    A(shown.figure, "figure", T_REF, SEC_FIGURE, 0, "drawing that shows it")
    A(shown.mark, "mark", T_COUNT, 1, 0, "number of the mark in that drawing")

#define Y(...) K(SEC_SYMPTOM, struct book_symptom, __VA_ARGS__)
    Y(label, "label", T_TEXT, 0, 0, "name for people; made from the name when left out")
    Y(says, "says", T_WORDS, 0, 0, "the words people use for it")
    Y(part, "where", T_TEXT, 0, 0, "on which part of the machine")
    Y(clue, "clue", T_YES, 0, 0, "only asked about in a trace; none starts from it")
    Y(codes, "codes", T_WORDS, 0, 0, "fault codes that are this sign: `110/0` (SPN/FMI), `110` whatever the FMI")
    Y(by_itself, "by-itself", T_CHANCE, 0, 0, "how often it is seen without any of its causes; 0.03 when left out")
    Y(takes_s, "takes", T_SI, Q_DURATION, 0, "time to look for it; a minute when left out")
    Y(cautions, "caution", T_REFS, SEC_CAUTION, 0, "said before it is looked for")
    Y(not_with, "not-with", T_REFS, SEC_SYMPTOM, KEY_DROP | KEY_LISTING, "symptoms that a trace from this one does not ask for: a machine that does not move can't be slow")

#define J(...) K(SEC_TEST, struct book_test, __VA_ARGS__)
    J(label, "label", T_TEXT, 0, 0, "name for people; made from the name when left out")
    J(kind, "kind", T_ENUM, WORDS_DEED, 0, "what kind of step it is")
    J(act, "do", T_TEXT, 0, KEY_REQUIRED, "what to do, as an order")
    J(yes, "yes", T_TEXT, 0, 0, "what is seen when it comes out yes")
    J(no, "no", T_TEXT, 0, 0, "what is seen when it comes out no")
    J(place, "at", T_REF, SEC_PLACE, 0, "where")
    J(needs, "needs", T_CONDITION, 0, 0, "condition in which it is done")
    J(takes_s, "takes", T_SI, Q_DURATION, KEY_REQUIRED, "time")
    J(cost_s, "cost", T_SI, Q_DURATION, 0, "what is used up, as time of the same worth")
    J(cautions, "caution", T_REFS, SEC_CAUTION, 0, "said before")
    J(tools, "tools", T_TEXTS, 0, 0, "tools")
    J(shown.figure, "figure", T_REF, SEC_FIGURE, 0, "drawing that shows it")
    J(shown.mark, "mark", T_COUNT, 1, 0, "number of the mark in that drawing")
    J(checkpoint, "reads", T_REF, SEC_CHECKPOINT, 0, "checkpoint that it reads: out of limits is a yes")
    J(by_itself, "by-itself", T_CHANCE, 0, 0, "how often it comes out yes without any of its causes; 0.05 when left out")

#define U(...) K(SEC_CAUSE, struct book_cause, __VA_ARGS__)
    U(label, "label", T_TEXT, 0, 0, "name for people; made from the name when left out")
    U(weight, "weight", T_NUMBER, 0, KEY_REQUIRED, "how often it is the cause, against the others; counts as so many cases seen")
    U(shows, "shows", T_SHOWS, SEC_SYMPTOM, KEY_REQUIRED, "how often it shows each symptom")
    U(proves, "proves", T_SHOWS, SEC_TEST, 0, "how often each test comes out yes when this is the cause")
    U(reads_out, "reads-out", T_SHOWS, SEC_CHECKPOINT, 0, "how often the reading is out when this is the cause")
    U(after, "after", T_FACTORS, SEC_TASK, 0, "how many times likelier it is when that was done lately")
    U(left_open, "left-open", T_FACTORS, SEC_OPEN, 0, "how many times likelier it is when that is on the put-back list")
    U(wears, "wears", T_REF, SEC_TASK, 0, "task that renews what wears: the longer ago, the likelier")
    U(life_s, "life", T_SI, Q_DURATION, 0, "machine hours that it lasts; the interval of that task when left out")
    U(mends, "mends", T_TEXT, 0, 0, "task or adjuster that cures it, or words")
    U(test, "test", T_TEXT, 0, 0, "task or checkpoint that proves it, or words")
    U(note, "note", T_TEXT, 0, 0, "a word of warning or advice")
    U(kind, "kind", T_ENUM, WORDS_DEED, 0, "what kind of step the cure is; an adjuster is an adjustment")
    U(place, "at", T_REF, SEC_PLACE, 0, "where it is cured, unless by a task")
    U(needs, "needs", T_CONDITION, 0, 0, "condition in which it is cured, unless by a task")
    U(takes_s, "takes", T_SI, Q_DURATION, 0, "time of the cure, unless that of the task")
    U(cost_s, "cost", T_SI, Q_DURATION, 0, "parts and what else is used up, as time of the same worth")
    U(cures, "cures", T_CHANCE, 0, 0, "how often that cures it; 0.95 when left out")
    U(cautions, "caution", T_REFS, SEC_CAUTION, 0, "said before the cure")
    U(tools, "tools", T_TEXTS, 0, 0, "tools of the cure, unless those of the task")
    U(mode, "mode", T_ENUM, WORDS_MODE, 0, "failure mode, words of ISO 14224")
    U(mechanism, "mechanism", T_ENUM, WORDS_MECHANISM, 0, "failure mechanism, words of ISO 14224")
    U(root, "root", T_ENUM, WORDS_ROOT, 0, "failure cause, words of ISO 14224")

#define HH(...) K(SEC_HELP, struct book_help, __VA_ARGS__)
    HH(label, "label", T_TEXT, 0, 0, "who is called")
    HH(takes_s, "takes", T_SI, Q_DURATION, KEY_REQUIRED, "what it costs, as time of the same worth")

#define L(...) K(SEC_FUSE, struct book_fuse, __VA_ARGS__)
    L(label, "label", T_TEXT, 0, 0, "name for people; made from the name when left out")
    L(place, "at", T_REF, SEC_PLACE, 0, "where the box is")
    L(position, "position", T_TEXT, 0, KEY_REQUIRED, "position as printed on the box")
    L(rating_a, "rating", T_SI, Q_CURRENT, 0, "rated current; not for a relay")
    KX(SEC_FUSE, "relay", T_YES, 0, 0, "it is a relay")
    L(protects, "protects", T_TEXT, 0, KEY_REQUIRED, "what goes dead when it blows")

#define Z(section, ...) K(section, struct book_recovery, __VA_ARGS__)
    KX(SEC_RECOVERY, "at-most", T_MAPPING, SEC_AT_MOST, KEY_REQUIRED, "limits of towing")
    Z(SEC_RECOVERY, tools, "tools", T_TEXTS, 0, 0, "tools")
    Z(SEC_RECOVERY, stowed, "stowed", T_PAIRS, 0, 0, "where each tool is kept; the tool as it stands in `tools`")
    Z(SEC_RECOVERY, mass, "mass", T_QUANTITY, Q_MASS, 0, "of the machine, ready to work: what hangs on the tow bar on a slope")
    Z(SEC_RECOVERY, equipment, "equipment", T_TEXTS, 0, 0, "protective equipment")
    Z(SEC_RECOVERY, cautions, "caution", T_REFS, SEC_CAUTION, 0, "said before")
    Z(SEC_RECOVERY, steps, "steps", T_ITEMS, SEC_STEP, KEY_REQUIRED, "step by step, until it can be towed")
    KX(SEC_RECOVERY, "back", T_ID, 0, 0, "`reverse`: the way back is the steps in reverse, with their `undo` words")

    Z(SEC_AT_MOST, distance, "distance", T_QUANTITY, Q_LENGTH, 0, "how far")
    Z(SEC_AT_MOST, speed, "speed", T_QUANTITY, Q_SPEED, 0, "how fast")
    Z(SEC_AT_MOST, slope, "slope", T_QUANTITY, Q_RATIO, 0, "how steep")
    Z(SEC_AT_MOST, time, "time", T_QUANTITY, Q_DURATION, 0, "how long")
    Z(SEC_AT_MOST, load, "load", T_QUANTITY, Q_MASS, 0, "how much it may carry meanwhile")

#define D(...) K(SEC_DUTY, struct book_duty, __VA_ARGS__)
    D(label, "label", T_TEXT, 0, 0, "name for people; made from the name when left out")
    D(made, "soot-per-hour", T_SI, Q_RATIO, KEY_REQUIRED, "soot made in an hour, of the gauge's 100 %")
    D(burnt, "burns-off-per-hour", T_SI, Q_RATIO, 0, "share of the soot that burns off in an hour by itself (passive); nothing when left out")
    D(finish, "finishes-burn", T_SI, Q_RATIO, 0, "chance, in an hour of it, that a burn the engine has begun by itself comes to its end; none when left out")
    D(share, "share", T_SI, Q_RATIO, KEY_REQUIRED, "of the usual hours")

#define EX(...) K(SEC_EXHAUST, struct book_exhaust, __VA_ARGS__)
    EX(soot, "soot", T_REF, SEC_CHECKPOINT, KEY_REQUIRED, "the checkpoint whose gauge shows the soot load")
    EX(ash, "ash", T_REF, SEC_CHECKPOINT, 0, "the checkpoint of cleaning or exchange for ash")
    EX(burn, "parked-burn", T_REF, SEC_TASK, KEY_REQUIRED, "the task of a parked burn")
    EX(begin, "begins", T_SI, Q_RATIO, KEY_REQUIRED, "load at which the engine burns by itself while working, where that is not inhibited")
    EX(demand, "demanded", T_SI, Q_RATIO, KEY_REQUIRED, "load at which a parked burn is demanded")
    EX(derate, "power-reduced", T_SI, Q_RATIO, KEY_REQUIRED, "load at which the engine loses power")
    EX(past, "past-burning", T_SI, Q_RATIO, KEY_REQUIRED, "load from which nothing in the field helps")
    EX(active_leaves, "own-burn-leaves", T_SI, Q_RATIO, KEY_REQUIRED, "load after a burn while working")
    EX(parked_leaves, "parked-burn-leaves", T_SI, Q_RATIO, KEY_REQUIRED, "load after a parked burn")
    EX(spread, "spread", T_SI, Q_RATIO, 0, "how far the rates of machines lie apart, relative standard deviation; 35 % when left out")
    EX(scatter, "scatter", T_SI, Q_RATIO, 0, "of one day's work about the rate, relative standard deviation; 30 % when left out")
    EX(burn_s, "burn-takes", T_SI, Q_DURATION, KEY_REQUIRED, "a parked burn")
    EX(cool_s, "cools", T_SI, Q_DURATION, KEY_REQUIRED, "after a burn, until it may be left or worked with")
    EX(inhibit, "inhibit", T_TEXTS, 0, 0, "places besides dry vegetation, indoors, combustibles and a fire ban where burning while working is inhibited: dusty, public")
    EX(oil, "oil", T_REF, SEC_FLUID, 0, "engine oil, whose ash the filter keeps; with it the following are needed")
    EX(oil_m3_per_h, "oil-per-hour", T_SI, Q_VOLUME, 0, "oil burnt in an hour")
    EX(oil_spread, "oil-spread", T_SI, Q_RATIO, 0, "of that between machines, relative standard deviation; 50 % when left out")
    EX(oil_density_kgm3, "oil-density", T_SI, Q_DENSITY, 0, "density of the oil")
    EX(oil_ash, "oil-ash", T_SI, Q_RATIO, 0, "sulphated ash of the oil (ASTM D874)")
    EX(retained, "ash-kept", T_SI, Q_RATIO, 0, "share of the ash that stays in the filter")
    EX(volume_m3, "filter-volume", T_SI, Q_VOLUME, 0, "of the filter element")
    EX(ash_limit_kgm3, "ash-at-most", T_SI, Q_DENSITY, 0, "ash per filter volume at which it is cleaned or exchanged")

    KX(SEC_VARIANT, "serials", T_SERIALS, 0, 0, "serial numbers for which it holds; all when left out")
    KX(SEC_VARIANT, "with", T_REFS, SEC_OPTION, 0, "options that must all be fitted")
    KX(SEC_VARIANT, "without", T_REFS, SEC_OPTION, 0, "options none of which may be fitted")
    KX(SEC_VARIANT, "fitted", T_YES, 0, 0, "`no`: there it does not exist")
    KX(SEC_VARIANT, "is", T_ANY, 0, 0, "the value, where a plain value and not a mapping belongs")
};
/* clang-format on */

static const struct section_info sections[] = {
#define X(symbol, word, type) [symbol] = {(word), sizeof(type)},
    SECTIONS(X)
#undef X
};

const struct key *keys_all(size_t *n)
{
    *n = sizeof keys / sizeof *keys;
    return keys;
}

const struct key *keys_of(enum section section, size_t *n)
{
    size_t all = sizeof keys / sizeof *keys;
    size_t from = 0;
    while (from < all && keys[from].section != section) {
        from++;
    }
    *n = 0;
    while (from + *n < all && keys[from + *n].section == section) {
        (*n)++;
    }
    return &keys[from];
}

const struct key *key_find(enum section section, struct str name)
{
    size_t n = 0;
    const struct key *k = keys_of(section, &n);
    for (size_t i = 0; i < n; i++) {
        if (str_eq(str_of(k[i].name), name)) {
            return &k[i];
        }
    }
    return NULL;
}

const struct section_info *section_info(enum section section)
{
    return &sections[section];
}

const char *key_type_word(enum key_type type)
{
    static const char *const type_words[] = {
#define X(symbol, word) [symbol] = (word),
        KEY_TYPES(X)
#undef X
    };
    return type_words[type];
}

const char *const *word_list(enum word_list which, size_t *n)
{
    static const char *const levels[] = {
#define X(symbol, word) [symbol] = (word),
        BOOK_CAUTION_LEVELS(X)
#undef X
    };
    static const char *const lates[] = {
#define X(symbol, word) [symbol] = (word),
        BOOK_LATE(X)
#undef X
    };
    static const char *const deeds[] = {
#define X(symbol, word) [symbol] = (word),
        BOOK_DEEDS(X)
#undef X
    };
    switch ((int)which) {
    case WORDS_MODE:
        return failure_words(FAILURE_MODE, n);
    case WORDS_MECHANISM:
        return failure_words(FAILURE_MECHANISM, n);
    case WORDS_ROOT:
        return failure_words(FAILURE_CAUSE, n);
    case WORDS_DEED:
        *n = sizeof deeds / sizeof *deeds;
        return deeds;
    case WORDS_LATE:
        *n = sizeof lates / sizeof *lates;
        return lates;
    default:
        *n = sizeof levels / sizeof *levels;
        return levels;
    }
}

const char *either(struct arena *a, const char *const *at, size_t n)
{
    struct text t = text_new(a);
    for (size_t i = 0; i < n; i++) {
        text_addz(&t, i == 0 ? "" : i + 1 == n ? " or " : ", ");
        text_addz(&t, at[i]);
    }
    return text_z(&t);
}

/* The name of a section's things, "name of a place". */
static const char *named(struct arena *a, const char *before, enum section section)
{
    return words(a, before, " of a ", sections[section].word, (char *)0);
}

const char *key_form(struct arena *a, const struct key *k)
{
    size_t n = 0;
    const char *const *list = NULL;
    switch ((int)k->type) {
    case T_REF:
        return named(a, "name", (enum section)k->arg);
    case T_REFS:
        return named(a, "name or list of names", (enum section)k->arg);
    case T_SI:
    case T_QUANTITY:
        if (k->arg == Q_NONE) {
            return "quantity, in a unit of the limits' kind";
        }
        return words(a, "quantity: ", quantity_kind_text((enum quantity_kind)k->arg), (char *)0);
    case T_ENUM:
        list = word_list((enum word_list)k->arg, &n);
        return either(a, list, n);
    case T_SHOWS:
        return words(a, "mapping ", sections[k->arg].word, ": chance, 0 to 1", (char *)0);
    case T_FACTORS:
        return words(a, "mapping ", sections[k->arg].word, ": times likelier", (char *)0);
    case T_ITEMS:
        return words(a, "list of ", sections[k->arg].word, "s", (char *)0);
    case T_ENTRIES:
        return words(a, "mapping name: ", sections[k->arg].word, (char *)0);
    case T_MAPPING:
        return words(a, "mapping: ", sections[k->arg].word, (char *)0);
    default:
        return key_type_word(k->type);
    }
}

bool key_is_variant(struct str name)
{
    return key_find(SEC_VARIANT, name) != NULL;
}
