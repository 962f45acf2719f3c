#include "commands/voice_file.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands/command.h"
#include "commands/file_write.h"
#include "commands/json_out.h"
#include "sound/message.h"

json_t *voice_json(const struct thrum_voice *voice)
{
    json_t *tones = json_array(), *pattern = json_array();
    for (int i = 0; i < voice->n_tones; i++)
        json_array_append_new(tones, json_rounded(voice->tones_hz[i], 1e-4));
    for (int i = 0; i < voice->n_steps; i++) {
        const struct thrum_voice_step *step = &voice->step[i];
        json_t *tone = step->tone == THRUM_SILENCE ? json_null() : json_integer(step->tone);
        json_array_append_new(pattern,
                              json_pack("{s:o, s:o}", "tone", tone, "s", json_rounded(step->s, 1e-6)));
    }
    return json_pack("{s:o, s:o, s:o, s:b, s:o, s:o}", "name", json_text(voice->name), "tones_hz", tones,
                     "pattern", pattern, "steady", voice->steady, "level_dbfs", json_level(voice->level_dbfs),
                     "spread_s", json_rounded(voice->spread_s, 1e-7));
}

json_t *learned_json(const struct thrum_learned *learned)
{
    json_t *document = voice_json(&learned->voice);
    json_object_set_new(document, "quality_db", json_level(learned->quality_db));
    json_object_set_new(document, "mains_hz", json_mains(learned->mains_hz));
    json_object_set_new(document, "channel", json_integer(learned->channel));
    return document;
}

/* --- Reading ------------------------------------------------------------------------------------------------- */

static int wrong(struct thrum_message *message, const char *path, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

static int wrong(struct thrum_message *message, const char *path, const char *format, ...)
{
    char what[300];
    va_list list;
    va_start(list, format);
    vsnprintf(what, sizeof what, format, list);
    va_end(list);
    message_set(message, "%.120s is no voice file: %s; make one with: thrum learn LEAD.wav --voice %.60s",
                path, what, path);
    return CODE_FILE;
}

/* A finite number; false for all else. */
static bool take_number(const json_t *value, double *number)
{
    if (!json_is_number(value))
        return false;
    *number = json_number_value(value);
    return isfinite(*number);
}

static int take_tones(const json_t *document, const char *path, struct thrum_voice *voice,
                      struct thrum_message *message)
{
    const json_t *tones = json_object_get(document, "tones_hz");
    if (!json_is_array(tones))
        return wrong(message, path, "\"tones_hz\" must be a list of frequencies");
    if (json_array_size(tones) < 1 || json_array_size(tones) > THRUM_VOICE_TONES)
        return wrong(message, path, "\"tones_hz\" must hold 1 to %d frequencies", THRUM_VOICE_TONES);
    voice->n_tones = (int)json_array_size(tones);
    for (int i = 0; i < voice->n_tones; i++)
        if (!take_number(json_array_get(tones, (size_t)i), &voice->tones_hz[i]))
            return wrong(message, path, "number %d in \"tones_hz\" is no frequency", i + 1);
    return CODE_DONE;
}

static int take_step(const json_t *entry, const char *path, int i, struct thrum_voice *voice,
                     struct thrum_message *message)
{
    struct thrum_voice_step *step = &voice->step[i];
    const json_t *tone = json_object_get(entry, "tone");
    if (json_is_null(tone))
        step->tone = THRUM_SILENCE;
    else if (json_is_integer(tone) && json_integer_value(tone) >= 0 &&
             json_integer_value(tone) < voice->n_tones)
        step->tone = (int)json_integer_value(tone);
    else
        return wrong(message, path, "\"tone\" of step %d of \"pattern\" must be null or 0 to %d", i + 1,
                     voice->n_tones - 1);
    if (!take_number(json_object_get(entry, "s"), &step->s))
        return wrong(message, path, "\"s\" of step %d of \"pattern\" must be its length in seconds", i + 1);
    return CODE_DONE;
}

static int take_pattern(const json_t *document, const char *path, struct thrum_voice *voice,
                        struct thrum_message *message)
{
    const json_t *pattern = json_object_get(document, "pattern");
    if (!json_is_array(pattern))
        return wrong(message, path, "\"pattern\" must be a list of steps");
    if (json_array_size(pattern) < 1 || json_array_size(pattern) > THRUM_VOICE_STEPS)
        return wrong(message, path, "\"pattern\" must hold 1 to %d steps", THRUM_VOICE_STEPS);
    voice->n_steps = (int)json_array_size(pattern);
    for (int i = 0; i < voice->n_steps; i++) {
        int code = take_step(json_array_get(pattern, (size_t)i), path, i, voice, message);
        if (code != CODE_DONE)
            return code;
    }
    voice->steady = voice->n_steps == 1;
    return CODE_DONE;
}

static int take_rest(const json_t *document, const char *path, struct thrum_voice *voice,
                     struct thrum_message *message)
{
    const json_t *name = json_object_get(document, "name");
    const char *text = name ? json_string_value(name) : "a";
    if (!text || !*text || strlen(text) >= THRUM_VOICE_NAME_SIZE)
        return wrong(message, path, "\"name\" must be a text of 1 to %d bytes", THRUM_VOICE_NAME_SIZE - 1);
    memcpy(voice->name, text, strlen(text) + 1);
    /* These two are of use but not needed. */
    voice->level_dbfs = THRUM_FLOOR_DBFS;
    take_number(json_object_get(document, "level_dbfs"), &voice->level_dbfs);
    if (!take_number(json_object_get(document, "spread_s"), &voice->spread_s) || !(voice->spread_s >= 0.0))
        voice->spread_s = 0.0;
    const json_t *steady = json_object_get(document, "steady");
    if (json_is_boolean(steady) && json_is_true(steady) != voice->steady)
        return wrong(message, path, "\"steady\" does not fit \"pattern\"");
    return CODE_DONE;
}

int voice_from_json(const json_t *document, const char *path, struct thrum_voice *voice,
                    struct thrum_message *message)
{
    int code = CODE_DONE;
    memset(voice, 0, sizeof *voice);
    if (!json_is_object(document))
        code = wrong(message, path, "it must hold one object");
    if (code == CODE_DONE)
        code = take_tones(document, path, voice, message);
    if (code == CODE_DONE)
        code = take_pattern(document, path, voice, message);
    if (code == CODE_DONE)
        code = take_rest(document, path, voice, message);
    const char *reason;
    if (code == CODE_DONE && thrum_voice_check(voice, &reason) != THRUM_OK)
        code = wrong(message, path, "%s", reason);
    return code;
}

int voice_read(const char *path, struct thrum_voice *voice, struct thrum_message *message)
{
    FILE *file = fopen(path, "rb");
    if (!file) {
        message_set(message, "the voice file %.200s cannot be read: %s", path, strerror(errno));
        return CODE_FILE;
    }
    json_error_t error;
    json_t *document = json_loadf(file, JSON_REJECT_DUPLICATES, &error);
    fclose(file);
    int code = document ? voice_from_json(document, path, voice, message)
                        : wrong(message, path, "line %d: %.120s", error.line, error.text);
    json_decref(document);
    return code;
}

static bool name_taken(const struct thrum_voice *voices, int n, const char *name)
{
    for (int i = 0; i < n; i++)
        if (strcmp(voices[i].name, name) == 0)
            return true;
    return false;
}

int voices_read(const char *const *paths, int n, struct thrum_voice *voices, struct thrum_message *message)
{
    if (n > THRUM_MAX_SENDERS) {
        message_set(message, "at most %d voices can be heard at once", THRUM_MAX_SENDERS);
        return CODE_USAGE;
    }
    for (int i = 0; i < n; i++) {
        int code = voice_read(paths[i], &voices[i], message);
        if (code != CODE_DONE)
            return code;
        for (char letter = 'a'; name_taken(voices, i, voices[i].name); letter++) {
            voices[i].name[0] = letter;
            voices[i].name[1] = 0;
        }
    }
    return CODE_DONE;
}

/* --- Writing ------------------------------------------------------------------------------------------------- */

int json_write(const json_t *document, const char *path, struct thrum_message *message)
{
    char *text = document ? json_dumps(document, JSON_INDENT(2) | JSON_REAL_PRECISION(JSON_DIGITS)) : NULL;
    size_t length = text ? strlen(text) : 0;
    char *line = text ? malloc(length + 2) : NULL;
    errno = ENOMEM;
    bool good = false;
    if (line) {
        memcpy(line, text, length);
        memcpy(line + length, "\n", 2);
        good = file_write(path, line, length + 1);
    }
    if (!good)
        message_set(message, "%.200s cannot be written: %s", path, strerror(errno));
    free(line);
    free(text);
    return good ? CODE_DONE : CODE_OUTPUT;
}
