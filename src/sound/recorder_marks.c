#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "sound/marks_journal.h"
#include "sound/message.h"
#include "sound/recorder_files.h"
#include "sound/recorder_own.h"

/* The piece of a mark that lies in a part, in frames of that part. The last part has no end yet when open. */
static bool mark_in_part(const struct thrum_mark *mark, const struct part *part, bool open,
                         struct thrum_mark *piece)
{
    uint64_t end = open ? UINT64_MAX : part->first + part->frames;
    uint64_t mark_end = mark->end > mark->first ? mark->end : mark->first + 1;
    if (mark->first >= end || mark_end <= part->first)
        return false;
    *piece = *mark;
    piece->first = mark->first > part->first ? mark->first - part->first : 0;
    piece->end = mark->end > mark->first ? (mark->end < end ? mark->end : end) - part->first : 0;
    return true;
}

enum thrum_status thrum_recorder_mark(struct thrum_recorder *r, const struct thrum_mark *mark)
{
    if (r->n_marks == THRUM_RECORDER_MARKS)
        return THRUM_ERR_FULL;
    struct thrum_mark *kept = &r->mark[r->n_marks++];
    bool written = true;
    *kept = *mark;
    kept->label[sizeof kept->label - 1] = '\0';
    for (char *p = kept->label; *p; p++)
        *p = (unsigned char)*p < 0x20 || *p == 0x7F ? ' ' : *p;
    for (int i = 0; i < r->n_parts; i++) {
        struct thrum_mark piece;
        if (mark_in_part(kept, &r->part[i], i == r->n_parts - 1, &piece))
            written = marks_journal_add(r->part[i].path, &piece) && written;
    }
    return written ? THRUM_OK : THRUM_ERR_FILE;
}

enum thrum_status thrum_recorder_unmark(struct thrum_recorder *r, const char *label)
{
    size_t i = r->n_marks;
    while (i > 0 && strcmp(r->mark[i - 1].label, label) != 0)
        i--;
    if (i == 0)
        return THRUM_ERR_NOT_FOUND;
    bool written = true;
    for (int p = 0; p < r->n_parts; p++) {
        struct thrum_mark piece;
        if (mark_in_part(&r->mark[i - 1], &r->part[p], p == r->n_parts - 1, &piece))
            written = marks_journal_take_back(r->part[p].path, label) && written;
    }
    memmove(&r->mark[i - 1], &r->mark[i], (r->n_marks - i) * sizeof r->mark[0]);
    r->n_marks--;
    return written ? THRUM_OK : THRUM_ERR_FILE;
}

static int by_time(const void *a, const void *b)
{
    const struct thrum_mark *x = a;
    const struct thrum_mark *y = b;
    if (x->first != y->first)
        return x->first < y->first ? -1 : 1;
    return x->end < y->end ? -1 : x->end > y->end;
}

/* 0 or errno. */
static int embed_part(struct thrum_recorder *r, const struct part *part, struct thrum_mark *piece)
{
    size_t n = 0;
    for (size_t i = 0; i < r->n_marks; i++)
        n += mark_in_part(&r->mark[i], part, false, &piece[n]) ? 1 : 0;
    qsort(piece, n, sizeof *piece, by_time);
    int error = n > 0 ? wav_embed_marks(part->path, piece, n) : 0;
    if (error == 0)
        marks_journal_remove(part->path);
    return error;
}

enum thrum_status recorder_embed_all(struct thrum_recorder *r, struct thrum_message *message)
{
    enum thrum_status status = THRUM_OK;
    struct thrum_mark *piece = calloc(r->n_marks + 1, sizeof *piece);
    for (int i = 0; i < r->n_parts; i++) {
        int error = piece ? embed_part(r, &r->part[i], piece) : ENOMEM;
        if (error) {
            char shown[200];
            char why[80];
            text_path(shown, sizeof shown, r->part[i].path);
            text_errno(why, sizeof why, error);
            message_set(
                message,
                "the marks could not be put into %s (%s); they stay in %s.marks: keep both files together",
                shown, why, shown);
            status = recording_status(error);
        }
    }
    free(piece);
    return status;
}
