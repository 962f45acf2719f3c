#include "thrum/units.h"

#include <math.h>

double thrum_db_from_amplitude(double amplitude)
{
    if (!(amplitude > 0.0))
        return THRUM_FLOOR_DBFS;
    return fmax(20.0 * log10(amplitude), THRUM_FLOOR_DBFS);
}

double thrum_db_from_power(double power)
{
    if (!(power > 0.0))
        return THRUM_FLOOR_DBFS;
    return fmax(10.0 * log10(power), THRUM_FLOOR_DBFS);
}

double thrum_amplitude_from_db(double db)
{
    return pow(10.0, db / 20.0);
}

double thrum_power_from_db(double db)
{
    return pow(10.0, db / 10.0);
}
