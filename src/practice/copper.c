#include "practice/copper.h"

#include "practice/exact.h"
#include "thrum/units.h"

#define MIL_5_M      0.127e-3 /* 0.005 inch: gauge 36 */
#define OHM_M        (1e-6 / 58.0)
#define PER_KELVIN   0.00393
#define MEASURED_AT  20.0
#define GAUGE_RATIO  92.0 /* of the diameters of gauges 0000 and 36, which are 39 steps apart */
#define GAUGE_STEPS  39.0
#define GAUGE_OF_MIL 36

double copper_diameter_m(int gauge)
{
    return MIL_5_M * exact_exp(exact_log(GAUGE_RATIO) * (GAUGE_OF_MIL - gauge) / GAUGE_STEPS);
}

double copper_ohm_per_m(int gauge, double celsius)
{
    double d = copper_diameter_m(gauge);
    return OHM_M / (0.25 * THRUM_PI * d * d) * (1.0 + PER_KELVIN * (celsius - MEASURED_AT));
}
