/* A plain main for a fuzz target, so that the targets run in the ordinary suite and never rot.
 *
 *   NAME_fuzz CORPUS [MUTATIONS [SEED]]
 *
 * Runs every file of the corpus folder, in the order of their names, then MUTATIONS seeded changes of them (bytes
 * flipped, removed, repeated, replaced by telling ones, or spliced with another file). A crash names nothing by itself:
 * the seed and the number are printed before, every thousand, and the input being run stands in the file named by
 * $FUZZ_LAST, if set.
 */
#include <dirent.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define FILES_MOST 4096
#define SIZE_MOST (1 << 20)

struct input {
    uint8_t *at;
    size_t n;
};

static uint64_t next_random(uint64_t *x)
{
    *x ^= *x << 13;
    *x ^= *x >> 7;
    *x ^= *x << 17;
    return *x;
}

static size_t below(uint64_t *x, size_t n)
{
    return n ? (size_t)(next_random(x) % n) : 0;
}

/* Runs one input from a block of exactly its size, so that a read past its end is found. */
static void run(const uint8_t *data, size_t n)
{
    const char *last = getenv("FUZZ_LAST");
    FILE *f = last ? fopen(last, "wb") : NULL;
    if (f) {
        fwrite(data, 1, n, f);
        fclose(f);
    }
    uint8_t *copy = malloc(n ? n : 1);
    if (!copy) {
        exit(2);
    }
    memcpy(copy, data, n);
    LLVMFuzzerTestOneInput(copy, n);
    free(copy);
}

static int by_name(const struct dirent **a, const struct dirent **b)
{
    return strcmp((*a)->d_name, (*b)->d_name);
}

static struct input read_file(const char *folder, const char *name)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    struct input in = {NULL, 0};
    FILE *f = fopen(path, "rb");
    if (!f) {
        return in;
    }
    in.at = malloc(SIZE_MOST);
    if (in.at) {
        in.n = fread(in.at, 1, SIZE_MOST, f);
    }
    fclose(f);
    return in;
}

/* Writes a changed copy of one input into out (room for SIZE_MOST bytes); returns its size. */
static size_t mutate(const struct input *files, size_t count, uint64_t *x, uint8_t *out)
{
    static const char *const telling[] = {"\xff", "",  "0", "-1", "9999999999999999999", "1e309", "\"", "\n", "\r\n",
                                          "\xc3", ":", "[", "{"};
    const struct input *from = &files[below(x, count)];
    size_t n = from->n < SIZE_MOST / 4 ? from->n : SIZE_MOST / 4;
    memcpy(out, from->at, n);
    for (size_t round = 1 + below(x, 4); round > 0; round--) {
        size_t at = below(x, n);
        size_t length = below(x, n - at < 64 ? n - at + 1 : 64);
        const struct input *other = &files[below(x, count)];
        const char *word = telling[below(x, sizeof telling / sizeof *telling)];
        size_t other_at = below(x, other->n);
        size_t other_n = below(x, other->n - other_at < 256 ? other->n - other_at + 1 : 256);
        switch (below(x, 5)) {
        case 0: /* one bit */
            if (n) {
                out[at] ^= (uint8_t)(1U << below(x, 8));
            }
            break;
        case 1: /* remove */
            memmove(out + at, out + at + length, n - at - length);
            n -= length;
            break;
        case 2: /* repeat */
            if (n + length < SIZE_MOST) {
                memmove(out + at + length, out + at, n - at);
                n += length;
            }
            break;
        case 3: /* a telling word over what is there */
            for (size_t i = 0; word[i] && at + i < n; i++) {
                out[at + i] = (uint8_t)word[i];
            }
            break;
        default: /* splice */
            if (other->at && at + other_n < SIZE_MOST) {
                memcpy(out + at, other->at + other_at, other_n);
                n = at + other_n > n ? at + other_n : n;
            }
            break;
        }
    }
    return n;
}

int main(int argc, char **argv)
{
    if (argc < 2) {
        fprintf(stderr, "usage: %s CORPUS [MUTATIONS [SEED]]\n", argv[0]);
        return 2;
    }
    size_t mutations = argc > 2 ? strtoull(argv[2], NULL, 10) : 0;
    uint64_t seed = argc > 3 ? strtoull(argv[3], NULL, 10) : 20260301;
    struct dirent **names = NULL;
    int found = scandir(argv[1], &names, NULL, by_name);
    static struct input files[FILES_MOST];
    size_t count = 0;
    for (int i = 0; i < found; i++) {
        if (names[i]->d_name[0] != '.' && count < FILES_MOST) {
            files[count] = read_file(argv[1], names[i]->d_name);
            count += files[count].at != NULL;
        }
        free(names[i]);
    }
    free(names);
    if (count == 0) {
        fprintf(stderr, "%s: no corpus\n", argv[1]);
        return 2;
    }
    for (size_t i = 0; i < count; i++) {
        run(files[i].at, files[i].n);
    }
    uint8_t *out = malloc(SIZE_MOST);
    uint64_t x = seed ? seed : 1;
    for (size_t i = 0; out && i < mutations; i++) {
        if (i % 1000 == 0) {
            printf("seed %llu, %zu inputs\n", (unsigned long long)seed, i);
            fflush(stdout);
        }
        run(out, mutate(files, count, &x, out));
    }
    free(out);
    for (size_t i = 0; i < count; i++) {
        free(files[i].at);
    }
    printf("%zu files, %zu mutations, seed %llu\n", count, mutations, (unsigned long long)seed);
    return 0;
}
