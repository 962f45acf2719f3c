/* The strength of one sender over time as a picture: its level, and the touches with what they measured. */
#ifndef THRUM_PAPER_LEVEL_PICTURE_H
#define THRUM_PAPER_LEVEL_PICTURE_H

#include <stddef.h>

#include "paper/text.h"
#include "paper/time.h"
#include "thrum/status.h"

/* What the picture shows; all of it stays the caller's. */
struct paper_levels {
    const char *title;
    double step_s;     /* from level to level, > 0 */
    const float *dbfs; /* [n_levels]; NaN: not known, a gap in the line */
    size_t n_levels;
    struct paper_time time;
};

/**
 * Draw it, as an SVG document: black on white, 680 units wide, in strips one under the other, 24 at most. Levels reach from the strongest
 * of all down to 60 dB less.
 *
 * @param[in]     levels  Not NULL. Without a level, the title alone.
 * @param[in,out] svg     The document is put at its end.
 * @retval THRUM_OK
 * @retval THRUM_ERR_MEM  As for paper_ranking_picture().
 */
enum thrum_status paper_level_picture(const struct paper_levels *levels, struct paper_text *svg);

#endif
