/* The gas law at constant volume, in absolute pressure and temperature throughout; gauge only at the edges. */
#include "tyre/tyre.h"

#include "quantity/domain.h"

#include <math.h>

bool atmosphere_pressure(double altitude_m, double *pa, struct err *e)
{
    if (!domain_within("altitude", altitude_m, "m", -5000, 11000, e)) {
        return false;
    }
    *pa = STANDARD_ATMOSPHERE_PA * pow(1 - 0.0065 * altitude_m / 288.15, 5.255876);
    return true;
}

/* Temperature and ambient pressure of a place within what a tyre can meet. */
static bool check_place(struct tyre_place p, struct err *e)
{
    return domain_within("tyre temperature", p.temp_k, "degC", 200, 400, e) &&
           domain_within("ambient absolute pressure", p.ambient_pa, "kPa", 20000, 120000, e);
}

bool tyre_pressure(double gauge_pa, struct tyre_place from, struct tyre_place to, double *out_pa, struct err *e)
{
    if (!check_place(from, e) || !check_place(to, e) ||
        !domain_above("absolute tyre pressure (gauge + ambient)", gauge_pa + from.ambient_pa, "kPa", 0, e) ||
        !domain_within("gauge pressure", gauge_pa, "kPa", -from.ambient_pa, 2e6, e)) {
        return false;
    }
    *out_pa = (gauge_pa + from.ambient_pa) * (to.temp_k / from.temp_k) - to.ambient_pa;
    return true;
}

/* Days from `now` down to the minimum at a steady loss; false when nothing is lost. */
static bool days_to(double now, double minimum, double loss, double *days)
{
    if (!(loss > 0)) {
        return false;
    }
    *days = fmax(0, (now - minimum) / loss);
    return true;
}

bool tyre_leak(struct tyre_readings r, struct tyre_leak *out, struct err *e)
{
    struct tyre_leak leak = {0};
    struct tyre_place at = {r.reference_k, r.ambient_pa};
    if (!tyre_pressure(r.gauge1_pa, (struct tyre_place){r.temp1_k, r.ambient_pa}, at, &leak.corrected1_pa, e) ||
        !tyre_pressure(r.gauge2_pa, (struct tyre_place){r.temp2_k, r.ambient_pa}, at, &leak.corrected2_pa, e) ||
        !domain_above("time between the readings", r.days * 86400, "d", 0, e) ||
        !domain_within("minimum gauge pressure", r.minimum_pa, "kPa", 0, 2e6, e)) {
        return false;
    }
    leak.loss_pa_per_day = (leak.corrected1_pa - leak.corrected2_pa) / r.days;
    leak.losing = days_to(leak.corrected2_pa, r.minimum_pa, leak.loss_pa_per_day, &leak.days_left);
    leak.losing_uncorrected =
        days_to(r.gauge2_pa, r.minimum_pa, (r.gauge1_pa - r.gauge2_pa) / r.days, &leak.days_left_uncorrected);
    *out = leak;
    return true;
}
