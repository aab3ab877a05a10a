/* Tables: which members of an answer become columns. One row of SHAPES per table; the members of the answers themselves
 * are documented in docs/json.md. */
#include "base/csv.h"
#include "desk_internal.h"
#include "desk_tables.h"

#include <jansson.h>
#include <string.h>

struct shape {
    const char *name;
    const char *list;    /* member that holds the rows; the answer itself when it is a list */
    const char *inner;   /* a list in each of these, whose items are the rows; null = none */
    const char *columns; /* dotted paths; "^name" is a member of the outer item */
};

static const struct shape shapes[] = {
    {"today", "due", NULL,
     "machine,name,kind,key,label,says,urgency,service,service_label,task,reserve.rule,reserve.out,reserve.hours_left,"
     "reserve.due_at_hours,reserve.p10,reserve.p50,reserve.p90,entry"},
    {"machines", "", NULL,
     "serial,label,site,book.id,book.title,book.edition,options,severe,out_of_service,in_service,meter.read_h,"
     "meter.read_at,meter.total_h,meter.today_h,meter.hours_per_day,open,faults,trouble"},
    {"log", "entries", NULL, "id,kind,at,made,by,machine,says,state,body,writer,seq,hash"},
    {"kit", "parts", NULL, "label,number,instead_of,quantity,note"},
    {"parts", "", NULL, "machine,name,part,label,number,instead_of,pack,keep"},
    {"books", "", NULL, "book,title,maker,edition,hash,kept,present,machines"},
    {"people", "", NULL, "name,role"},
    {"shelf", "parts", NULL, "number,label,have,keep,pack,needed,order,order_by,out,runs_out.p50,says"},
    {"put-back", "", NULL, "machine,serial,kind,item,label,since,by,close,source,entry"},
    {"horizon", "lanes", "marks", "^serial,^name,^site,key,label,kind,urgency,p10,p50,p90,chance,says"},
};

static const struct shape *shape_of(const char *name)
{
    for (size_t i = 0; i < sizeof shapes / sizeof *shapes; i++) {
        if (strcmp(shapes[i].name, name) == 0) {
            return &shapes[i];
        }
    }
    return NULL;
}

bool desk_table_known(const char *name)
{
    return shape_of(name) != NULL;
}

/* The member at a dotted path; null when there is none. */
static const json_t *member_at(const json_t *item, struct str path)
{
    struct str piece;
    while (item && str_next(&path, '.', &piece)) {
        item = json_object_getn(item, piece.p, piece.n);
    }
    return item;
}

/* Words of a list with semicolons; objects and other lists as JSON. */
static void add_value(struct text *t, const json_t *value)
{
    if (json_is_string(value)) {
        text_add(t, (struct str){json_string_value(value), json_string_length(value)});
    } else if (json_is_integer(value)) {
        text_int(t, json_integer_value(value));
    } else if (json_is_real(value)) {
        text_double(t, json_real_value(value));
    } else if (json_is_boolean(value)) {
        text_addz(t, json_is_true(value) ? "true" : "false");
    } else if (json_is_array(value)) {
        for (size_t i = 0; i < json_array_size(value); i++) {
            text_addz(t, i ? "; " : "");
            add_value(t, json_array_get(value, i));
        }
    } else if (json_is_object(value)) {
        char *dump = json_dumps(value, JSON_COMPACT | JSON_SORT_KEYS);
        text_addz(t, dump ? dump : "");
        free(dump);
    }
}

/* One cell. A text that begins like a formula gets an apostrophe; numbers are numbers. */
static struct str cell(struct arena *a, const json_t *value)
{
    struct text t = text_new(a);
    add_value(&t, value);
    struct str s = text_str(&t);
    bool formula = json_is_string(value) && s.n && str_find(S("=+-@\t\r"), str_cut(s, 0, 1)) >= 0;
    if (!formula) {
        return s;
    }
    struct text guarded = text_new(a);
    text_char(&guarded, '\'');
    text_add(&guarded, s);
    return text_str(&guarded);
}

static void add_row(struct text *out, const struct shape *shape, const json_t *outer, const json_t *item)
{
    struct str cells[32];
    struct str rest = str_of(shape->columns);
    struct str column;
    size_t n = 0;
    while (str_next(&rest, ',', &column) && n < 32) {
        bool of_outer = column.p[0] == '^';
        cells[n++] = cell(out->a, member_at(of_outer ? outer : item, str_cut(column, of_outer ? 1 : 0, column.n)));
    }
    text_csv_record(out, cells, n, false);
}

static void add_header(struct text *out, const struct shape *shape)
{
    struct str cells[32];
    struct str rest = str_of(shape->columns);
    struct str column;
    size_t n = 0;
    while (str_next(&rest, ',', &column) && n < 32) {
        cells[n++] = str_cut(column, column.p[0] == '^' ? 1 : 0, column.n);
    }
    text_csv_record(out, cells, n, false);
}

bool desk_table_csv(struct text *out, const char *name, struct str json, struct err *e)
{
    const struct shape *shape = shape_of(name);
    if (!shape) {
        return err_set(e, ERR_USAGE, "today, machines, log, kit, parts, books, people, shelf, put-back or horizon", "'",
                       name, "' is no table", (char *)0);
    }
    json_error_t bad;
    json_t *root = json_loadb(json.p, json.n, 0, &bad);
    if (!root) {
        return err_set(e, ERR_INTERNAL, NULL, "the answer is no JSON: ", bad.text, (char *)0);
    }
    const json_t *list = json_is_array(root) ? root : json_object_get(root, shape->list);
    add_header(out, shape);
    for (size_t i = 0; i < json_array_size(list); i++) {
        const json_t *item = json_array_get(list, i);
        const json_t *inner = shape->inner ? json_object_get(item, shape->inner) : NULL;
        if (!shape->inner) {
            add_row(out, shape, NULL, item);
        }
        for (size_t k = 0; k < json_array_size(inner); k++) {
            add_row(out, shape, item, json_array_get(inner, k));
        }
    }
    json_decref(root);
    return true;
}

bool desk_parts_json(struct json *j, struct desk *d, struct err *e)
{
    const struct desk_machine *at = NULL;
    size_t n = 0;
    if (!desk_machines(d, &at, &n, e)) {
        return false;
    }
    json_begin_array(j, NULL);
    for (size_t i = 0; i < n; i++) {
        const struct book *b = at[i].book;
        for (int k = 0; b && !at[i].out_of_service && k < b->n_parts; k++) {
            const struct book_part *part = &b->parts[k];
            json_begin_object(j, NULL);
            json_str(j, "machine", at[i].serial);
            json_str(j, "name", at[i].name);
            json_str(j, "part", part->name);
            json_str(j, "label", part->label);
            json_str(j, "number", part->now);
            json_str(j, "instead_of", str_eq(part->now, part->number) ? (struct str){0} : part->number);
            json_int(j, "pack", part->pack);
            json_int(j, "keep", part->keep);
            json_end_object(j);
        }
    }
    json_end_array(j);
    return true;
}
