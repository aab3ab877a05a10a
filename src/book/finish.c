/* What is there before a mapping is bound, what follows from its keys, and the findings that one thing alone can give.
 */
#include "bookfile_internal.h"

#include "exhaust/burn_place.h"

#include <math.h>
#include <string.h>

#define LINE_CHARS 48 /* a line of a caution that is read at a glance; common practice, no source */
#define LINES_MOST 3

void set_defaults(enum section section, void *base)
{
    size_t n = 0;
    const struct key *k = keys_of(section, &n);
    int none = BOOK_NONE;
    for (size_t i = 0; i < n; i++) {
        if (k[i].type == T_REF && k[i].offset != NO_OFFSET) {
            memcpy((char *)base + k[i].offset, &none, sizeof none);
        } else if (k[i].type == T_TO) {
            memset((char *)base + k[i].offset, BOOK_NONE, BOOK_VARIABLES_MAX);
        }
    }
    if (section == SEC_PART) {
        ((struct book_part *)base)->pack = 1;
    } else if (section == SEC_CHECKPOINT) {
        ((struct book_checkpoint *)base)->reference_fluid = BOOK_NONE;
    } else if (section == SEC_SYMPTOM) {
        ((struct book_symptom *)base)->by_itself = 0.03;
        ((struct book_symptom *)base)->takes_s = 60;
    } else if (section == SEC_TEST) {
        ((struct book_test *)base)->kind = DEED_LOOK;
        ((struct book_test *)base)->by_itself = 0.05;
    }
}

struct str label_of_name(struct str name, struct arena *a)
{
    struct text t = text_new(a);
    for (size_t i = 0; i < name.n; i++) {
        char c = name.p[i];
        if (c == '/') {
            text_addz(&t, ", ");
        } else if (i == 0 && c >= 'a' && c <= 'z') {
            text_char(&t, (char)(c - ('a' - 'A')));
        } else {
            text_char(&t, c == '-' ? ' ' : c);
        }
    }
    text_z(&t);
    return text_str(&t);
}

/* "Raise the body to its stop" -> "raise-the-body-to-its-stop", at most 48 bytes. */
static struct str name_of_words(struct str act, struct arena *a)
{
    struct text t = text_new(a);
    for (size_t i = 0; i < act.n && t.n < 48; i++) {
        char c = act.p[i];
        c = c >= 'A' && c <= 'Z' ? (char)(c + ('a' - 'A')) : c;
        if ((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9')) {
            text_char(&t, c);
        } else if (t.n && t.p[t.n - 1] != '-') {
            text_char(&t, '-');
        }
    }
    struct str name = text_str(&t);
    return name.n && name.p[name.n - 1] == '-' ? str_cut(name, 0, name.n - 1) : name;
}

/* ---- checkpoints ---- */

/* The first interval may not be longer than the regular one, nor may the severe one. */
static void compare_interval(struct binding *b, const struct node *n, const char *key, struct interval i,
                             struct interval every)
{
    if (node_getz(n, key) && !node_getz(n, "every")) {
        find(b->finds, node_pos(n, key), RULE_INTERVAL, "every: the regular interval, beside it", "the interval \"",
             key, "\" stands alone", (char *)0);
    }
    bool longer = (i.hours > 0 && every.hours > 0 && i.hours > every.hours) ||
                  (i.months > 0 && every.months > 0 && i.months > every.months) ||
                  (i.days > 0 && every.days > 0 && i.days > every.days);
    if (longer) {
        find(b->finds, node_pos(n, key), RULE_INTERVAL, "no longer than \"every\"", "the interval \"", key,
             "\" is longer than the regular one", (char *)0);
    }
}

static void finish_checkpoint(struct binding *b, const struct node *n, struct book_checkpoint *c)
{
    bool done_by = node_getz(n, "done-by") != NULL;
    bool measure = node_getz(n, "measure") != NULL;
    bool look = node_getz(n, "look") != NULL;
    if (done_by + measure + look != 1) {
        find(b->finds, n->pos, RULE_TOO_MANY_KEYS, "exactly one of done-by, measure, look",
             "a checkpoint is of one kind", (char *)0);
    }
    c->kind = done_by ? CHECK_DONE_BY : measure ? CHECK_MEASURE : CHECK_LOOK;
    c->low_si = -HUGE_VAL;
    c->high_si = HUGE_VAL;
    static const char *const reading[] = {"limits",   "want",  "gauge",     "uncertainty", "also-read",
                                          "refer-to", "given", "judged-at", "from"};
    for (size_t i = 0; !measure && i < sizeof reading / sizeof *reading; i++) {
        if (node_getz(n, reading[i])) {
            find(b->finds, node_pos(n, reading[i]), RULE_TOO_MANY_KEYS, "only beside \"measure\"", "\"", reading[i],
                 "\" belongs to a reading", (char *)0);
        }
    }
    if (measure && !node_getz(n, "limits")) {
        find(b->finds, n->pos, RULE_MISSING_KEY, "limits: low .. high and a unit", "a reading lacks \"limits\"",
             (char *)0);
    }
    if (done_by && !node_getz(n, "every")) {
        find(b->finds, n->pos, RULE_MISSING_KEY, "every: 250 h or 12 months",
             "a checkpoint by interval lacks \"every\"", (char *)0);
    }
    if (measure) {
        finish_readings(b, n, c);
    }
    compare_interval(b, n, "first", c->first, c->every);
    compare_interval(b, n, "severe", c->severe, c->every);
}

/* ---- the rest ---- */

/* The chain of numbers: `number`, then those of `then`. It must end and never come back. */
static void finish_part(struct binding *b, const struct node *n, struct book_part *p)
{
    struct str *chain = ARENA_ARRAY(b->a, struct str, p->chain.n + 1);
    int count = 0;
    chain[count++] = p->number;
    for (int i = 0; i < p->chain.n; i++) {
        for (int j = 0; j < count; j++) {
            if (str_eq(chain[j], p->chain.at[i])) {
                find(b->finds, node_pos(n, "then"), RULE_SUPERSESSION, "each number once, the last one is ordered",
                     "the number ", str_z(b->finds->a, p->chain.at[i]), " replaces itself", (char *)0);
            }
        }
        chain[count++] = p->chain.at[i];
    }
    p->chain = (struct book_texts){chain, count};
    p->now = chain[count - 1];
}

/* Lines a text takes at LINE_CHARS characters, broken at blanks. */
static int lines_of(struct str s)
{
    int lines = 1;
    size_t used = 0;
    struct str rest = s;
    struct str word;
    while (str_next(&rest, ' ', &word)) {
        size_t n = str_chars(word);
        if (used && used + 1 + n > LINE_CHARS) {
            lines++;
            used = 0;
        }
        used += (used ? 1 : 0) + n;
    }
    return lines;
}

static void finish_caution(struct binding *b, const struct node *n, const struct book_caution *c)
{
    if ((c->level == CAUTION_DANGER || c->level == CAUTION_WARNING) && lines_of(c->say) > LINES_MOST) {
        find_level(b->finds, DIAG_DOUBT, node_pos(n, "say"), RULE_CAUTION,
                   "the hazard and how to avoid it, three lines of 48 characters",
                   "too long to be read before something happens", (char *)0);
    }
}

static void finish_torque(struct binding *b, const struct node *n, const struct book_torque *t)
{
    bool any = t->torque.given || node_getz(n, "torque");
    for (int i = 0; i < n->n && !any; i++) {
        any = !key_find(SEC_TORQUE, n->key[i]->text) && !key_is_variant(n->key[i]->text);
    }
    if (!any) {
        find(b->finds, n->pos, RULE_MISSING_KEY, "torque: 190 N.m, or front: 190 N.m, rear: 210 N.m",
             "this torque lacks \"torque\"", (char *)0);
    }
}

static void finish_fuse(struct binding *b, const struct node *n)
{
    if (!node_getz(n, "rating") == !node_getz(n, "relay")) {
        find(b->finds, n->pos, RULE_TOO_MANY_KEYS, "rating: 15 A, or relay: yes",
             "a fuse has a rating, a relay has none", (char *)0);
    }
}

static void finish_shown(struct binding *b, const struct node *n)
{
    if (node_getz(n, "mark") && !node_getz(n, "figure")) {
        find(b->finds, node_pos(n, "mark"), RULE_FIGURE, "figure: NAME beside it", "a mark, but no figure", (char *)0);
    }
}

static void finish_task(struct book_task *t)
{
    double sum = 0;
    for (int i = 0; i < t->n_steps; i++) {
        sum += t->steps[i].takes_s;
    }
    t->labour_s = t->labour_s > 0 ? t->labour_s : sum;
}

/* A place for a tool that nobody is told to take is a slip of the pen. */
static void finish_stowed(struct binding *b, const struct node *n, const struct book_recovery *r)
{
    for (int i = 0; i < r->stowed.n; i++) {
        int k = 0;
        while (k < r->tools.n && !str_eq(r->tools.at[k], r->stowed.at[i].name)) {
            k++;
        }
        if (k == r->tools.n) {
            const struct node *stowed = node_getz(n, "stowed");
            find(b->finds, stowed ? stowed->pos : n->pos, RULE_DANGLING,
                 suggest(b->finds->a, r->stowed.at[i].name, r->tools.at, (size_t)r->tools.n), "\"tools\" has no \"",
                 r->stowed.at[i].name.p, "\"", (char *)0);
        }
    }
}

static void finish_recovery(struct binding *b, const struct node *n, struct book_recovery *r)
{
    finish_stowed(b, n, r);
    const struct node *back = node_getz(n, "back");
    r->given = true;
    r->pos = n->pos;
    if (back && !(back->kind == NODE_TEXT && str_eq(back->text, S("reverse")))) {
        find(b->finds, back->pos, RULE_WORD, "reverse, with `undo` words at the steps", "the way back is the reverse",
             (char *)0);
    }
    for (int i = 0; i < r->n_steps; i++) {
        const struct book_step *s = &r->steps[i];
        if (s->opens.n > 0 && s->undo.n == 0) {
            find(b->finds, s->pos, RULE_UNDO, "undo: the words of the reverse step",
                 "this step opens something, but does not say how it is undone", (char *)0);
        }
    }
}

/* "110/0" or "110": SPN of 19 bits and FMI of 5, SAE J1939-73. */
static bool is_fault_code(struct str code)
{
    int64_t spn = 0;
    int64_t fmi = 0;
    struct str rest = code;
    struct str first = S("");
    return str_next(&rest, '/', &first) && num_parse_i64(first, &spn) && spn > 0 && spn < 1 << 19 &&
           (first.n == code.n || (num_parse_i64(rest, &fmi) && fmi >= 0 && fmi < 32));
}

static void finish_symptom(struct binding *b, const struct node *n, const struct book_symptom *s)
{
    for (int i = 0; i < s->codes.n; i++) {
        if (!is_fault_code(s->codes.at[i])) {
            find(b->finds, node_pos(n, "codes"), RULE_TRACE, "SPN/FMI, as 110/0, or an SPN alone", "\"",
                 str_z(b->finds->a, s->codes.at[i]), "\" is no fault code", (char *)0);
        }
    }
}

#define USUAL_SPREAD 0.35 /* our own choice */
#define USUAL_SCATTER 0.30
#define USUAL_OIL_SPREAD 0.5

static void finish_exhaust(struct binding *b, const struct node *n, struct book_exhaust *x)
{
    static const char *const with_oil[] = {"oil-per-hour", "oil-density",   "oil-ash",
                                           "ash-kept",     "filter-volume", "ash-at-most"};
    x->given = true;
    x->pos = n->pos;
    x->spread = x->spread > 0 ? x->spread : USUAL_SPREAD;
    x->scatter = node_getz(n, "scatter") ? x->scatter : USUAL_SCATTER;
    x->oil_spread = x->oil_spread > 0 ? x->oil_spread : USUAL_OIL_SPREAD;
    for (size_t i = 0; i < sizeof with_oil / sizeof *with_oil; i++) {
        bool given = node_getz(n, with_oil[i]) != NULL;
        if (node_getz(n, "oil") && !given) {
            find(b->finds, n->pos, RULE_MISSING_KEY, "it, or no \"oil\"", "the ash needs \"", with_oil[i], "\"",
                 (char *)0);
        } else if (!node_getz(n, "oil") && given) {
            find(b->finds, node_pos(n, with_oil[i]), RULE_TOO_MANY_KEYS, "oil: NAME of the engine oil beside it", "\"",
                 with_oil[i], "\" stands without \"oil\"", (char *)0);
        }
    }
    static const char *const words_right = "dusty, dry-vegetation, indoors, public, combustibles or fire-ban";
    for (int i = 0; i < x->inhibit.n; i++) {
        enum burn_place place = PLACE_HARD;
        if (!burn_place_find(x->inhibit.at[i], &place) || place == PLACE_HARD) {
            find(b->finds, node_pos(n, "inhibit"), RULE_WORD, words_right, "\"", str_z(b->finds->a, x->inhibit.at[i]),
                 "\" is no place that forbids burning", (char *)0);
        }
    }
}

void finish(struct binding *b, enum section section, const struct node *n, void *base)
{
    switch ((int)section) {
    case SEC_NEVER:
        if (!node_getz(n, "when")) {
            take_condition(b, n, &((struct book_never *)base)->when);
        }
        break;
    case SEC_CHANGE: {
        struct book_change *c = base;
        if (c->name.n == 0) {
            c->name = name_of_words(c->act, b->a);
        }
        finish_shown(b, n);
        break;
    }
    case SEC_PLACE:
    case SEC_STEP:
    case SEC_ADJUSTER:
        if (section == SEC_ADJUSTER && ((struct book_adjuster *)base)->first_step <= 0) {
            ((struct book_adjuster *)base)->first_step = ((struct book_adjuster *)base)->step;
        }
        finish_shown(b, n);
        break;
    case SEC_PART:
        finish_part(b, n, base);
        break;
    case SEC_TORQUE:
        finish_torque(b, n, base);
        break;
    case SEC_CAUTION:
        finish_caution(b, n, base);
        break;
    case SEC_CHECKPOINT:
        finish_checkpoint(b, n, base);
        finish_shown(b, n);
        break;
    case SEC_TASK:
        finish_task(base);
        break;
    case SEC_FUSE:
        finish_fuse(b, n);
        break;
    case SEC_RECOVERY:
        finish_recovery(b, n, base);
        break;
    case SEC_SYMPTOM:
        finish_symptom(b, n, base);
        break;
    case SEC_TEST:
        finish_shown(b, n);
        break;
    case SEC_HELP:
        ((struct book_help *)base)->given = true;
        break;
    case SEC_EXHAUST:
        finish_exhaust(b, n, base);
        break;
    default:
        break;
    }
}
