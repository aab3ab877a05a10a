/* Words against phrases. The weights and limits here are ours; tests/core/trace_find_test.c says what they must do. */
#include "trace/find.h"

#include <math.h>
#include <string.h>

#define WORDS_MOST 16

struct words {
    struct str at[WORDS_MOST];
    int n;
};

static bool is_small(struct str w)
{
    static const char *const small[] = {"the", "a",    "an",   "it",    "its", "is",  "in", "on",  "of",
                                        "to",  "and",  "or",   "at",    "by",  "for", "my", "i",   "he",
                                        "she", "with", "when", "while", "has", "be",  "as", "that"};
    for (size_t i = 0; i < sizeof small / sizeof *small; i++) {
        if (str_eq(w, str_of(small[i]))) {
            return true;
        }
    }
    return false;
}

/* Lower case words of letters and digits; "won't" is "wont". */
static struct words cut(struct str s, struct arena *a)
{
    struct words w = {.n = 0};
    char *low = arena_copy(a, s.p ? s.p : "", s.n);
    size_t n = 0;
    for (size_t i = 0; i < s.n; i++) { /* drop apostrophes, also the typographic one (three bytes) */
        unsigned char c = (unsigned char)low[i];
        if (c == '\'') {
            continue;
        }
        if (c == 0xe2 && i + 2 < s.n && (unsigned char)low[i + 1] == 0x80 && (unsigned char)low[i + 2] == 0x99) {
            i += 2;
            continue;
        }
        low[n++] = (char)(c >= 'A' && c <= 'Z' ? c + ('a' - 'A') : c);
    }
    for (size_t i = 0; i < n && w.n < WORDS_MOST;) {
        size_t from = i;
        while (i < n && ((low[i] >= 'a' && low[i] <= 'z') || (low[i] >= '0' && low[i] <= '9') || (low[i] & 0x80))) {
            i++;
        }
        struct str word = {low + from, i - from};
        if (word.n && !is_small(word)) {
            w.at[w.n++] = word;
        }
        i += i == from ? 1 : 0;
    }
    return w;
}

/* 1 = the same word, 0 = another. */
static double alike(struct str a, struct str b)
{
    if (str_eq(a, b)) {
        return 1;
    }
    size_t least = a.n < b.n ? a.n : b.n;
    size_t same = 0;
    while (same < least && a.p[same] == b.p[same]) {
        same++;
    }
    size_t longest = a.n > b.n ? a.n : b.n;
    if (same >= 4 && longest - same <= 4 && least - same <= 1) { /* another ending: squeal, squeals, squealing */
        return 0.95;
    }
    size_t slips = longest / 4;
    size_t d = slips ? str_distance(a, b, slips) : 1;
    return d <= slips ? 1 - 0.7 * (double)d / (double)longest - 0.1 : 0;
}

/* Best match of a word in a phrase. */
static double in_phrase(struct str word, const struct words *phrase)
{
    double best = 0;
    for (int i = 0; i < phrase->n; i++) {
        best = fmax(best, alike(word, phrase->at[i]));
    }
    return best;
}

void find_things(struct str said, const struct find_phrase *phrases, size_t n, int n_things, struct arena *a,
                 double *out)
{
    struct words query = cut(said, a);
    struct words *cuts = ARENA_ARRAY(a, struct words, n + 1);
    double *found = ARENA_ARRAY(a, double, (size_t)n_things *WORDS_MOST + 1); /* thing, word: best in any phrase */
    double *one = ARENA_ARRAY(a, double, n_things + 1); /* thing: the phrase that has most of the words and no others */
    double weight[WORDS_MOST] = {0};
    double weights = 0;
    for (size_t p = 0; p < n; p++) {
        cuts[p] = cut(phrases[p].words, a);
        for (int w = 0; w < query.n; w++) {
            double *best = &found[phrases[p].thing * WORDS_MOST + w];
            *best = fmax(*best, in_phrase(query.at[w], &cuts[p]));
        }
    }
    for (int w = 0; w < query.n; w++) {
        double have = 0;
        for (int t = 0; t < n_things; t++) {
            have += found[t * WORDS_MOST + w] > 0.5 ? 1 : 0;
        }
        weight[w] = have > 0 ? log((1 + n_things) / (0.5 + have)) : 0.3; /* what nobody says is no help */
        weights += weight[w];
    }
    for (size_t p = 0; p < n; p++) {
        double sum = 0;
        double plain = 0;
        for (int w = 0; w < query.n; w++) {
            double fit = in_phrase(query.at[w], &cuts[p]);
            sum += weight[w] * fit;
            plain += fit;
        }
        int both = query.n + cuts[p].n;
        double fit = weights > 0 ? 0.55 * sum / weights + 0.45 * 2 * plain / both : 0; /* Dice's coefficient */
        one[phrases[p].thing] = fmax(one[phrases[p].thing], fit);
    }
    for (int t = 0; t < n_things; t++) {
        double any = 0;
        for (int w = 0; w < query.n; w++) {
            any += weight[w] * found[t * WORDS_MOST + w];
        }
        out[t] = weights > 0 ? 0.35 * any / weights + 0.65 * one[t] : 0;
    }
}

int find_best(const double *fit, int n_things, int *order)
{
    int first = -1;
    int second = -1;
    for (int t = 0; t < n_things; t++) {
        if (first < 0 || fit[t] > fit[first]) {
            second = first;
            first = t;
        } else if (second < 0 || fit[t] > fit[second]) {
            second = t;
        }
    }
    for (int i = 0; order && i < n_things; i++) {
        int k = i;
        for (; k > 0 && fit[order[k - 1]] < fit[i]; k--) {
            order[k] = order[k - 1];
        }
        order[k] = i;
    }
    bool good = first >= 0 && fit[first] >= 0.25 &&
                (second < 0 || fit[second] < (fit[first] > 0.97 ? 0.96 : 0.87) * fit[first]);
    return good ? first : -1;
}
