/** @file keying_own.h
 *  What is likely of one window's energy over its noise: natural logarithms of densities, for the accounts of keying.h.
 *
 *  Pure; no allocation; any thread. Energies are finite and at least 0.
 */
#ifndef THRUM_KEYING_OWN_H
#define THRUM_KEYING_OWN_H

/** Share of all windows that hold another sound. */
#define THRUM_KEYING_FOREIGN 0.01

double thrum_keying_ln_noise(double e);
/** Another sound, as loud as it likes. */
double thrum_keying_ln_foreign(double e);
/** The tone, of energy g, is in it; seldom it is missing, or another sound is there. g = 0: no tone. */
double thrum_keying_ln_heard(double e, double g);

/** Of e^a + e^b. */
double thrum_keying_ln_plus(double a, double b);
/** Of a mixture: `other` with this weight. */
double thrum_keying_ln_with(double ln, double weight, double other);

#endif
