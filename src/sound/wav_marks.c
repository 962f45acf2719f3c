#include <stdlib.h>
#include <string.h>

#include "sound/wav_walk.h"

#define CUE_POINT_BYTES 24
#define LIST_BYTES_MAX  (1 << 20)

static uint32_t get32(const unsigned char *p, bool big)
{
    return big ? (uint32_t)p[0] << 24 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 8 | p[3]
               : (uint32_t)p[3] << 24 | (uint32_t)p[2] << 16 | (uint32_t)p[1] << 8 | p[0];
}

struct cue {
    uint32_t id;
    size_t order;
    struct thrum_mark mark;
};

struct cues {
    struct cue *cue;
    size_t n;
    bool big;
};

static bool read_cues(struct bytes *bytes, const struct wav_layout *l, struct cues *cues)
{
    size_t room = (size_t)(l->cue_bytes - 4) / CUE_POINT_BYTES;
    unsigned char count[4];
    if (bytes_read_at(bytes, l->cue_at, count, 4) < 4)
        return true;
    size_t n = get32(count, cues->big);
    n = n < room ? n : room;
    n = n < WAV_MAX_MARKS ? n : WAV_MAX_MARKS;
    if (n == 0)
        return true;
    cues->cue = calloc(n, sizeof *cues->cue);
    if (!cues->cue)
        return false;
    for (size_t i = 0; i < n; i++) {
        unsigned char p[CUE_POINT_BYTES];
        if (bytes_read_at(bytes, l->cue_at + 4 + (int64_t)(i * CUE_POINT_BYTES), p, sizeof p) < sizeof p)
            break;
        cues->cue[i].id = get32(p, cues->big);
        cues->cue[i].order = i;
        uint32_t place = get32(p + 20, cues->big);
        cues->cue[i].mark.first = place ? place : get32(p + 4, cues->big);
        cues->n = i + 1;
    }
    return true;
}

static struct cue *find(struct cues *cues, uint32_t id)
{
    for (size_t i = 0; i < cues->n; i++)
        if (cues->cue[i].id == id)
            return &cues->cue[i];
    return NULL;
}

/* Text up to its first NUL, cut to fit, without control characters and without half a UTF-8 character at the end. */
static void take_label(char *label, const unsigned char *text, size_t size)
{
    size_t n = 0;
    while (n < size && n + 1 < sizeof((struct thrum_mark *)0)->label && text[n] != 0) {
        label[n] = text[n] < 0x20 || text[n] == 0x7F ? ' ' : (char)text[n];
        n++;
    }
    if (n < size && text[n] != 0)
        while (n > 0 && (text[n] & 0xC0) == 0x80)
            n--;
    label[n] = '\0';
}

static void read_list(const unsigned char *p, size_t size, struct cues *cues)
{
    size_t at = 0;
    while (size - at >= 12) {
        size_t length = get32(p + at + 4, cues->big);
        if (length > size - at - 8)
            length = size - at - 8;
        const unsigned char *body = p + at + 8;
        struct cue *cue = length >= 4 ? find(cues, get32(body, cues->big)) : NULL;
        if (cue && memcmp(p + at, "labl", 4) == 0) {
            take_label(cue->mark.label, body + 4, length - 4);
        } else if (cue && memcmp(p + at, "ltxt", 4) == 0 && length >= 20) {
            uint32_t frames = get32(body + 4, cues->big);
            cue->mark.end = frames > 0 ? cue->mark.first + frames : 0;
            if (length > 20 && cue->mark.label[0] == '\0')
                take_label(cue->mark.label, body + 20, length - 20);
        }
        size_t step = 8 + length + length % 2;
        if (step > size - at)
            break;
        at += step;
    }
}

static int by_time(const void *a, const void *b)
{
    const struct cue *x = a;
    const struct cue *y = b;
    if (x->mark.first != y->mark.first)
        return x->mark.first < y->mark.first ? -1 : 1;
    return x->order < y->order ? -1 : 1;
}

static bool read_lists(struct bytes *bytes, const struct wav_layout *l, struct cues *cues)
{
    for (int i = 0; i < l->n_lists; i++) {
        size_t size = (size_t)(l->list_bytes[i] < LIST_BYTES_MAX ? l->list_bytes[i] : LIST_BYTES_MAX);
        unsigned char *list = malloc(size + 1);
        if (!list)
            return false;
        size = bytes_read_at(bytes, l->list_at[i], list, size);
        read_list(list, size, cues);
        free(list);
    }
    return true;
}

bool wav_read_marks(struct bytes *bytes, const struct wav_layout *layout, struct thrum_mark **marks,
                    size_t *n_marks)
{
    struct cues cues = {.cue = NULL, .n = 0, .big = layout->big_endian};
    bool done = true;
    *marks = NULL;
    *n_marks = 0;
    if (layout->cue_bytes < 4 + CUE_POINT_BYTES)
        return true;
    done = read_cues(bytes, layout, &cues) && read_lists(bytes, layout, &cues);
    if (done && cues.n > 0) {
        *marks = calloc(cues.n, sizeof **marks);
        done = *marks != NULL;
    }
    if (done && cues.n > 0) {
        qsort(cues.cue, cues.n, sizeof *cues.cue, by_time);
        for (size_t i = 0; i < cues.n; i++)
            (*marks)[i] = cues.cue[i].mark;
        *n_marks = cues.n;
    }
    free(cues.cue);
    return done;
}

bool wav_read_comment(struct bytes *bytes, const struct wav_layout *layout, char **comment)
{
    *comment = NULL;
    if (layout->info_bytes < 8)
        return true;
    size_t size = (size_t)(layout->info_bytes < LIST_BYTES_MAX ? layout->info_bytes : LIST_BYTES_MAX);
    unsigned char *info = malloc(size);
    if (!info)
        return false;
    size = bytes_read_at(bytes, layout->info_at, info, size);
    for (size_t at = 0; size - at >= 8;) {
        size_t length = get32(info + at + 4, layout->big_endian);
        length = length < size - at - 8 ? length : size - at - 8;
        if (memcmp(info + at, "ICMT", 4) == 0) {
            *comment = malloc(length + 1);
            if (*comment) {
                memcpy(*comment, info + at + 8, length);
                (*comment)[length] = '\0';
            }
            free(info);
            return *comment != NULL;
        }
        size_t step = 8 + length + length % 2;
        at += step < size - at ? step : size - at;
    }
    free(info);
    return true;
}
