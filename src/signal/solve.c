#include "signal/solve.h"

bool thrum_solve_factor(struct cplx *a, int n, int stride)
{
    for (int j = 0; j < n; j++) {
        struct cplx *row = a + (long)j * stride;
        for (int i = 0; i < j; i++) {
            const struct cplx *other = a + (long)i * stride;
            struct cplx sum = row[i];
            for (int k = 0; k < i; k++)
                sum = cplx_sub(sum, cplx_mul_conj(other[k], row[k]));
            row[i] = cplx_scale(sum, 1.0 / other[i].re);
        }
        double diagonal = row[j].re;
        for (int k = 0; k < j; k++)
            diagonal -= cplx_power(row[k]);
        if (!(diagonal > 0.0))
            return false;
        row[j] = (struct cplx){sqrt(diagonal), 0.0};
    }
    return true;
}

void thrum_solve_forward(const struct cplx *l, int n, int stride, struct cplx *b)
{
    for (int i = 0; i < n; i++) {
        const struct cplx *row = l + (long)i * stride;
        for (int k = 0; k < i; k++)
            b[i] = cplx_sub(b[i], cplx_mul(row[k], b[k]));
        b[i] = cplx_scale(b[i], 1.0 / row[i].re);
    }
}

void thrum_solve_back(const struct cplx *l, int n, int stride, struct cplx *b)
{
    for (int i = n - 1; i >= 0; i--) {
        for (int k = i + 1; k < n; k++)
            b[i] = cplx_sub(b[i], cplx_mul_conj(l[(long)k * stride + i], b[k]));
        b[i] = cplx_scale(b[i], 1.0 / l[(long)i * stride + i].re);
    }
}
