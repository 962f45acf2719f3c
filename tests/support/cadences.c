#include "cadences.h"

#include <math.h>
#include <string.h>

#include "thrum/units.h"

#define OFF    THRUM_SILENCE
#define SUP2   "ITU-T E.180 Supplement 2, list of 02/2003 (read in a transcription)"
#define LIMITS "no source: the limits of what is to be learned"

/* Where a source has two tones at once, one of them is taken: a step holds one tone. */
const struct cadence cadences[] = {
    {"United States, busy", SUP2, 1, {480}, 2, {{0, 0.5}, {OFF, 0.5}}},
    {"United States, reorder",
     "GR-506 17.2.7 (read in a transcription)",
     1,
     {480},
     2,
     {{0, 0.25}, {OFF, 0.25}}},
    {"United Kingdom, busy", SUP2, 1, {400}, 2, {{0, 0.375}, {OFF, 0.375}}},
    {"United Kingdom, ring", SUP2, 1, {400}, 4, {{0, 0.4}, {OFF, 0.2}, {0, 0.4}, {OFF, 2.0}}},
    {"United Kingdom, congestion", SUP2, 1, {400}, 4, {{0, 0.4}, {OFF, 0.35}, {0, 0.225}, {OFF, 0.525}}},
    {"Germany, busy", SUP2, 1, {425}, 2, {{0, 0.48}, {OFF, 0.48}}},
    {"Germany, congestion", SUP2, 1, {425}, 2, {{0, 0.24}, {OFF, 0.24}}},
    {"France, busy", SUP2, 1, {440}, 2, {{0, 0.5}, {OFF, 0.5}}},
    {"France, congestion", SUP2, 1, {440}, 2, {{0, 0.25}, {OFF, 0.25}}},
    {"Spain, busy", SUP2, 1, {425}, 2, {{0, 0.2}, {OFF, 0.2}}},
    {"Spain, congestion",
     SUP2,
     1,
     {425},
     6,
     {{0, 0.2}, {OFF, 0.2}, {0, 0.2}, {OFF, 0.2}, {0, 0.2}, {OFF, 0.6}}},
    {"Italy, dial", SUP2, 1, {425}, 4, {{0, 0.2}, {OFF, 0.2}, {0, 0.6}, {OFF, 1.0}}},
    {"Italy, busy", SUP2, 1, {425}, 2, {{0, 0.5}, {OFF, 0.5}}},
    {"Austria, busy", SUP2, 1, {420}, 2, {{0, 0.4}, {OFF, 0.4}}},
    {"Austria, congestion", SUP2, 1, {420}, 2, {{0, 0.2}, {OFF, 0.2}}},
    {"Australia, busy", SUP2, 1, {425}, 2, {{0, 0.375}, {OFF, 0.375}}},
    {"Australia, ring", SUP2, 1, {413}, 4, {{0, 0.4}, {OFF, 0.2}, {0, 0.4}, {OFF, 2.0}}},
    {"Japan, busy", SUP2, 1, {400}, 2, {{0, 0.5}, {OFF, 0.5}}},
    {"Japan, ring", SUP2, 1, {400}, 2, {{0, 1.0}, {OFF, 2.0}}},
    {"China, busy", SUP2, 1, {450}, 2, {{0, 0.35}, {OFF, 0.35}}},
    {"China, congestion", SUP2, 1, {450}, 2, {{0, 0.7}, {OFF, 0.7}}},
    {"India, busy", SUP2, 1, {400}, 2, {{0, 0.75}, {OFF, 0.75}}},
    {"Brazil, congestion", SUP2, 1, {425}, 4, {{0, 0.25}, {OFF, 0.25}, {0, 0.75}, {OFF, 0.25}}},
    {"ETSI, busy", "ETSI ETR 187 4.3 (read in a transcription)", 1, {425}, 2, {{0, 0.5}, {OFF, 0.5}}},
    {"ETSI, congestion", "ETSI ETR 187 4.4 (read in a transcription)", 1, {425}, 2, {{0, 0.2}, {OFF, 0.2}}},
    {"United Kingdom, special congestion", SUP2, 2, {400, 1004}, 2, {{0, 0.2}, {1, 0.3}}},
    {"Italy, recall", SUP2, 2, {470, 425}, 2, {{0, 0.4}, {1, 0.4}}},
    {"payphone recognition", SUP2, 2, {1600, 1143}, 4, {{0, 0.2}, {OFF, 0.2}, {1, 0.2}, {OFF, 2.0}}},
    {"special information", SUP2, 3, {950, 1400, 1800}, 4, {{0, 0.33}, {1, 0.33}, {2, 0.33}, {OFF, 1.0}}},
    {"special information, North America",
     "GR-506 (read in a transcription)",
     3,
     {985.2, 1428.5, 1776.7},
     4,
     {{0, 0.38}, {1, 0.38}, {2, 0.38}, {OFF, 1.0}}},
    {"temporal-3 at 520 Hz",
     "ISO 8201, NFPA 72 (read in a building code quoting them)",
     1,
     {520},
     6,
     {{0, 0.5}, {OFF, 0.5}, {0, 0.5}, {OFF, 0.5}, {0, 0.5}, {OFF, 1.5}}},
    {"march time", "a fire-panel manual (read)", 1, {520}, 2, {{0, 0.5}, {OFF, 0.5}}},
    {"Morse dots, 20 words a minute",
     "computed: 1200 / w ms per dot, ITU-R M.1677-1 for the gap (read)",
     1,
     {700},
     2,
     {{0, 0.06}, {OFF, 0.06}}},
    {"reversing alarm",
     "SAE J994, from memory: 700-2800 Hz, 0.8-2.2 /s",
     1,
     {1250},
     2,
     {{0, 0.5}, {OFF, 0.5}}},
    {"fastest beeps", LIMITS, 1, {1037}, 2, {{0, 0.04}, {OFF, 0.04}}},
    {"shortest beep, longest pause", LIMITS, 1, {1213}, 2, {{0, 0.04}, {OFF, 2.0}}},
    {"longest beep, shortest pause", LIMITS, 1, {2731}, 2, {{0, 2.0}, {OFF, 0.04}}},
    {"longest of both", LIMITS, 1, {3391}, 2, {{0, 2.0}, {OFF, 2.0}}},
    {"fastest alternation", LIMITS, 2, {1013, 1307}, 2, {{0, 0.02}, {1, 0.02}}},
    {"slowest alternation", LIMITS, 2, {803, 970}, 2, {{0, 0.5}, {1, 0.5}}},
    {"a harmonic of the mains", LIMITS, 1, {1000}, 2, {{0, 0.25}, {OFF, 0.25}}},
};

const int n_cadences = (int)(sizeof cadences / sizeof *cadences);

struct thrum_voice cadence_voice(const struct cadence *cadence)
{
    struct thrum_voice voice = {.name = "a",
                                .n_tones = cadence->n_tones,
                                .n_steps = cadence->n_steps,
                                .level_dbfs = THRUM_FLOOR_DBFS};
    memcpy(voice.tones_hz, cadence->hz, sizeof cadence->hz);
    memcpy(voice.step, cadence->step, sizeof cadence->step);
    return voice;
}

static int nearest_tone(const struct thrum_voice *voice, double hz)
{
    int best = 0;
    for (int k = 1; k < voice->n_tones; k++)
        if (fabs(voice->tones_hz[k] - hz) < fabs(voice->tones_hz[best] - hz))
            best = k;
    return best;
}

bool cadence_matches(const struct thrum_voice *learned, const struct thrum_voice *truth, double *worst_hz,
                     double *worst_s)
{
    int as[THRUM_VOICE_TONES], n = truth->n_steps;
    bool found = false;
    *worst_hz = 0.0;
    *worst_s = 0.0;
    if (learned->n_tones != truth->n_tones || learned->n_steps != n)
        return false;
    for (int k = 0; k < truth->n_tones; k++) {
        as[k] = nearest_tone(learned, truth->tones_hz[k]);
        *worst_hz = fmax(*worst_hz, fabs(learned->tones_hz[as[k]] - truth->tones_hz[k]));
    }
    for (int turn = 0; turn < n; turn++) {
        double worst = 0.0;
        bool same = true;
        for (int i = 0; i < n && same; i++) {
            const struct thrum_voice_step *a = &truth->step[i], *b = &learned->step[(i + turn) % n];
            same = b->tone == (a->tone == THRUM_SILENCE ? THRUM_SILENCE : as[a->tone]);
            worst = fmax(worst, fabs(a->s - b->s));
        }
        if (same && (!found || worst < *worst_s)) {
            *worst_s = worst;
            found = true;
        }
    }
    return found;
}
