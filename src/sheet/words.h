/* The words that a sheet itself says, in the languages it knows; a document may replace any of them. */
#ifndef WITMARK_SHEET_WORDS_H
#define WITMARK_SHEET_WORDS_H

#include "base/text.h"

#include <stdbool.h>

/* name, English, Spanish */
#define SHEET_WORDS(X)                                                                                                \
    X(serial, "Serial", "Serie")                                                                                      \
    X(hours, "Hours", "Horas")                                                                                        \
    X(site, "Site", "Lugar")                                                                                          \
    X(options, "Fitted with", "Equipada con")                                                                         \
    X(book, "Book", "Libro")                                                                                          \
    X(made, "Printed", "Impreso")                                                                                     \
    X(first_words, "The maker's manual for this serial number, local rules and licensed practice come first.",        \
      "El manual del fabricante para este número de serie, las normas locales y la práctica autorizada van primero.") \
    X(total, "About", "Unos")                                                                                         \
    X(moves, "changes and walking", "cambios y recorrido")                                                            \
    X(proven, "fastest order, proven", "orden más rápido, demostrado")                                                \
    X(within, "order within % of the fastest", "orden a menos de % del más rápido")                                   \
    X(before, "Before you start", "Antes de empezar")                                                                 \
    X(lockout, "Lock out", "Bloquear")                                                                                \
    X(open_now, "Open now", "Abierto ahora")                                                                          \
    X(since, "since", "desde")                                                                                        \
    X(kit, "Kit", "Material")                                                                                         \
    X(parts, "Parts", "Piezas")                                                                                       \
    X(instead_of, "instead of", "en vez de")                                                                          \
    X(fluids, "Fluids", "Fluidos")                                                                                    \
    X(waste, "Take back as waste", "Residuos que recoger")                                                            \
    X(tools, "Tools", "Herramientas")                                                                                 \
    X(torques, "Torques", "Pares de apriete")                                                                         \
    X(equipment, "Wear", "Llevar puesto")                                                                             \
    X(round, "Round", "Ronda")                                                                                        \
    X(empty, "Nothing to do: no step is in this round.", "Nada que hacer: la ronda no tiene pasos.")                  \
    X(change, "change of condition", "cambio de estado")                                                              \
    X(see_step, "drawn at step", "dibujo en el paso")                                                                 \
    X(look, "Look for", "Buscar")                                                                                     \
    X(other, "other", "otro")                                                                                         \
    X(limits, "limits", "límites")                                                                                    \
    X(want, "aim for", "objetivo")                                                                                    \
    X(refer_to, "judged as", "se juzga como")                                                                         \
    X(last, "last", "última")                                                                                         \
    X(opens, "goes on the put-back list", "entra en la lista de reposición")                                          \
    X(closes, "comes off the put-back list", "sale de la lista de reposición")                                        \
    X(put_back, "Put-back list", "Lista de reposición")                                                               \
    X(put_back_why, "Nothing leaves the depot with a line open.", "Nada sale con una línea abierta.")                 \
    X(put_back_none, "This round opens nothing.", "Esta ronda no abre nada.")                                         \
    X(opened, "opened", "abierto")                                                                                    \
    X(back, "put back", "repuesto")                                                                                   \
    X(step, "step", "paso")                                                                                           \
    X(finish, "To finish", "Para terminar")                                                                           \
    X(notes, "Found, changed, left for next time", "Hallado, cambiado, pendiente")                                    \
    X(done_by, "Done by", "Hecho por")                                                                                \
    X(checked_by, "Checked by", "Revisado por")                                                                       \
    X(date, "Date", "Fecha")                                                                                          \
    X(hours_at_end, "Hours at the end", "Horas al final")                                                             \
    X(signature, "Signature", "Firma")                                                                                \
    X(figure, "Figure", "Figura")                                                                                     \
    X(figure_missing, "could not be drawn", "no se pudo dibujar")                                                     \
    X(figure_left_out, "left out: this program was built without drawings", "omitida: programa sin dibujos")          \
    X(page, "page", "página")                                                                                         \
    X(of, "of", "de")                                                                                                 \
    X(danger, "DANGER", "PELIGRO")                                                                                    \
    X(warning, "WARNING", "ADVERTENCIA")                                                                              \
    X(caution, "CAUTION", "ATENCIÓN")                                                                                 \
    X(notice, "NOTICE", "AVISO")

struct words {
#define X(name, en, es) struct str name;
    SHEET_WORDS(X)
#undef X
};

/* Steps of lockout and of handing back, for a round whose document gives none. */
struct word_list {
    const char *const *at;
    size_t n;
};

/* The words of a language ("en", "es", or longer, as "es-MX"); false when it is not known, then *w is English. */
bool words_of(struct str language, struct words *w);
struct word_list words_lockout(struct str language);
struct word_list words_finish(struct str language);

/* The word of a name, to be replaced; null when there is none. */
struct str *words_find(struct words *w, struct str name);
/* All names, for a suggestion. */
size_t words_names(const struct str **names);

#endif
