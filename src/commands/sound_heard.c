#include "commands/sound_heard.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "commands/command.h"
#include "commands/intake.h"
#include "commands/levels_heard.h"
#include "commands/stop.h"
#include "signal/clean.h"
#include "signal/decimate.h"

void sound_free(struct sound_heard *sound)
{
    free(sound->raw);
    free(sound->clean);
    *sound = (struct sound_heard){.n = 0};
}

static bool make_room(struct sound_heard *sound, size_t more)
{
    if (sound->n + more <= sound->room)
        return true;
    size_t room = 2 * sound->room + more;
    float *raw = realloc(sound->raw, room * sizeof *raw);
    if (raw)
        sound->raw = raw;
    float *clean = realloc(sound->clean, room * sizeof *clean);
    if (clean)
        sound->clean = clean;
    if (raw && clean)
        sound->room = room;
    return raw && clean;
}

/* The channel that the touches of a recording were measured in; the first where there are none. */
static int channel_of(const struct findings *findings, const char *path, int channels)
{
    for (int i = 0; i < findings->snapshot.n_readings; i++) {
        int channel = findings->snapshot.readings[i].channel;
        if (findings->source[i] && strcmp(findings->source[i], path) == 0 && channel >= 0 &&
            channel < channels)
            return channel;
    }
    return 0;
}

/* One channel, finite and limited to full scale. Shape [frames * channels] to [frames]. */
static void take_channel(float *to, const float *samples, size_t frames, int channels, int channel)
{
    for (size_t i = 0; i < frames; i++) {
        float x = samples[i * (size_t)channels + (size_t)channel];
        to[i] = isfinite(x) ? fminf(fmaxf(x, -1.0F), 1.0F) : 0.0F;
    }
}

/* Adds frames of one channel; a loss is silence. False without memory, or when there is enough. */
static bool add_frames(struct sound_heard *sound, struct thrum_decimate *decimate, const float *mono,
                       size_t frames)
{
    if (!make_room(sound, frames + 1))
        return false;
    sound->n += thrum_decimate_feed(decimate, mono, frames, sound->raw + sound->n);
    sound->too_long = (double)sound->n > SOUND_MOST_S * sound->rate_hz;
    return !sound->too_long;
}

static bool add_silence(struct sound_heard *sound, struct thrum_decimate *decimate, uint64_t frames)
{
    static const float silence[4096] = {0};
    bool good = true;
    for (uint64_t left = frames, n; good && left > 0; left -= n) {
        n = left < 4096 ? left : 4096;
        good = add_frames(sound, decimate, silence, (size_t)n);
    }
    return good;
}

/* Until a recording ends, or there is enough. False without memory. */
static bool add_raw(struct sound_heard *sound, struct intake *intake, struct thrum_decimate *decimate,
                    int channel)
{
    struct thrum_source_block block;
    float *mono = malloc(INTAKE_FRAMES * sizeof *mono);
    bool good = mono != NULL;
    while (good && !stop_asked()) {
        const float *samples = intake_read(intake, INTAKE_FRAMES, &block);
        take_channel(mono, samples, block.frames, intake_info(intake)->channels, channel);
        good = add_silence(sound, decimate, block.lost) && add_frames(sound, decimate, mono, block.frames);
        if (block.event == THRUM_SOURCE_END || block.event == THRUM_SOURCE_FAILED)
            break;
    }
    free(mono);
    if ((!good && !sound->too_long) || !make_room(sound, thrum_decimate_tail(decimate)))
        return false;
    sound->n += thrum_decimate_finish(decimate, sound->raw + sound->n);
    return true;
}

/* Silence up to the next step of the levels: so both have their recordings at the same times. */
static bool fill_up(struct sound_heard *sound)
{
    double step = LEVELS_STEP_S * sound->rate_hz;
    size_t end = (size_t)round(ceil((double)sound->n / step - 1e-6) * step);
    if (!make_room(sound, end > sound->n ? end - sound->n : 0))
        return false;
    for (; sound->n < end; sound->n++)
        sound->raw[sound->n] = 0.0F;
    return true;
}

static void turn_round(float *x, size_t n)
{
    for (size_t i = 0; i < n / 2; i++) {
        float kept = x[i];
        x[i] = x[n - 1 - i];
        x[n - 1 - i] = kept;
    }
}

/* The hum is known a second after the sound has begun. Backwards that is a second before its end: the first half is cleaned
 * from the end, the second from the beginning, and where they meet they are mixed. back: room for n. */
static void clean_both_ways(struct thrum_clean *clean, float *x, float *y, float *back, size_t n,
                            double rate_hz)
{
    static const double MIX_S = 0.05;
    thrum_clean_reset(clean);
    thrum_clean_feed(clean, x, y, n);
    memcpy(back, x, n * sizeof *back);
    turn_round(back, n);
    thrum_clean_reset(clean);
    thrum_clean_feed(clean, back, back, n);
    turn_round(back, n);
    double gain = pow(10.0, SOUND_GAIN_DB / 20.0);
    for (size_t i = 0; i < n; i++) {
        double forward = fmin(fmax(0.5 + ((double)i - 0.5 * (double)n) / (MIX_S * rate_hz), 0.0), 1.0);
        double mixed = gain * (forward * (double)y[i] + (1.0 - forward) * (double)back[i]);
        y[i] = (float)fmin(fmax(mixed, -1.0), 1.0);
    }
}

static bool add_clean(struct sound_heard *sound, const struct findings *findings, size_t from)
{
    const struct thrum_snapshot *snapshot = &findings->snapshot;
    struct thrum_clean_config config = thrum_clean_config_default(sound->rate_hz);
    struct thrum_clean *clean = NULL;
    size_t n = sound->n - from;
    float *back = malloc((n + 1) * sizeof *back);
    for (int s = 0; s < snapshot->n_senders && !findings->no_voice; s++)
        for (int k = 0; k < snapshot->sender[s].n_tones; k++)
            config.tones_hz[config.n_tones++] = snapshot->sender[s].tones_hz[k];
    bool good = back && thrum_clean_create(&config, &clean) == THRUM_OK;
    if (good)
        clean_both_ways(clean, sound->raw + from, sound->clean + from, back, n, sound->rate_hz);
    thrum_clean_destroy(clean);
    free(back);
    return good;
}

static bool add_intake(struct sound_heard *sound, const struct findings *findings, const char *path,
                       struct intake *intake)
{
    const struct thrum_source_info *info = intake_info(intake);
    struct thrum_decimate *decimate = NULL;
    double rate_hz = info->rate_hz / thrum_decimate_factor(info->rate_hz);
    size_t from = sound->n;
    if (sound->n > 0 && fabs(rate_hz - sound->rate_hz) > 1e-6) {
        sound->rates_differ = true;
        return true;
    }
    enum thrum_status status = thrum_decimate_create(info->rate_hz, &decimate);
    if (status != THRUM_OK)
        return status != THRUM_ERR_MEM;
    sound->rate_hz = rate_hz;
    bool good = add_raw(sound, intake, decimate, channel_of(findings, path, info->channels)) &&
                fill_up(sound) && add_clean(sound, findings, from);
    thrum_decimate_destroy(decimate);
    return good;
}

bool sound_hear(struct sound_heard *sound, const struct findings *findings, const char *const *path,
                int n_files)
{
    bool good = true;
    *sound = (struct sound_heard){.n = 0};
    for (int i = 0; good && i < n_files && !sound->too_long && !stop_asked(); i++) {
        struct intake_config config = {.from = "-", .path = path[i]};
        struct thrum_message message;
        struct intake *intake;
        if (strcmp(path[i], "-") == 0 || intake_open(&config, &intake, &message) != CODE_DONE)
            continue;
        good = add_intake(sound, findings, path[i], intake);
        intake_close(intake);
    }
    return good;
}
