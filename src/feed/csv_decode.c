/* What characters the bytes of a spreadsheet file stand for.
 *
 * A byte order mark decides. Without one, text that is valid UTF-8 is UTF-8; bytes of which every second is zero are
 * UTF-16; else it is Windows-1252, of which Latin-1 is a part as far as letters go. A file in which whole UTF-8
 * characters outnumber broken bytes is damaged UTF-8: each broken byte is reported with its place.
 * Source of the Windows-1252 table: Unicode Consortium, MAPPINGS/VENDORS/MICSFT/WINDOWS/CP1252.TXT. */
#include "csv_internal.h"

#include <string.h>

#define REPLACEMENT 0xFFFD
#define DAMAGE_MOST 5 /* places of broken characters reported one by one */

/* 0x80..0x9F of Windows-1252; 0 = not assigned. */
static const uint16_t windows1252[32] = {
    0x20AC, 0,      0x201A, 0x0192, 0x201E, 0x2026, 0x2020, 0x2021, 0x02C6, 0x2030, 0x0160,
    0x2039, 0x0152, 0,      0x017D, 0,      0,      0x2018, 0x2019, 0x201C, 0x201D, 0x2022,
    0x2013, 0x2014, 0x02DC, 0x2122, 0x0161, 0x203A, 0x0153, 0,      0x017E, 0x0178,
};

/* Where the decoder is in what it writes, to give a place to what is damaged. */
struct decoder {
    struct text out;
    uint32_t line, column;
    bool after_cr;
    size_t damaged;
    struct str name;
    struct diags *findings;
};

/* Counts one character; lines end in LF, CR LF or CR. */
static void count_place(struct decoder *d, uint32_t code_point)
{
    if (code_point == '\n' && d->after_cr) {
        d->after_cr = false;
        return;
    }
    d->after_cr = code_point == '\r';
    if (code_point == '\n' || code_point == '\r') {
        d->line++;
        d->column = 1;
    } else {
        d->column++;
    }
}

/* Writes one character. */
static void put(struct decoder *d, uint32_t code_point)
{
    text_utf8(&d->out, code_point);
    count_place(d, code_point);
}

/* Writes U+FFFD for something broken and reports the first few. */
static void put_damaged(struct decoder *d, const char *what)
{
    if (d->damaged++ < DAMAGE_MOST) {
        diags_add(d->findings, (struct diag){.level = DIAG_DOUBT,
                                             .where = {d->name, d->line, d->column},
                                             .rule = "encoding",
                                             .what = str_of(what),
                                             .right = S("save the file again as CSV UTF-8 and compare this place")});
    }
    put(d, REPLACEMENT);
}

/* Length of the valid UTF-8 sequence at p, 0 when there is none. RFC 3629 section 4. */
static size_t utf8_length(const unsigned char *p, size_t n)
{
    if (p[0] < 0x80) {
        return 1;
    }
    size_t length = p[0] >= 0xF0 ? 4 : p[0] >= 0xE0 ? 3 : 2;
    return length <= n && str_is_utf8((struct str){(const char *)p, length}) ? length : 0;
}

/* Damaged UTF-8: whole characters stay, each broken byte becomes U+FFFD. */
static void decode_damaged_utf8(struct decoder *d, const unsigned char *p, size_t n)
{
    for (size_t i = 0; i < n;) {
        size_t length = utf8_length(p + i, n - i);
        if (length == 0) {
            put_damaged(d, "a byte that is no UTF-8");
            i++;
            continue;
        }
        text_add(&d->out, (struct str){(const char *)p + i, length});
        count_place(d, length == 1 ? p[i] : REPLACEMENT);
        i += length;
    }
}

/* Windows-1252, byte by byte. */
static void decode_windows1252(struct decoder *d, const unsigned char *p, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        uint32_t c = p[i] >= 0x80 && p[i] < 0xA0 ? windows1252[p[i] - 0x80] : p[i];
        if (c == 0 && p[i] != 0) {
            put_damaged(d, "a byte that Windows-1252 does not assign");
        } else {
            put(d, c);
        }
    }
}

/* One 16-bit unit of UTF-16. */
static uint32_t unit16(const unsigned char *p, bool big)
{
    return big ? (uint32_t)p[0] << 8 | p[1] : (uint32_t)p[1] << 8 | p[0];
}

/* UTF-16 after RFC 2781 section 2.2. */
static void decode_utf16(struct decoder *d, const unsigned char *p, size_t n, bool big)
{
    size_t i = 0;
    while (i + 1 < n) {
        uint32_t u = unit16(p + i, big);
        i += 2;
        if (u < 0xD800 || u > 0xDFFF) {
            put(d, u);
        } else if (u < 0xDC00 && i + 1 < n && unit16(p + i, big) >= 0xDC00 && unit16(p + i, big) <= 0xDFFF) {
            put(d, 0x10000 + ((u - 0xD800) << 10) + (unit16(p + i, big) - 0xDC00));
            i += 2;
        } else {
            put_damaged(d, "half of a UTF-16 pair");
        }
    }
    if (i < n) {
        put_damaged(d, "half of a UTF-16 unit");
    }
}

/* Whole multi-byte characters, and bytes that belong to none. */
static void count_utf8(const unsigned char *p, size_t n, size_t *whole, size_t *broken)
{
    *whole = *broken = 0;
    for (size_t i = 0; i < n;) {
        size_t length = utf8_length(p + i, n - i);
        *whole += length > 1;
        *broken += length == 0;
        i += length ? length : 1;
    }
}

/* UTF-16 without a mark: most even (big endian) or odd (little endian) bytes are zero. */
static enum csv_encoding guess_utf16(const unsigned char *p, size_t n)
{
    size_t even = 0;
    size_t odd = 0;
    size_t looked = n < 4096 ? n : 4096;
    for (size_t i = 0; i < looked; i++) {
        if (p[i] == 0) {
            i % 2 ? odd++ : even++;
        }
    }
    if (n >= 4 && odd * 5 > looked && even * 20 < looked) {
        return CSV_UTF16LE;
    }
    return n >= 4 && even * 5 > looked && odd * 20 < looked ? CSV_UTF16BE : CSV_ENCODING_FIND;
}

/* Length of the byte order mark and the encoding it tells. */
static size_t byte_order_mark(struct str bytes, enum csv_encoding *encoding)
{
    static const struct {
        struct str mark;
        enum csv_encoding encoding;
    } marks[] = {
        {{"\xEF\xBB\xBF", 3}, CSV_UTF8},
        {{"\xFF\xFE", 2}, CSV_UTF16LE},
        {{"\xFE\xFF", 2}, CSV_UTF16BE},
    };
    for (size_t i = 0; i < sizeof marks / sizeof *marks; i++) {
        if (str_starts(bytes, marks[i].mark)) {
            *encoding = marks[i].encoding;
            return marks[i].mark.n;
        }
    }
    return 0;
}

/* The encoding of bytes without a mark. */
static enum csv_encoding guess(struct str bytes, bool *damaged)
{
    const unsigned char *p = (const unsigned char *)bytes.p;
    enum csv_encoding wide = guess_utf16(p, bytes.n);
    if (wide != CSV_ENCODING_FIND) {
        return wide;
    }
    size_t whole = 0;
    size_t broken = 0;
    count_utf8(p, bytes.n, &whole, &broken);
    *damaged = broken > 0;
    return broken > 0 && whole <= broken ? CSV_WINDOWS1252 : CSV_UTF8;
}

/* Says which encoding was found, unless it is the plain case of UTF-8. */
static void say_encoding(const struct feed_csv_input *in, enum csv_encoding encoding, bool marked, bool told,
                         struct diags *findings)
{
    static const char *const words[] = {
#define X(symbol, word) word,
        CSV_ENCODINGS(X)
#undef X
    };
    if (encoding == CSV_UTF8 || told) {
        return;
    }
    diags_add(findings, (struct diag){.level = DIAG_HINT,
                                      .where = {in->name, 1, 1},
                                      .rule = "encoding",
                                      .what = csv_say(findings->a, "read as ", words[encoding],
                                                      marked ? ", as its byte order mark says" : "", (char *)0)});
}

/* Refuses what is plainly another kind of file. Signatures: PKWARE APPNOTE 4.3.7; [MS-CFB] 2.2. */
static bool is_text_file(const struct feed_csv_input *in, struct err *e)
{
    struct where at = {in->name, 0, 0};
    if (in->bytes.n > FEED_CSV_BYTES_MAX) {
        return err_at(e, at, ERR_INPUT, "split it by year or by machine", "the file is larger than 16 MiB", (char *)0);
    }
    if (str_starts(in->bytes, (struct str){"PK\x03\x04", 4}) ||
        str_starts(in->bytes, (struct str){"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1", 8})) {
        return err_at(e, at, ERR_INPUT, "in the spreadsheet program, save the sheet as CSV and take that file",
                      "this is a spreadsheet's own file, not CSV text", (char *)0);
    }
    return true;
}

bool csv_decode(struct arena *a, const struct feed_csv_input *in, struct str *text, enum csv_encoding *encoding,
                struct diags *findings, struct err *e)
{
    if (!is_text_file(in, e)) {
        return false;
    }
    enum csv_encoding marked = CSV_ENCODING_FIND;
    size_t mark = byte_order_mark(in->bytes, &marked);
    struct str rest = str_cut(in->bytes, mark, in->bytes.n);
    bool told = in->options.encoding != CSV_ENCODING_FIND;
    bool damaged = false;
    *encoding = told ? in->options.encoding : mark ? marked : guess(rest, &damaged);
    if (*encoding == CSV_UTF8) {
        damaged = !str_is_utf8(rest);
    }
    say_encoding(in, *encoding, mark > 0, told, findings);
    if (*encoding == CSV_UTF8 && !damaged) {
        *text = rest;
    } else {
        struct decoder d = {.out = text_new(a), .line = 1, .column = 1, .name = in->name, .findings = findings};
        const unsigned char *p = (const unsigned char *)rest.p;
        if (*encoding == CSV_UTF8) {
            decode_damaged_utf8(&d, p, rest.n);
        } else if (*encoding == CSV_WINDOWS1252) {
            decode_windows1252(&d, p, rest.n);
        } else {
            decode_utf16(&d, p, rest.n, *encoding == CSV_UTF16BE);
        }
        *text = text_str(&d.out);
    }
    if (text->n && memchr(text->p, '\0', text->n)) {
        return err_at(e, (struct where){in->name, 0, 0}, ERR_INPUT, "a text file with one row a line",
                      "the file holds zero bytes: this is no text", (char *)0);
    }
    return true;
}
