#include "commands/recorded.h"

#include <jansson.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands/command.h"
#include "commands/marks_file.h"
#include "commands/moved.h"
#include "commands/options.h"
#include "commands/voice_file.h"
#include "sound/message.h"

/* The JSON object in its comment; NULL when it is not ours. */
static json_t *read_about(const struct thrum_source *source)
{
    json_t *about = json_loads(thrum_source_about(source), 0, NULL);
    if (json_is_string(json_object_get(about, "thrum")))
        return about;
    json_decref(about);
    return NULL;
}

int recorded_voices(const struct thrum_source *source, struct thrum_voice *voices)
{
    struct thrum_message message;
    json_t *about = read_about(source), *senders = json_object_get(about, "senders");
    int n = (int)json_array_size(senders);
    if (n > THRUM_MAX_SENDERS)
        n = 0;
    for (int i = 0; i < n; i++)
        if (voice_from_json(json_array_get(senders, (size_t)i), "its voice", &voices[i], &message) !=
            CODE_DONE)
            n = 0;
    json_decref(about);
    return n;
}

static int wires_of(const struct thrum_source *source, const char *name, int fewest)
{
    json_t *about = read_about(source);
    json_int_t n = json_integer_value(json_object_get(about, name));
    json_decref(about);
    return n >= fewest && n <= THRUM_MAX_WIRES ? (int)n : 0;
}

int recorded_wires(const struct thrum_source *source)
{
    return wires_of(source, "wires", 1);
}

int recorded_halves(const struct thrum_source *source)
{
    return wires_of(source, "halves", 2);
}

int recorded_input(const struct thrum_source *source)
{
    json_t *about = read_about(source);
    json_int_t number = json_integer_value(json_object_get(about, "input_number"));
    json_decref(about);
    return number >= 2 && number <= INT_MAX ? (int)number : 1;
}

void recorded_start(const struct thrum_source *source, char *text, size_t size)
{
    json_t *about = read_about(source);
    const char *start = json_string_value(json_object_get(about, "start"));
    int date = 0, time = 0;
    snprintf(text, size, "%s", "");
    if (start && sscanf(start, "%*4d-%*2d-%*2d%nT%*2d:%*2d:%*2d%n", &date, &time) == 0 && date == 10 &&
        time == 19)
        snprintf(text, size, "%.10s %.8s UTC", start, start + 11);
    json_decref(about);
}

void recorded_input_name(const struct thrum_source *source, char *text, size_t size)
{
    json_t *about = read_about(source);
    const char *input = json_string_value(json_object_get(about, "input"));
    snprintf(text, size, "%s", input ? input : "");
    json_decref(about);
}

uint64_t recorded_first_frame(const struct thrum_source *source)
{
    json_t *about = read_about(source);
    json_int_t first = json_integer_value(json_object_get(about, "first_frame"));
    json_decref(about);
    return first > 0 ? (uint64_t)first : 0;
}

/* Where the sender was followed to before the file began; 0 when it was not. */
static double followed_before_hz(const struct thrum_source *source)
{
    json_t *about = read_about(source);
    double tone_hz = json_number_value(json_object_get(about, "followed_to_hz"));
    json_decref(about);
    return tone_hz;
}

/* What stands in a note behind its label; NULL: another note. */
static const char *behind(const struct thrum_mark *mark, const char *label)
{
    size_t prefix = strlen(label);
    return strncmp(mark->label, label, prefix) == 0 ? mark->label + prefix : NULL;
}

static bool note_of_move(const struct thrum_mark *mark, double *tone_hz)
{
    const char *number = behind(mark, RECORDED_MOVED);
    return number && number_from_text(number, tone_hz);
}

size_t recorded_moves(const struct thrum_source *source, const struct thrum_voice *voice,
                      struct recorded_move **moves)
{
    size_t marks = thrum_source_marks(source, NULL, 0), n = 0;
    struct thrum_mark *mark = calloc(marks + 1, sizeof *mark);
    double tone_hz = followed_before_hz(source);
    *moves = mark ? calloc(marks + 1, sizeof **moves) : NULL;
    if (*moves) {
        thrum_source_marks(source, mark, marks);
        if (moved_within_reach(voice, tone_hz))
            (*moves)[n++] = (struct recorded_move){.frame = 0, .tone_hz = tone_hz};
        for (size_t i = 0; i < marks; i++)
            if (note_of_move(&mark[i], &tone_hz) && moved_within_reach(voice, tone_hz))
                (*moves)[n++] = (struct recorded_move){.frame = mark[i].first, .tone_hz = tone_hz};
    }
    free(mark);
    return n;
}

int recorded_exclude(const struct thrum_source *source, struct thrum_round *round,
                     struct thrum_message *message)
{
    size_t n = thrum_source_marks(source, NULL, 0);
    struct thrum_mark *mark = calloc(n + 1, sizeof *mark);
    if (!mark) {
        message_set(message, "%s", thrum_status_text(THRUM_ERR_MEM));
        return CODE_FILE;
    }
    thrum_source_marks(source, mark, n);
    for (size_t i = 0; i < n; i++) {
        const char *excluded = behind(&mark[i], RECORDED_EXCLUDED);
        const char *wire = behind(&mark[i], RECORDED_WIRE);
        if (excluded || wire)
            (void)thrum_round_exclude(round, excluded ? excluded : wire, excluded != NULL);
    }
    free(mark);
    return CODE_DONE;
}

bool recorded_round(const struct thrum_source *source)
{
    struct thrum_message message;
    struct thrum_mark *marks;
    size_t n = 0;
    json_t *about = read_about(source);
    if (about && marks_inside(source, &marks, &n, &message) == CODE_DONE)
        free(marks);
    bool later_part = json_integer_value(json_object_get(about, "part")) > 1;
    json_decref(about);
    return n > 0 || later_part;
}
