/* The spectrogram of a round as a picture: time to the right, frequency up, the louder the darker. */
#ifndef THRUM_PAPER_SPECTROGRAM_PICTURE_H
#define THRUM_PAPER_SPECTROGRAM_PICTURE_H

#include "paper/text.h"
#include "paper/time.h"
#include "thrum/status.h"

/* What the picture shows; all of it stays the caller's. */
struct paper_spectrogram {
    const char *title;
    double total_s;
    double first_s, step_s; /* the time of the first column, and from column to column, > 0 */
    int n_columns;
    int n_rows, stride; /* rows to be seen, and rows there are in a column */
    double row_hz;      /* row k is at k row_hz */
    const float *power; /* [n_columns][stride], any scale, >= 0 */
    struct paper_time time;
};

/* How much time a column of the picture is: a finer step is not seen. */
double paper_spectrogram_step(double total_s);

/**
 * Draw it, as an SVG document: grey on white, 680 units wide, in the strips of paper_level_picture(). From the loudest, black, down to
 * 60 dB less, white.
 *
 * @param[in]     spectrogram  Not NULL.
 * @param[in,out] svg          The document is put at its end.
 * @retval THRUM_OK
 * @retval THRUM_ERR_MEM  As for paper_ranking_picture().
 */
enum thrum_status paper_spectrogram_picture(const struct paper_spectrogram *spectrogram,
                                            struct paper_text *svg);

#endif
