/* Finding things in a resolved book, and its words. */
#include "book/book.h"

/* One linear search by name per kind of thing. */
#define FIND(function, list)                            \
    int function(const struct book *b, struct str name) \
    {                                                   \
        for (int i = 0; i < b->n_##list; i++) {         \
            if (str_eq(b->list[i].name, name)) {        \
                return i;                               \
            }                                           \
        }                                               \
        return BOOK_NONE;                               \
    }

FIND(book_find_checkpoint, checkpoints)
FIND(book_find_task, tasks)
FIND(book_find_part, parts)
FIND(book_find_fluid, fluids)
FIND(book_find_place, places)
FIND(book_find_service, services)
FIND(book_find_adjuster, adjusters)
FIND(book_find_open_item, open_items)
FIND(book_find_symptom, symptoms)
FIND(book_find_cause, causes)
FIND(book_find_test, tests)

const char *book_caution_level_text(enum book_caution_level level)
{
    static const char *const words[] = {
#define X(symbol, word) [symbol] = (word),
        BOOK_CAUTION_LEVELS(X)
#undef X
    };
    return words[level];
}

const char *book_late_text(enum book_late late)
{
    static const char *const words[] = {
#define X(symbol, word) [symbol] = (word),
        BOOK_LATE(X)
#undef X
    };
    return words[late];
}

const char *book_deed_text(enum book_deed deed)
{
    static const char *const words[] = {
#define X(symbol, word) [symbol] = (word),
        BOOK_DEEDS(X)
#undef X
    };
    return words[deed];
}

const char *book_correction_text(enum book_correction correction)
{
    static const char *const words[] = {
#define X(symbol, word) [symbol] = (word),
        BOOK_CORRECTIONS(X)
#undef X
    };
    return words[correction];
}

bool book_condition_both(struct book_condition a, struct book_condition b, struct book_condition *both)
{
    bool possible = true;
    for (int v = 0; v < BOOK_VARIABLES_MAX; v++) {
        uint16_t x = a.allow[v];
        uint16_t y = b.allow[v];
        both->allow[v] = x == 0 ? y : y == 0 ? x : (uint16_t)(x & y);
        possible = possible && (both->allow[v] != 0 || (x == 0 && y == 0));
    }
    return possible;
}

void text_condition(struct text *t, const struct book *b, struct book_condition c)
{
    bool first = true;
    for (int v = 0; v < b->n_variables; v++) {
        const struct book_variable *variable = &b->variables[v];
        if (c.allow[v] == 0) {
            continue;
        }
        text_addz(t, first ? "" : ", ");
        first = false;
        text_add(t, variable->label.n ? variable->label : variable->name);
        bool first_value = true;
        for (int i = 0; i < variable->n_values; i++) {
            if (c.allow[v] & (1U << i)) {
                text_addz(t, first_value ? " " : " or ");
                text_add(t, variable->values[i]);
                first_value = false;
            }
        }
    }
}

void text_step(struct text *t, const struct book_step *step, enum unit_system system)
{
    const struct book_work_out *w = &step->work_out;
    text_add(t, step->act);
    if (!w->given) {
        return;
    }
    text_addz(t, " (");
    text_add(t, w->result);
    text_char(t, ' ');
    if (w->text.p) {
        text_add(t, w->text);
    } else {
        text_quantity_in(t, w->value, system);
    }
    text_char(t, ')');
}
