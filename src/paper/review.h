/* The review of a round as one self-contained page: HTML that is XML too, no script, nothing fetched from anywhere. */
#ifndef THRUM_PAPER_REVIEW_H
#define THRUM_PAPER_REVIEW_H

#include "paper/level_picture.h"
#include "paper/ranking_picture.h"
#include "paper/spectrogram_picture.h"
#include "paper/text.h"
#include "thrum/round.h"

struct paper_note {
    const char *code; /* "gain-riding" */
    const char *text; /* what it is and what to do */
};

/* Sound to be played. Shape of both: [n], full scale = +/-1. */
struct paper_sound {
    double rate_hz;
    size_t n;
    const float *raw, *clean;
    double gain_db; /* by which clean is louder */
    const struct paper_span
        *touch; /* [n_touches]: where only touches are in it, which; NULL: it is all of the sound */
    int n_touches, left_out; /* so many more touches are missing */
};

/* A recording that says where it comes from. Either may be "". */
struct paper_origin {
    const char *recording;
    char start[32];  /* when it was begun */
    char input[200]; /* what it was made with */
};

/* What the page shows. Nothing may be NULL unless it says so; all of it stays the caller's. */
struct paper_review {
    const struct thrum_snapshot *snapshot; /* of the finished round: touches and senders */
    const struct paper_origin *origin;     /* [n_origins] */
    int n_origins;
    const char *mains;                   /* its frequency and level, as words */
    const char *const *source;           /* [n_readings]: the recording a touch came from; each may be NULL */
    const struct paper_ranking *ranking; /* [n_senders] */
    const struct paper_levels *levels;   /* [n_senders]; NULL: the sound could not be heard a second time */
    const struct paper_spectrogram *spectrogram; /* NULL, with sound: there is none... */
    const struct paper_sound *sound;
    const char *no_sound;          /* ...and why; "" where there is */
    const char *const *voice;      /* [n_senders]: what the sender sounds like, as words */
    const char *const *advice;     /* [n_senders]: what to change, as words; "" for nothing */
    const struct paper_note *note; /* [n_notes]: faults of the input and of the recordings */
    int n_notes;
    const char *printed; /* the same round in plain text */
};

/**
 * Write the page, in UTF-8. The same review gives the same bytes.
 *
 * @param[in]     review  Not NULL.
 * @param[in,out] page    Put at its end.
 * @retval THRUM_OK
 * @retval THRUM_ERR_MEM  There was no memory; page is marked as failed.
 */
enum thrum_status paper_review_page(const struct paper_review *review, struct paper_text *page);

#endif
