/** @file kaiser.h
 *  Low-pass filters by the Kaiser window. Source: J. F. Kaiser's design formulas, as in Oppenheim and Schafer,
 *  Discrete-Time Signal Processing, section on FIR design by windowing (from memory).
 */
#ifndef THRUM_KAISER_H
#define THRUM_KAISER_H

/** Half length: taps run from -half to +half. Frequencies as fractions of the sampling rate. */
int thrum_kaiser_half(double pass, double stop, double attenuation_db);

/** Fill taps [2 half + 1], unit gain at 0 Hz, cutting midway between pass and stop. */
void thrum_kaiser_lowpass(double pass, double stop, double attenuation_db, int half, double *taps);

#endif
