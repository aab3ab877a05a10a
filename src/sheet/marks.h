/* The signs of a sheet: those that are Witmark's own (stripe, bracket gauge, plate) and those of the trade (tick box,
 * alert triangle, QR code). Every one can be read without colour. */
#ifndef WITMARK_SHEET_MARKS_H
#define WITMARK_SHEET_MARKS_H

#include "document.h"
#include "pen.h"

/* The paint stripe across a seam: halves in line where something was put back, shifted where it is open. */
void mark_stripe(struct pen *p, double x, double y, double h, bool in_line);
#define STRIPE_WIDTH 9.0

/* A box to tick, side s. On an ink block it is filled white. */
void mark_tick(struct pen *p, double x, double y, double s);

/* A riveted plate with the depot's number in it. */
void mark_plate(struct pen *p, struct box b, struct str label);

/* The general warning sign: a triangle of the given height with an exclamation mark in it. */
void mark_alert(struct pen *p, double x, double y, double h, const struct ink *fill, const struct ink *on);

/* A caution: signal word with its symbol, and what it says, in a frame. Returns the height. */
double mark_caution(struct pen *p, double x, double y, double w, const struct words *words, const struct caution *c);

/* The bracket gauge without a dot, which the reader pencils in: brackets at the limits, to scale, a tick at the figure
 * to aim for, an open dot at the last reading. Returns the height; 0 and nothing drawn when there is no limit. */
double mark_gauge(struct pen *p, double x, double y, double w, const struct gauge *g);

/* A blank to write in, with its unit at the right end. */
void mark_blank(struct pen *p, struct box b, struct str unit);

/* The number of a mark on a figure: white in a filled circle. */
void mark_number(struct pen *p, double x, double y, double r, int number, bool filled);

/* A QR code of the text (error correction level M, four modules of quiet zone within the box). False when it cannot be
 * made. Dark modules beside each other are one rectangle and the whole is one fill, so that no seams show. */
bool mark_qr(struct pen *p, double x, double y, double side, struct str text);

#endif
