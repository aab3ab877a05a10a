/* From the book's keys to the models. */
#include "exhaust/filter_book.h"

#include <math.h>

#define GAUGE 0.03 /* of the load, standard deviation, when the book states none; our own choice */

/* The gauge's stated limits of error as a rectangle (JCGM 100:2008, 4.3.7). */
static double gauge_of(const struct book *b)
{
    const struct book_checkpoint *c = b->exhaust.soot == BOOK_NONE ? NULL : &b->checkpoints[b->exhaust.soot];
    return c && c->uncertainty.given && c->uncertainty.si > 0 ? c->uncertainty.si / sqrt(3) : GAUGE;
}

bool soot_filter_of_book(const struct book *b, struct soot_filter *f)
{
    const struct book_exhaust *x = &b->exhaust;
    *f = (struct soot_filter){.begin = x->begin,
                              .demand = x->demand,
                              .derate = x->derate,
                              .past = x->past,
                              .active_leaves = x->active_leaves,
                              .parked_leaves = x->parked_leaves,
                              .spread = x->spread,
                              .scatter = x->scatter};
    if (!x->given || b->n_duties < 1 || b->n_duties > SOOT_DUTIES_MOST) {
        return false;
    }
    f->gauge = gauge_of(b);
    f->n_duties = b->n_duties;
    for (int i = 0; i < b->n_duties; i++) {
        const struct book_duty *d = &b->duties[i];
        f->duty[i] = (struct soot_duty){d->made, d->burnt, d->finish, d->share};
    }
    return true;
}

bool ash_filter_of_book(const struct book *b, struct ash_filter *f)
{
    const struct book_exhaust *x = &b->exhaust;
    *f = (struct ash_filter){.oil = {x->oil_density_kgm3, x->oil_ash, x->retained},
                             .oil_m3_per_h = x->oil_m3_per_h,
                             .spread = x->oil_spread,
                             .volume_m3 = x->volume_m3,
                             .limit_kgm3 = x->ash_limit_kgm3};
    return x->given && x->oil != BOOK_NONE;
}

burn_places burn_places_of_book(const struct book *b)
{
    burn_places added = 0;
    for (int i = 0; b->exhaust.given && i < b->exhaust.inhibit.n; i++) {
        enum burn_place place = PLACE_HARD;
        added |= burn_place_find(b->exhaust.inhibit.at[i], &place) ? 1U << place : 0;
    }
    return added;
}

int book_find_duty(const struct book *b, struct str name)
{
    for (int i = 0; i < b->n_duties; i++) {
        if (str_eq(b->duties[i].name, name) || str_eq_nocase(b->duties[i].label, name)) {
            return i;
        }
    }
    return BOOK_NONE;
}
