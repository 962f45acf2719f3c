#include "commands/kept.h"

#include <stdlib.h>
#include <string.h>

#include "base/room.h"

#define KEEP_S     12.0
#define KEEP_BYTES ((size_t)10 << 20)

bool kept_create(struct kept *kept, double rate_hz, int channels)
{
    size_t frame = sizeof(float) * (size_t)channels;
    *kept =
        (struct kept){.rate_hz = rate_hz, .channels = (size_t)channels, .room = (size_t)(KEEP_S * rate_hz)};
    if (kept->room > KEEP_BYTES / frame)
        kept->room = KEEP_BYTES / frame;
    kept->samples = thrum_room(frame * kept->room);
    return kept->samples != NULL;
}

void kept_destroy(struct kept *kept)
{
    free(kept->samples);
    kept->samples = NULL;
}

/* How many of n frames from this one on lie in one piece, and where. */
static size_t piece(const struct kept *kept, uint64_t frame, uint64_t n, float **samples)
{
    size_t at = (size_t)(frame % kept->room), left = kept->room - at;
    *samples = kept->samples + at * kept->channels;
    return n < left ? (size_t)n : left;
}

void kept_add(struct kept *kept, const float *samples, size_t n_frames)
{
    while (n_frames > 0) {
        float *to;
        size_t n = piece(kept, kept->frames, n_frames, &to);
        memcpy(to, samples, sizeof *to * n * kept->channels);
        kept->frames += n;
        samples += n * kept->channels;
        n_frames -= n;
    }
}

void kept_lose(struct kept *kept, uint64_t n_frames)
{
    kept->frames += n_frames;
    if (n_frames > 0)
        kept->from = kept->frames;
}

bool kept_learn(const struct kept *kept, uint64_t first, uint64_t end, double shortest_s,
                struct thrum_learned *learned)
{
    uint64_t oldest = kept->frames > kept->room ? kept->frames - kept->room : 0;
    struct thrum_learner *learner;
    oldest = oldest > kept->from ? oldest : kept->from;
    first = first > oldest ? first : oldest;
    if (end > kept->frames || end <= first || (double)(end - first) < shortest_s * kept->rate_hz ||
        thrum_learner_create(kept->rate_hz, (int)kept->channels, &learner) != THRUM_OK)
        return false;
    while (first < end) {
        float *samples;
        size_t n = piece(kept, first, end - first, &samples);
        thrum_learner_feed(learner, samples, n);
        first += n;
    }
    thrum_learner_result(learner, learned);
    thrum_learner_destroy(learner);
    return true;
}
