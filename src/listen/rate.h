/** @file rate.h
 *  Does the sound have the sample rate that it claims? The mains tells: read at the wrong one, its hum lies where no mains
 *  is. Pure.
 */
#ifndef THRUM_RATE_H
#define THRUM_RATE_H

/**
 * The rate at which the sound was made, if it was not the one it claims; only 44100 taken for 48000 or the other way (and
 * their multiples) is looked for: nothing else leaves the hum between 45 and 66 Hz.
 *
 * @param[in] mains_hz  As measured by the claimed rate; 0 for none.
 * @return 0 when there is nothing to say.
 */
double thrum_rate_made_at(double mains_hz, double claimed_hz);

#endif
