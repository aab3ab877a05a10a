/* Why the exhaust filter stands where it does: the book's rates, what was learned, the last known load, the hours
 * since. */
#include "exhaust_internal.h"
#include "why_internal.h"

#include <math.h>

static void percent(struct text *t, double share, int decimals)
{
    text_number(t, 100 * share, decimals);
    text_addz(t, " %");
}

/* The book's duties and limits. */
static void why_book(struct reasons *r, const struct book *b)
{
    const struct book_exhaust *x = &b->exhaust;
    struct text t = text_new(r->a);
    text_addz(&t, "the engine burns by itself from ");
    percent(&t, x->begin, 0);
    text_addz(&t, ", a parked burn is demanded at ");
    percent(&t, x->demand, 0);
    text_addz(&t, ", power is reduced at ");
    percent(&t, x->derate, 0);
    text_addz(&t, ", past field burning at ");
    percent(&t, x->past, 0);
    because(r, &t, desk_book_line(r->a, b, x->pos));
    for (int i = 0; i < b->n_duties; i++) {
        const struct book_duty *duty = &b->duties[i];
        t = text_new(r->a);
        text_add(&t, duty->label);
        text_addz(&t, ": ");
        percent(&t, duty->made, 1);
        text_addz(&t, " of soot an hour, ");
        percent(&t, duty->burnt, 1);
        text_addz(&t, " of what is there burns off an hour, ");
        percent(&t, duty->share, 0);
        text_addz(&t, " of the usual hours");
        because(r, &t, desk_book_line(r->a, b, duty->pos));
    }
}

static void why_rate(struct reasons *r, const struct desk_exhaust *x)
{
    struct text t = text_new(r->a);
    text_addz(&t, "this machine makes ");
    percent(&t, x->rate, 1);
    text_addz(&t, " an hour of usual work, give or take ");
    percent(&t, x->rate_deviation, 1);
    text_addz(&t, ", the book says ");
    percent(&t, x->book_rate, 1);
    text_addz(&t, ": learned from ");
    text_int(&t, x->stretches);
    text_addz(&t, x->stretches == 1 ? " stretch between known loads" : " stretches between known loads");
    if (x->left_out) {
        text_addz(&t, "; ");
        text_int(&t, x->left_out);
        text_addz(&t, " left out, as a burn went unseen in them");
    }
    because(r, &t, S("Bayesian linear regression on the book's rates, our own model; docs/exhaust.md"));
}

static void why_load(struct reasons *r, const struct exhaust_now *now, const struct machine_state *s)
{
    const struct desk_exhaust *x = &now->x;
    struct text t = text_new(r->a);
    const struct entry_id *id = NULL;
    for (size_t i = 0; i < s->n_soot; i++) {
        id = s->soot[i].at == x->from_at ? &s->soot[i].id : id;
    }
    text_addz(&t, "last known: ");
    text_addz(&t, x->from);
    text_addz(&t, " on ");
    text_day_words(&t, desk_day_of(r->d, x->from_at));
    text_addz(&t, ", ");
    percent(&t, x->from_load, 0);
    text_addz(&t, ", give or take ");
    percent(&t, x->from_deviation, 0);
    because(r, &t, id ? desk_entry_ref(r->a, *id) : (struct str){0});
    t = text_new(r->a);
    if (isfinite(x->hours_since)) {
        text_number(&t, x->hours_since, 1);
        text_addz(&t, " h of usual work since: now ");
    } else {
        text_addz(&t, "no meter reading, so no hours since: now ");
    }
    percent(&t, x->load.p50, 0);
    text_addz(&t, " (");
    text_number(&t, 100 * x->load.p10, 0);
    text_addz(&t, " to ");
    percent(&t, x->load.p90, 0);
    text_addz(&t, " in four cases of five)");
    because(r, &t, S("dL/dt = m g - b L, day by day with a factor of its own; docs/exhaust.md"));
    if (x->inhibited) {
        t = text_new(r->a);
        text_inhibited(&t, r->d, x);
        text_addz(&t, ": no burn of its own until it is released");
        because(r, &t, (struct str){0});
    }
}

void why_soot(struct reasons *r, struct machine_state *s)
{
    const struct exhaust_now *now = exhaust_of(r->d, s);
    if (!now || !now->x.known) {
        return;
    }
    why_load(r, now, s);
    why_rate(r, &now->x);
    why_book(r, s->m.book);
    struct text t = text_new(r->a);
    text_addz(&t, "hours of usual work until a parked burn is demanded: ");
    text_band(&t, &now->x.demanded);
    text_addz(&t, "; until power is reduced: ");
    text_band(&t, &now->x.derated);
    text_addz(&t, "; past field burning: ");
    text_band(&t, &now->x.past);
    because(r, &t, S("first passage of the load on a grid; docs/exhaust.md"));
    const struct reserve *reserve = &now->x.soot_reserve;
    if (reserve->p50 != DAY_NONE) {
        t = text_new(r->a);
        text_addz(&t, "in one case of ten by ");
        text_day_words(&t, reserve->p10);
        text_addz(&t, ", in five by ");
        text_day_words(&t, reserve->p50);
        because(r, &t, S("with the machine's use: P(T <= t) = mean over the hours of P(H(t) >= h)"));
    }
}

void why_ash(struct reasons *r, struct machine_state *s)
{
    const struct exhaust_now *now = exhaust_of(r->d, s);
    if (!now || !now->x.ash_known) {
        return;
    }
    const struct desk_exhaust *x = &now->x;
    const struct book *b = s->m.book;
    struct text t = text_new(r->a);
    text_number(&t, x->oil_per_h * 1e6, 1);
    text_addz(&t, " mL of oil an hour x ");
    text_number(&t, now->ash.oil.density_kgm3 / 1000, 3);
    text_addz(&t, " kg/L x ");
    percent(&t, now->ash.oil.ash_share, 2);
    text_addz(&t, " ash x ");
    percent(&t, now->ash.oil.retained, 0);
    text_addz(&t, " kept, over ");
    text_number(&t, x->ash_hours, 0);
    text_addz(&t, " h: ");
    text_number(&t, x->ash_kg * 1000, 1);
    text_addz(&t, " g of ");
    text_number(&t, x->ash_limit_kg * 1000, 0);
    text_addz(&t, " g");
    because(r, &t, S("mass balance, sulphated ash by ASTM D874; witmark calc show exhaust-ash"));
    t = text_new(r->a);
    text_addz(&t, "the book says ");
    text_number(&t, x->book_oil_per_h * 1e6, 1);
    text_addz(&t, " mL an hour");
    if (x->oil_hours > 0) {
        text_addz(&t, "; topped up ");
        text_number(&t, x->oil_topped_m3 * 1e3, 1);
        text_addz(&t, " L over ");
        text_number(&t, x->oil_hours, 0);
        text_addz(&t, " h");
    } else {
        text_addz(&t, "; no topping up is recorded yet");
    }
    because(r, &t, desk_book_line(r->a, b, b->exhaust.pos));
    t = text_new(r->a);
    text_ash(&t, now);
    because(r, &t, (struct str){0});
}
