#include "sound/wav_walk.h"

#include <string.h>

#define CHUNK_HEAD   8
#define SIZE_IN_DS64 0xFFFFFFFFu
/* Sizes from here on in a stream mean "until it ends": writers to a pipe put 7fffffff, 80000000 or ffffffff there. */
#define ENDLESS    0x7FF00000u
#define MAX_CHUNKS 100000

struct chunk {
    unsigned char id[4];
    uint32_t size;
};

struct walker {
    struct bytes *bytes;
    struct wav_layout *layout;
    uint64_t ds64_data;
};

static uint32_t get32(const unsigned char *p, bool big)
{
    return big ? (uint32_t)p[0] << 24 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 8 | p[3]
               : (uint32_t)p[3] << 24 | (uint32_t)p[2] << 16 | (uint32_t)p[1] << 8 | p[0];
}

static unsigned get16(const unsigned char *p, bool big)
{
    return big ? (unsigned)p[0] << 8 | p[1] : (unsigned)p[1] << 8 | p[0];
}

static bool get_chunk(struct walker *w, int64_t at, struct chunk *chunk)
{
    unsigned char head[CHUNK_HEAD];
    if (bytes_read_at(w->bytes, at, head, sizeof head) < sizeof head)
        return false;
    memcpy(chunk->id, head, 4);
    chunk->size = get32(head + 4, w->layout->big_endian);
    return true;
}

static bool is(const struct chunk *chunk, const char *id)
{
    return memcmp(chunk->id, id, 4) == 0;
}

static bool printable(const struct chunk *chunk)
{
    for (int i = 0; i < 4; i++)
        if (chunk->id[i] < 0x20 || chunk->id[i] > 0x7E)
            return false;
    return true;
}

static bool well_known(const struct chunk *chunk)
{
    static const char names[][5] = {"LIST", "cue ", "bext", "JUNK", "junk", "PAD ", "FLLR", "fact",
                                    "PEAK", "smpl", "inst", "iXML", "axml", "_PMX", "id3 ", "ID3 ",
                                    "DISP", "plst", "labl", "afsp", "data", "fmt "};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (is(chunk, names[i]))
            return true;
    return false;
}

/* Where the chunk after this one begins: some writers forget the pad byte after an odd size. */
static int64_t after(struct walker *w, int64_t at, uint32_t size)
{
    int64_t plain = at + CHUNK_HEAD + (int64_t)size;
    struct chunk next;
    if (size % 2 == 0 || w->bytes->pipe)
        return plain + (int64_t)(size % 2);
    if (get_chunk(w, plain + 1, &next) && well_known(&next))
        return plain + 1;
    return get_chunk(w, plain, &next) && well_known(&next) ? plain : plain + 1;
}

/* Does a chain of chunks begin here? strict: it must reach the end of the file to the byte. */
static bool is_chain(struct walker *w, int64_t at, bool strict)
{
    int64_t size = w->bytes->size;
    bool known = false;
    for (int i = 0; i < MAX_CHUNKS; i++) {
        struct chunk chunk;
        if (at >= size)
            return true;
        if (size - at < CHUNK_HEAD)
            return !strict;
        if (!get_chunk(w, at, &chunk) || !printable(&chunk) || (int64_t)chunk.size > size - at - CHUNK_HEAD)
            return !strict && known;
        known = known || well_known(&chunk);
        at = after(w, at, chunk.size);
    }
    return false;
}

static void read_format(struct walker *w, int64_t at, uint32_t size)
{
    struct wav_layout *l = w->layout;
    unsigned char f[40] = {0};
    size_t got = bytes_read_at(w->bytes, at + CHUNK_HEAD, f, size < sizeof f ? size : sizeof f);
    if (got < 16 || l->has_format)
        return;
    l->has_format = true;
    l->coding = get16(f, l->big_endian);
    l->channels = get16(f + 2, l->big_endian);
    l->rate_hz = get32(f + 4, l->big_endian);
    l->frame_bytes = get16(f + 12, l->big_endian);
    l->bits = get16(f + 14, l->big_endian);
    if (l->coding == 0xFFFE && got >= 26) /* extensible: the true number leads the sub-format */
        l->coding = get16(f + 24, l->big_endian);
    unsigned sample = (l->bits + 7) / 8;
    if (l->channels > 0 && (l->frame_bytes % l->channels != 0 || l->frame_bytes / l->channels < sample ||
                            l->frame_bytes / l->channels > 8))
        l->frame_bytes = sample * l->channels;
}

/* The data chunk's size is a claim: 0, ffffffff, 7fffffff, wrapped at 4 GiB, or simply an old one. */
static void judge_data(struct walker *w, int64_t at, uint32_t size)
{
    struct wav_layout *l = w->layout;
    uint64_t says = size == SIZE_IN_DS64 && w->ds64_data > 0 ? w->ds64_data : size;
    l->has_data = true;
    l->header_bytes = says;
    l->data_first = at + CHUNK_HEAD;
    if (w->bytes->pipe) {
        l->open_ended = says == 0 || (says >= ENDLESS && w->ds64_data == 0) || says > (uint64_t)BYTES_UNKNOWN;
        l->data_end = l->open_ended ? BYTES_UNKNOWN : l->data_first + (int64_t)says;
        return;
    }
    int64_t there = w->bytes->size - l->data_first;
    l->data_end = w->bytes->size;
    if (says > (uint64_t)there) {
        l->repaired = true;
        l->cut_short = size != SIZE_IN_DS64 && size < ENDLESS;
        return;
    }
    int64_t tail = l->data_first + (int64_t)says;
    if (says == 0) {
        if (is_chain(w, tail, true))
            l->data_end = tail;
        else
            l->repaired = true;
        return;
    }
    int64_t some = (int64_t)l->rate_hz * l->frame_bytes / 20;
    bool chain = is_chain(w, tail, false) || (says % 2 == 1 && is_chain(w, tail + 1, false));
    if (chain || w->bytes->size - tail < (some > 64 ? some : 64))
        l->data_end = tail;
    else
        l->repaired = true;
}

/* Keeps where the marks are. */
static void note_place(struct walker *w, const struct chunk *chunk, int64_t at)
{
    struct wav_layout *l = w->layout;
    int64_t left = w->bytes->size - at - CHUNK_HEAD;
    int64_t size = (int64_t)chunk->size < left ? (int64_t)chunk->size : left;
    if (is(chunk, "cue ") && l->cue_bytes == 0) {
        l->cue_at = at + CHUNK_HEAD;
        l->cue_bytes = size;
    } else if (is(chunk, "LIST") && size >= 4) {
        unsigned char type[4];
        if (bytes_read_at(w->bytes, at + CHUNK_HEAD, type, 4) < 4)
            return;
        if (memcmp(type, "adtl", 4) == 0 && l->n_lists < WAV_MAX_LISTS) {
            l->list_at[l->n_lists] = at + CHUNK_HEAD + 4;
            l->list_bytes[l->n_lists++] = size - 4;
        } else if (memcmp(type, "INFO", 4) == 0 && l->info_at == 0) {
            l->info_at = at + CHUNK_HEAD + 4;
            l->info_bytes = size - 4;
        }
    }
}

static void read_ds64(struct walker *w, int64_t at)
{
    unsigned char d[16];
    if (bytes_read_at(w->bytes, at + CHUNK_HEAD, d, sizeof d) == sizeof d)
        w->ds64_data = (uint64_t)get32(d + 12, false) << 32 | get32(d + 8, false);
}

bool wav_walk(struct bytes *bytes, struct wav_layout *layout)
{
    struct walker w = {.bytes = bytes, .layout = layout, .ds64_data = 0};
    unsigned char head[12];
    memset(layout, 0, sizeof *layout);
    if (bytes_read_at(bytes, 0, head, sizeof head) < sizeof head || memcmp(head + 8, "WAVE", 4) != 0)
        return false;
    bool wide = memcmp(head, "RF64", 4) == 0 || memcmp(head, "BW64", 4) == 0;
    layout->big_endian = memcmp(head, "RIFX", 4) == 0;
    if (!wide && !layout->big_endian && memcmp(head, "RIFF", 4) != 0)
        return false;
    int64_t at = 12;
    struct chunk chunk;
    for (int i = 0; i < MAX_CHUNKS && get_chunk(&w, at, &chunk); i++) {
        if (is(&chunk, "ds64") && wide) {
            read_ds64(&w, at);
        } else if (is(&chunk, "fmt ")) {
            read_format(&w, at, chunk.size);
        } else if (is(&chunk, "data") && !layout->has_data) {
            judge_data(&w, at, chunk.size);
            if (bytes->pipe || layout->data_end >= bytes->size)
                break;
            int64_t end = layout->data_end;
            at = after(&w, end - CHUNK_HEAD - (int64_t)(layout->header_bytes % 2),
                       (uint32_t)(layout->header_bytes % 2));
            continue;
        } else {
            note_place(&w, &chunk, at);
        }
        at = after(&w, at, chunk.size);
    }
    return true;
}
