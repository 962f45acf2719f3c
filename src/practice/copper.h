/* Solid wire of annealed copper. */
#ifndef PRACTICE_COPPER_H
#define PRACTICE_COPPER_H

/* Diameter in metres of a gauge (AWG), -3 (0000) to 40: 0.005 in x 92^((36 - gauge)/39). */
double copper_diameter_m(int gauge);

/* Resistance of a metre at a temperature in degrees Celsius: 1/58 ohm mm2/m at 20, 0.393 % more for each degree above. */
double copper_ohm_per_m(int gauge, double celsius);

#endif
