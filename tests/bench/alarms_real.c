/* M7 on real recordings: every file in the folders noise*, hum* and clicks* of THRUM_REAL_SOUND, cut into touches. */
#include <dirent.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "alarms.h"
#include "rows.h"
#include "thrum/units.h"
#include "touch.h"

#define LENGTH_S 3.0

struct tally {
    long touches, alarms, files;
    int shown;
};

/* Eight voices somewhere in the band, other ones in every touch. */
static void one_touch(struct rng *rng, const float *x, size_t n, double rate_hz, const char *name,
                      double at_s, struct tally *tally)
{
    struct thrum_voice voices[THRUM_MAX_SENDERS];
    struct thrum_reading reading;
    for (int v = 0; v < THRUM_MAX_SENDERS; v++)
        voices[v] = thrum_voice_beep(rng_between(rng, 320.0, 3300.0), 0.25, 0.25);
    if (!sound_measure(x, n, rate_hz, voices, THRUM_MAX_SENDERS, &reading))
        return;
    for (int v = 0; v < THRUM_MAX_SENDERS; v++) {
        const struct thrum_strength *s = &reading.strength[v];
        tally->touches++;
        tally->alarms += s->heard;
        if (s->heard && tally->shown++ < 8)
            bench_remark("%s at %.1f s: voice %.2f Hz heard at %.1f dBFS, score %.1f, found at %.2f Hz", name,
                         at_s, voices[v].tones_hz[0], s->dbfs, s->score, s->tone_hz);
    }
}

/* The first channel, in touches that overlap by half. */
static void one_file(struct rng *rng, const char *path, const char *name, int rounds, struct tally *tally)
{
    SF_INFO info = {0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    if (!file)
        return;
    size_t n = (size_t)(LENGTH_S * info.samplerate);
    float *frames = calloc((size_t)info.frames * (size_t)info.channels + 1, sizeof *frames);
    sf_count_t got =
        frames && info.samplerate >= (int)THRUM_RATE_MIN_HZ ? sf_readf_float(file, frames, info.frames) : 0;
    sf_close(file);
    for (sf_count_t i = 0; i < got; i++)
        frames[i] = frames[i * info.channels];
    if (got > 0)
        tally->files++;
    for (int r = 0; r < rounds; r++)
        for (size_t at = 0; at + n <= (size_t)got; at += n / 2)
            one_touch(rng, frames + at, n, info.samplerate, name, (double)at / info.samplerate, tally);
    free(frames);
}

static int by_name(const struct dirent **a, const struct dirent **b)
{
    return strcmp((*a)->d_name, (*b)->d_name);
}

static int visible(const struct dirent *entry)
{
    return entry->d_name[0] != '.';
}

static void one_folder(struct rng *rng, const char *folder, int rounds, struct tally *tally)
{
    struct dirent **entries;
    char path[2048];
    int n = scandir(folder, &entries, visible, by_name);
    for (int i = 0; i < n; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, entries[i]->d_name);
        one_file(rng, path, entries[i]->d_name, rounds, tally);
        free(entries[i]);
    }
    if (n >= 0)
        free(entries);
}

void bench_alarms_real(bool full, uint64_t seed)
{
    const char *root = getenv("THRUM_REAL_SOUND");
    static const char *const kinds[] = {"noise", "noise_gpl3", "hum", "clicks"};
    if (!root) {
        bench_remark("M7 on real recordings: left out, THRUM_REAL_SOUND is not set");
        return;
    }
    for (int k = 0; k < (int)(sizeof kinds / sizeof *kinds); k++) {
        char folder[1024], what[96];
        struct tally tally = {0};
        struct rng rng = rng_seeded(seed * 1000000007u + 430000000u + (uint64_t)k);
        snprintf(folder, sizeof folder, "%s/%s", root, kinds[k]);
        one_folder(&rng, folder, full ? 20 : 2, &tally);
        if (tally.files == 0)
            continue;
        double share = (double)tally.alarms / (double)tally.touches;
        snprintf(what, sizeof what, "real recordings, %s (%ld files): false alarms in 1000", kinds[k],
                 tally.files);
        bench_at_most("M7", what, 1000.0 * share, 1.0,
                      (struct bench_sample){tally.touches, 1000.0 * bench_share_error(share, tally.touches)});
    }
}
