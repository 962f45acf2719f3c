#include "practice/pack.h"

#include <math.h> /* only sqrt and fmax, which are exact everywhere */

#include "practice/exact.h"

enum { REACH = 8, DIRECTIONS = 96 };

/* The solution has means of 26.7 (adjacent, 69 pairs) and 0.73 (second, 57 pairs), the largest 33.3 and 4.8
   at the rim, where 18 and 6 of those pairs are bare on one side, and a sum of 151 for the centre wire. So
   pairs inside have 24.8 and 0.25, bare ones 32.1 and 4.8. Two wires all alone have 48.2. */
struct pack_coupling pack_coupling_default(void)
{
    return (struct pack_coupling){.adjacent = {48.2e-12, 32.1e-12, 24.8e-12},
                                  .second = {4.8e-12, 4.8e-12, 0.25e-12},
                                  .third = 0.04e-12,
                                  .earth = 3.3e-12};
}

/* Squared distance of lattice point (a, b) from the centre, in pitches. */
static int ring(int a, int b)
{
    return a * a + a * b + b * b;
}

/* A wire is on the rim if in some direction hardly any other lies further out. */
static bool on_rim(const struct pack *pack, int i)
{
    for (int k = 0; k < DIRECTIONS; k++) {
        double ux, uy, beyond = 0.0;
        exact_cos_sin((double)k / DIRECTIONS, &ux, &uy);
        for (int j = 0; j < pack->n; j++)
            beyond = fmax(beyond, (pack->x[j] - pack->x[i]) * ux + (pack->y[j] - pack->y[i]) * uy);
        if (beyond < 0.3)
            return true;
    }
    return false;
}

void pack_lay(struct pack *pack, int n)
{
    pack->n = 0;
    for (int r = 0; r <= REACH * REACH && pack->n < n; r++)
        for (int a = -REACH; a <= REACH; a++)
            for (int b = -REACH; b <= REACH && pack->n < n; b++)
                if (ring(a, b) == r) {
                    pack->x[pack->n] = a + 0.5 * b;
                    pack->y[pack->n] = b * (0.5 * sqrt(3.0));
                    pack->n++;
                }
    for (int i = 0; i < n; i++)
        pack->rim[i] = on_rim(pack, i);
}

double pack_distance(const struct pack *pack, int i, int j)
{
    double dx = pack->x[i] - pack->x[j], dy = pack->y[i] - pack->y[j];
    return sqrt(dx * dx + dy * dy);
}

static int touching_both(const struct pack *pack, int i, int j)
{
    int count = 0;
    for (int k = 0; k < pack->n; k++)
        count += k != i && k != j && pack_distance(pack, i, k) < 1.1 && pack_distance(pack, j, k) < 1.1;
    return count;
}

static double partial(const struct pack *pack, const struct pack_coupling *coupling, int i, int j)
{
    double distance = pack_distance(pack, i, j);
    if (distance < 1.1)
        return coupling->adjacent[touching_both(pack, i, j)];
    if (distance < 1.8)
        return coupling->second[touching_both(pack, i, j)];
    return distance < 2.1 ? coupling->third : 0.0;
}

void pack_capacitance(const struct pack *pack, const struct pack_coupling *coupling, double *c)
{
    int n = pack->n;
    for (int i = 0; i < n; i++) {
        double sum = pack->rim[i] ? coupling->earth : 0.0;
        for (int j = 0; j < n; j++) {
            double mutual = i == j ? 0.0 : partial(pack, coupling, i, j);
            c[i * n + j] = -mutual;
            sum += mutual;
        }
        c[i * n + i] = sum;
    }
}
