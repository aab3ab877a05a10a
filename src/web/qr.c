/* QR codes by libqrencode, with the quiet zone of four modules that ISO/IEC 18004 asks for. */
#include "authority.h"

#include <qrencode.h>

#define QUIET 4

static QRcode *code_of(struct str text, struct err *e)
{
    QRcode *code = text.n < 1000 ? QRcode_encodeString8bit(str_z(e->a, text), 0, QR_ECLEVEL_M) : NULL;
    if (!code) {
        (void)err_set(e, ERR_SYSTEM, NULL, "no QR code can be made of this", (char *)0);
    }
    return code;
}

/* Whether the module is dark; outside is light. */
static bool dark(const QRcode *code, int x, int y)
{
    return x >= 0 && y >= 0 && x < code->width && y < code->width && (code->data[y * code->width + x] & 1) != 0;
}

/* Two rows of modules per line. Terminals are dark or light; colours are set so that modules are dark on light in both.
 */
bool qr_terminal(struct text *t, struct str text, struct err *e)
{
    static const char *const halves[] = {" ", "\xe2\x96\x80", "\xe2\x96\x84",
                                         "\xe2\x96\x88"}; /* none, upper, lower, both */
    QRcode *code = code_of(text, e);
    if (!code) {
        return false;
    }
    for (int y = -QUIET; y < code->width + QUIET; y += 2) {
        text_addz(t, "\x1b[30;107m");
        for (int x = -QUIET; x < code->width + QUIET; x++) {
            text_addz(t, halves[(dark(code, x, y) ? 1 : 0) + (dark(code, x, y + 1) ? 2 : 0)]);
        }
        text_addz(t, "\x1b[0m\n");
    }
    QRcode_free(code);
    return true;
}

/* Neighbouring dark modules of a row are one rectangle. */
bool qr_svg(struct text *t, struct str text, struct err *e)
{
    QRcode *code = code_of(text, e);
    if (!code) {
        return false;
    }
    text_addz(t, "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" viewBox=\"0 0 ");
    text_int(t, code->width + 2 * QUIET);
    text_char(t, ' ');
    text_int(t, code->width + 2 * QUIET);
    text_addz(t, "\"><rect width=\"100%\" height=\"100%\" fill=\"#fff\"/><path fill=\"#000\" d=\"");
    for (int y = 0; y < code->width; y++) {
        for (int x = 0; x < code->width; x++) {
            int n = 0;
            while (dark(code, x + n, y)) {
                n++;
            }
            if (n) {
                text_char(t, 'M');
                text_int(t, x + QUIET);
                text_char(t, ' ');
                text_int(t, y + QUIET);
                text_char(t, 'h');
                text_int(t, n);
                text_addz(t, "v1h-");
                text_int(t, n);
                text_char(t, 'z');
                x += n;
            }
        }
    }
    text_addz(t, "\"/></svg>\n");
    QRcode_free(code);
    return true;
}
