/* Private to this folder: the round's problem as the solver sees it (round_model.c), and one relaxation level of the
 * search (round_level.c). The replay (round_replay.c) must not include this. */
#ifndef WITMARK_ROUND_ROUND_INTERNAL_H
#define WITMARK_ROUND_ROUND_INTERNAL_H

#include "round/bits_internal.h"
#include "round/round.h"

#define ROUND_INF (INT32_MAX / 4)

/* One way from a condition to another: by a change, or by a point that sets variables. */
struct model_step {
    int index; /* of the change or point */
    bool is_point;
    int to;          /* condition */
    int place;       /* or ROUND_ANYWHERE */
    int32_t seconds; /* of a change; a point's own time is not part of the cost and stands as 0 */
};

/* All conditions reached from the start, numbered in order of fewest steps; 0 is the start. */
struct model_conditions {
    struct round_condition *at; /* [n] */
    size_t n, cap;
    struct model_step *steps; /* of condition c: steps[first[c]] .. steps[first[c + 1]] */
    size_t n_steps, cap_steps;
    size_t *first;    /* [n + 1] */
    int *from;        /* [n] the condition before it on a way of fewest steps; -1 for the start */
    size_t *by;       /* [n] the step taken there */
    bool *leavable;   /* [n] the finish can be reached */
    size_t *leave_by; /* [n] the step to take for fewest steps to the finish; only where leavable and not finished */
    int *leave_far;   /* [n] how many steps that is; 0 = satisfies the finish; -1 not leavable */
};

/* Points that stay after those done in passing are taken out. */
struct model_group {
    size_t point;
    int place;
    bool sets;          /* it changes the condition itself: never done in passing */
    struct bits before; /* groups that come before, transitively closed */
};

struct round_model {
    const struct round_problem *p;
    struct arena *a;
    struct model_conditions conditions;
    size_t n_places;
    int32_t *walk;              /* [n_places * n_places] shortest, also by way of other places */
    int16_t *via;               /* [n_places * n_places] the next place on that way */
    struct model_group *groups; /* [n_groups] ordered by point */
    size_t n_groups;
    struct bits all;           /* every group */
    struct bits setters;       /* groups that change the condition */
    struct bits *in_condition; /* [conditions.n] groups whose need holds there */
    struct bits *at_place;     /* [n_places] groups done there, those done anywhere included */
    struct bits anywhere;      /* groups without a place */
    int **point_to; /* [n_groups] for setters: the condition each condition leads to, -1 not possible; else null */
    int *group_of;  /* [n_points] the group of a point; -1 when it has none */
};

/* Checks indices, ranges and the start. False with the error. */
bool model_check(const struct round_problem *p, struct err *e);
/* The condition with the sets applied. */
struct round_condition model_apply(const struct round_condition *c, const struct round_set *sets, size_t n);
/* Is it in no never-combination? */
bool model_allowed(const struct round_problem *p, const struct round_condition *c);
/* Reaches every condition; steps of points already done are left out. */
bool model_reach(const struct round_problem *p, struct arena *a, struct model_conditions *cs, struct err *e);
/* Everything; the problem has been checked. */
bool model_build(const struct round_problem *p, struct arena *a, struct round_model *m, struct err *e);

/* A level: the round restricted to the groups in `keep`; of the others those that set variables are mere changes.
 * -------------------------------------------- */

#define LEVEL_TICKS 8 /* levels count in eighths of a second, for prices are finer than seconds */

struct level_move;

/* A set of groups done and a condition, with the best times for every place. */
struct level_state {
    struct bits done;
    int condition;
    int layer; /* how many groups are done */
    bool expanded, queued;
    struct level_move *moves; /* [n_moves] */
    int n_moves;
    struct level_state *next; /* in the list of its layer */
    int32_t best;             /* least of so_far + bound over the places, when queued */
    int32_t *so_far;          /* [n_places] least ticks from the start */
    int32_t *to_go;           /* [n_places] least ticks to the finish, once swept */
    int32_t *bound;           /* [n_places] no less than this is to go, by the guide */
    uint32_t *fell;           /* [n_places] when to_go last fell; breaks ties among moves that cost nothing */
    uint32_t fell_last;       /* the latest of these */
    uint32_t swept;           /* when its moves were last looked at for that */
};

/* A way on from a state: walk to `place`, spend `ticks`, be at the same place in `to`. */
struct level_move {
    struct level_state *to;
    int place; /* ROUND_ANYWHERE: at each place in `where` */
    const struct bits *where;
    int32_t ticks;
    int index;                                            /* change or point, see kind */
    enum { LEVEL_SERVE, LEVEL_CHANGE, LEVEL_POINT } kind; /* LEVEL_SERVE does the work there in passing */
};

/* Walking in the conditions in which the same groups of those not kept can be done (round_prices.c). */
struct level_walks {
    struct bits open; /* those groups */
    int32_t *half;    /* [n_places] half of what a stay there earns */
    int32_t *ticks;   /* [n_places * n_places] shortest, earnings taken off; >= 0 */
    int16_t *via;     /* [n_places * n_places] the next place on that way */
};

struct level {
    const struct round_model *m;
    struct arena *a;
    struct bits keep;     /* closed: with a group come all before it */
    const int32_t *price; /* [n_groups] ticks, even: what one earns for visiting a group that is not kept; null = 0 */
    const struct level *guide; /* its to_go bounds ours; null for none. Its prices are ours for what we do not keep */
    const struct level *sieve; /* of the same keep: what it has shown to be of no interest is left out; null for none */
    int32_t limit;             /* rounds of so many ticks or more are of no interest */
    int width;                 /* states expanded per layer; 0 = all */
    int64_t most_states;
    const struct round_options *options;
    int64_t *work; /* counts states expanded */

    struct level_walks **walks; /* [conditions.n] shared where they are the same */

    struct level_slot {
        uint64_t hash;
        struct level_state *state;
    } * slots;
    size_t cap, n;
    struct level_state **layers; /* [groups kept + 1] lists */
    int n_layers;
    struct level_state *start;
    uint32_t falls; /* how often a to_go fell */
    bool full;      /* more than most_states: incomplete */
    bool stopped;   /* go_on said no */
    bool cut;       /* states were left out because of the width */
};

/* Reaches all states forward. False when it stopped early. */
bool level_forward(struct level *l);
/* Then sweeps back and fills to_go. */
void level_sweep(struct level *l);
/* Ticks from the start to the finish, with all prices; ROUND_INF when no way is below the limit. After the sweep. */
int32_t level_value(const struct level *l);
/* Where it is best to go from a state and place to finish there. */
int level_end(const struct level *l, const struct level_state *s, int place);
/* Which groups are done on being at a place in a condition with `done` behind: done and those. */
struct bits level_pass(const struct round_model *m, struct bits keep, struct bits done, int condition, int place);
/* The best move from a state and place after the sweep; null = go to the finish. */
const struct level_move *level_best(const struct level *l, const struct level_state *s, int place, int *at);

/* Fills l->walks by the prices. */
void level_price(struct level *l);
/* What changing the condition at a place earns: half the price of each group that can be done in one of both only. */
int32_t level_toggle(const struct level *l, int from, int to, int place);
/* What the guide, but not the level, earns at least on the way from a state and place to the finish: the price of each
 * group that the level keeps and the guide does not and that is still to be done; of one that can be done right here,
 * done or not, half, for the stay has begun. */
int32_t level_earned(const struct level *l, const struct bits *done, int condition, int place);
/* The same for all places, added to `ticks` [n_places]. */
void level_earned_each(const struct level *l, const struct bits *done, int condition, int32_t *ticks);
/* How often the level's best way visits each group not kept, times two. */
void level_visits(const struct level *l, int32_t *twice);

/* Moves written down while walking through a round, doing in passing what can be done (round_walk.c). */
struct walkthrough {
    const struct round_model *m;
    struct arena *a;
    struct round_move *moves;
    size_t n, cap;
    bool *done; /* [n_points] */
    int place;
    int condition; /* number */
    int64_t at_s;
    int64_t move_s; /* walking and changing */
    bool unreal;    /* the level used a point as a change where it cannot be done: only a bound, no round */
};

/* At the start, with what can be done there done. */
struct walkthrough walk_begin(const struct round_model *m, struct arena *a);
/* Walks to a place, by way of other places where that is shorter, doing there what can be done. */
void walk_to(struct walkthrough *w, int place);
/* Changes the condition. */
void walk_change(struct walkthrough *w, const struct model_step *change);
/* Does a group that sets variables, where that is possible. */
void walk_set(struct walkthrough *w, int g);
/* A whole round by always going to the nearest that can be done; false when it came to a dead end (round_greedy.c). */
bool walk_greedy(const struct round_model *m, struct arena *a, struct walkthrough *w);
/* Follows a level's best way from start to finish. */
struct walkthrough walk_level(const struct level *l, struct arena *a);
/* Groups the walkthrough left undone. */
struct bits walk_undone(const struct walkthrough *w);

/* Gaps between the moves of a walkthrough where the groups that it leaves undone could be put in (round_insert.c). Gap
 * i is before move i, gap n at the end. */
struct gaps {
    struct bits undone;
    struct bits *suits; /* [w.n + 1] groups whose need holds there */
    size_t *first;      /* [n_groups] behind all that come before, done or put in too; > w.n when there is none */
    size_t *last;       /* [n_groups] before all that come behind */
};
struct gaps gaps_find(const struct walkthrough *w, struct arena *a);
/* The least detour that an undone group would be, and the gap; ROUND_INF when there is no gap. */
int32_t gaps_detour(const struct walkthrough *w, const struct gaps *t, int g, size_t *at);
/* Puts in all that is undone, the shortest detour first. False when something stays undone. */
bool walk_insert(struct walkthrough *w);

/* The search as it stands (round_solve.c). */
struct round_search {
    const struct round_model *m;
    struct round_options o;
    struct arena *keep_a; /* where the best round is kept */
    struct walkthrough best;
    int32_t best_s; /* its moves' seconds; ROUND_INF when none */
    int32_t lower_s;
    int32_t aim_s; /* for now only rounds shorter than this are looked for */
    int64_t work;
    bool stopped;
    int32_t *alone;      /* [n_groups] ticks that a round of this group and those before it takes */
    struct level *guide; /* the last of the stack: complete below its limit */
    struct guide {
        struct level *level;
        struct arena a;
    } stack[BITS_MOST + 2]; /* each keeps more than the one before and has no higher limit; the first is the base */
    size_t depth;
};

/* Runs a level: its problem, groups, prices, guide, limit, width and most_states are given, the rest is filled in. */
struct level *search_level(struct round_search *s, struct arena *a, struct level l);
/* A level over `keep` of at most `most` states with the present guide and limit; complete unless full or stopped. */
struct level *search_keep(struct round_search *s, struct arena *a, struct bits keep, int64_t most);
/* Fills s->alone, of groups where it matters (round_keep.c). */
void keep_alone(struct round_search *s);
/* The guide's groups and `more` of those that promise most for the bound, considering those chosen before, with all
 * that come before them. decides   out, or null: the way through the conditions hangs on one of them */
struct bits keep_next(struct round_search *s, int more, bool *decides);
/* Rounds of so many ticks or more are no better than the best. */
int32_t search_limit(const struct round_search *s);
/* Learns from a complete level what it says of bound and best round, and puts it, with the arena it lives in, in the
 * guide's place. */
void search_guide(struct round_search *s, struct level *l, struct arena a);
/* Finds good prices for what the guide does not keep, and the guide with them (round_prices.c). */
void search_price(struct round_search *s);
#endif
