/* Solving a sequential ordering problem: local search, bound and exact search in turns, each turn with more work. */
#include "round/sop_internal.h"

#define MOST_STATES 400000
#define MOST_WIDTH 50000
#define FEW 55 /* nodes from which local search comes into its own; below, the exact search is soon done */

/* One turn of local search and bound. The near nodes are taken by cost with short kicks, then by what the bound thinks
 * of each step with long ones: the first suits many rules, the second few. */
static void search_turn(struct sop_work *w, struct sop_search *search, struct sop_tree *tree, int64_t ops)
{
    search_lists(search, NULL);
    search_run(search, 8, ops);
    if (w->stopped || w->lower >= w->best_cost) {
        return;
    }
    tree_improve(tree, 600);
    search_lists(search, tree_slack(tree));
    search_run(search, 30, ops);
    if (!w->stopped) {
        tree_improve(tree, 100);
    }
}

/* Turns until proven, stopped, or out of states; then, when there is somebody to say stop, local search until then. The
 * work of a turn's local search is what its exact search took before. */
static void turns(struct sop_work *w)
{
    struct sop_search *search = search_new(w);
    struct sop_tree *tree = tree_new(w);
    int64_t share = (int64_t)w->n * (w->n < FEW ? 50 * w->n * w->n : 150000);
    bool wider = true;
    for (int width = 64; w->lower < w->best_cost && !w->stopped; width *= 6) {
        search_turn(w, search, tree, share);
        if (w->lower >= w->best_cost || w->stopped || (!wider && !w->o->go_on)) {
            return;
        }
        int64_t before = w->ops;
        width = width < w->o->most_width ? width : w->o->most_width;
        if (wider && beam_run(w, tree, width)) {
            w->lower = w->best_cost;
            return;
        }
        share = (w->ops - before) / 2 > share ? (w->ops - before) / 2 : share;
        wider = wider && width < w->o->most_width && w->states < w->o->most_states;
    }
}

bool sop_solve(const struct sop *p, const struct sop_options *options, struct arena *out, struct sop_result *result,
               struct err *e)
{
    *result = (struct sop_result){0};
    struct sop_options o = options ? *options : (struct sop_options){0};
    o.most_states = o.most_states > 0 ? o.most_states : MOST_STATES;
    o.most_width = o.most_width > 0 ? o.most_width : MOST_WIDTH;
    struct arena a = arena_new(out->source);
    struct sop_work w;
    if (!work_build(p, &o, &a, &w, e)) {
        arena_free(&a);
        return false;
    }
    turns(&w);
    bool found = w.best_cost < SOP_NONE;
    if (found) {
        *result = (struct sop_result){.order = ARENA_ARRAY(out, size_t, p->n),
                                      .cost = w.best_cost,
                                      .lower_bound = w.lower,
                                      .proven = w.lower >= w.best_cost,
                                      .kicks = w.kicks,
                                      .states = w.states};
        for (size_t i = 0; i < p->n; i++) {
            result->order[i] = (size_t)w.best[i];
        }
    }
    bool none = !found && w.lower >= SOP_NONE;
    arena_free(&a);
    int64_t cost = 0;
    if (found && (!sop_check(p, result->order, &cost) || cost != result->cost)) {
        return err_set(e, ERR_INTERNAL, "", "the order found breaks a rule or does not add up and is refused",
                       (char *)0);
    }
    if (none) {
        return err_set(e, ERR_REFUSED, "more possible steps", "no order uses only possible steps", (char *)0);
    }
    return found || err_set(e, ERR_BUSY, "more time", "stopped before any order was found", (char *)0);
}
