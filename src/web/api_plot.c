/* Pictures of checkpoints: the core's own drawing as SVG, its data as JSON, several on a page. */
#include "api.h"

#include "desk_plot.h"

/* GET /api/machines/{machine}/plots: the names that can be drawn. */
static bool plots(struct asked *q, struct answer *out)
{
    const struct str *names = NULL;
    size_t n = 0;
    if (!asked_none(q) || !desk_plots_of(q->desk, q->args[0], q->a, &names, &n, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    json_begin_array(&j, NULL);
    for (size_t i = 0; i < n; i++) {
        json_str(&j, NULL, names[i]);
    }
    json_end_array(&j);
    return answer_json(q, &t, out);
}

/* GET /api/machines/{machine}/plot/{name}: ends in .svg for the picture, in .json or nothing for its data. */
static bool plot(struct asked *q, struct answer *out)
{
    static const char *const sizes[] = {"width", "height", "language", NULL};
    double width = 700;
    double height = 300;
    struct str name = q->args[1];
    bool svg = str_ends(name, S(".svg"));
    name.n -= svg ? 4 : str_ends(name, S(".json")) ? 5 : 0;
    struct plot p;
    if (!asked_only(q, sizes) || !asked_number(q, "width", 240, 4000, &width) ||
        !asked_number(q, "height", 140, 4000, &height) || !desk_plot(q->desk, q->args[0], name, q->a, &p, &q->err) ||
        !desk_plot_language(&p, asked_value(q, "language"), &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    if (svg) {
        plot_svg(&t, &p, width, height);
        *out = answer_body(q->a, "image/svg+xml", text_str(&t));
        out->policy = POLICY_DRAWING;
        return true;
    }
    struct json j = json_new(&t, false);
    desk_plot_json(&j, q->desk, &p);
    return answer_json(q, &t, out);
}

/* GET /api/machines/{machine}/plots.pdf: all of them, or those of `names` with commas. */
static bool pages(struct asked *q, struct answer *out)
{
    static const char *const parameters[] = {"names", "paper", NULL};
    struct str rest = asked_value(q, "names");
    struct str names[60];
    size_t n = 0;
    struct str one;
    while (n < 60 && str_next(&rest, ',', &one)) {
        names[n++] = str_trim(one);
    }
    struct text document = text_new(q->a);
    if (!asked_only(q, parameters) ||
        !desk_print_plots(q->desk, q->args[0], names, n, asked_value(q, "paper"), &document, &q->err)) {
        return false;
    }
    q->print = true;
    q->file_ending = "-plots.pdf";
    out->body = text_str(&document);
    return true;
}

const struct route plot_routes[] = {
    {"GET", "/api/machines/{machine}/plots", ROLE_LOOK, ROUTE_DESK, plots, 0, NULL},
    {"GET", "/api/machines/{machine}/plots.pdf", ROLE_LOOK, ROUTE_DESK, pages, 0, NULL},
    {"GET", "/api/machines/{machine}/plot/{name}", ROLE_LOOK, ROUTE_DESK, plot, 0, NULL},
    {0},
};
