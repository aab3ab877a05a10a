/* What the answers to "why" share. */
#ifndef WITMARK_WHY_INTERNAL_H
#define WITMARK_WHY_INTERNAL_H

#include "due_internal.h"

struct reasons {
    struct desk *d;
    struct arena *a;
    struct desk_reason *at;
    size_t n, cap;
};

/* The sentence built in t, with where it comes from. */
void because(struct reasons *r, const struct text *t, struct str source);
/* Soot and ash of the exhaust filter; exhaust_why.c. */
void why_soot(struct reasons *r, struct machine_state *s);
void why_ash(struct reasons *r, struct machine_state *s);

#endif
