/* What is in a sound file, and how it will be read. Plain WAV goes through our own chunk walk, so that a wrong header,
 * a file beyond 4 GiB or a pipe of unknown length are read for what they hold; the rest is libsndfile's. */
#include <stdlib.h>
#include <string.h>

#include "sound/file_source.h"
#include "sound/loudness_scale.h"
#include "sound/marks_journal.h"
#include "sound/message.h"
#include "sound/sniff.h"

#define MIN_RATE_HZ  2000
#define MAX_RATE_HZ  768000
#define MAX_CHANNELS 64
#define SCALE_BLOCK  4096
#define SCALE_BLOCKS 64
/* A frame count from here on is not a length but "unknown". */
#define FRAMES_NONSENSE ((uint64_t)1 << 42)

static enum thrum_status refuse_convert(const struct file_source *f, const char *what,
                                        struct thrum_message *message)
{
    if (f->is_stdin || strchr(f->shown, '\'')) {
        message_set(message,
                    "%s: this is %s, which cannot be read here; convert it first: ffmpeg -i FILE FILE.wav",
                    f->shown, what);
        return THRUM_ERR_FORMAT;
    }
    const char *slash = strrchr(f->shown, '/');
    const char *dot = strrchr(f->shown, '.');
    int stem = dot && (!slash || dot > slash + 1) && strcmp(dot, ".wav") != 0 ? (int)(dot - f->shown)
                                                                              : (int)strlen(f->shown);
    message_set(
        message, "%s: this is %s, which cannot be read here; convert it first: ffmpeg -i '%s' '%.*s%s.wav'",
        f->shown, what, f->shown, stem, f->shown, dot && strcmp(dot, ".wav") == 0 ? ".converted" : "");
    return THRUM_ERR_FORMAT;
}

static enum thrum_status refuse_silent(const struct file_source *f, const char *why,
                                       struct thrum_message *message)
{
    message_set(message, "%s: contains no sound (%s); record it again", f->shown, why);
    return THRUM_ERR_FORMAT;
}

static enum thrum_status check_limits(const struct file_source *f, double rate_hz, int channels,
                                      struct thrum_message *message)
{
    if (rate_hz < MIN_RATE_HZ || rate_hz > MAX_RATE_HZ) {
        message_set(
            message,
            "%s: the header says %.0f samples a second; files of %d to %d can be read, and a round needs "
            "8000 to 192000: convert the file to 48000, or record it again",
            f->shown, rate_hz, MIN_RATE_HZ, MAX_RATE_HZ);
        return THRUM_ERR_FORMAT;
    }
    if (channels < 1 || channels > MAX_CHANNELS) {
        message_set(message, "%s: the header says %d channels; 1 to %d can be read: record it again",
                    f->shown, channels, MAX_CHANNELS);
        return THRUM_ERR_FORMAT;
    }
    return THRUM_OK;
}

/* The libsndfile name of the samples; 0 when they are not plain ones. */
static int plain_coding(const struct wav_layout *l)
{
    unsigned bytes = l->channels > 0 ? l->frame_bytes / l->channels : 0;
    static const int pcm[5] = {0, SF_FORMAT_PCM_U8, SF_FORMAT_PCM_16, SF_FORMAT_PCM_24, SF_FORMAT_PCM_32};
    if (l->coding == WAV_PCM && bytes >= 1 && bytes <= 4 && l->bits > 0)
        return pcm[bytes];
    if (l->coding == WAV_FLOAT && (bytes == 4 || bytes == 8))
        return bytes == 4 ? SF_FORMAT_FLOAT : SF_FORMAT_DOUBLE;
    if ((l->coding == WAV_ALAW || l->coding == WAV_ULAW) && bytes == 1)
        return l->coding == WAV_ALAW ? SF_FORMAT_ALAW : SF_FORMAT_ULAW;
    return 0;
}

static enum thrum_status open_library(struct file_source *f, struct thrum_message *message)
{
    SF_VIRTUAL_IO calls = bytes_for_sndfile;
    f->snd = sf_open_virtual(&calls, SFM_READ, &f->format, &f->bytes);
    if (!f->snd) {
        message_set(message, "%s: no sound that can be read here (%s); give a WAV or FLAC file", f->shown,
                    sf_strerror(NULL));
        return THRUM_ERR_FORMAT;
    }
    return check_limits(f, f->format.samplerate, f->format.channels, message);
}

static void note_repair(struct file_source *f)
{
    const struct wav_layout *l = &f->wav;
    char text[160];
    double held = (double)(l->data_end - l->data_first);
    double says = (double)l->header_bytes;
    double seconds = l->frame_bytes > 0 && l->rate_hz > 0 ? held / l->frame_bytes / l->rate_hz : 0.0;
    if (!l->repaired || (says <= held * 1.01 && says >= held * 0.99))
        return;
    if (l->cut_short) {
        text_set(text, sizeof text, 0,
                 "cut short: the header promises %.0f bytes of sound, %.0f are there (%.1f s)", says, held,
                 seconds);
    } else {
        text_set(text, sizeof text, 0, "header repaired in memory: the file holds %.1f s of sound", seconds);
    }
    file_note(f, text);
}

/* WAV: plain samples are shown to libsndfile as raw ones, from the place and of the length that we found. */
static enum thrum_status open_wav(struct file_source *f, struct thrum_message *message)
{
    struct wav_layout *l = &f->wav;
    if (!wav_walk(&f->bytes, l) || !l->has_format)
        return refuse_silent(f, l->has_data ? "samples without a description" : "only a header", message);
    if (!l->has_data)
        return refuse_silent(f, "only a header", message);
    enum thrum_status status = check_limits(f, l->rate_hz, (int)l->channels, message);
    if (status != THRUM_OK)
        return status;
    if (!f->bytes.pipe && (!wav_read_marks(&f->bytes, l, &f->source.marks, &f->source.n_marks) ||
                           !wav_read_comment(&f->bytes, l, &f->source.about)))
        return THRUM_ERR_MEM;
    int coding = plain_coding(l);
    if (coding == 0)
        return open_library(f, message);
    f->raw_frame_bytes = l->frame_bytes;
    int64_t frames = (l->data_end - l->data_first) / (int64_t)l->frame_bytes;
    if (frames < 1)
        return refuse_silent(f, "only a header", message);
    bytes_set_window(&f->bytes, l->data_first,
                     l->open_ended ? BYTES_UNKNOWN : l->data_first + frames * l->frame_bytes);
    f->format.format = SF_FORMAT_RAW | coding | (l->big_endian ? SF_ENDIAN_BIG : SF_ENDIAN_LITTLE);
    f->format.samplerate = (int)l->rate_hz;
    f->format.channels = (int)l->channels;
    note_repair(f);
    return open_library(f, message);
}

static bool is_float(const SF_INFO *format)
{
    int coding = format->format & SF_FORMAT_SUBMASK;
    return coding == SF_FORMAT_FLOAT || coding == SF_FORMAT_DOUBLE;
}

/* Looks at up to 64 blocks spread over the file (a pipe: at its first one), then goes back to the start. */
static enum thrum_status find_scale(struct file_source *f)
{
    struct scale_finder finder = {.counted = 0};
    size_t channels = (size_t)f->format.channels;
    size_t block = f->bytes.pipe ? SCALE_BLOCK / channels + 1 : SCALE_BLOCK;
    float *samples = malloc(block * channels * sizeof *samples);
    if (!samples)
        return THRUM_ERR_MEM;
    sf_count_t frames = f->bytes.pipe ? 0 : f->format.frames;
    int blocks =
        frames > (sf_count_t)block * SCALE_BLOCKS ? SCALE_BLOCKS : (int)(frames / (sf_count_t)block) + 1;
    for (int i = 0; i < blocks; i++) {
        sf_count_t at = blocks > 1 ? (frames - (sf_count_t)block) / (blocks - 1) * i : 0;
        if (i > 0 && sf_seek(f->snd, at, SEEK_SET) < 0)
            break;
        sf_count_t got = sf_readf_float(f->snd, samples, (sf_count_t)block);
        scale_finder_feed(&finder, samples, got > 0 ? (size_t)got * channels : 0);
    }
    free(samples);
    if (sf_seek(f->snd, 0, SEEK_SET) != 0)
        return THRUM_ERR_FILE;
    f->scale = scale_finder_result(&finder);
    if (f->scale < 1.0f) {
        char text[120];
        text_set(text, sizeof text, 0, "float samples up to %.0f, not 1: all were scaled by 2^-%d",
                 1.0 / (double)f->scale,
                 f->scale > 0x1p-20f   ? 15
                 : f->scale > 0x1p-30f ? 23
                                       : 31);
        file_note(f, text);
    }
    return THRUM_OK;
}

/* Labels of AIFF and CAF markers come from libsndfile. */
static enum thrum_status library_marks(struct file_source *f)
{
    uint32_t count = 0;
    if (f->raw_frame_bytes > 0 || f->source.n_marks > 0 || f->bytes.pipe ||
        sf_command(f->snd, SFC_GET_CUE_COUNT, &count, sizeof count) != SF_TRUE || count == 0)
        return THRUM_OK;
    SF_CUES *cues = calloc(1, sizeof *cues);
    if (!cues)
        return THRUM_ERR_MEM;
    if (sf_command(f->snd, SFC_GET_CUE, cues, sizeof *cues) == SF_TRUE) {
        size_t n = cues->cue_count < 100 ? cues->cue_count : 100; /* SF_CUES holds 100 */
        f->source.marks = calloc(n ? n : 1, sizeof *f->source.marks);
        for (size_t i = 0; f->source.marks && i < n; i++) {
            f->source.marks[i].first = cues->cue_points[i].sample_offset;
            text_set(f->source.marks[i].label, sizeof f->source.marks[i].label, 0, "%.*s", 63,
                     cues->cue_points[i].name);
            f->source.n_marks = i + 1;
        }
    }
    free(cues);
    return f->source.marks ? THRUM_OK : THRUM_ERR_MEM;
}

/* What a copy of a recording says of itself: its first line, then its marks. */
static enum thrum_status library_comment(struct file_source *f)
{
    const char *comment =
        f->raw_frame_bytes > 0 || f->source.about ? NULL : sf_get_string(f->snd, SF_STR_COMMENT);
    if (!comment || comment[0] != '{')
        return THRUM_OK;
    size_t length = strcspn(comment, "\n");
    f->source.about = malloc(length + 1);
    if (!f->source.about)
        return THRUM_ERR_MEM;
    memcpy(f->source.about, comment, length);
    f->source.about[length] = '\0';
    if (f->source.n_marks > 0 || comment[length] == '\0')
        return THRUM_OK;
    free(f->source.marks);
    return marks_from_text(comment + length + 1, &f->source.marks, &f->source.n_marks) ? THRUM_OK
                                                                                       : THRUM_ERR_MEM;
}

static enum thrum_status open_sniffed(struct file_source *f, struct thrum_message *message)
{
    unsigned char head[SNIFF_BYTES];
    const char *what = NULL;
    size_t got = bytes_read_at(&f->bytes, 0, head, sizeof head);
    if (got == 0 && f->bytes.error) {
        char why[80];
        text_errno(why, sizeof why, f->bytes.error);
        message_set(message, "%s: cannot be read: %s", f->shown, why);
        return THRUM_ERR_FILE;
    }
    switch (sniff(head, got, &what)) {
    case SNIFF_EMPTY:
        return refuse_silent(f, "it is empty", message);
    case SNIFF_CONVERT:
        return refuse_convert(f, what, message);
    case SNIFF_WAV:
        return open_wav(f, message);
    case SNIFF_UNKNOWN:
    case SNIFF_STREAMS:
    case SNIFF_SEEKS:
        break;
    }
    if (got < 12)
        return refuse_silent(f, "too short for any", message);
    return open_library(f, message);
}

static void fill_info(struct file_source *f)
{
    struct thrum_source_info *info = &f->source.info;
    uint64_t frames = f->format.frames > 0 ? (uint64_t)f->format.frames : 0;
    info->rate_hz = f->format.samplerate;
    info->channels = f->format.channels;
    bool known = frames < FRAMES_NONSENSE && !f->wav.open_ended;
    info->frames = known ? frames : 0;
    f->promised = known ? frames : 0;
    if ((f->format.format & SF_FORMAT_TYPEMASK) == SF_FORMAT_MPEG)
        f->promised = 0; /* an estimate */
}

enum thrum_status file_open_content(struct file_source *f, struct thrum_message *message)
{
    enum thrum_status status = open_sniffed(f, message);
    if (status == THRUM_OK && !f->bytes.pipe && f->format.frames < 1)
        status = refuse_silent(f, "only a header", message);
    if (status == THRUM_OK && is_float(&f->format))
        status = find_scale(f);
    if (status == THRUM_OK)
        status = library_marks(f);
    if (status == THRUM_OK)
        status = library_comment(f);
    if (status == THRUM_OK)
        fill_info(f);
    if (status == THRUM_ERR_MEM)
        message_set(message, "%s: not enough memory to read it; close other programs", f->shown);
    return status;
}

bool file_needs_seeking(struct file_source *f)
{
    unsigned char head[SNIFF_BYTES];
    const char *what = NULL;
    enum sniffed kind = sniff(head, bytes_read_at(&f->bytes, 0, head, sizeof head), &what);
    if (kind != SNIFF_WAV)
        return kind == SNIFF_SEEKS;
    struct wav_layout layout;
    return wav_walk(&f->bytes, &layout) && layout.has_format && layout.has_data && plain_coding(&layout) == 0;
}
