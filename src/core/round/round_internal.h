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
    int32_t *so_far;          /* [n_places] least seconds from the start */
    int32_t *to_go;           /* [n_places] least seconds to the finish, once swept */
    int32_t *bound;           /* [n_places] the previous level's to_go */
    uint32_t *fell;           /* [n_places] when to_go last fell; breaks ties among moves that cost nothing */
};

/* A way on from a state: walk to `place`, spend `seconds`, be at the same place in `to`. */
struct level_move {
    struct level_state *to;
    int place; /* ROUND_ANYWHERE: at each place in `where` */
    const struct bits *where;
    int32_t seconds;
    int index;                                            /* change or point, see kind */
    enum { LEVEL_SERVE, LEVEL_CHANGE, LEVEL_POINT } kind; /* LEVEL_SERVE does the work there in passing */
};

struct level {
    const struct round_model *m;
    struct arena *a;
    struct bits keep;          /* closed: with a group come all before it */
    const struct level *guide; /* its to_go bounds ours; null for none */
    int32_t limit;             /* rounds of this length or more are of no interest */
    int width;                 /* states expanded per layer; 0 = all */
    int64_t most_states;
    const struct round_options *options;
    int64_t *work; /* counts states expanded */

    struct level_state **slots;
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
/* Seconds from the start to the finish; ROUND_INF when no way is below the limit. After the sweep. */
int32_t level_value(const struct level *l);
/* Which groups are done on being at a place in a condition with `done` behind: done and those. */
struct bits level_pass(const struct round_model *m, struct bits keep, struct bits done, int condition, int place);
/* The best move from a state and place after the sweep; null = go to the finish. */
const struct level_move *level_best(const struct level *l, const struct level_state *s, int place, int *at);

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

/* Follows a level's best way from start to finish. */
struct walkthrough walk_level(const struct level *l, struct arena *a);
/* Groups the walkthrough left undone. */
struct bits walk_undone(const struct walkthrough *w);

/* The search as it stands (round_solve.c). */
struct round_search {
    const struct round_model *m;
    struct round_options o;
    struct arena *keep_a; /* where the best round is kept */
    struct walkthrough best;
    int32_t best_s; /* its moves' seconds; ROUND_INF when none */
    int32_t lower_s;
    int64_t work;
    bool stopped;
    uint64_t chance;     /* state of the generator for polishing */
    int32_t near_s;      /* places within this walk are neighbours, for polishing */
    struct level *guide; /* the finest level that is complete */
    struct arena guide_a;
};

/* Runs a level: its problem, groups, guide, limit, width and most_states are given, the rest is filled in. */
struct level *search_level(struct round_search *s, struct arena *a, struct level l);
/* Takes the level's best way as the best round when it is below the level's limit and does every point. True when it
 * does. */
bool search_take(struct round_search *s, const struct level *l);
/* Makes a round from the guide's best way, when that gives one better than the best (round_polish.c). */
void search_construct(struct round_search *s);
/* Improves the best round by exact searches around it (round_polish.c). */
void search_polish(struct round_search *s);

#endif
