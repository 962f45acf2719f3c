#include "sound_files.h"

#include <sndfile.h>
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "signals.h"

enum { AT_ONCE = 9001 }; /* frames read: more than any reader inside takes at a time */

int sf_set_up(void **state)
{
    wb_fixture_make(state, sizeof(struct sf_fixture));
    struct sf_fixture *f = *state;
    struct rng rng = rng_seeded(7);
    for (size_t i = 0; i < SF_FRAMES; i++)
        f->pcm[i] = (short)(rng_normal(&rng) * 3000.0);
    return 0;
}

void sf_hear(struct thrum_source *source, struct sf_heard *h)
{
    const struct thrum_source_info *info = thrum_source_info(source);
    struct thrum_source_block block;
    size_t room = 16384;
    h->channels = info->channels;
    h->rate_hz = info->rate_hz;
    h->frames = 0;
    h->samples = malloc(room * (size_t)h->channels * sizeof(float));
    assert_non_null(h->samples);
    do {
        if (h->frames + AT_ONCE > room) {
            room *= 2;
            h->samples = realloc(h->samples, room * (size_t)h->channels * sizeof(float));
            assert_non_null(h->samples);
        }
        thrum_source_read(source, h->samples + h->frames * (size_t)h->channels, AT_ONCE, &block);
        h->frames += block.frames;
    } while (block.event == THRUM_SOURCE_DATA);
    h->last = block.event;
    memcpy(h->note, info->note, sizeof h->note);
}

void sf_hear_file(const char *path, struct sf_heard *h)
{
    struct thrum_source *source = NULL;
    struct thrum_message message;
    enum thrum_status status = thrum_source_open_file(path, &source, &message);
    if (status != THRUM_OK)
        fail_msg("%s: %d %s", path, status, message.text);
    sf_hear(source, h);
    thrum_source_close(source);
}

void sf_assert_is_pcm(const struct sf_fixture *f, const struct sf_heard *h, size_t frames)
{
    size_t wrong = 0;
    assert_int_equal(h->last, THRUM_SOURCE_END);
    assert_int_equal(h->frames, frames);
    for (size_t i = 0; i < frames; i++)
        wrong += h->samples[i] != (float)f->pcm[i] / 32768.0f ? 1 : 0;
    assert_int_equal(wrong, 0);
}

size_t sf_plain_wav(const struct sf_fixture *f, struct wav_bytes *w, uint32_t riff, uint32_t data)
{
    wb_riff(w, "RIFF", riff);
    wb_fmt(w, 1, 1, SF_RATE, 16);
    wb_id(w, "data");
    wb_u32(w, data);
    wb_put(w, f->pcm, sizeof f->pcm);
    return 40;
}

void sf_save_and_check(struct sf_fixture *f, struct wav_bytes *w, size_t frames, const char *note)
{
    struct sf_heard h;
    wb_save(w, f->folder, "x.wav", f->path, sizeof f->path);
    sf_hear_file(f->path, &h);
    sf_assert_is_pcm(f, &h, frames);
    if (note)
        assert_non_null(strstr(h.note, note));
    else
        assert_string_equal(h.note, "");
    free(h.samples);
    wb_free(w);
}

enum thrum_status sf_refused(struct sf_fixture *f, struct wav_bytes *w, const char *words)
{
    struct thrum_source *source = NULL;
    struct thrum_message message;
    wb_save(w, f->folder, "bad.wav", f->path, sizeof f->path);
    enum thrum_status status = thrum_source_open_file(f->path, &source, &message);
    assert_null(source);
    assert_int_not_equal(status, THRUM_OK);
    if (!strstr(message.text, words))
        fail_msg("'%s' is not in '%s'", words, message.text);
    wb_free(w);
    return status;
}

void sf_put_cue(struct wav_bytes *w, const uint32_t *frame, const char *const *label, const uint32_t *length,
                size_t n)
{
    size_t list = 4;
    for (size_t i = 0; i < n; i++)
        list += 28 + 12 + strlen(label[i]) + 1 + (strlen(label[i]) + 1) % 2;
    wb_id(w, "cue ");
    wb_u32(w, (uint32_t)(4 + 24 * n));
    wb_u32(w, (uint32_t)n);
    for (size_t i = 0; i < n; i++) {
        wb_u32(w, (uint32_t)(i + 10));
        wb_u32(w, frame[i]);
        wb_id(w, "data");
        wb_u32(w, 0);
        wb_u32(w, 0);
        wb_u32(w, frame[i]);
    }
    wb_id(w, "LIST");
    wb_u32(w, (uint32_t)list);
    wb_id(w, "adtl");
    for (size_t i = 0; i < n; i++) {
        wb_id(w, "labl");
        wb_u32(w, (uint32_t)(4 + strlen(label[i]) + 1));
        wb_u32(w, (uint32_t)(i + 10));
        wb_put(w, label[i], strlen(label[i]) + 1);
        wb_zeros(w, (strlen(label[i]) + 1) % 2);
        wb_id(w, "ltxt");
        wb_u32(w, 20);
        wb_u32(w, (uint32_t)(i + 10));
        wb_u32(w, length[i]);
        wb_id(w, "rgn ");
        wb_zeros(w, 8);
    }
}

void sf_float_wav(const struct sf_fixture *f, struct wav_bytes *w, float factor, size_t wild_at, float wild)
{
    wb_riff(w, "RIFF", (uint32_t)(36 + SF_FRAMES * 4));
    wb_fmt(w, 3, 1, SF_RATE, 32);
    wb_id(w, "data");
    wb_u32(w, SF_FRAMES * 4);
    for (size_t i = 0; i < SF_FRAMES; i++) {
        float x = (float)f->pcm[i] / 32768.0f * factor;
        x = i == wild_at ? wild : x;
        wb_put(w, &x, 4);
    }
}

bool sf_write_by_library(const struct sf_fixture *f, const char *path, int format)
{
    SF_INFO info = {.samplerate = SF_RATE, .channels = 1, .format = format};
    if (!sf_format_check(&info))
        return false;
    SNDFILE *file = sf_open(path, SFM_WRITE, &info);
    if (!file)
        return false;
    assert_int_equal(sf_writef_short(file, f->pcm, SF_FRAMES), SF_FRAMES);
    sf_close(file);
    return true;
}
