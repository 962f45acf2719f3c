#include "commands/intake.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "commands/command.h"
#include "commands/options.h"
#include "commands/practice_lesson.h"
#include "sound/message.h"
#include "thrum/practice.h"

/* Room for what is remembered: two minutes of one channel at 48 kHz. */
#define MEMORY_BYTES ((size_t)24 << 20)
/* Losses in it; beyond that many the oldest sound is forgotten. */
#define MEMORY_GAPS 64

/* Frames lost before a place in the memory. */
struct gap {
    size_t at;
    uint64_t lost;
};

struct intake {
    struct thrum_source *source;
    struct practice_probe *practice; /* the source's, or NULL */
    struct thrum_source_info info;
    const char *path; /* of a file that can be opened again, or NULL */
    float *samples;   /* [INTAKE_FRAMES * channels] */
    bool away;        /* the device has gone and is not back yet */
    double came_hz;   /* frames a second by the clock, or as a recording's note says; 0: as the info says */
    bool remembering;
    float *memory;   /* [room * channels]; NULL until it is needed */
    size_t room;     /* frames */
    size_t kept;     /* frames in memory */
    size_t replayed; /* of those, read again; = kept when the memory is used up */
    size_t before;   /* the last frames of it, which are not read again but stand before the first read */
    struct gap gap[MEMORY_GAPS]; /* in order */
    int n_gaps, gaps_told;
};

int code_of_source(enum thrum_status status)
{
    switch (status) {
    case THRUM_OK:
        return CODE_DONE;
    case THRUM_ERR_DEVICE:
    case THRUM_ERR_UNSUPPORTED:
        return CODE_DEVICE;
    case THRUM_ERR_ARG:
        return CODE_USAGE;
    case THRUM_ERR_FULL:
        return CODE_OUTPUT;
    default:
        return CODE_FILE;
    }
}

/* "7", "7:4", "7:gated", "7:4:gated": a bundle, its senders, the fault of its input. */
static bool read_practice(const char *text, uint64_t *seed, int *senders, enum thrum_practice_fault *fault)
{
    const char *rest = text + strspn(text, "0123456789");
    if (rest == text || (*rest && *rest != ':'))
        return false;
    *seed = strtoull(text, NULL, 10);
    if (*rest && rest[1] >= '1' && rest[1] <= '0' + THRUM_MAX_SENDERS && (!rest[2] || rest[2] == ':')) {
        *senders = rest[1] - '0';
        rest += 2;
    }
    return !*rest || thrum_practice_fault_find(rest + 1, fault);
}

static enum thrum_status open_practice(struct intake *intake, const struct intake_config *config,
                                       const char *seed, struct thrum_message *message)
{
    uint64_t number = 0;
    int senders = 1;
    enum thrum_practice_fault fault = THRUM_PRACTICE_NO_FAULT;
    struct thrum_practice_config practice;
    bool lesson = lesson_config(seed, &practice);
    if (!lesson && !read_practice(seed, &number, &senders, &fault)) {
        message_set(
            message,
            "'practice:%.60s' is no practice bundle: a whole number belongs after the colon, such as "
            "practice:7, or practice:7:4 for four senders, 8 at most, or practice:7:FAULT, which is "
            "gain-riding, gated, suppressed, clipped, dc, silent or lost; or one of the three that teach: "
            "practice:easy, practice:neighbours, practice:harmonic",
            seed);
        return THRUM_ERR_ARG;
    }
    if (!lesson)
        practice = thrum_practice_config_default(number);
    practice.fault = fault;
    if (config->n_wires > 0)
        practice.n_wires = config->n_wires < 2 ? 2 : config->n_wires;
    if (senders > 1 && practice_senders(&practice, senders) != THRUM_OK) {
        message_set(message, "practice:%.60s: %d senders need as many wires", seed, senders);
        return THRUM_ERR_ARG;
    }
    enum thrum_status status =
        practice_probe_open(&practice, config->hand, config->paced, &intake->source, &intake->practice);
    if (status != THRUM_OK)
        message_set(message, "the practice bundle cannot be made: %s", thrum_status_text(status));
    return status;
}

static enum thrum_status open_path(struct intake *intake, const char *path, struct thrum_message *message)
{
    struct stat about;
    if (stat(path, &about) == 0 && S_ISREG(about.st_mode))
        intake->path = path;
    return thrum_source_open_file(path, &intake->source, message);
}

static enum thrum_status open_from(struct intake *intake, const struct intake_config *config,
                                   struct thrum_message *message)
{
    const char *from = config->from;
    if (config->source) {
        intake->source = config->source;
        return THRUM_OK;
    }
    if (config->path)
        return open_path(intake, config->path, message);
    if (strcmp(from, "-") == 0)
        return thrum_source_open_stdin(&intake->source, message);
    if (strncmp(from, "file:", 5) == 0)
        return open_path(intake, from + 5, message);
    if (strncmp(from, "device:", 7) == 0)
        return thrum_source_open_device(from + 7, &intake->source, message);
    if (strcmp(from, "device") == 0)
        return thrum_source_open_device(NULL, &intake->source, message);
    if (strncmp(from, "practice:", 9) == 0)
        return open_practice(intake, config, from + 9, message);
    message_set(message, "'%.200s' is no source of sound: use device:NAME, file:PATH, practice:SEED or -",
                from);
    return THRUM_ERR_ARG;
}

/* What can be listened to is narrower than what can be read. */
static enum thrum_status check_rate(const struct intake *intake, struct thrum_message *message)
{
    double rate_hz = intake->info.rate_hz;
    if (rate_hz >= THRUM_RATE_MIN_HZ && rate_hz <= THRUM_RATE_MAX_HZ)
        return THRUM_OK;
    message_set(message,
                "%.0f samples a second cannot be measured (8000 to 192000 can); convert it: "
                "ffmpeg -i IN -ar 48000 OUT.wav",
                rate_hz);
    return intake->info.live ? THRUM_ERR_DEVICE : THRUM_ERR_FORMAT;
}

/* A recording says when its input delivered another rate than it said; the last word counts. */
static double noted_rate(const struct thrum_source *source, double said_hz)
{
    size_t n = thrum_source_marks(source, NULL, 0);
    struct thrum_mark *mark = n > 0 ? malloc(n * sizeof *mark) : NULL;
    double rate_hz = 0.0, noted_hz;
    if (mark)
        thrum_source_marks(source, mark, n);
    for (size_t i = 0; mark && i < n; i++)
        if (strncmp(mark[i].label, "~rate ", 6) == 0 && number_from_text(mark[i].label + 6, &noted_hz) &&
            noted_hz >= THRUM_RATE_MIN_HZ && noted_hz <= THRUM_RATE_MAX_HZ)
            rate_hz = fabs(noted_hz - said_hz) > 0.5 ? noted_hz : 0.0;
    free(mark);
    return rate_hz;
}

int intake_open(const struct intake_config *config, struct intake **intake, struct thrum_message *message)
{
    *intake = NULL;
    message->text[0] = 0;
    struct intake *made = calloc(1, sizeof *made);
    enum thrum_status status = made ? open_from(made, config, message) : THRUM_ERR_MEM;
    if (!made)
        thrum_source_close(config->source);
    if (status != THRUM_OK)
        goto fail;
    made->info = *thrum_source_info(made->source);
    status = check_rate(made, message);
    if (status != THRUM_OK)
        goto fail;
    made->came_hz = noted_rate(made->source, made->info.rate_hz);
    made->samples = malloc(sizeof *made->samples * INTAKE_FRAMES * (size_t)made->info.channels);
    if (!made->samples) {
        status = THRUM_ERR_MEM;
        goto fail;
    }
    *intake = made;
    return CODE_DONE;
fail:
    if (!message->text[0])
        message_set(message, "%s", thrum_status_text(status));
    intake_close(made);
    return code_of_source(status);
}

void intake_close(struct intake *intake)
{
    if (!intake)
        return;
    thrum_source_close(intake->source);
    free(intake->samples);
    free(intake->memory);
    free(intake);
}

const struct thrum_source_info *intake_info(const struct intake *intake)
{
    return &intake->info;
}

struct practice_probe *intake_practice(struct intake *intake)
{
    return intake->practice;
}

const struct thrum_source *intake_source(const struct intake *intake)
{
    return intake->source;
}

/* The oldest `frames` of the memory. */
static void forget(struct intake *intake, size_t frames)
{
    size_t channels = (size_t)intake->info.channels;
    int n = 0;
    memmove(intake->memory, intake->memory + frames * channels,
            sizeof(float) * (intake->kept - frames) * channels);
    intake->kept -= frames;
    for (int i = 0; i < intake->n_gaps; i++)
        if (intake->gap[i].at > frames)
            intake->gap[n++] = (struct gap){intake->gap[i].at - frames, intake->gap[i].lost};
    intake->n_gaps = n;
}

static void keep_gap(struct intake *intake, uint64_t lost)
{
    if (intake->kept == 0)
        return;
    if (intake->n_gaps > 0 && intake->gap[intake->n_gaps - 1].at == intake->kept) {
        intake->gap[intake->n_gaps - 1].lost += lost;
        return;
    }
    if (intake->n_gaps == MEMORY_GAPS)
        forget(intake, intake->gap[0].at);
    intake->gap[intake->n_gaps++] = (struct gap){intake->kept, lost};
}

static void keep(struct intake *intake, const struct thrum_source_block *block)
{
    size_t channels = (size_t)intake->info.channels, frames = block->frames;
    if (!intake->memory)
        return;
    if (block->lost > 0)
        keep_gap(intake, block->lost);
    if (intake->kept + frames > intake->room && intake->info.live && frames <= intake->room / 2)
        forget(intake, intake->kept - intake->room / 2);
    size_t room = intake->room - intake->kept;
    frames = frames < room ? frames : room;
    memcpy(intake->memory + intake->kept * channels, intake->samples, sizeof(float) * frames * channels);
    intake->kept += frames;
}

static const float *replay(struct intake *intake, size_t max_frames, struct thrum_source_block *block)
{
    const float *samples = intake->memory + intake->replayed * (size_t)intake->info.channels;
    size_t end = intake->kept;
    *block = (struct thrum_source_block){.event = THRUM_SOURCE_DATA};
    if (intake->gaps_told < intake->n_gaps && intake->gap[intake->gaps_told].at == intake->replayed) {
        block->event = THRUM_SOURCE_LOST;
        block->lost = intake->gap[intake->gaps_told++].lost;
    }
    if (intake->gaps_told < intake->n_gaps)
        end = intake->gap[intake->gaps_told].at;
    block->frames = end - intake->replayed < max_frames ? end - intake->replayed : max_frames;
    intake->replayed += block->frames;
    return samples;
}

const float *intake_read(struct intake *intake, size_t max_frames, struct thrum_source_block *block)
{
    if (max_frames > INTAKE_FRAMES)
        max_frames = INTAKE_FRAMES;
    if (!intake->remembering && (intake->replayed < intake->kept || intake->gaps_told < intake->n_gaps))
        return replay(intake, max_frames, block);
    if (!intake->remembering) {
        free(intake->memory);
        intake->memory = NULL;
    }
    if (intake->remembering && !intake->path && !intake->info.live) {
        size_t room = intake->room - intake->kept;
        max_frames = room > 0 && room < max_frames ? room : max_frames;
    }
    thrum_source_read(intake->source, intake->samples, max_frames, block);
    if (block->event == THRUM_SOURCE_GONE || block->event == THRUM_SOURCE_BACK ||
        block->event == THRUM_SOURCE_OTHER)
        intake->away = block->event == THRUM_SOURCE_GONE;
    if (block->event == THRUM_SOURCE_RATE)
        intake->came_hz = fabs(block->rate_hz - intake->info.rate_hz) > 0.5 ? block->rate_hz : 0.0;
    if (intake->remembering && !intake->path)
        keep(intake, block);
    return intake->samples;
}

const char *intake_input(const struct intake *intake)
{
    return thrum_source_info(intake->source)->name;
}

enum thrum_status intake_look(struct intake *intake, const char *name)
{
    return thrum_source_look(intake->source, name);
}

bool intake_offers(struct intake *intake, struct thrum_offers *offers)
{
    return thrum_source_offers(intake->source, offers);
}

bool intake_away(const struct intake *intake)
{
    return intake->away;
}

double intake_came_hz(const struct intake *intake)
{
    return intake->came_hz;
}

void intake_remember(struct intake *intake)
{
    intake->remembering = true;
    if (intake->path)
        return;
    size_t frame = sizeof(float) * (size_t)intake->info.channels;
    intake->memory = malloc(MEMORY_BYTES);
    intake->room = intake->memory ? MEMORY_BYTES / frame : 0;
}

bool intake_full(const struct intake *intake)
{
    return intake->remembering && !intake->path && !intake->info.live && intake->kept >= intake->room;
}

enum thrum_status intake_again(struct intake *intake, struct thrum_message *message)
{
    intake->remembering = false;
    intake->replayed = 0;
    if (!intake->path)
        return THRUM_OK;
    thrum_source_close(intake->source);
    return thrum_source_open_file(intake->path, &intake->source, message);
}

void intake_go_on(struct intake *intake, double before_s)
{
    size_t since = intake->n_gaps > 0 ? intake->gap[intake->n_gaps - 1].at : 0;
    size_t most = (size_t)(before_s * intake->info.rate_hz);
    intake->remembering = false;
    intake->replayed = intake->kept;
    intake->gaps_told = intake->n_gaps;
    intake->before = intake->kept - since < most ? intake->kept - since : most;
}

const float *intake_before(const struct intake *intake, size_t *frames)
{
    *frames = intake->memory ? intake->before : 0;
    return *frames > 0 ? intake->memory + (intake->kept - *frames) * (size_t)intake->info.channels : NULL;
}

uint64_t intake_remembered(const struct intake *intake)
{
    uint64_t frames = intake->kept - intake->replayed;
    for (int i = intake->gaps_told; i < intake->n_gaps && frames > 0; i++)
        frames += intake->gap[i].lost;
    return frames > 0 ? frames : intake->memory ? intake->before : 0;
}
