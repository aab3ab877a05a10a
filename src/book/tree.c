/* YAML text to a tree of nodes with places, over libyaml's events.
 *
 * Refused as soon as seen: anchors, aliases, tags, a second document, nesting deeper than BOOKFILE_DEPTH_MAX, more than
 * BOOKFILE_BYTES_MAX bytes. So the tree is never larger than a small multiple of the text and no recursion is deep. */
#include "bookfile_internal.h"

#include <string.h>
#include <yaml.h>

/* Length of the line break at p[i], 0 when there is none: those of YAML 1.1, which libyaml counts. */
static size_t break_length(struct str s, size_t i)
{
    const unsigned char *p = (const unsigned char *)s.p + i;
    size_t left = s.n - i;
    if (p[0] == '\r') {
        return left > 1 && p[1] == '\n' ? 2 : 1;
    }
    if (p[0] == '\n') {
        return 1;
    }
    if (left > 1 && p[0] == 0xc2 && p[1] == 0x85) {
        return 2; /* U+0085 */
    }
    return left > 2 && p[0] == 0xe2 && p[1] == 0x80 && (p[2] == 0xa8 || p[2] == 0xa9) ? 3 : 0; /* U+2028, U+2029 */
}

struct source source_new(struct str name, struct str text, struct arena *a)
{
    struct source s = {.name = name, .text = text};
    uint32_t *line = NULL;
    size_t n = 0;
    size_t cap = 0;
    ARENA_PUSH(a, line, n, cap) = 0;
    for (size_t i = 0; i < text.n;) {
        size_t length = break_length(text, i);
        i += length ? length : 1;
        if (length) {
            ARENA_PUSH(a, line, n, cap) = (uint32_t)i;
        }
    }
    s.line = line;
    s.n_lines = (uint32_t)n;
    return s;
}

struct str source_line(const struct source *s, uint32_t line)
{
    if (line == 0 || line > s->n_lines) {
        return S("");
    }
    size_t from = s->line[line - 1];
    size_t to = line < s->n_lines ? s->line[line] : s->text.n;
    for (size_t i = to > from + 3 ? to - 3 : from; i < to; i++) { /* without its break, which is at most 3 bytes long */
        if (break_length(s->text, i)) {
            to = i;
        }
    }
    return str_cut(s->text, from, to);
}

/* Line and column of a byte of the text. */
static struct book_pos pos_of_byte(const struct source *s, size_t byte)
{
    uint32_t line = s->n_lines;
    while (line > 1 && s->line[line - 1] > byte) {
        line--;
    }
    size_t from = s->line[line - 1];
    return (struct book_pos){line, (uint32_t)str_chars(str_cut(s->text, from, byte)) + 1};
}

static struct book_pos pos_of_mark(yaml_mark_t m)
{
    return (struct book_pos){(uint32_t)m.line + 1, (uint32_t)m.column + 1};
}

/* A mapping or list that is being filled. */
struct open_node {
    struct node *node;
    struct node **key, **item;
    size_t n_key, cap_key, n_item, cap_item;
    struct node *waiting; /* key whose value comes next */
};

struct building {
    const struct source *source;
    struct arena *a;
    struct finds *finds;
    struct open_node stack[BOOKFILE_DEPTH_MAX];
    int depth;
    struct node *root;
};

static void find_duplicate(struct building *b, const struct node *k, int64_t first_line)
{
    struct text t = text_new(b->a);
    text_int(&t, first_line);
    find(b->finds, k->pos, RULE_DUPLICATE_KEY, "keep one of them", "\"", k->text.p, "\" stands twice; first in line ",
         text_z(&t), (char *)0);
}

/* Says keys that stand twice. Most mappings are short; a long one needs a map to be looked through in linear time. */
static void find_duplicates(struct building *b, const struct node *n)
{
    if (n->n <= 8) {
        for (int i = 1; i < n->n; i++) {
            for (int j = 0; j < i; j++) {
                if (str_eq(n->key[i]->text, n->key[j]->text)) {
                    find_duplicate(b, n->key[i], n->key[j]->pos.line);
                    break;
                }
            }
        }
        return;
    }
    struct map seen = map_new(b->a);
    for (int i = 0; i < n->n; i++) {
        int64_t first = 0;
        if (map_get(&seen, n->key[i]->text, &first)) {
            find_duplicate(b, n->key[i], first);
        } else {
            map_put(&seen, n->key[i]->text, n->key[i]->pos.line);
        }
    }
}

/* Hangs a finished node where it belongs: under the open mapping or list, or at the root. */
static bool hang(struct building *b, struct node *n)
{
    if (b->depth == 0) {
        b->root = n;
        return true;
    }
    struct open_node *o = &b->stack[b->depth - 1];
    if (o->node->kind == NODE_LIST) {
        ARENA_PUSH(b->a, o->item, o->n_item, o->cap_item) = n;
        return true;
    }
    if (o->waiting) {
        ARENA_PUSH(b->a, o->key, o->n_key, o->cap_key) = o->waiting;
        ARENA_PUSH(b->a, o->item, o->n_item, o->cap_item) = n;
        o->waiting = NULL;
        return true;
    }
    if (n->kind != NODE_TEXT) {
        return find(b->finds, n->pos, RULE_SHAPE, "a word before the colon", "a list or mapping can't be a key",
                    (char *)0);
    }
    o->waiting = n;
    return true;
}

/* An event that no book may use: its finding. */
static bool refuse(struct building *b, yaml_mark_t mark, const char *what, const char *right)
{
    return find(b->finds, pos_of_mark(mark), RULE_SYNTAX, right, what, (char *)0);
}

static bool open_one(struct building *b, const yaml_event_t *e, enum node_kind kind, bool marked)
{
    if (marked) {
        return refuse(b, e->start_mark, "anchors (&) and tags (!) have no place in a book", "write the value out");
    }
    if (b->depth == BOOKFILE_DEPTH_MAX) {
        return find(b->finds, pos_of_mark(e->start_mark), RULE_SIZE, "at most 64 levels", "nested too deep", (char *)0);
    }
    struct node *n = ARENA_NEW(b->a, struct node);
    *n = (struct node){.kind = kind, .pos = pos_of_mark(e->start_mark)};
    /* A key that is no text is refused when it is complete; its inside needs no special care. */
    b->stack[b->depth++] = (struct open_node){.node = n};
    return true;
}

static bool close_one(struct building *b)
{
    struct open_node o = b->stack[--b->depth];
    o.node->key = o.key;
    o.node->item = o.item;
    o.node->n = (int)o.n_item;
    if (o.node->kind == NODE_MAPPING) {
        find_duplicates(b, o.node);
    }
    return hang(b, o.node);
}

static bool take_scalar(struct building *b, const yaml_event_t *e)
{
    bool plain = e->data.scalar.style == YAML_PLAIN_SCALAR_STYLE;
    if (e->data.scalar.anchor || e->data.scalar.tag) {
        return refuse(b, e->start_mark, "anchors (&) and tags (!) have no place in a book", "write the value out");
    }
    struct node *n = ARENA_NEW(b->a, struct node);
    *n = (struct node){
        .kind = NODE_TEXT,
        .plain = plain,
        .inline_form = e->start_mark.line == e->end_mark.line && e->data.scalar.style != YAML_LITERAL_SCALAR_STYLE &&
                       e->data.scalar.style != YAML_FOLDED_SCALAR_STYLE,
        .pos = pos_of_mark(e->start_mark),
        .text = {arena_copy(b->a, e->data.scalar.value, e->data.scalar.length), e->data.scalar.length},
    };
    return hang(b, n);
}

/* One event into the tree. False ends the reading. */
static bool take_event(struct building *b, const yaml_event_t *e)
{
    switch ((int)e->type) {
    case YAML_DOCUMENT_START_EVENT:
        if (b->root) {
            return refuse(b, e->start_mark, "a second document begins here",
                          "one book, one document: take out the line ---");
        }
        return true;
    case YAML_ALIAS_EVENT:
        return refuse(b, e->start_mark, "an alias (*) has no place in a book",
                      "write the value out; put a text that begins with * in quotes");
    case YAML_SCALAR_EVENT:
        return take_scalar(b, e);
    case YAML_SEQUENCE_START_EVENT:
        return open_one(b, e, NODE_LIST, e->data.sequence_start.anchor || e->data.sequence_start.tag);
    case YAML_MAPPING_START_EVENT:
        return open_one(b, e, NODE_MAPPING, e->data.mapping_start.anchor || e->data.mapping_start.tag);
    case YAML_SEQUENCE_END_EVENT:
    case YAML_MAPPING_END_EVENT:
        return close_one(b);
    default:
        return true;
    }
}

/* What would be right, by libyaml's problem. */
static const char *advice(const char *problem)
{
    static const struct {
        const char *problem, *right;
    } rows[] = {
        {"mapping values are not allowed", "put a text that holds \": \" in quotes, and check the indentation"},
        {"cannot start any token", "indent with blanks, not tabs; put a text that begins with @ ` or % in quotes"},
        {"expected key", "check the indentation here and in the lines above"},
        {"expected '-' indicator", "check the indentation here and in the lines above"},
        {"could not find expected ':'", "a key needs a colon and a blank; check the lines above"},
        {"expected ',' or '}'", "a closing } or a comma; put a text with , : or { in quotes"},
        {"expected ',' or ']'", "a closing ] or a comma; put a text with , : or [ in quotes"},
        {"unexpected end of stream", "a closing quote"},
        {"unknown escape", "in double quotes a backslash is written \\\\"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        if (strstr(problem, rows[i].problem)) {
            return rows[i].right;
        }
    }
    return "YAML 1.2; blanks for indentation, quotes around texts with special characters";
}

static void find_problem(struct building *b, const yaml_parser_t *p)
{
    const char *problem = p->problem ? p->problem : "this can't be read";
    find(b->finds, pos_of_mark(p->problem_mark), RULE_SYNTAX, advice(problem), problem, p->context ? " (" : (char *)0,
         p->context, ")", (char *)0);
}

/* The first byte that YAML text may not hold: no UTF-8, or a control character. */
static bool find_bad_byte(struct building *b, struct str text)
{
    for (size_t i = 0; i < text.n;) {
        unsigned char c = (unsigned char)text.p[i];
        size_t n = c < 0x80 ? 1 : c < 0xe0 ? 2 : c < 0xf0 ? 3 : 4;
        struct str one = str_cut(text, i, i + n);
        if (!str_is_utf8(one)) {
            return find(b->finds, pos_of_byte(b->source, i), RULE_SYNTAX, "save the file as UTF-8",
                        "this is no UTF-8 text", (char *)0);
        }
        bool control = (c < 0x20 && c != '\t' && c != '\n' && c != '\r') || c == 0x7f ||
                       (c == 0xc2 && (unsigned char)one.p[1] < 0xa0 && (unsigned char)one.p[1] != 0x85) ||
                       (c == 0xef && (unsigned char)one.p[1] == 0xbf && (unsigned char)one.p[2] >= 0xbe) ||
                       (c == 0xef && (unsigned char)one.p[1] == 0xbb && (unsigned char)one.p[2] == 0xbf);
        if (control) {
            return find(b->finds, pos_of_byte(b->source, i), RULE_SYNTAX, "take it out",
                        "a control character that can't be seen", (char *)0);
        }
        i += n;
    }
    return true;
}

/* All events until the stream ends or one is refused. */
static bool take_all(struct building *b, yaml_parser_t *p)
{
    for (;;) {
        yaml_event_t e;
        if (!yaml_parser_parse(p, &e)) {
            find_problem(b, p);
            return false;
        }
        bool end = e.type == YAML_STREAM_END_EVENT;
        bool good = take_event(b, &e);
        yaml_event_delete(&e);
        if (end || !good) {
            return good;
        }
    }
}

struct node *tree_read(const struct source *s, struct arena *a, struct finds *f)
{
    struct building *b = ARENA_NEW(a, struct building);
    b->source = s;
    b->a = a;
    b->finds = f;
    struct str text = s->text;
    if (text.n > BOOKFILE_BYTES_MAX) {
        find(f, (struct book_pos){1, 1}, RULE_SIZE, "at most 4 MB", "the book is too long", (char *)0);
        return NULL;
    }
    if (str_starts(text, S("\xef\xbb\xbf"))) {
        text = str_cut(text, 3, text.n);
    }
    if (!find_bad_byte(b, text)) {
        return NULL;
    }
    yaml_parser_t parser;
    if (!yaml_parser_initialize(&parser)) {
        find(f, (struct book_pos){1, 1}, RULE_SYNTAX, NULL, "no memory for the YAML parser", (char *)0);
        return NULL;
    }
    yaml_parser_set_encoding(&parser, YAML_UTF8_ENCODING);
    yaml_parser_set_input_string(&parser, (const unsigned char *)(text.p ? text.p : ""), text.n);
    bool good = take_all(b, &parser);
    yaml_parser_delete(&parser);
    if (good && (!b->root || b->root->kind != NODE_MAPPING)) {
        good = find(f, b->root ? b->root->pos : (struct book_pos){1, 1}, RULE_SHAPE,
                    "a line \"book: NAME\" and the other keys", "the book must be a mapping of keys", (char *)0);
    }
    return good ? b->root : NULL;
}

const struct node *node_get(const struct node *mapping, struct str key)
{
    if (!mapping || mapping->kind != NODE_MAPPING) {
        return NULL;
    }
    for (int i = 0; i < mapping->n; i++) {
        if (str_eq(mapping->key[i]->text, key)) {
            return mapping->item[i];
        }
    }
    return NULL;
}

const struct node *node_getz(const struct node *mapping, const char *key)
{
    return node_get(mapping, str_of(key));
}

struct book_pos node_pos(const struct node *mapping, const char *key)
{
    const struct node *n = node_getz(mapping, key);
    return n ? n->pos : mapping->pos;
}

bool node_is_empty(const struct node *n)
{
    return n->kind == NODE_TEXT && n->plain &&
           (n->text.n == 0 || str_eq(n->text, S("~")) || str_eq(n->text, S("null")));
}
