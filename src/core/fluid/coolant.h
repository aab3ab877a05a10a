/* Coolant: freezing point of glycol mixtures, boiling under a pressure cap, how much to drain and what to add. */
#ifndef WITMARK_FLUID_COOLANT_H
#define WITMARK_FLUID_COOLANT_H

#include "base/err.h"

enum glycol { GLYCOL_ETHYLENE, GLYCOL_PROPYLENE };

/* "ethylene", "propylene" (with or without "glycol"); false for another word. */
bool glycol_of(struct str word, enum glycol *glycol);

/* Freezing point of a mixture by share of volume, straight between the table's rows.
 *   share  0 .. 0.6 ethylene, 0 .. 0.5 propylene: where the tables end. Past about 0.6 the curve turns back, so nothing
 * is extrapolated. Worth whole degrees only: published tables differ by 1 to 2 K. Errors: ERR_DOMAIN. Source: ethylene:
 * ASHRAE Handbook (2001) by volume, as fitted in a general thermophysical-property library; propylene: Lange's Handbook
 * of Chemistry, 15th ed., Table 5.13; pure water freezes at 0 degC. */
bool coolant_freezing(enum glycol glycol, double share, double *temp_k, struct err *e);

/* Ethylene glycol by share of mass, 0 .. 0.55: two published tables and so an honest spread.
 * Source: ASHRAE Handbook (2001) by mass, values from memory; Melinder, as held in a general thermophysical-property
 * library. */
struct freezing_spread {
    double low_k, high_k;
};
bool coolant_freezing_spread(double mass_share, struct freezing_spread *out, struct err *e);

/* Saturation temperature of water at an absolute pressure, 611.213 Pa .. 22.064 MPa. Errors: ERR_DOMAIN.
 * Source: IAPWS-IF97, region 4, backward equation (31). Checked: the release's table 36. */
bool water_boiling(double absolute_pa, double *temp_k, struct err *e);

/* Boiling point of a glycol mixture: water boils at p / x where x is its mole fraction (Raoult's law; the glycol's own
 * vapour is left out, which is fair up to 0.6). share 0 .. 0.6 by volume;  cap_gauge_pa 0 .. 300 kPa;  ambient_pa as
 * the altitude gives it Within about 2 K of trade figures. Errors: ERR_DOMAIN. Source: Raoult's law with IAPWS-IF97;
 * molar masses 18.015, 62.07, 76.09 g/mol; densities at 20 degC 998.2, 1113, 1036 kg/m3. */
bool coolant_boiling(enum glycol glycol, double share, double cap_gauge_pa, double ambient_pa, double *temp_k,
                     struct err *e);

/* Share of glycol by volume from a hydrometer, read at the coolant's temperature; 1 = water at 20 degC (998.2 kg/m3).
 * Straight between the rows of a density table, 0 .. 0.6 and 0 .. 80 degC. A hydrometer read to 0.002 is worth 0.02 of
 * share. Errors: ERR_DOMAIN, naming the range at that temperature. Source: densities of ASHRAE Handbook (2001) by
 * volume, as fitted in a general thermophysical-property library (CoolProp: AEG, APG); water: IAPWS-95 at 101 325 Pa.
 */
bool coolant_share(enum glycol glycol, double gravity, double temp_k, double *share, struct err *e);

/* Volume to drain and refill so that a system of `volume` at share `now` comes to `target`, refilling with `fill` (1 =
 * neat glycol, 0 = water): x = V (target - now) / (fill - now). Well mixed, volumes additive. Shares 0 .. 1. Errors:
 * ERR_DOMAIN when that fill cannot reach the target. Source: mass balance. */
bool coolant_drain(double volume_m3, double now, double target, double fill, double *drain_m3, struct err *e);

#endif
