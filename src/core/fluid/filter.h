/* Pressure drop over an oil filter, referred to another viscosity and flow: 2.6 bar with cold oil looks blocked and is
 * not.
 *
 * Only the element's part is laminar and scales with viscosity; the housing's part scales with density and flow
 * squared. Source: Darcy's law for a porous medium; filter makers state the same proportionality. */
#ifndef WITMARK_FLUID_FILTER_H
#define WITMARK_FLUID_FILTER_H

#include "base/err.h"

/* Flow through an element. rho 0 = densities left out (kinematic ratio, about 2 % off over 30 K); flow 0 = the same
 * flow. */
struct filter_flow {
    double v_m2s;    /* kinematic viscosity, > 0 */
    double rho_kgm3; /* of both or of none */
    double flow_m3s; /* of both or of none */
};
/* dp2 = dp1 (v2 rho2 Q2) / (v1 rho1 Q1). dp 0 .. 100 MPa. Errors: ERR_DOMAIN. */
bool filter_drop(double dp_pa, struct filter_flow from, struct filter_flow to, double *out_pa, struct err *e);

/* Density of a mineral oil at a temperature: rho15 (1 - beta (t - 15 degC)). beta: usual figure 0.00064 per K, from
 * memory. */
bool oil_density(double rho15_kgm3, double beta_per_k, double temp_k, double *rho_kgm3, struct err *e);

/* Element and housing added: dp = element (v / element_v) (Q/Q0) + housing (rho/rho0) (Q/Q0)^2, at one density here. */
struct filter_assembly {
    double element_pa, element_v_m2s; /* drop of the clean element and the viscosity it was stated at */
    double housing_pa;
    double flow_ratio; /* Q / Q0; 1 = the stated flow */
};
bool filter_assembly_drop(struct filter_assembly f, double v_m2s, double *dp_pa, struct err *e);

#endif
