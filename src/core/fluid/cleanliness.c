/* Bounds as printed in the standards: they are rounded, so doubling from 0.01 would be wrong at 1290. */
#include "fluid/cleanliness.h"

#include "quantity/domain.h"

#include <math.h>

/* ISO 4406:2017, table 1: upper bound per ml of scale 0, 1, 2 ... */
static const double upper[] = {
    0.01, 0.02, 0.04, 0.08, 0.16, 0.32,  0.64,  1.3,   2.5,   5,      10,     20,     40,      80,      160,
    320,  640,  1300, 2500, 5000, 10000, 20000, 40000, 80000, 160000, 320000, 640000, 1300000, 2500000,
};
#define SCALES ((int)(sizeof upper / sizeof *upper))

bool iso4406_scale(double per_ml, int *scale, struct err *e)
{
    if (!domain_within("particles per ml", per_ml, "", 0, 1e12, e)) {
        return false;
    }
    int found = 0;
    while (found < SCALES && per_ml > upper[found] * (1 + 1e-12)) {
        found++;
    }
    *scale = found;
    return true;
}

bool iso4406_range(int scale, struct iso4406_band *out, struct err *e)
{
    if (!domain_within("scale number", scale, "", 0, SCALES - 1, e)) {
        return false;
    }
    *out = (struct iso4406_band){scale > 0 ? upper[scale - 1] : 0, upper[scale]};
    return true;
}

bool iso4406_code(const double *per_ml, const double *raw_counts, struct iso4406 *out, struct err *e)
{
    struct iso4406 code = {0};
    for (int i = 0; i < 3; i++) {
        if (!iso4406_scale(per_ml[i], &code.scale[i], e)) {
            return false;
        }
        if (i > 0 && per_ml[i] > per_ml[i - 1]) {
            return domain_refuse("more particles of a larger size than of a smaller one",
                                 "cumulative counts of 4, 6 and 14 um(c), in that order, which never rise", e);
        }
        if (raw_counts) {
            if (!domain_within("particles counted", raw_counts[i], "", 0, 1e12, e)) {
                return false;
            }
            code.at_least[i] = raw_counts[i] < 20;
        }
    }
    *out = code;
    return true;
}

void text_iso4406(struct text *t, struct iso4406 code)
{
    for (int i = 0; i < 3; i++) {
        if (i > 0) {
            text_char(t, '/');
        }
        if (code.scale[i] == ISO4406_ABSENT) {
            text_char(t, '-');
            continue;
        }
        text_addz(t, code.at_least[i] ? ">=" : "");
        if (code.scale[i] == ISO4406_OVER) {
            text_char(t, '>');
        }
        text_int(t, code.scale[i] == ISO4406_OVER ? ISO4406_OVER - 1 : code.scale[i]);
    }
}

/* One of the three numbers. */
static bool read_scale(struct str piece, int *scale, bool *at_least)
{
    piece = str_trim(piece);
    if (str_eq(piece, S("-"))) {
        *scale = ISO4406_ABSENT;
        return true;
    }
    *at_least = str_starts(piece, S(">="));
    bool over = !*at_least && str_starts(piece, S(">"));
    int64_t value = 0;
    if (!num_parse_i64(str_cut(piece,
                               *at_least ? 2
                               : over    ? 1
                                         : 0,
                               piece.n),
                       &value) ||
        value < 0 || value >= SCALES || (over && value != SCALES - 1)) {
        return false;
    }
    *scale = over ? ISO4406_OVER : (int)value;
    return true;
}

bool iso4406_parse(struct str s, struct iso4406 *out, struct err *e)
{
    struct iso4406 code = {0};
    struct str rest = s;
    struct str piece;
    int n = 0;
    while (n < 3 && str_next(&rest, '/', &piece) && read_scale(piece, &code.scale[n], &code.at_least[n])) {
        n++;
    }
    if (n < 3 || rest.n > 0) {
        return err_set(e, ERR_INPUT, "three scale numbers 0 .. 28, such as 19/16/12", "no ISO 4406 code: \"",
                       str_z(e->a, str_cut(s, 0, 40)), "\"", (char *)0);
    }
    *out = code;
    return true;
}

bool iso4406_meets(struct iso4406 code, struct iso4406 target, struct iso4406_check *out, struct err *e)
{
    bool any = false;
    int worst = 0;
    for (int i = 0; i < 3; i++) {
        if (code.scale[i] == ISO4406_ABSENT || target.scale[i] == ISO4406_ABSENT) {
            continue;
        }
        int excess = code.scale[i] - target.scale[i];
        worst = !any || excess > worst ? excess : worst;
        any = true;
    }
    if (!any) {
        return domain_refuse("code and target have no size in common", "two codes of the same sizes", e);
    }
    *out = (struct iso4406_check){worst <= 0, worst};
    return true;
}

/* SAE AS4059 rev E, table 2: most particles per 100 ml for classes 000, 00, 0 .. 12. */
static const double as4059[6][15] = {
    {195, 390, 780, 1560, 3120, 6250, 12500, 25000, 50000, 100000, 200000, 400000, 800000, 1600000, 3200000},
    {76, 152, 304, 609, 1217, 2432, 4864, 9731, 19462, 38924, 77849, 155698, 311396, 622792, 1245584},
    {14, 27, 54, 109, 217, 432, 864, 1731, 3462, 6924, 13849, 27698, 55396, 110792, 221584},
    {3, 5, 10, 20, 39, 76, 152, 306, 612, 1224, 2449, 4898, 9796, 19592, 39184},
    {1, 1, 2, 4, 7, 13, 26, 53, 106, 212, 424, 848, 1696, 3392, 6784},
    {0, 0, 0, 1, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 1024},
};

bool as4059_class(const double per_100ml[6], int *class_number, struct err *e)
{
    int worst = 0;
    bool any = false;
    double last = HUGE_VAL;
    for (int size = 0; size < 6; size++) {
        double count = per_100ml[size];
        if (isnan(count)) {
            continue;
        }
        if (!domain_within("particles per 100 ml", count, "", 0, 1e12, e)) {
            return false;
        }
        if (count > last) {
            return domain_refuse("more particles of a larger size than of a smaller one",
                                 "cumulative counts, which never rise", e);
        }
        last = count;
        int row = 0;
        while (row < 15 && count > as4059[size][row]) {
            row++;
        }
        worst = !any || row > worst ? row : worst;
        any = true;
    }
    if (!any) {
        return domain_refuse("no count given", "a count of at least one size A to F", e);
    }
    *class_number = worst - 2;
    return true;
}
