/* Writing CSV after RFC 4180, safe to open in a spreadsheet.
 *
 * A spreadsheet runs a cell that starts with = + - or @ as a formula, also after a tab or carriage return, and quoting
 * does not stop it. Source: OWASP, "CSV Injection". An apostrophe in front makes it text. */
#include "csv_internal.h"

void csv_write_field(struct text *t, struct str field, char separator)
{
    /* text that starts with an apostrophe before such a sign gets one more, so that reading gives back what was written
     */
    bool guard = field.n && (csv_is_among(field.p[0], S("=+-@\t\r")) ||
                             (field.p[0] == '\'' && field.n > 1 && csv_is_among(field.p[1], S("=+-@\t\r'"))));
    bool quote = false;
    for (size_t i = 0; i < field.n && !quote; i++) {
        quote = field.p[i] == separator || csv_is_among(field.p[i], S("\"\r\n"));
    }
    quote = quote || (field.n && (field.p[0] == ' ' || field.p[field.n - 1] == ' '));
    if (quote) {
        text_char(t, '"');
    }
    if (guard) {
        text_char(t, '\'');
    }
    for (size_t i = 0; i < field.n; i++) {
        if (field.p[i] == '"') {
            text_char(t, '"');
        }
        text_char(t, field.p[i]);
    }
    if (quote) {
        text_char(t, '"');
    }
}

void csv_write_number(struct text *t, double value)
{
    text_double(t, value);
}

void csv_write_end(struct text *t)
{
    text_addz(t, "\r\n");
}
