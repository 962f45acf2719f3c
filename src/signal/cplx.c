#include "signal/cplx.h"

#include <string.h>

#include "base/wide.h"
#include "thrum/units.h"

enum { AT_ONCE = 4, TURNS = 8 };

/* Four doubles at once, such as two complex numbers as they lie: left to itself gcc sorts parts from parts first, at twice the cost. */
typedef double four __attribute__((vector_size(4 * sizeof(double))));

static inline void get(const struct cplx *from, four *p)
{
    memcpy(p, from, sizeof *p);
}

/* Each number's parts changed about. */
static inline void cross(const four *p, four *crossed)
{
    *crossed = (four){(*p)[1], (*p)[0], (*p)[3], (*p)[2]};
}

THRUM_WIDE struct cplx thrum_cplx_dot(const struct cplx *a, const struct cplx *b, size_t n)
{
    four along[2] = {{0.0}}, across[2] = {{0.0}};
    size_t m = 0;
    for (; m + AT_ONCE <= n; m += AT_ONCE)
        for (size_t k = 0; k < 2; k++) {
            four x, y, crossed;
            get(a + m + 2 * k, &x);
            get(b + m + 2 * k, &y);
            cross(&y, &crossed);
            along[k] += x * y;
            across[k] += x * crossed;
        }
    four l = along[0] + along[1], c = across[0] + across[1];
    struct cplx sum = {(l[0] + l[2]) + (l[1] + l[3]), (c[0] + c[2]) - (c[1] + c[3])};
    for (; m < n; m++)
        sum = cplx_add(sum, cplx_mul_conj(a[m], b[m]));
    return sum;
}

THRUM_WIDE void thrum_cplx_multiply(const struct cplx *a, const struct cplx *b, size_t n, struct cplx *out)
{
    for (size_t m = 0; m < n; m++)
        out[m] = cplx_mul(a[m], b[m]);
}

THRUM_WIDE void thrum_cplx_take_off(struct cplx a, const struct cplx *v, size_t n, struct cplx *out)
{
    for (size_t m = 0; m < n; m++)
        out[m] = cplx_sub(out[m], cplx_mul(a, v[m]));
}

/* As many numbers, real and imaginary parts apart. */
struct lanes {
    four re[TURNS / 4], im[TURNS / 4];
};

static inline void set_lane(struct lanes *lanes, int k, struct cplx a)
{
    lanes->re[k / 4][k % 4] = a.re;
    lanes->im[k / 4][k % 4] = a.im;
}

static inline void turn(struct lanes *lanes, const struct lanes *by)
{
    for (int k = 0; k < TURNS / 4; k++) {
        four re = lanes->re[k], im = lanes->im[k];
        lanes->re[k] = re * by->re[k] - im * by->im[k];
        lanes->im[k] = re * by->im[k] + im * by->re[k];
    }
}

static inline void put(const struct lanes *lanes, struct cplx *out)
{
    for (int k = 0; k < TURNS / 4; k++) {
        four re = lanes->re[k], im = lanes->im[k];
        four low = {re[0], im[0], re[1], im[1]}, high = {re[2], im[2], re[3], im[3]};
        memcpy(out + 4 * k, &low, sizeof low);
        memcpy(out + 4 * k + 2, &high, sizeof high);
    }
}

/* So many cycles. */
static inline struct cplx turned(double cycles)
{
    return cplx_turn(2.0 * THRUM_PI * fmod(cycles, 1.0));
}

THRUM_WIDE void thrum_cplx_turns(struct thrum_turning turning, size_t n, struct cplx *out)
{
    double dt = 1.0 / turning.rate_hz, long_dt = TURNS * dt;
    double hz = turning.hz, slope = turning.slope_hz_per_s, from = turning.from_s;
    struct cplx rest[TURNS];
    struct lanes now, step, bend;
    /* From lane to lane; then each lane goes TURNS samples at a time. */
    struct cplx at = turned(hz * from + 0.5 * slope * from * from),
                on = turned((hz + slope * from) * dt + 0.5 * slope * dt * dt), bent = turned(slope * dt * dt);
    struct cplx far = turned((hz + slope * from) * long_dt + 0.5 * slope * long_dt * long_dt),
                farther = turned(slope * dt * long_dt), more = turned(slope * long_dt * long_dt);
    for (int k = 0; k < TURNS; k++) {
        set_lane(&now, k, at);
        set_lane(&step, k, far);
        set_lane(&bend, k, more);
        at = cplx_mul(at, on);
        on = cplx_mul(on, bent);
        far = cplx_mul(far, farther);
    }
    size_t m = 0;
    for (; m + TURNS <= n; m += TURNS) {
        put(&now, out + m);
        turn(&now, &step);
        if (slope != 0.0)
            turn(&step, &bend);
    }
    put(&now, rest);
    memcpy(out + m, rest, (n - m) * sizeof *out);
}

THRUM_WIDE void thrum_cplx_add_up(const struct cplx *a, size_t n, struct cplx *sums)
{
    struct cplx sum = {0.0, 0.0};
    size_t m = 0;
    for (; m + AT_ONCE <= n; m += AT_ONCE) {
        struct cplx two = cplx_add(a[m], a[m + 1]), three = cplx_add(two, a[m + 2]);
        sums[m] = sum;
        sums[m + 1] = cplx_add(sum, a[m]);
        sums[m + 2] = cplx_add(sum, two);
        sums[m + 3] = cplx_add(sum, three);
        sum = cplx_add(sum, cplx_add(three, a[m + 3]));
    }
    for (; m < n; m++) {
        sums[m] = sum;
        sum = cplx_add(sum, a[m]);
    }
    sums[n] = sum;
}
