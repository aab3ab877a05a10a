/* Darcy's proportionality with its ratios taken apart, so that a missing pair drops out. */
#include "fluid/filter.h"

#include "quantity/domain.h"

#define CELSIUS_15_K 288.15

/* to / from where both are given, 1 where neither is. */
static bool ratio(const char *name, const char *unit, double from, double to, double *factor, struct err *e)
{
    if (from == 0 && to == 0) {
        *factor = 1;
        return true;
    }
    if (!domain_above(name, from, unit, 0, e) || !domain_above(name, to, unit, 0, e)) {
        return false;
    }
    *factor = to / from;
    return true;
}

bool filter_drop(double dp_pa, struct filter_flow from, struct filter_flow to, double *out_pa, struct err *e)
{
    double rho = 1;
    double flow = 1;
    if (!domain_within("pressure drop", dp_pa, "bar", 0, 1e8, e) ||
        !domain_above("viscosity at the reading", from.v_m2s, "mm2/s", 0, e) ||
        !domain_above("reference viscosity", to.v_m2s, "mm2/s", 0, e) ||
        !ratio("density", "kg/m3", from.rho_kgm3, to.rho_kgm3, &rho, e) ||
        !ratio("flow", "L/min", from.flow_m3s, to.flow_m3s, &flow, e)) {
        return false;
    }
    *out_pa = dp_pa * (to.v_m2s / from.v_m2s) * rho * flow;
    return true;
}

bool oil_density(double rho15_kgm3, double beta_per_k, double temp_k, double *rho_kgm3, struct err *e)
{
    if (!domain_within("density at 15 degC", rho15_kgm3, "kg/m3", 500, 1500, e) ||
        !domain_within("thermal expansion per kelvin", beta_per_k, "", 0, 0.002, e) ||
        !domain_within("oil temperature", temp_k, "degC", 200, 450, e)) {
        return false;
    }
    *rho_kgm3 = rho15_kgm3 * (1 - beta_per_k * (temp_k - CELSIUS_15_K));
    return true;
}

bool filter_assembly_drop(struct filter_assembly f, double v_m2s, double *dp_pa, struct err *e)
{
    double element = 0;
    if (!domain_within("pressure drop of the housing", f.housing_pa, "bar", 0, 1e8, e) ||
        !domain_above("flow over the stated flow", f.flow_ratio, "", 0, e) ||
        !filter_drop(f.element_pa, (struct filter_flow){.v_m2s = f.element_v_m2s}, (struct filter_flow){.v_m2s = v_m2s},
                     &element, e)) {
        return false;
    }
    *dp_pa = element * f.flow_ratio + f.housing_pa * f.flow_ratio * f.flow_ratio;
    return true;
}
