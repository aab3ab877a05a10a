/* A recovery on paper: is it allowed, make ready, move, and the exact reverse, with the put-back list. */
#include "desk_recover.h"

#include "print_internal.h"

#include <math.h>

/* The general caution of the recovery, then what slope and load bring. */
static void before(struct printing *p, const struct desk_recover *r)
{
    json_begin_array(&p->j, "before");
    for (int i = 0; i < p->b->recovery.cautions.n; i++) {
        const struct book_caution *c = &p->b->cautions[p->b->recovery.cautions.at[i]];
        json_begin_object(&p->j, NULL);
        json_strz(&p->j, "level", book_caution_level_text(c->level));
        json_str(&p->j, "say", c->say);
        json_end_object(&p->j);
    }
    for (size_t i = 0; i < r->n_warnings; i++) {
        json_begin_object(&p->j, NULL);
        json_strz(&p->j, "level", "WARNING");
        json_str(&p->j, "say", r->warnings[i]);
        json_end_object(&p->j);
    }
    json_end_array(&p->j);
}

static void kit(struct printing *p)
{
    const struct book_recovery *b = &p->b->recovery;
    json_begin_object(&p->j, "kit");
    json_begin_array(&p->j, "tools");
    for (int i = 0; i < b->tools.n; i++) {
        struct text t = text_new(p->a);
        text_add(&t, b->tools.at[i]);
        for (int k = 0; k < b->stowed.n; k++) {
            if (str_eq(b->stowed.at[k].name, b->tools.at[i])) {
                text_addz(&t, ": ");
                text_add(&t, b->stowed.at[k].text);
            }
        }
        json_str(&p->j, NULL, text_str(&t));
    }
    json_end_array(&p->j);
    print_strings(&p->j, "equipment", b->equipment.at, (size_t)b->equipment.n);
    json_end_object(&p->j);
}

/* Step 1: the limits, what is used up, and blanks for what is wanted. */
static void limits_step(struct printing *p, const struct desk_recover *r)
{
    static const struct str columns[] = {{"", 0}, {"At most", 7}, {"Used up", 7}, {"Now", 3}};
    static const struct str names[LIMIT_COUNT] = {[LIMIT_DISTANCE] = {"Distance", 8},
                                                  [LIMIT_SPEED] = {"Speed", 5},
                                                  [LIMIT_SLOPE] = {"Slope", 5},
                                                  [LIMIT_TIME] = {"Time on the move", 16},
                                                  [LIMIT_LOAD] = {"Load on board", 13}};
    json_begin_object(&p->j, NULL);
    json_strz(&p->j, "type", "check");
    json_int(&p->j, "n", 1);
    json_strz(&p->j, "label", "Walk the way first: is it within the limits?");
    json_str(&p->j, "why",
             r->refusal.n ? r->refusal : S("further, faster or steeper wrecks the drive: then a trailer"));
    json_begin_array(&p->j, "tables");
    json_begin_object(&p->j, NULL);
    print_strings(&p->j, "columns", columns, sizeof columns / sizeof *columns);
    json_begin_array(&p->j, "rows");
    for (int i = 0; i < LIMIT_COUNT; i++) {
        if (!r->limits[i].limit.n) {
            continue;
        }
        bool counts = (i == LIMIT_DISTANCE || i == LIMIT_TIME) && r->state.phase != RECOVER_NONE && r->state.moves;
        json_begin_array(&p->j, NULL);
        json_str(&p->j, NULL, names[i]);
        json_str(&p->j, NULL, r->limits[i].limit);
        json_str(&p->j, NULL, counts ? r->limits[i].value : (struct str){0});
        json_end_array(&p->j);
    }
    json_end_array(&p->j);
    json_end_object(&p->j);
    json_end_array(&p->j);
    json_end_object(&p->j);
}

static void moves_table(struct printing *p, const struct desk_recover *r)
{
    static const struct str columns[] = {{"Move", 4}, {"Metres", 6}, {"Minutes", 7}, {"Slope", 5}, {"Sum, metres", 11}};
    double sum = 0;
    json_begin_array(&p->j, "tables");
    json_begin_object(&p->j, NULL);
    print_strings(&p->j, "columns", columns, sizeof columns / sizeof *columns);
    json_begin_array(&p->j, "rows");
    for (size_t i = 0; r->state.phase != RECOVER_NONE && i < r->n_moves; i++) {
        const double numbers[] = {(double)i + 1, r->moves[i].distance_m, r->moves[i].time_s / 60,
                                  r->moves[i].slope * 100, sum += r->moves[i].distance_m};
        json_begin_array(&p->j, NULL);
        for (size_t k = 0; k < sizeof numbers / sizeof *numbers; k++) {
            struct text t = text_new(p->a);
            if (isfinite(numbers[k])) {
                text_number(&t, numbers[k], 1);
            }
            json_str(&p->j, NULL, text_str(&t));
        }
        json_end_array(&p->j);
    }
    json_end_array(&p->j);
    json_int(&p->j, "blanks", 3);
    json_end_object(&p->j);
    json_end_array(&p->j);
}

static void one_step(struct printing *p, const struct desk_recover *r, const struct desk_recover_step *s, int n,
                     bool moves)
{
    json_begin_object(&p->j, NULL);
    json_strz(&p->j, "type", "check");
    json_int(&p->j, "n", n);
    json_str(&p->j, "label", s->act);
    json_str(&p->j, "place", s->place);
    json_str(&p->j, "why", s->done ? S("done, says the log") : s->back ? S("way back") : (struct str){0});
    if (s->takes_s > 0) {
        json_num(&p->j, "takes_s", s->takes_s);
    }
    print_cautions(p, s->cautions);
    print_strings(&p->j, "opens", &s->opens, s->opens.n > 0);
    print_strings(&p->j, "closes", &s->closes, s->closes.n > 0);
    print_strings(&p->j, "tools", s->tools.at, (size_t)s->tools.n);
    print_shown(p, p->b->recovery.steps[s->step].shown);
    if (moves) {
        moves_table(p, r);
    }
    json_end_object(&p->j);
}

static bool names(struct book_refs refs, int item)
{
    for (int i = 0; i < refs.n; i++) {
        if (refs.at[i] == item) {
            return true;
        }
    }
    return false;
}

/* Where the sheet opens an item and where it closes it; step 1 are the limits. */
static void put_back(struct printing *p, const struct desk_recover *r)
{
    json_begin_array(&p->j, "put_back");
    for (int item = 0; item < p->b->n_open_items; item++) {
        int opened = 0;
        int closed = 0;
        for (size_t i = 0; i < r->n_out && !opened; i++) {
            opened = names(p->b->recovery.steps[r->out[i].step].opens, item) ? (int)i + 2 : 0;
        }
        for (size_t i = 0; i < r->n_back; i++) {
            bool closes = names(p->b->recovery.steps[r->back[i].step].opens, item);
            closed = closes ? (int)(r->n_out + i) + 2 : closed;
        }
        if (opened) {
            json_begin_object(&p->j, NULL);
            json_str(&p->j, "label", p->b->open_items[item].label);
            json_int(&p->j, "opened_at", opened);
            json_int(&p->j, "closed_at", closed);
            json_end_object(&p->j);
        }
    }
    json_end_array(&p->j);
}

bool desk_print_recover(struct desk *d, const struct desk_recover *r, struct str paper, struct text *out, struct err *e)
{
    const struct book *b = r->machine->book;
    struct str size = {0};
    if (!print_paper(d, paper, &size, e)) {
        return false;
    }
    struct printing p = {.j = json_new(out, true),
                         .d = d,
                         .a = out->a,
                         .m = r->machine,
                         .b = b,
                         .figures = ARENA_ARRAY(out->a, bool, b->n_figures)};
    print_head(&p, size, S("Moving it dead, and the exact way back"));
    print_words(&p);
    before(&p, r);
    kit(&p);
    json_begin_array(&p.j, "steps");
    limits_step(&p, r);
    for (size_t i = 0; i < r->n_out; i++) {
        one_step(&p, r, &r->out[i], (int)i + 2, i + 1 == r->n_out);
    }
    for (size_t i = 0; i < r->n_back; i++) {
        one_step(&p, r, &r->back[i], (int)(r->n_out + i) + 2, false);
    }
    json_end_array(&p.j);
    put_back(&p, r);
    print_open_now(&p);
    print_figures(&p);
    print_qr(&p.j, p.a, p.m->serial);
    json_end_object(&p.j);
    text_char(out, '\n');
    return true;
}
