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

/* Heard before and after touches, for the hum's sake. */
#define MORE_S 6.0

void sound_free(struct sound_heard *sound)
{
    free(sound->raw);
    free(sound->clean);
    free(sound->touch);
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

/* One channel, finite and limited to full scale; samples NULL: silence. Shape [frames * channels] to [frames]. */
static void take_channel(float *to, const float *samples, size_t frames, int channels, int channel)
{
    for (size_t i = 0; i < frames; i++) {
        float x = samples ? samples[i * (size_t)channels + (size_t)channel] : 0.0F;
        to[i] = isfinite(x) ? fminf(fmaxf(x, -1.0F), 1.0F) : 0.0F;
    }
}

/* Adds frames of one channel. False without memory, or when there is enough. */
static bool add_frames(struct sound_heard *sound, struct thrum_decimate *decimate, const float *mono,
                       size_t frames)
{
    if (!make_room(sound, frames + 1))
        return false;
    sound->n += thrum_decimate_feed(decimate, mono, frames, sound->raw + sound->n);
    sound->too_long = !sound->touch && (double)sound->n > SOUND_MOST_S * sound->rate_hz;
    return !sound->too_long;
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

/* A touch with what is around it, in frames of its recording. */
struct piece {
    uint64_t from, to;
    int reading;
};

/* What is heard in one go, and cleaned as one: all of a recording, or some touches with what lies between them. */
struct stretch {
    uint64_t from, to;
    const struct piece *piece; /* [n_pieces]: nothing else is kept */
    int n_pieces;              /* 0: all is */
};

/* What is heard of one recording. */
struct hearing {
    struct sound_heard *sound;
    const struct findings *findings;
    const struct thrum_source_info *info;
    int channel;
    struct thrum_decimate *decimate; /* of the stretch that is heard; NULL: none is */
    size_t began;                    /* where that is in the sound */
    uint64_t at;                     /* frame of the recording that comes next */
    float *mono;                     /* [INTAKE_FRAMES] */
};

static bool begin_stretch(struct hearing *h)
{
    h->began = h->sound->n;
    return thrum_decimate_create(h->info->rate_hz, &h->decimate) == THRUM_OK;
}

/* Keeps one piece of the stretch; *end: of what is kept already. */
static void keep_piece(struct hearing *h, const struct stretch *stretch, const struct piece *piece,
                       size_t *end)
{
    struct sound_heard *sound = h->sound;
    const struct thrum_reading *reading = &h->findings->snapshot.readings[piece->reading];
    double frames = h->info->rate_hz / sound->rate_hz;
    size_t from = h->began + (size_t)((double)(piece->from - stretch->from) / frames);
    size_t n = (size_t)((double)(piece->to - piece->from) / frames);
    n = from + n < sound->n ? n : from < sound->n ? sound->n - from : 0;
    struct sound_touch *touch = &sound->touch[sound->n_touches++];
    *touch = (struct sound_touch){.reading = piece->reading, .begin_s = (double)*end / sound->rate_hz};
    touch->from_s = touch->begin_s + (double)(reading->first_frame - piece->from) / h->info->rate_hz;
    touch->to_s = touch->from_s + (double)reading->frames / h->info->rate_hz;
    memmove(sound->raw + *end, sound->raw + from, n * sizeof *sound->raw);
    memmove(sound->clean + *end, sound->clean + from, n * sizeof *sound->clean);
    *end += n;
}

static void keep_pieces(struct hearing *h, const struct stretch *stretch)
{
    size_t end = h->began;
    for (int i = 0; i < stretch->n_pieces; i++)
        keep_piece(h, stretch, &stretch->piece[i], &end);
    h->sound->n = end;
}

static bool end_stretch(struct hearing *h, const struct stretch *stretch)
{
    struct sound_heard *sound = h->sound;
    bool good = make_room(sound, thrum_decimate_tail(h->decimate));
    if (good)
        sound->n += thrum_decimate_finish(h->decimate, sound->raw + sound->n);
    thrum_decimate_destroy(h->decimate);
    h->decimate = NULL;
    good = good && fill_up(sound) && add_clean(sound, h->findings, h->began);
    if (good && stretch->n_pieces > 0)
        keep_pieces(h, stretch);
    return good;
}

/* The next frames of a recording, at most INTAKE_FRAMES; samples NULL: they are lost, which is silence. *stretch: the one that
 * is heard or comes next. False without memory, or when there is enough. */
static bool hear_frames(struct hearing *h, const float *samples, size_t frames,
                        const struct stretch **stretch)
{
    uint64_t end = h->at + frames;
    bool good = true;
    while (good && h->at < end) {
        uint64_t from = (*stretch)->from, to = (*stretch)->to;
        uint64_t until = h->at < from ? from : to;
        size_t n = (size_t)((until < end ? until : end) - h->at);
        if (h->at >= from) {
            take_channel(h->mono, samples, n, h->info->channels, h->channel);
            good = (h->decimate || begin_stretch(h)) && add_frames(h->sound, h->decimate, h->mono, n);
        }
        h->at += n;
        samples += samples ? n * (size_t)h->info->channels : 0;
        if (good && h->at == to)
            good = end_stretch(h, (*stretch)++);
    }
    return good;
}

static bool hear_lost(struct hearing *h, uint64_t frames, const struct stretch **stretch)
{
    bool good = true;
    for (uint64_t left = frames, n; good && left > 0; left -= n) {
        n = left < INTAKE_FRAMES ? left : INTAKE_FRAMES;
        good = hear_frames(h, NULL, (size_t)n, stretch);
    }
    return good;
}

/* Until the recording ends, or there is enough. False without memory. */
static bool hear_stretches(struct hearing *h, struct intake *intake, const struct stretch *stretch)
{
    struct thrum_source_block block;
    h->mono = malloc(INTAKE_FRAMES * sizeof *h->mono);
    bool good = h->mono != NULL;
    while (good && !stop_asked()) {
        const float *samples = intake_read(intake, INTAKE_FRAMES, &block);
        good = hear_lost(h, block.lost, &stretch) && hear_frames(h, samples, block.frames, &stretch);
        if (block.event == THRUM_SOURCE_END || block.event == THRUM_SOURCE_FAILED)
            break;
    }
    if (h->decimate && good)
        good = end_stretch(h, stretch);
    thrum_decimate_destroy(h->decimate);
    free(h->mono);
    return good || h->sound->too_long;
}

/* Touches of this recording that are wanted, in order of time, none of which begins before the last one ends; how many. Shape
 * piece[n_readings]. */
static int list_pieces(const struct findings *findings, const char *path, double rate_hz, const bool *wanted,
                       struct piece *piece)
{
    const struct thrum_snapshot *snapshot = &findings->snapshot;
    uint64_t around = (uint64_t)(SOUND_AROUND_S * rate_hz);
    int n = 0;
    for (int i = 0; i < snapshot->n_readings; i++) {
        uint64_t first = snapshot->readings[i].first_frame, end = first + snapshot->readings[i].frames;
        if (!wanted[i] || !findings->source[i] || strcmp(findings->source[i], path) != 0)
            continue;
        int k = n++;
        for (; k > 0 && snapshot->readings[piece[k - 1].reading].first_frame > first; k--)
            piece[k] = piece[k - 1];
        piece[k] =
            (struct piece){.from = first > around ? first - around : 0, .to = end + around, .reading = i};
    }
    for (int k = 1; k < n; k++) {
        uint64_t first = snapshot->readings[piece[k].reading].first_frame;
        piece[k - 1].to = piece[k - 1].to < first ? piece[k - 1].to : first;
        piece[k].from = piece[k].from > piece[k - 1].to ? piece[k].from : piece[k - 1].to;
    }
    return n;
}

/* Pieces up to SOUND_MOST_S apart are heard in one go, with a little more before and after: hum is the better known the longer it is
 * heard. Behind them one stretch that never begins. Shape stretch[n + 1]. */
static void list_stretches(const struct piece *piece, int n, double rate_hz, struct stretch *stretch)
{
    uint64_t most = (uint64_t)(SOUND_MOST_S * rate_hz), more = (uint64_t)(MORE_S * rate_hz), heard = 0;
    int k = -1;
    for (int i = 0; i < n; i++) {
        if (k < 0 || piece[i].to - stretch[k].from > most) {
            uint64_t from = piece[i].from > more ? piece[i].from - more : 0;
            stretch[++k] = (struct stretch){.from = from > heard ? from : heard, .piece = &piece[i]};
        }
        stretch[k].n_pieces++;
        stretch[k].to = piece[i].to + more;
        if (i + 1 < n && stretch[k].to > piece[i + 1].from)
            stretch[k].to = piece[i + 1].from;
        heard = stretch[k].to;
    }
    stretch[k + 1] = (struct stretch){.from = UINT64_MAX, .to = UINT64_MAX};
}

/* wanted: shape [n_readings], NULL: all of the recording. */
static bool add_intake(struct sound_heard *sound, const struct findings *findings, const char *path,
                       struct intake *intake, const bool *wanted)
{
    const struct thrum_source_info *info = intake_info(intake);
    struct hearing h = {.sound = sound, .findings = findings, .info = info};
    double rate_hz = info->rate_hz / thrum_decimate_factor(info->rate_hz);
    if (info->rate_hz < THRUM_RATE_MIN_HZ || info->rate_hz > THRUM_RATE_MAX_HZ)
        return true;
    if (sound->n > 0 && fabs(rate_hz - sound->rate_hz) > 1e-6) {
        sound->rates_differ = true;
        return true;
    }
    size_t room = (size_t)findings->snapshot.n_readings + 1;
    struct stretch *stretch = calloc(room, sizeof *stretch);
    struct piece *piece = calloc(room, sizeof *piece);
    bool good = stretch && piece;
    if (good && wanted)
        list_stretches(piece, list_pieces(findings, path, info->rate_hz, wanted, piece), info->rate_hz,
                       stretch);
    else if (good)
        stretch[0] = (struct stretch){.from = 0, .to = UINT64_MAX};
    sound->rate_hz = rate_hz;
    h.channel = channel_of(findings, path, info->channels);
    good = good && hear_stretches(&h, intake, stretch);
    free(stretch);
    free(piece);
    return good;
}

static bool hear_files(struct sound_heard *sound, const struct findings *findings, const char *const *path,
                       int n_files, const bool *wanted)
{
    bool good = true;
    for (int i = 0; good && i < n_files && !sound->too_long && !stop_asked(); i++) {
        struct intake_config config = {.from = "-", .path = path[i]};
        struct thrum_message message;
        struct intake *intake;
        if (strcmp(path[i], "-") == 0 || intake_open(&config, &intake, &message) != CODE_DONE)
            continue;
        good = add_intake(sound, findings, path[i], intake, wanted);
        intake_close(intake);
    }
    return good;
}

/* Takes the touches of a wire (NULL: of any, groups too) for which there is room, of SOUND_MOST_S in all. */
static void choose_of(const struct thrum_snapshot *snapshot, const char *wire, bool *wanted, double *s)
{
    for (int i = 0; i < snapshot->n_readings; i++) {
        const struct thrum_reading *reading = &snapshot->readings[i];
        double more_s = (double)reading->frames / reading->rate_hz + 2.0 * SOUND_AROUND_S + LEVELS_STEP_S;
        if (wanted[i] || (wire && strcmp(reading->wire, wire) != 0) || *s + more_s > SOUND_MOST_S)
            continue;
        wanted[i] = true;
        *s += more_s;
    }
}

/* Those of the likeliest wires first; returns how many are left out. */
static int choose_touches(const struct thrum_snapshot *snapshot, bool *wanted)
{
    double s = 0.0;
    int left_out = 0;
    for (int place = 0; place < snapshot->n_wires; place++)
        for (int k = 0; k < snapshot->n_senders; k++)
            if (place < snapshot->pick[k].n_ranked)
                choose_of(snapshot, snapshot->wire[snapshot->pick[k].rank[place].wire], wanted, &s);
    choose_of(snapshot, NULL, wanted, &s);
    for (int i = 0; i < snapshot->n_readings; i++)
        left_out += !wanted[i];
    return left_out;
}

/* The touches alone. */
static bool hear_touches(struct sound_heard *sound, const struct findings *findings, const char *const *path,
                         int n_files)
{
    size_t n = (size_t)findings->snapshot.n_readings;
    bool *wanted = calloc(n + 1, sizeof *wanted);
    struct sound_touch *touch = calloc(n + 1, sizeof *touch);
    sound_free(sound);
    sound->touch = touch;
    bool good = wanted && touch;
    if (good) {
        sound->left_out = choose_touches(&findings->snapshot, wanted);
        good = hear_files(sound, findings, path, n_files, wanted);
    }
    sound->too_long = true;
    free(wanted);
    return good;
}

bool sound_hear(struct sound_heard *sound, const struct findings *findings, const char *const *path,
                int n_files)
{
    *sound = (struct sound_heard){.n = 0};
    return hear_files(sound, findings, path, n_files, NULL) &&
           (!sound->too_long || hear_touches(sound, findings, path, n_files));
}
