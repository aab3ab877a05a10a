/* The machines that the spreadsheet tests, the fuzz target and the benchmark know: part of the depot of Port Sennet.
 * All of it is invented. */
#ifndef WITMARK_TESTS_CSV_DEPOT_H
#define WITMARK_TESTS_CSV_DEPOT_H

#include "feed_csv.h"

/* One row of a book's names. */
static inline struct feed_csv_name depot_name(enum feed_csv_name_kind kind, const char *name, const char *label,
                                              const char *number, const char *unit)
{
    return (struct feed_csv_name){kind, str_of(name), str_of(label), str_of(number),
                                  *unit ? unit_find(str_of(unit)) : NULL};
}

/* Four machines of three books; *n of them. */
static inline const struct feed_csv_machine *csv_depot(struct arena *a, size_t *n)
{
    static const struct {
        int book;
        enum feed_csv_name_kind kind;
        const char *name, *label, *number, *unit;
    } rows[] = {
        {0, FEED_CSV_NAME_MEASURE, "tyre-front-left", "Tyre, front left", "", "bar"},
        {0, FEED_CSV_NAME_MEASURE, "tyre-front-right", "Tyre, front right", "", "bar"},
        {0, FEED_CSV_NAME_MEASURE, "return-gauge", "Return filter gauge", "", "bar"},
        {0, FEED_CSV_NAME_MEASURE, "battery-voltage", "Battery voltage", "", "V"},
        {0, FEED_CSV_NAME_MEASURE, "coolant-freezing", "Coolant freezing point", "", "degC"},
        {0, FEED_CSV_NAME_LOOK, "air-seals", "Air seals", "", ""},
        {0, FEED_CSV_NAME_TASK, "change-hydraulic-oil", "Change the hydraulic oil", "", ""},
        {0, FEED_CSV_NAME_TASK, "change-engine-oil", "Change the engine oil", "", ""},
        {0, FEED_CSV_NAME_TASK, "clean-air-filter", "Clean the air filter", "", ""},
        {0, FEED_CSV_NAME_TASK, "grease-rake", "Grease the rake", "", ""},
        {0, FEED_CSV_NAME_TASK, "torque-wheel-nuts", "Torque the wheel nuts", "", ""},
        {0, FEED_CSV_NAME_PART, "return-element", "Return filter element", "HT-2207A", ""},
        {0, FEED_CSV_NAME_PART, "oil-filter", "Engine oil filter", "HT-1101", ""},
        {1, FEED_CSV_NAME_MEASURE, "rear-tyres", "Rear tyres", "", "bar"},
        {1, FEED_CSV_NAME_LOOK, "blades", "Blades", "", ""},
        {1, FEED_CSV_NAME_TASK, "change-engine-oil", "Change the engine oil", "", ""},
        {1, FEED_CSV_NAME_TASK, "sharpen-blades", "Sharpen the blades", "", ""},
        {2, FEED_CSV_NAME_MEASURE, "tyre-front-left", "Tyre, front left", "", "bar"},
        {2, FEED_CSV_NAME_TASK, "grease-joint", "Grease the centre joint", "", ""},
    };
    static const struct {
        const char *serial, *label;
        int book;
        double meter;
        const char *day;
    } machines[] = {
        {"BR6-01234", "Beach 1", 0, 400, "2027-03-01"},
        {"BR6-01240", "Beach 2", 0, 0, ""},
        {"0071234", "Mower 3", 1, 0, ""},
        {"CF2-00880", "Loader 4", 2, 0, ""},
    };
    const size_t n_rows = sizeof rows / sizeof *rows;
    *n = sizeof machines / sizeof *machines;
    struct feed_csv_name *names = ARENA_ARRAY(a, struct feed_csv_name, n_rows);
    struct feed_csv_machine *m = ARENA_ARRAY(a, struct feed_csv_machine, *n);
    for (size_t i = 0; i < n_rows; i++) {
        names[i] = depot_name(rows[i].kind, rows[i].name, rows[i].label, rows[i].number, rows[i].unit);
    }
    for (size_t i = 0; i < *n; i++) {
        m[i] = (struct feed_csv_machine){.serial = str_of(machines[i].serial),
                                         .label = str_of(machines[i].label),
                                         .book = S("invented"),
                                         .meter_h = machines[i].meter,
                                         .meter_day = DAY_NONE};
        day_parse(str_of(machines[i].day), &m[i].meter_day);
        for (size_t k = 0; k < n_rows; k++) {
            if (rows[k].book == machines[i].book) {
                m[i].names = m[i].n_names ? m[i].names : &names[k];
                m[i].n_names++;
            }
        }
    }
    return m;
}

#endif
