/* witmark authority ... and witmark serve: the page beyond this machine. */
#include "cli.h"

#include "authority.h"
#include "web.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* --in, or the folder beside the depot. */
static const char *folder_of(struct call *c)
{
    struct text t = text_new(&c->arena);
    if (option_given(c, "in")) {
        return option_value(c, "in");
    }
    text_join(&t, c->depot, ".authority", (char *)0);
    return text_z(&t);
}

/* A number of an option; *value stays when it is not given. */
static bool number_of(struct call *c, const char *name, int64_t least, int64_t most, int64_t *value)
{
    return !option_given(c, name) || (num_parse_i64(option_str(c, name), value) && *value >= least && *value <= most) ||
           err_set(&c->err, ERR_USAGE, "a whole number in range", "--", name, " '", option_value(c, name), "'",
                   (char *)0);
}

static void text_until(struct text *t, const char *what, instant_ms at)
{
    text_addz(t, what);
    text_day(t, day_of_instant(at, 0));
    text_char(t, '\n');
}

/* What is there, and where a phone gets it: with a QR code on a terminal. */
static int show(struct call *c, const struct authority_facts *f, const struct diags *findings)
{
    struct text t = text_new(&c->arena);
    int64_t port = 8075;
    if (!number_of(c, "port", 1, 65534, &port)) {
        return failed(c);
    }
    struct text address = text_new(&c->arena);
    bool v6 = str_find(f->first, S(":")) >= 0;
    text_addz(&address, v6 ? "http://[" : "http://");
    text_add(&address, f->first);
    text_addz(&address, v6 ? "]:" : ":");
    text_int(&address, port + 1);
    text_char(&address, '/');
    if (c->json) {
        struct json j = json_new(&t, true);
        json_begin_object(&j, NULL);
        json_strz(&j, "folder", folder_of(c));
        json_str(&j, "names", f->names);
        json_str(&j, "fingerprint", f->fingerprint);
        json_str(&j, "get", text_str(&address));
        struct text day = text_new(&c->arena);
        text_day(&day, day_of_instant(f->authority_until, 0));
        json_str(&j, "authority_until", text_str(&day));
        day = text_new(&c->arena);
        text_day(&day, day_of_instant(f->server_until, 0));
        json_str(&j, "server_until", text_str(&day));
        json_begin_array(&j, "findings");
        for (size_t i = 0; i < findings->n; i++) {
            json_begin_object(&j, NULL);
            json_strz(&j, "level", diag_level_text(findings->at[i].level));
            json_str(&j, "what", findings->at[i].what);
            json_str(&j, "right", findings->at[i].right);
            json_end_object(&j);
        }
        json_end_array(&j);
        json_end_object(&j);
        text_char(&t, '\n');
    } else {
        text_addz(&t, "for          ");
        text_add(&t, f->names);
        text_until(&t, "\nauthority    until ", f->authority_until);
        text_until(&t, "certificate  until ", f->server_until);
        text_addz(&t, "fingerprint  ");
        text_add(&t, f->fingerprint);
        text_addz(&t, "\nphones       get the authority at ");
        text_add(&t, text_str(&address));
        text_addz(&t, " while witmark serve runs (docs/offline.md)\n");
        for (size_t i = 0; i < findings->n; i++) {
            diag_print(&t, &findings->at[i]);
        }
        if (isatty(STDOUT_FILENO) == 1 && !qr_terminal(&t, text_str(&address), &c->err)) {
            return failed(c);
        }
    }
    int status = print_text(&t);
    return status ? status : findings->errors ? EXIT_FINDINGS : EXIT_FINE;
}

static int run_make(struct call *c)
{
    int64_t days = 0;
    struct authority_facts facts;
    struct diags findings = diags_new(&c->arena, 20);
    if (!number_of(c, "days", 2, LEAF_DAYS_MOST, &days)) {
        return failed(c);
    }
    struct authority_ask ask = {.folder = folder_of(c),
                                .depot = desk_name(c->desk),
                                .names = option_str(c, "name"),
                                .addresses = option_str(c, "address"),
                                .days = (int)days,
                                .anew = option_given(c, "anew")};
    return authority_make(&ask, desk_now(c->desk), &c->arena, &facts, &c->err) ? show(c, &facts, &findings) : failed(c);
}

static int run_check(struct call *c)
{
    struct authority_facts facts;
    struct diags findings = diags_new(&c->arena, 20);
    return authority_check(folder_of(c), desk_now(c->desk), &c->arena, &facts, &findings, &c->err)
               ? show(c, &facts, &findings)
               : failed(c);
}

static int run_renew(struct call *c)
{
    int64_t days = 0;
    struct authority_facts facts;
    struct diags findings = diags_new(&c->arena, 20);
    return number_of(c, "days", 2, LEAF_DAYS_MOST, &days) &&
                   authority_renew(folder_of(c), (int)days, desk_now(c->desk), &c->arena, &facts, &c->err)
               ? show(c, &facts, &findings)
               : failed(c);
}

static int run_serve(struct call *c)
{
    int64_t port = 8075;
    struct stat s;
    if (!number_of(c, "port", 0, 65535, &port)) {
        return failed(c);
    }
    struct web_options options = {.desk = c->desk,
                                  .address = option_given(c, "listen") ? option_value(c, "listen") : "127.0.0.1",
                                  .port = (uint16_t)port,
                                  .person = c->by,
                                  .files = option_value(c, "files"),
                                  .certificate = option_value(c, "certificate"),
                                  .key = option_value(c, "key"),
                                  .hosts = option_value(c, "host"),
                                  .behind_proxy = option_given(c, "behind-proxy")};
    /* The authority beside the depot serves every address but loopback, where plain HTTP is as good. */
    bool beyond = option_given(c, "listen") && strcmp(options.address, "localhost") != 0 &&
                  strncmp(options.address, "127.", 4) != 0 && strcmp(options.address, "::1") != 0;
    const char *folder = folder_of(c);
    if ((option_given(c, "in") || beyond) && !options.certificate && !options.behind_proxy && stat(folder, &s) == 0) {
        options.authority = folder;
    }
    return web_serve(&options, &c->err) ? EXIT_FINE : failed(c);
}

#define IN_OPTION                                                               \
    {                                                                           \
        "in", 0, "FOLDER", "folder of the authority; otherwise DEPOT.authority" \
    }
#define PORT_OPTION                                                          \
    {                                                                        \
        "port", 'p', "PORT", "of the page, to say where phones get it; 8075" \
    }

static const struct option_def make_options[] = {
    {"name", 0, "NAMES", "names of the server, with commas: depot.local"},
    {"address", 0, "ADDRESSES", "its addresses, with commas; otherwise those of this machine"},
    {"days", 0, "DAYS", "of the server's certificate, 397 (otherwise) to 825 at most"},
    {"anew", 0, NULL, "a new authority, also if there is one: phones install it again"},
    IN_OPTION,
    PORT_OPTION,
    {NULL, 0, NULL, NULL},
};
static const struct option_def check_options[] = {IN_OPTION, PORT_OPTION, {NULL, 0, NULL, NULL}};
static const struct option_def renew_options[] = {
    {"days", 0, "DAYS", "of the server's certificate, 397 (otherwise) to 825 at most"},
    IN_OPTION,
    PORT_OPTION,
    {NULL, 0, NULL, NULL},
};
static const struct option_def serve_options[] = {
    {"port", 'p', "PORT", "otherwise 8075; 0 takes a free one"},
    {"listen", 0, "ADDRESS", "otherwise 127.0.0.1, this machine only; 0.0.0.0 is every network"},
    {"certificate", 0, "FILE", "serve over TLS with this certificate (PEM)"},
    {"key", 0, "FILE", "and this key"},
    {"in", 0, "FOLDER", "serve with the authority in this folder; otherwise DEPOT.authority, if it is there"},
    {"behind-proxy", 0, NULL, "another program answers for TLS and passes Host and X-Forwarded-For on"},
    {"host", 0, "NAMES", "names that this server goes by, besides those of the certificate"},
    {"files", 0, "FOLDER", "serve the page from a folder instead of from the program, for work on it"},
    {NULL, 0, NULL, NULL},
};

const struct command authority_commands[] = {
    {"serve", "", 0, 0, "the page: today, machines, rounds, sheets, recording, books",
     "On this machine it may be used at once. Beyond it (--listen) people sign in (witmark person add) and everything "
     "goes over TLS (witmark authority make, or --certificate and --key), or behind a proxy that sees to that.",
     serve_options, run_serve, false, true},
    {"authority make", "", 0, 0, "a certificate that this site's phones can trust, in one step",
     "Makes the site's own certificate authority and by it the server's certificate. Phones keep the page for use "
     "without a network only over a certificate that they trust; a QR code says where they get the authority. It may "
     "only vouch for the names given and for addresses of private networks.",
     make_options, run_make, false, false},
    {"authority check", "", 0, 0, "whether certificates, keys and dates are in order", NULL, check_options, run_check,
     false, false},
    {"authority renew", "", 0, 0, "a new server certificate by the same authority: phones notice nothing", NULL,
     renew_options, run_renew, false, false},
    {0},
};
