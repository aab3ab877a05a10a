/* Which conditions a machine can be brought into, starting parked, by the changes its book allows; and from which of
 * them it can be parked again. A search over the product of the condition variables, over what is reached only.
 *
 * A change can be made in a condition when its `from` and what its place needs hold there, and never when a combination
 * of `never` would result. The graph knows nothing of what is open; condition_graph_spread takes that into account.
 */
#ifndef WITMARK_CONDITION_GRAPH_H
#define WITMARK_CONDITION_GRAPH_H

#include "base/arena.h"
#include "book/book.h"

/* A condition: 4 bits per variable, variable 0 lowest. 0 = parked. */
typedef uint64_t condition_state;

/* What a change does over all conditions that can be reached. */
struct condition_change {
    bool possible; /* it can be made somewhere */
    bool held;     /* its `from` and place hold somewhere, whatever comes of it */
    int forbidden; /* first combination of `never` that it would lead to from somewhere, or BOOK_NONE */
    condition_state forbidden_from;
    bool no_return; /* after it, made somewhere the machine could still be parked from, it can't any more */
};

struct condition_graph {
    int n_variables;
    int n; /* conditions reached; number 0 is parked */
    const condition_state *state;
    const bool *back;                 /* per condition: it can be parked again */
    const int *first;                 /* per condition, n + 1: where its changes begin in `to` and `by` */
    const int *to, *by;               /* condition after, index of the change */
    struct condition_change *changes; /* per change of the book */
    bool complete;                    /* false: there are more than `most` conditions and the rest is not known */
    int parked_forbidden;             /* combination of `never` that holds when parked, or BOOK_NONE */
};

/* Searches at most `most` conditions. Results live in a. */
struct condition_graph condition_graph_build(const struct book *b, int most, struct arena *a);

/* Whether the partial condition holds. */
bool condition_holds(condition_state s, struct book_condition c, int n_variables);

/* Sets of conditions: a byte per condition of the graph, 0 or 1. */
/* All that can be reached and parked from again. Returns whether there is any (as the two below). */
bool condition_graph_usable(const struct condition_graph *g, uint8_t *set);
/* Keeps those in which c holds. */
bool condition_graph_keep(const struct condition_graph *g, struct book_condition c, uint8_t *set);
/* Adds what can be reached from the set by changes that keep c holding all the way. Those in which c does not hold go.
 */
bool condition_graph_spread(const struct condition_graph *g, struct book_condition c, uint8_t *set);

/* The whole condition as a partial one, for text_condition. */
struct book_condition condition_of_state(condition_state s, int n_variables);

#endif
