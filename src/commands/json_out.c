#include "commands/json_out.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "thrum/units.h"

json_t *json_rounded(double number, double step)
{
    double rounded = round(number / step) * step;
    return json_real(isfinite(rounded) ? rounded : 0.0);
}

json_t *json_level(double db)
{
    if (!isfinite(db) || db <= THRUM_FLOOR_DBFS)
        return json_null();
    return json_rounded(db, 1e-4);
}

json_t *json_mains(double hz)
{
    return hz > 0.0 ? json_rounded(hz, 1e-4) : json_null();
}

json_t *json_text(const char *text)
{
    json_t *whole = json_string(text);
    if (whole)
        return whole;
    size_t length = strlen(text);
    char *plain = malloc(length + 1);
    if (!plain)
        return NULL;
    for (size_t i = 0; i <= length; i++)
        plain[i] = (unsigned char)text[i] < 0x80 ? text[i] : '?';
    whole = json_string(plain);
    free(plain);
    return whole;
}

json_t *json_faults(uint32_t faults)
{
    json_t *names = json_array();
    for (int i = 0; i < THRUM_FAULTS; i++) {
        const char *name = faults >> i & 1u ? thrum_fault_name((enum thrum_fault)(1 << i)) : NULL;
        if (name)
            json_array_append_new(names, json_string(name));
    }
    return names;
}

bool json_print(json_t *document)
{
    bool good =
        document && json_dumpf(document, stdout, JSON_COMPACT | JSON_REAL_PRECISION(JSON_DIGITS)) == 0;
    json_decref(document);
    return good && putchar('\n') != EOF && fflush(stdout) == 0;
}
