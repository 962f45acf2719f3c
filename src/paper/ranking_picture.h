/* The ranking of one sender as a picture: wires, bars that show the intervals, chances, the verdict. */
#ifndef THRUM_PAPER_RANKING_PICTURE_H
#define THRUM_PAPER_RANKING_PICTURE_H

#include "paper/text.h"
#include "thrum/status.h"
#include "thrum/units.h"

struct paper_wire {
    char tag[THRUM_WIRE_TAG_SIZE]; /* UTF-8; what is none is shown as U+FFFD */
    bool heard;                    /* false: "no tone" in place of strength and bar */
    double dbfs, low_db, high_db;  /* strength and its 95 % interval; of a wire that is heard */
    int touches;
    char chance[32]; /* as it is shown, "99.35 %" */
};

/* What the picture shows, in the words that are to be shown; none may be NULL, any may be "". It decides nothing itself. */
struct paper_ranking {
    const char *title;      /* sender and voice */
    const char *verdict;    /* the pick, or why there is none */
    const char *silent;     /* "No tone on w01, w02." */
    const char *excluded;   /* "Excluded: w03 (-60.1 dBFS)." */
    const char *next;       /* what to do now */
    double top_db, span_db; /* bars reach from top_db down to span_db less, > 0 */
    int n_wires;            /* in the rows of the picture, the first one on top */
    struct paper_wire wire[THRUM_MAX_WIRES];
};

/**
 * Draw it, as an SVG document: black on white, 680 units wide, letters as outlines, so that it looks the same everywhere.
 *
 * @param[in]     ranking  Not NULL.
 * @param[in,out] svg      The document is put at its end.
 * @retval THRUM_OK
 * @retval THRUM_ERR_MEM  There was no memory, or no way to draw; svg is marked as failed.
 */
enum thrum_status paper_ranking_picture(const struct paper_ranking *ranking, struct paper_text *svg);

#endif
