#include "commands/check_facts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "commands/check_band.h"
#include "commands/check_breath.h"
#include "commands/scout.h"
#include "listen/rate.h"
#include "listen/rebound.h"
#include "round/riding.h"
#include "signal/decimate.h"
#include "thrum/listen.h"

enum { MOST_STRETCHES = 256, CHUNK = 65536 };

#define STRETCH_S 5.0
#define LEAST_S   1.0
#define TOUCHES_S 0.3 /* of the sound lies in touches: it is a walk */
#define LOW_DBFS  (-80.0)
#define MANY      0.04 /* of the stretches */
#define FALLS     6    /* stretches after lifts show a level control as well... */
#define STAYS     0.8  /* ...and so small a slope, dB a second, shows that there is none */

/* What makes strengths lie, whatever else is right. */
static const uint32_t LYING = THRUM_FAULT_SILENT | THRUM_FAULT_CLIPPED | THRUM_FAULT_GAIN_RIDING |
                              THRUM_FAULT_GATED | THRUM_FAULT_SUPPRESSED | THRUM_FAULT_LOST | THRUM_FAULT_LOW;
/* What tells of this stretch only, or of the sender. */
static const uint32_t NOT_THE_INPUT = THRUM_FAULT_TOO_SHORT | THRUM_FAULT_HUM_ON_TONE | THRUM_FAULT_DRIFT |
                                      THRUM_FAULT_OTHER_CADENCE | THRUM_FAULT_COUNT;
/* One stretch of many may look like it by chance; the others are facts. */
static const uint32_t BY_CHANCE = THRUM_FAULT_GAIN_RIDING | THRUM_FAULT_GATED | THRUM_FAULT_SUPPRESSED;

/* Of the whole sound, the part in which a voice is clearest. */
static enum thrum_status learn(const struct check_sound *sound, struct check_facts *facts)
{
    struct scout *scout;
    enum thrum_status status = scout_create(sound->info.rate_hz, sound->info.channels, &scout);
    if (status != THRUM_OK)
        return status;
    scout_feed(scout, sound->samples, sound->frames);
    scout_finish(scout);
    facts->has_voice = scout_best(scout, &facts->learned);
    scout_destroy(scout);
    return THRUM_OK;
}

static enum thrum_status make_listener(const struct check_sound *sound, const struct check_facts *facts,
                                       struct thrum_listener **listener)
{
    struct thrum_listener_config config = {.rate_hz = sound->info.rate_hz,
                                           .channels = sound->info.channels,
                                           .channel = -1,
                                           .n_voices = facts->has_voice ? 1 : 0,
                                           .find_touches = true};
    if (facts->has_voice)
        config.voice[0] = facts->learned.voice;
    return thrum_listener_create(&config, listener);
}

/* Measured as they come, for the listener forgets. */
struct stretches {
    struct thrum_reading reading[MOST_STRETCHES];
    int n;
    double sum_s;
};

static void measure(struct thrum_listener *listener, struct thrum_span span, struct stretches *stretches)
{
    struct thrum_reading reading;
    if (stretches->n == MOST_STRETCHES || thrum_listener_measure(listener, span, &reading) != THRUM_OK)
        return;
    if ((double)reading.frames < LEAST_S * reading.rate_hz)
        return;
    stretches->reading[stretches->n++] = reading;
    stretches->sum_s += (double)reading.frames / reading.rate_hz;
}

static void hear(struct thrum_listener *listener, const struct check_sound *sound, struct stretches *pieces,
                 struct stretches *touches)
{
    size_t length = (size_t)(STRETCH_S * sound->info.rate_hz), at = 0;
    struct thrum_span span;
    while (at < sound->frames) {
        size_t left = sound->frames - at, n = left < length + length / 2 ? left : length;
        thrum_listener_feed(listener, sound->samples + at * (size_t)sound->info.channels, n);
        if (at + n == sound->frames)
            thrum_listener_finish(listener);
        measure(listener, (struct thrum_span){at, at + n}, pieces);
        while (thrum_listener_next_touch(listener, &span))
            measure(listener, span, touches);
        at += n;
    }
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(double *x, int n, double none)
{
    if (n == 0)
        return none;
    qsort(x, (size_t)n, sizeof *x, by_size);
    return x[n / 2];
}

static void levels(const struct stretches *s, struct check_facts *facts)
{
    double hum[MOST_STRETCHES], mains[MOST_STRETCHES], tone[MOST_STRETCHES];
    int n_hum = 0, n_tone = 0;
    for (int i = 0; i < s->n; i++) {
        const struct thrum_reading *r = &s->reading[i];
        if (r->mains_hz > 0.0) {
            mains[n_hum] = r->mains_hz;
            hum[n_hum++] = r->hum_dbfs;
        }
        if (facts->has_voice && r->strength[0].heard)
            tone[n_tone++] = r->strength[0].dbfs;
    }
    facts->mains_hz = median(mains, n_hum, 0.0);
    facts->hum_dbfs = median(hum, n_hum, THRUM_FLOOR_DBFS);
    facts->tone_dbfs = median(tone, n_tone, THRUM_FLOOR_DBFS);
    facts->channel = s->n > 0 ? s->reading[s->n - 1].channel : 0;
}

/* What came after the sound dropped, on the channel that is used. */
static enum thrum_status lifts(const struct check_sound *sound, struct check_facts *facts)
{
    struct thrum_rebound *rebound = NULL;
    struct thrum_decimate *decimate = NULL;
    struct thrum_rebound_value value;
    size_t channels = (size_t)sound->info.channels;
    int factor = thrum_decimate_factor(sound->info.rate_hz);
    enum thrum_status status = thrum_decimate_create(sound->info.rate_hz, &decimate);
    if (status == THRUM_OK)
        status = thrum_rebound_create(sound->info.rate_hz / factor, &rebound);
    for (size_t i = 0; i < sound->frames && status == THRUM_OK; i++) {
        float x = sound->samples[i * channels + (size_t)facts->channel], made[2];
        x = isfinite(x) ? x : 0.0f;
        thrum_rebound_feed(rebound, made, thrum_decimate_feed(decimate, &x, 1, made));
    }
    if (status == THRUM_OK)
        thrum_rebound_judge(rebound, sound->frames / (size_t)factor, &value);
    thrum_rebound_destroy(rebound);
    thrum_decimate_destroy(decimate);
    if (status != THRUM_OK)
        return status;
    facts->falls = value.n;
    facts->rise = value.slope;
    facts->rise_sd = value.sd;
    if (value.rides)
        facts->faults |= THRUM_FAULT_GAIN_RIDING;
    if (value.n >= FALLS && value.slope + value.sd < STAYS)
        facts->would_show = true;
    return THRUM_OK;
}

static void count_faults(const struct stretches *s, struct check_facts *facts)
{
    facts->stretches = s->n;
    for (int i = 0; i < s->n; i++)
        for (int f = 0; f < THRUM_FAULTS; f++)
            facts->seen[f] += (s->reading[i].faults >> f & 1u) != 0;
    for (int f = 0; f < THRUM_FAULTS; f++) {
        uint32_t fault = 1u << f;
        int least = fault & BY_CHANCE ? (int)ceil(MANY * s->n) : 1;
        if (facts->seen[f] > 0 && facts->seen[f] >= least && !(fault & NOT_THE_INPUT))
            facts->faults |= fault;
    }
}

static double peak_dbfs(const struct check_sound *sound)
{
    double most = 0.0;
    size_t n = sound->frames * (size_t)sound->info.channels;
    for (size_t i = 0; i < n; i++)
        if (isfinite(sound->samples[i]))
            most = fmax(most, fabs((double)sound->samples[i]));
    return thrum_db_from_amplitude(most);
}

/* A steady tone and beeps too few or too fast do not tell. */
static enum check_verdict judge(const struct check_facts *facts)
{
    if (facts->faults & LYING || facts->info.monitor || facts->info.bluetooth)
        return CHECK_NOT_TRUSTED;
    if (facts->breath == CHECK_BREATH_LOUDER || facts->breath == CHECK_BREATH_QUIETER)
        return CHECK_UNCLEAR;
    return facts->would_show ? CHECK_TRUSTED : CHECK_UNCLEAR;
}

const char *check_missing(const struct check_facts *facts)
{
    if (facts->verdict != CHECK_UNCLEAR)
        return "";
    if (facts->stretches == 0)
        return "there was too little sound: hold the probe for five seconds or more.";
    if (!facts->has_voice)
        return "no sender's beeps were heard, and only they show whether a level control moves: hold the "
               "probe at the "
               "sender's own lead, and check again.";
    if (thrum_voice_cycle_s(&facts->learned.voice) <= thrum_voice_on_s(&facts->learned.voice))
        return "the sender never pauses, and only its pauses show whether a level control moves: let it "
               "beep, or lift the probe a dozen times.";
    if (facts->told > 0 && facts->hum_dbfs > facts->tone_dbfs)
        return "the hum is louder than the beeps, and a level control goes by what is loud: hold the probe "
               "at the "
               "sender's own lead, or lift it a dozen times, and check again.";
    if (facts->breath == CHECK_BREATH_QUIETER)
        return "hum and noise are weaker in the pauses than in the beeps: noise suppression or a gate may be "
               "on, or "
               "the sender hums itself; switch off whatever improves speech, and check again.";
    if (facts->breath == CHECK_BREATH_LOUDER)
        return "hum and noise rise a little in the pauses of the beeps: chance, or a slow level control; "
               "hold "
               "the probe "
               "still for half a minute: --seconds 30.";
    return "the beeps are too few, too short or too weak to show whether a level control moves: hold the "
           "probe at the "
           "sender's own lead, ten seconds or more.";
}

enum thrum_status check_look(const struct check_sound *sound, struct check_facts *facts)
{
    struct thrum_listener *listener = NULL;
    struct stretches *pieces = calloc(2, sizeof *pieces), *touches = pieces + 1;
    memset(facts, 0, sizeof *facts);
    facts->info = sound->info;
    facts->heard_s = (double)sound->frames / sound->info.rate_hz;
    facts->lost_s = (double)sound->lost / sound->info.rate_hz;
    facts->cut = sound->cut;
    facts->learned.what = THRUM_NOT_ENOUGH;
    enum thrum_status status = pieces ? learn(sound, facts) : THRUM_ERR_MEM;
    if (status == THRUM_OK)
        status = make_listener(sound, facts, &listener);
    if (status == THRUM_OK) {
        hear(listener, sound, pieces, touches);
        /* A stretch that runs over several touches hears the hand, not the input. */
        bool walk = touches->n >= 3 && touches->sum_s > TOUCHES_S * facts->heard_s;
        struct stretches *s = walk ? touches : pieces;
        thrum_riding_mark(s->reading, s->n);
        levels(s, facts);
        check_breath(s->reading, s->n, facts);
        count_faults(s, facts);
        facts->peak_dbfs = peak_dbfs(sound);
        if (sound->lost > 0)
            facts->faults |= THRUM_FAULT_LOST;
        if (facts->peak_dbfs < LOW_DBFS && !(facts->faults & THRUM_FAULT_SILENT))
            facts->faults |= THRUM_FAULT_LOW;
        facts->came_hz = sound->came_hz;
        facts->made_at_hz =
            sound->came_hz > 0.0 ? sound->came_hz : thrum_rate_made_at(facts->mains_hz, sound->info.rate_hz);
        if (sound->came_hz > 0.0)
            facts->faults |= THRUM_FAULT_RATE;
        status = lifts(sound, facts);
        if (status == THRUM_OK)
            status = check_band(sound, facts);
        facts->verdict = judge(facts);
    }
    thrum_listener_destroy(listener);
    free(pieces);
    return status;
}
