/* M7: false alarms on sounds without the sender. */
#ifndef THRUM_BENCH_ALARMS_H
#define THRUM_BENCH_ALARMS_H

#include <stdbool.h>
#include <stdint.h>

void bench_alarms_hum(bool full, uint64_t seed);
void bench_alarms(bool full, uint64_t seed);       /* speech, wind, clicks, gain steps, silence */
void bench_alarms_tones(bool full, uint64_t seed); /* steady, other cadence, other tone */
void bench_alarms_real(bool full, uint64_t seed);  /* recordings in the folder THRUM_REAL_SOUND, if set */

#endif
