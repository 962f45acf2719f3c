#include "signal/spectrum.h"

#include <assert.h>
#include <kiss_fftr.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

/* The library is built for one kind of number; a mismatch at link time would corrupt memory. */
static_assert(sizeof(kiss_fft_scalar) == 4, "the transform library must be the one for float");
static_assert(sizeof(struct thrum_bin) == sizeof(kiss_fft_cpx), "a bin is copied as it is");
static_assert(offsetof(struct thrum_bin, im) == offsetof(kiss_fft_cpx, i), "a bin is copied as it is");

struct thrum_spectrum {
    int n;
    kiss_fftr_cfg forward;
    kiss_fftr_cfg inverse;
    kiss_fft_cpx *work; /* [n / 2 + 1] */
};

/* Other factors make the library allocate in every transform; odd sizes it does not take. */
static int is_good(int n)
{
    static const int factors[] = {2, 3, 5};
    if (n < THRUM_SPECTRUM_MIN || n > THRUM_SPECTRUM_MAX || n % 2)
        return 0;
    for (int i = 0; i < 3; i++)
        while (n % factors[i] == 0)
            n /= factors[i];
    return n == 1;
}

int thrum_spectrum_good_size(int n)
{
    if (n < THRUM_SPECTRUM_MIN)
        return THRUM_SPECTRUM_MIN;
    while (n <= THRUM_SPECTRUM_MAX && !is_good(n))
        n++;
    return n <= THRUM_SPECTRUM_MAX ? n : 0;
}

enum thrum_status thrum_spectrum_create(int n, struct thrum_spectrum **spectrum)
{
    *spectrum = NULL;
    if (!is_good(n))
        return THRUM_ERR_ARG;
    struct thrum_spectrum *s = calloc(1, sizeof *s);
    if (!s)
        return THRUM_ERR_MEM;
    s->n = n;
    s->forward = kiss_fftr_alloc(n, 0, NULL, NULL);
    s->inverse = kiss_fftr_alloc(n, 1, NULL, NULL);
    s->work = calloc((size_t)n / 2 + 1, sizeof *s->work);
    if (!s->forward || !s->inverse || !s->work)
        goto fail;
    *spectrum = s;
    return THRUM_OK;
fail:
    thrum_spectrum_destroy(s);
    return THRUM_ERR_MEM;
}

void thrum_spectrum_destroy(struct thrum_spectrum *spectrum)
{
    if (!spectrum)
        return;
    kiss_fftr_free(spectrum->forward);
    kiss_fftr_free(spectrum->inverse);
    free(spectrum->work);
    free(spectrum);
}

int thrum_spectrum_size(const struct thrum_spectrum *spectrum)
{
    return spectrum->n;
}

void thrum_spectrum_forward(struct thrum_spectrum *spectrum, const float *x, struct thrum_bin *bins)
{
    kiss_fftr(spectrum->forward, x, spectrum->work);
    memcpy(bins, spectrum->work, ((size_t)spectrum->n / 2 + 1) * sizeof *bins);
}

void thrum_spectrum_inverse(struct thrum_spectrum *spectrum, const struct thrum_bin *bins, float *x)
{
    int n = spectrum->n;
    memcpy(spectrum->work, bins, ((size_t)n / 2 + 1) * sizeof *bins);
    spectrum->work[0].i = 0.0f;
    spectrum->work[n / 2].i = 0.0f;
    kiss_fftri(spectrum->inverse, spectrum->work, x);
    float scale = 1.0f / (float)n;
    for (int i = 0; i < n; i++)
        x[i] *= scale;
}
