/* Numbers to and from text, without stdio and locale.
 *
 * The shortest decimal of a double is found by the free-format algorithm of Steele and White (1990) as revised by
 * Burger and Dybvig, "Printing floating-point numbers quickly and accurately", PLDI 1996, figure 1, on exact
 * integers of our own. It is slow (about a microsecond) and short; nothing here is hot. */
#include "base/text.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- exact integers, little endian base 2^32; 1130 bits are enough for any double times ten ---- */

#define BIG_WORDS 40

struct big {
    uint32_t w[BIG_WORDS];
    int n; /* words in use */
};

static struct big big_of(uint64_t v)
{
    struct big b = {.n = 0};
    while (v) {
        b.w[b.n++] = (uint32_t)v;
        v >>= 32;
    }
    return b;
}

static void big_times(struct big *b, uint32_t factor)
{
    uint64_t carry = 0;
    for (int i = 0; i < b->n; i++) {
        carry += (uint64_t)b->w[i] * factor;
        b->w[i] = (uint32_t)carry;
        carry >>= 32;
    }
    if (carry) {
        assert(b->n < BIG_WORDS);
        b->w[b->n++] = (uint32_t)carry;
    }
}

static void big_shift(struct big *b, int bits)
{
    for (; bits >= 31; bits -= 31) {
        big_times(b, (uint32_t)1 << 31);
    }
    big_times(b, (uint32_t)1 << bits);
}

static void big_pow10(struct big *b, int power)
{
    for (; power >= 9; power -= 9) {
        big_times(b, 1000000000);
    }
    for (; power > 0; power--) {
        big_times(b, 10);
    }
}

static int big_cmp(const struct big *a, const struct big *b)
{
    if (a->n != b->n) {
        return a->n < b->n ? -1 : 1;
    }
    for (int i = a->n - 1; i >= 0; i--) {
        if (a->w[i] != b->w[i]) {
            return a->w[i] < b->w[i] ? -1 : 1;
        }
    }
    return 0;
}

static struct big big_plus(const struct big *a, const struct big *b)
{
    struct big sum = {.n = a->n > b->n ? a->n : b->n};
    uint64_t carry = 0;
    for (int i = 0; i < sum.n; i++) {
        carry += (uint64_t)(i < a->n ? a->w[i] : 0) + (i < b->n ? b->w[i] : 0);
        sum.w[i] = (uint32_t)carry;
        carry >>= 32;
    }
    if (carry) {
        assert(sum.n < BIG_WORDS);
        sum.w[sum.n++] = (uint32_t)carry;
    }
    return sum;
}

/* a -= b, where a >= b. */
static void big_minus(struct big *a, const struct big *b)
{
    int64_t borrow = 0;
    for (int i = 0; i < a->n; i++) {
        int64_t d = (int64_t)a->w[i] - (i < b->n ? b->w[i] : 0) + borrow;
        a->w[i] = (uint32_t)d;
        borrow = d < 0 ? -1 : 0;
    }
    while (a->n > 0 && a->w[a->n - 1] == 0) {
        a->n--;
    }
}

/* Digits d1 d2 ... (without point) and k so that the value is 0.d1d2... * 10^k. value > 0 and finite. */
static int shortest_digits(double value, char digits[20], int *k_out)
{
    int e2 = 0;
    double fraction = frexp(value, &e2); /* value = fraction * 2^e2, fraction in [0.5, 1) */
    uint64_t f = (uint64_t)ldexp(fraction, 53);
    int e = e2 - 53;
    if (e < -1074) { /* subnormal: the gap between neighbours is 2^-1074 */
        f >>= -1074 - e;
        e = -1074;
    }
    bool even = (f & 1) == 0;
    bool edge = f == (uint64_t)1 << 52 && e > -1074; /* the gap below is half the gap above */

    struct big r = big_of(f);
    struct big s = big_of(1);
    struct big up = big_of(1);
    struct big down = big_of(1);
    int extra = edge ? 2 : 1;
    if (e >= 0) {
        big_shift(&r, e + extra);
        big_shift(&s, extra);
        big_shift(&up, e + extra - 1);
        big_shift(&down, e);
    } else {
        big_shift(&r, extra);
        big_shift(&s, -e + extra);
        big_shift(&up, extra - 1);
    }
    int k = (int)ceil((e2 - 1) * 0.30102999566398120 - 1e-10);
    if (k >= 0) {
        big_pow10(&s, k);
    } else {
        big_pow10(&r, -k);
        big_pow10(&up, -k);
        big_pow10(&down, -k);
    }
    struct big high = big_plus(&r, &up);
    int c = big_cmp(&high, &s);
    if (even ? c >= 0 : c > 0) { /* the estimate of k was one too small */
        k++;
    } else {
        big_times(&r, 10);
        big_times(&up, 10);
        big_times(&down, 10);
    }
    int n = 0;
    for (;;) {
        int d = 0;
        while (big_cmp(&r, &s) >= 0) {
            big_minus(&r, &s);
            d++;
        }
        int low_c = big_cmp(&r, &down);
        high = big_plus(&r, &up);
        int high_c = big_cmp(&high, &s);
        bool low_ok = even ? low_c <= 0 : low_c < 0;
        bool high_ok = even ? high_c >= 0 : high_c > 0;
        if (!low_ok && !high_ok) {
            digits[n++] = (char)('0' + d);
            big_times(&r, 10);
            big_times(&up, 10);
            big_times(&down, 10);
            continue;
        }
        if (low_ok && high_ok) {
            struct big twice = r;
            big_times(&twice, 2);
            int half = big_cmp(&twice, &s);
            /* ECMA-262 leaves an exact tie open; JavaScript engines round it to even digits, as here. */
            high_ok = half > 0 || (half == 0 && d % 2 == 1);
        }
        digits[n++] = (char)('0' + (high_ok ? d + 1 : d));
        break;
    }
    *k_out = k;
    return n;
}

void text_int(struct text *t, int64_t value)
{
    text_zeros(t, value, 1);
}

void text_zeros(struct text *t, int64_t value, int width)
{
    char buffer[24];
    int n = 0;
    uint64_t v = value < 0 ? (uint64_t)0 - (uint64_t)value : (uint64_t)value;
    do {
        buffer[n++] = (char)('0' + v % 10);
        v /= 10;
    } while (v);
    if (value < 0) {
        text_char(t, '-');
    }
    for (int i = n; i < width; i++) {
        text_char(t, '0');
    }
    while (n > 0) {
        text_char(t, buffer[--n]);
    }
}

void text_double(struct text *t, double value)
{
    assert(isfinite(value));
    if (value == 0) { /* also -0, as ECMA-262 prints it */
        text_char(t, '0');
        return;
    }
    if (value < 0) {
        text_char(t, '-');
        value = -value;
    }
    char digits[20];
    int point = 0; /* n of ECMA-262 6.1.6.1.20: value = digits * 10^(point - count) */
    int count = shortest_digits(value, digits, &point);
    struct str d = {digits, (size_t)count};
    if (count <= point && point <= 21) {
        text_add(t, d);
        for (int i = count; i < point; i++) {
            text_char(t, '0');
        }
    } else if (0 < point && point <= 21) {
        text_add(t, str_cut(d, 0, (size_t)point));
        text_char(t, '.');
        text_add(t, str_cut(d, (size_t)point, d.n));
    } else if (-6 < point && point <= 0) {
        text_addz(t, "0.");
        for (int i = point; i < 0; i++) {
            text_char(t, '0');
        }
        text_add(t, d);
    } else {
        text_char(t, digits[0]);
        if (count > 1) {
            text_char(t, '.');
            text_add(t, str_cut(d, 1, d.n));
        }
        text_char(t, 'e');
        text_char(t, point - 1 < 0 ? '-' : '+');
        text_int(t, point - 1 < 0 ? 1 - point : point - 1);
    }
}

/* Rounds the shortest decimal of the value (what a person sees of it), so that 1.005 gives 1.01 and 0.125 gives 0.13.
 */
void text_fixed(struct text *t, double value, int decimals)
{
    assert(decimals >= 0 && decimals <= 9);
    if (isnan(value)) {
        text_addz(t, "not a number");
        return;
    }
    if (isinf(value)) {
        text_addz(t, value < 0 ? "-infinite" : "infinite");
        return;
    }
    char digits[20] = "0";
    int point = 0;
    int count = value == 0 ? 0 : shortest_digits(fabs(value), digits, &point);
    /* keep = digits kept in front of the cut; the first dropped one decides. */
    int keep = point + decimals;
    char kept[400] = {0};
    int n = 0;
    bool up = keep >= 0 && keep < count && digits[keep] >= '5';
    for (int i = 0; i < keep && n < 390; i++) {
        kept[n++] = i < count ? digits[i] : '0';
    }
    for (int i = n - 1; up && i >= 0; i--) {
        up = kept[i] == '9';
        kept[i] = up ? '0' : (char)(kept[i] + 1);
    }
    if (up) { /* carried out of the first digit */
        memmove(kept + 1, kept, (size_t)n);
        kept[0] = '1';
        n++;
    }
    bool zero = true;
    for (int i = 0; i < n; i++) {
        zero = zero && kept[i] == '0';
    }
    if (value < 0 && !zero) {
        text_char(t, '-');
    }
    int whole = n - decimals;
    if (whole <= 0) {
        text_char(t, '0');
    }
    for (int i = 0; i < whole; i++) {
        text_char(t, kept[i]);
    }
    if (decimals > 0) {
        text_char(t, '.');
        for (int i = whole; i < n; i++) {
            text_char(t, i < 0 ? '0' : kept[i]);
        }
    }
}

void text_number(struct text *t, double value, int decimals)
{
    size_t from = t->n;
    text_fixed(t, value, decimals);
    if (decimals == 0 || !isfinite(value)) {
        return;
    }
    while (t->n > from && t->p[t->n - 1] == '0') {
        t->n--;
    }
    if (t->n > from && t->p[t->n - 1] == '.') {
        t->n--;
    }
}

static bool is_digit(const struct str *s, size_t i)
{
    return i < s->n && s->p[i] >= '0' && s->p[i] <= '9';
}

#define NUMBER_LONGEST 320

size_t num_read(struct str s, double *value)
{
    size_t i = s.n && (s.p[0] == '-' || s.p[0] == '+') ? 1 : 0;
    size_t from = i;
    while (is_digit(&s, i)) {
        i++;
    }
    if (i == from) {
        return 0;
    }
    if (i < s.n && s.p[i] == '.' && is_digit(&s, i + 1)) {
        i++;
        while (is_digit(&s, i)) {
            i++;
        }
    }
    if (i < s.n && (s.p[i] == 'e' || s.p[i] == 'E')) {
        size_t j = i + 1;
        if (j < s.n && (s.p[j] == '-' || s.p[j] == '+')) {
            j++;
        }
        if (is_digit(&s, j)) {
            while (is_digit(&s, j)) {
                j++;
            }
            i = j;
        }
    }
    if (i >= NUMBER_LONGEST) {
        return 0;
    }
    char z[NUMBER_LONGEST];
    memcpy(z, s.p, i);
    z[i] = '\0';
    double v = strtod(z, NULL); /* nearest double; the process never leaves the C locale */
    if (!isfinite(v)) {
        return 0;
    }
    *value = v;
    return i;
}

bool num_parse(struct str s, double *value)
{
    double v = 0;
    if (s.n == 0 || num_read(s, &v) != s.n) {
        return false;
    }
    *value = v;
    return true;
}

bool num_parse_i64(struct str s, int64_t *value)
{
    bool minus = s.n && s.p[0] == '-';
    size_t i = s.n && (s.p[0] == '-' || s.p[0] == '+') ? 1 : 0;
    if (i == s.n) {
        return false;
    }
    int64_t v = 0;
    for (; i < s.n; i++) {
        if (!is_digit(&s, i)) {
            return false;
        }
        int digit = s.p[i] - '0';
        if (v < (INT64_MIN + digit) / 10) { /* counted downwards: the negative range is the larger */
            return false;
        }
        v = v * 10 - digit;
    }
    if (!minus && v == INT64_MIN) {
        return false;
    }
    *value = minus ? v : -v;
    return true;
}
