/* Reading a book file: the text to a tree, its head, its options, and when each variant holds. */
#include "bookfile_internal.h"

#include <sodium.h>

const struct bookfile_head *bookfile_head(const struct bookfile *bf)
{
    return &bf->head;
}

/* "sha256:" and the digest of the text in hexadecimal. */
static struct str text_hash(struct str text, struct arena *a)
{
    unsigned char digest[crypto_hash_sha256_BYTES];
    crypto_hash_sha256(digest, (const unsigned char *)text.p, text.n);
    struct text t = text_new(a);
    text_addz(&t, "sha256:");
    for (size_t i = 0; i < sizeof digest; i++) {
        text_char(&t, "0123456789abcdef"[digest[i] >> 4]);
        text_char(&t, "0123456789abcdef"[digest[i] & 15]);
    }
    return text_str(&t);
}

/* A text of the head; what is wrong with it is said by the check of all keys, here only that it is missing. */
static struct str head_text(const struct node *n, const char *key)
{
    const struct node *v = node_getz(n, key);
    return v && v->kind == NODE_TEXT ? v->text : S("");
}

/* A serial number of the head. */
static bool head_serial(struct bookfile *bf, struct finds *f, const struct node *n, uint32_t *out)
{
    if (n->kind == NODE_TEXT && pattern_number(&bf->pattern, n->text, out)) {
        return true;
    }
    return find(f, n->pos, RULE_SERIALS, words(f->a, "as the pattern ", bf->pattern.text.p, " writes it", (char *)0),
                n->kind == NODE_TEXT ? words(f->a, "\"", n->text.p, "\"", (char *)0) : "this",
                " is no serial number of this book", (char *)0);
}

static bool head_pattern(struct bookfile *bf, struct finds *f, const struct node *n)
{
    struct pattern read;
    if (n->kind == NODE_TEXT && pattern_read(n->text, &read)) {
        bf->pattern = read;
        return true;
    }
    return find(f, n->pos, RULE_SERIALS, "one run of 1 to 9 #: \"AB-####\"", "no pattern of serial numbers", (char *)0);
}

/* Pattern and range. Without a pattern that can be read no serial number can; the book then keeps "#########". */
static bool read_serials(struct bookfile *bf, struct finds *f)
{
    const struct node *n = node_getz(bf->root, "serials");
    const struct node *pattern = node_getz(n, "pattern");
    const struct node *from = node_getz(n, "from");
    const struct node *to = node_getz(n, "to");
    pattern_read(S("#########"), &bf->pattern);
    bool good = pattern && from;
    if (!good) {
        find(f, n ? n->pos : bf->root->pos, RULE_MISSING_KEY, "serials: { pattern: \"AB-####\", from: AB-0001 }",
             "the book does not say which serial numbers it is for", (char *)0);
    }
    good = good && head_pattern(bf, f, pattern);
    uint32_t end = 1;
    for (int i = 0; i < bf->pattern.digits; i++) {
        end *= 10;
    }
    bf->last = end - 1;
    bf->head.open_upwards = to == NULL;
    if (good && from) {
        good = head_serial(bf, f, from, &bf->first);
        good = (!to || head_serial(bf, f, to, &bf->last)) && good;
    }
    if (to && bf->first > bf->last) {
        good = find(f, to->pos, RULE_SERIALS, "the smaller number first", "the last serial number is before the first",
                    (char *)0);
        bf->last = bf->first;
    }
    bf->head.pattern = bf->pattern.text;
    bf->head.first = pattern_serial(&bf->pattern, bf->first, bf->a);
    bf->head.last = pattern_serial(&bf->pattern, bf->last, bf->a);
    return good;
}

/* The label of an option: its text, its key label, or the name. */
static struct str option_label(const struct node *value, struct str name)
{
    if (value && value->kind == NODE_TEXT && !node_is_empty(value)) {
        return value->text;
    }
    struct str label = head_text(value, "label");
    return label.n ? label : name;
}

static void read_option_names(struct bookfile *bf, struct finds *f)
{
    const struct node *n = node_getz(bf->root, "options");
    struct str *names = ARENA_ARRAY(bf->a, struct str, BOOKFILE_OPTIONS_MAX);
    struct str *labels = ARENA_ARRAY(bf->a, struct str, BOOKFILE_OPTIONS_MAX);
    for (int i = 0; n && n->kind != NODE_TEXT && i < n->n; i++) {
        const struct node *name = n->kind == NODE_MAPPING ? n->key[i] : n->item[i];
        if (name->kind != NODE_TEXT) {
            find(f, name->pos, RULE_SHAPE, "options: [cab, wide-rake]", "an option is a name", (char *)0);
            continue;
        }
        if (option_find(bf, name->text) >= 0) {
            if (n->kind == NODE_LIST) {
                find(f, name->pos, RULE_DUPLICATE_KEY, "keep one of them", "option \"", name->text.p, "\" stands twice",
                     (char *)0);
            }
            continue;
        }
        if (bf->n_options == BOOKFILE_OPTIONS_MAX) {
            find(f, name->pos, RULE_SIZE, "at most 32 options", "too many options", (char *)0);
            return;
        }
        bf->option_node[bf->n_options] = name;
        names[bf->n_options] = name->text;
        labels[bf->n_options] = option_label(n->kind == NODE_MAPPING ? n->item[i] : NULL, name->text);
        bf->n_options++;
        bf->head.options = (struct book_texts){names, bf->n_options};
        bf->head.option_labels = (struct book_texts){labels, bf->n_options};
    }
}

/* Attaches to every mapping when it holds. Depth is bounded by the tree's. */
static void attach_when(struct bookfile *bf, struct finds *f, struct map *known, struct node *n)
{
    bf->n_nodes++;
    if (n->kind == NODE_MAPPING && n != bf->root) {
        n->when = when_read(bf, f, known, n);
    }
    for (int i = 0; n->kind != NODE_TEXT && i < n->n; i++) {
        attach_when(bf, f, known, n->item[i]);
    }
}

/* When each option can be fitted. */
static void read_option_whens(struct bookfile *bf)
{
    const struct node *n = node_getz(bf->root, "options");
    for (int i = 0; n && n->kind == NODE_MAPPING && i < bf->n_options; i++) {
        const struct node *value = node_get(n, bf->head.options.at[i]);
        bf->option_when[i] = value ? value->when : NULL;
    }
}

/* Hands the findings over as they are; none of them depends on the machine. */
static void hand_over(const struct finds *f, struct diags *d)
{
    for (size_t i = 0; i < f->n; i++) {
        diags_add(d, f->at[i].diag);
    }
}

struct bookfile *bookfile_read(struct str text, struct str name, struct arena *a, struct diags *d)
{
    struct bookfile *bf = ARENA_NEW(a, struct bookfile);
    bf->a = a;
    bf->source = (struct source){.name = name};
    if (text.n <= BOOKFILE_BYTES_MAX) {
        bf->source = source_new(name, text, a);
    } else {
        bf->source.text = text;
    }
    struct finds f = finds_new(&bf->source, a);
    struct node *root = tree_read(&bf->source, a, &f);
    bf->root = root;
    if (root) {
        bf->head.file = name;
        bf->head.hash = text_hash(text, a);
        bf->head.id = head_text(root, "book");
        bf->head.title = head_text(root, "title");
        bf->head.maker = head_text(root, "maker");
        bf->head.edition = head_text(root, "edition");
        bf->no_serials = !read_serials(bf, &f);
        read_option_names(bf, &f);
        struct map known = map_new(a);
        struct finds none = finds_new(&bf->source, a);
        /* Without a pattern every serial number of a variant would be wrong as well: that is said once. */
        attach_when(bf, bf->no_serials ? &none : &f, &known, root);
        read_option_whens(bf);
    }
    bf->errors = f.errors;
    hand_over(&f, d);
    return root ? bf : NULL;
}

const struct bookfile_class *bookfile_serial_classes(const struct bookfile *bf, struct arena *a, size_t *n)
{
    const uint32_t *cut = serial_cuts(bf, a, n);
    struct bookfile_class *at = ARENA_ARRAY(a, struct bookfile_class, *n);
    for (size_t i = 0; i < *n; i++) {
        at[i].first = pattern_serial(&bf->pattern, cut[i], a);
        at[i].last = pattern_serial(&bf->pattern, i + 1 < *n ? cut[i + 1] - 1 : bf->last, a);
    }
    return at;
}
