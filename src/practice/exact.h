/* Sine, exponential and logarithm made of + - * / only, so that they give the same digits on every machine;
   those of the C library differ in the last place from one to the next. */
#ifndef PRACTICE_EXACT_H
#define PRACTICE_EXACT_H

/* Cosine and sine of an angle in turns (1 = full circle), any finite value. Good to about 1e-16. */
void exact_cos_sin(double turns, double *cosine, double *sine);

/* e^x, -700 to 700. */
double exact_exp(double x);

/* Natural logarithm, x > 0 and normal. */
double exact_log(double x);

/* 10^(db/20). */
double exact_amplitude(double db);

#endif
