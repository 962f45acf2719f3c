#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sound/source_own.h"

const struct thrum_source_info *thrum_source_info(const struct thrum_source *source)
{
    return &source->info;
}

void thrum_source_read(struct thrum_source *source, float *samples, size_t max_frames,
                       struct thrum_source_block *block)
{
    memset(block, 0, sizeof *block);
    if (max_frames > 0)
        source->read(source, samples, max_frames, block);
}

enum thrum_status thrum_source_look(struct thrum_source *source, const char *name)
{
    return source->look ? source->look(source, name) : THRUM_ERR_UNSUPPORTED;
}

bool thrum_source_offers(struct thrum_source *source, struct thrum_offers *offers)
{
    return source->offers && source->offers(source, offers);
}

void thrum_source_close(struct thrum_source *source)
{
    if (source) {
        free(source->marks);
        free(source->about);
        source->close(source);
    }
}

size_t thrum_source_marks(const struct thrum_source *source, struct thrum_mark *marks, size_t max)
{
    for (size_t i = 0; i < source->n_marks && i < max; i++)
        marks[i] = source->marks[i];
    return source->n_marks;
}

const char *thrum_source_about(const struct thrum_source *source)
{
    return source->about ? source->about : "";
}

void source_failed(struct thrum_source_block *block, const char *format, ...)
{
    va_list args;
    block->event = THRUM_SOURCE_FAILED;
    block->frames = 0;
    va_start(args, format);
    if (vsnprintf(block->message.text, sizeof block->message.text, format, args) < 0)
        block->message.text[0] = '\0';
    va_end(args);
}
