/* A sender's voice as JSON, in a file and out of it. */
#ifndef THRUM_VOICE_FILE_H
#define THRUM_VOICE_FILE_H

#include <jansson.h>

#include "sound/source.h"
#include "thrum/learn.h"
#include "thrum/voice.h"

/* {"name":...,"tones_hz":[...],"pattern":[{"tone":0,"s":0.25},...],"steady":...}; NULL when out of memory. */
json_t *voice_json(const struct thrum_voice *voice);

/* The same with what it was learned from. */
json_t *learned_json(const struct thrum_learned *learned);

/* Reads a voice; keys that mean nothing here are left alone. CODE_DONE, or CODE_FILE with a message that names the
 * file and the field. */
int voice_read(const char *path, struct thrum_voice *voice, struct thrum_message *message);

/* The same out of a document; path names it in the message. */
int voice_from_json(const json_t *document, const char *path, struct thrum_voice *voice,
                    struct thrum_message *message);

/* Reads several, and gives a sender whose name is taken already the next free letter. */
int voices_read(const char *const *paths, int n, struct thrum_voice *voices, struct thrum_message *message);

/* Writes a document so that the file is either the old one or the whole new one. CODE_DONE, or CODE_OUTPUT with a
 * message. */
int json_write(const json_t *document, const char *path, struct thrum_message *message);

#endif
