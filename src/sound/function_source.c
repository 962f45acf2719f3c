#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sound/source_own.h"

struct function_source {
    struct thrum_source source;
    struct thrum_source_functions functions;
    void *context;
    bool ended;
};

static void function_read(struct thrum_source *source, float *samples, size_t max_frames,
                          struct thrum_source_block *block)
{
    struct function_source *f = (struct function_source *)source;
    block->frames = f->ended ? 0 : f->functions.read(f->context, samples, max_frames);
    if (block->frames > max_frames) /* a caller's bug; what it has overwritten cannot be helped */
        block->frames = max_frames;
    if (block->frames == 0) {
        f->ended = true;
        block->event = THRUM_SOURCE_END;
    }
}

static void function_close(struct thrum_source *source)
{
    struct function_source *f = (struct function_source *)source;
    if (f->functions.close)
        f->functions.close(f->context);
    free(f);
}

enum thrum_status thrum_source_from_functions(const struct thrum_source_functions *functions, void *context,
                                              const struct thrum_source_info *info,
                                              struct thrum_source **source)
{
    *source = NULL;
    if (!functions->read || !isfinite(info->rate_hz) || info->rate_hz <= 0.0 || info->channels < 1 ||
        info->channels > 64)
        return THRUM_ERR_ARG;
    struct function_source *f = calloc(1, sizeof *f);
    if (!f)
        return THRUM_ERR_MEM;
    f->source.info = *info;
    f->source.read = function_read;
    f->source.close = function_close;
    f->functions = *functions;
    f->context = context;
    *source = &f->source;
    return THRUM_OK;
}
