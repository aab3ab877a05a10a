/* Rules about the exhaust filter: loads that rise, duties that add up, a gauge that shows the limits, a burn that is
 * guarded by a warning, and ash data that give an answer. */
#include "bookfile_internal.h"

#include "exhaust/filter_book.h"

#include <math.h>

/* The mapping of the filter that applies, for the place of its keys. */
static const struct node *exhaust_node(struct binding *b)
{
    const struct node *n = node_getz(b->bf->root, "exhaust");
    const struct node *chosen = n;
    return n && bind_choose(b, n, false, &chosen) == CHOSEN ? chosen : NULL;
}

static bool find_exhaust(struct binding *b, struct book_pos pos, const struct err *e)
{
    return find(b->finds, pos, RULE_EXHAUST, e->right.n ? str_z(b->finds->a, e->right) : NULL,
                str_z(b->finds->a, e->what), (char *)0);
}

/* Shares of the usual hours. */
static void check_shares(struct binding *b, const struct node *n)
{
    double sum = 0;
    for (int i = 0; i < b->book->n_duties; i++) {
        sum += b->book->duties[i].share;
    }
    if (b->book->n_duties == 0) {
        find(b->finds, n->pos, RULE_EXHAUST, "duties: { NAME: { soot-per-hour: 6 %, share: 40 % }, .. }",
             "the exhaust filter has no duties to fill it", (char *)0);
    } else if (fabs(sum - 1) > 0.005) {
        struct text t = text_new(b->finds->a);
        text_number(&t, 100 * sum, 1);
        find(b->finds, b->book->duties[0].pos, RULE_EXHAUST, "100 % together", "the shares of the duties add up to ",
             text_z(&t), " %", (char *)0);
    }
}

/* The gauge must show a share, up to the load past burning. */
static void check_gauge(struct binding *b, const struct node *n)
{
    const struct book_exhaust *x = &b->book->exhaust;
    const struct book_checkpoint *c = x->soot == BOOK_NONE ? NULL : &b->book->checkpoints[x->soot];
    if (!c) {
        return;
    }
    bool ratio = c->kind == CHECK_MEASURE && c->limits.unit && c->limits.unit->kind == Q_RATIO;
    if (!ratio) {
        find(b->finds, node_pos(n, "soot"), RULE_EXHAUST, "a checkpoint with `measure` and limits in %",
             "the soot load is not read as a share", (char *)0);
    } else if (c->gauge.unit && unit_to_si(c->gauge.unit, c->gauge.high) < x->past) {
        find(b->finds, node_pos(n, "past-burning"), RULE_EXHAUST, "a load that the gauge can show",
             "the gauge ends below \"past-burning\"", (char *)0);
    } else if (isfinite(c->high_si) && c->high_si > x->demand + 1e-9) {
        find(b->finds, node_pos(n, "demanded"), RULE_EXHAUST, "limits that end at \"demanded\" or below",
             "the soot checkpoint is still in limits when a parked burn is demanded", (char *)0);
    }
}

/* A parked burn is hot: some step or change of it carries at least a WARNING. */
static void check_burn(struct binding *b, const struct node *n)
{
    const struct book *book = b->book;
    if (book->exhaust.burn == BOOK_NONE) {
        return;
    }
    const struct book_task *t = &book->tasks[book->exhaust.burn];
    bool warned = false;
    for (int s = -1; s < t->n_steps; s++) {
        struct book_refs cautions = s < 0 ? t->cautions : t->steps[s].cautions;
        for (int i = 0; i < cautions.n; i++) {
            warned = warned || book->cautions[cautions.at[i]].level >= CAUTION_WARNING;
        }
    }
    if (!warned) {
        find(b->finds, node_pos(n, "parked-burn"), RULE_EXHAUST, "a caution of level WARNING at one of its steps",
             "the parked burn carries no warning of heat", (char *)0);
    }
}

static void check_ash(struct binding *b, const struct node *n)
{
    struct ash_filter f;
    struct ash_rate rate;
    struct err e = err_new(b->finds->a);
    if (ash_filter_of_book(b->book, &f) && f.volume_m3 > 0 && f.limit_kgm3 > 0 && !ash_rate_of_book(&f, &rate, &e)) {
        find_exhaust(b, node_pos(n, "oil"), &e);
    }
    int ash = b->book->exhaust.ash;
    if (ash != BOOK_NONE && b->book->checkpoints[ash].kind != CHECK_DONE_BY) {
        find(b->finds, node_pos(n, "ash"), RULE_EXHAUST, "a checkpoint with `done-by`",
             "the ash checkpoint is not put right by a task", (char *)0);
    }
}

void check_exhaust(struct binding *b)
{
    const struct node *n = b->book->exhaust.given ? exhaust_node(b) : NULL;
    struct soot_filter f;
    struct err e = err_new(b->finds->a);
    if (!n || b->finds->errors > 0) {
        return; /* a value that could not be read was said already */
    }
    check_shares(b, n);
    if (soot_filter_of_book(b->book, &f) && !soot_filter_check(&f, &e)) {
        find_exhaust(b, n->pos, &e);
    }
    check_gauge(b, n);
    check_burn(b, n);
    check_ash(b, n);
}
