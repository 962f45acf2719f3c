#include "practice/network.h"

#include <stddef.h>

/* The equations A x = b of the free nodes, real and imaginary parts apart, b as column m. */
struct system {
    int m;
    int node[THRUM_PRACTICE_MAX_WIRES + 1]; /* wire, or n for the common */
    double *re, *im;                        /* [m * (m + 1)] */
};

static size_t at(const struct system *s, int row, int column)
{
    return (size_t)row * (size_t)(s->m + 1) + (size_t)column;
}

/* Admittance between two nodes (minus the branch; the sum of branches on the diagonal). */
static struct phasor admittance(const struct network *net, double hz, int i, int j)
{
    int n = net->n;
    struct phasor y = {0.0, 0.0};
    if (i < n && j < n) {
        y.im = 2.0 * THRUM_PI * hz * net->length_m * net->c[i * n + j];
        y.re = i == j ? net->to_common_s[i] : 0.0;
    } else if (i < n || j < n) {
        y.re = -net->to_common_s[i < n ? i : j];
    } else {
        y.re = net->common_to_earth_s;
        for (int k = 0; k < n; k++)
            y.re += net->to_common_s[k];
    }
    return y;
}

static void set_up(const struct network *net, double hz, struct system *s)
{
    s->m = 0;
    for (int i = 0; i < net->n; i++)
        if (!net->fixed[i])
            s->node[s->m++] = i;
    if (net->common_floats)
        s->node[s->m++] = net->n;
    s->im = s->re + (size_t)s->m * (size_t)(s->m + 1);
    for (int r = 0; r < s->m; r++) {
        double b_re = 0.0, b_im = 0.0;
        for (int k = 0; k < s->m; k++) {
            struct phasor y = admittance(net, hz, s->node[r], s->node[k]);
            s->re[at(s, r, k)] = y.re;
            s->im[at(s, r, k)] = y.im;
        }
        for (int j = 0; j < net->n; j++)
            if (net->fixed[j]) {
                struct phasor y = admittance(net, hz, s->node[r], j);
                b_re -= y.re * net->volts[j];
                b_im -= y.im * net->volts[j];
            }
        s->re[at(s, r, s->m)] = b_re;
        s->im[at(s, r, s->m)] = b_im;
    }
}

static struct phasor over(struct phasor a, struct phasor b)
{
    double size = b.re * b.re + b.im * b.im;
    return (struct phasor){(a.re * b.re + a.im * b.im) / size, (a.im * b.re - a.re * b.im) / size};
}

static struct phasor entry(const struct system *s, int row, int column)
{
    return (struct phasor){s->re[at(s, row, column)], s->im[at(s, row, column)]};
}

/* Needs no exchange of rows: conductances and capacitances each make a positive definite matrix, and in the
   elimination of their complex sum nothing grows by more than 3 (Higham, from memory). */
static void eliminate(struct system *s)
{
    for (int p = 0; p < s->m; p++) {
        for (int r = p + 1; r < s->m; r++) {
            struct phasor f = over(entry(s, r, p), entry(s, p, p));
            const double *pre = &s->re[at(s, p, 0)], *pim = &s->im[at(s, p, 0)];
            double *re = &s->re[at(s, r, 0)], *im = &s->im[at(s, r, 0)];
            for (int k = p; k <= s->m; k++) {
                double x = f.re * pre[k] - f.im * pim[k], y = f.re * pim[k] + f.im * pre[k];
                re[k] -= x;
                im[k] -= y;
            }
        }
    }
}

void network_solve(const struct network *net, double hz, double *scratch, struct phasor *v)
{
    struct system s = {.re = scratch};
    struct phasor x[THRUM_PRACTICE_MAX_WIRES + 1];
    set_up(net, hz, &s);
    eliminate(&s);
    for (int i = 0; i < net->n; i++)
        v[i] = (struct phasor){net->volts[i], 0.0};
    for (int r = s.m - 1; r >= 0; r--) {
        struct phasor sum = entry(&s, r, s.m);
        for (int k = r + 1; k < s.m; k++) {
            struct phasor y = entry(&s, r, k);
            sum.re -= y.re * x[k].re - y.im * x[k].im;
            sum.im -= y.re * x[k].im + y.im * x[k].re;
        }
        x[r] = over(sum, entry(&s, r, r));
        if (s.node[r] < net->n)
            v[s.node[r]] = x[r];
    }
}
