/* Mass balances on a sump. */
#include "fluid/used_oil.h"

#include "quantity/domain.h"

#include <math.h>

bool used_oil_rate(double concentration, double volume_m3, double topup_m3_per_h, double hours, struct wear_rate *out,
                   struct err *e)
{
    if (!domain_within("concentration", concentration, "", 0, 1e6, e) ||
        !domain_above("volume of the sump", volume_m3, "L", 0, e) ||
        !domain_within("top-up per hour", topup_m3_per_h, "L", 0, volume_m3, e) ||
        !domain_above("hours on the oil", hours, "", 0, e)) {
        return false;
    }
    double turnover = topup_m3_per_h / volume_m3 * hours;
    double naive = concentration / hours;
    /* x / (1 - exp(-x)) goes to 1 with x. */
    *out = (struct wear_rate){turnover > 0 ? naive * turnover / -expm1(-turnover) : naive, naive};
    return true;
}

bool used_oil_equivalent(double volume_m3, double loss_m3, double at_loss, double now, double *equivalent,
                         struct err *e)
{
    if (!domain_above("volume of the sump", volume_m3, "L", 0, e) ||
        !domain_within("volume lost", loss_m3, "L", 0, volume_m3, e) ||
        !domain_within("concentration at the loss", at_loss, "", 0, 1e6, e) ||
        !domain_within("concentration now", now, "", 0, 1e6, e)) {
        return false;
    }
    *equivalent = now + at_loss * loss_m3 / volume_m3;
    return true;
}

bool used_oil_statistics(const double *values, size_t n, struct used_oil_statistics *out, struct err *e)
{
    if (n < USED_OIL_SAMPLES) {
        return domain_refuse("too few samples for a statistical limit", "at least 10 samples of the same family", e);
    }
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        if (!domain_within("concentration", values[i], "", 0, 1e6, e)) {
            return false;
        }
        sum += values[i];
    }
    double mean = sum / (double)n;
    double squares = 0;
    for (size_t i = 0; i < n; i++) {
        squares += (values[i] - mean) * (values[i] - mean);
    }
    *out = (struct used_oil_statistics){mean, sqrt(squares / (double)(n - 1))};
    return true;
}

bool used_oil_change(double fresh, double used, double *share, struct err *e)
{
    if (!domain_above("value of the new oil", fresh, "", 0, e) ||
        !domain_within("value of the used oil", used, "", 0, 1e12, e)) {
        return false;
    }
    *share = (used - fresh) / fresh;
    return true;
}
