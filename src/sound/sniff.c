#include "sound/sniff.h"

#include <stdbool.h>
#include <string.h>

struct signature {
    size_t at;
    size_t size;
    const char *bytes;
    enum sniffed kind;
    const char *name;
};

/* Order matters: the first that fits wins. */
static const struct signature signatures[] = {
    {4, 8, "ftypM4A ", SNIFF_CONVERT, "an M4A file (AAC or ALAC sound)"},
    {4, 7, "ftypM4B", SNIFF_CONVERT, "an M4B file (AAC sound)"},
    {4, 7, "ftyp3gp", SNIFF_CONVERT, "a 3GP file (AMR or AAC sound of a phone)"},
    {4, 7, "ftyp3g2", SNIFF_CONVERT, "a 3G2 file (sound of a phone)"},
    {4, 6, "ftypqt", SNIFF_CONVERT, "a QuickTime file"},
    {4, 4, "ftyp", SNIFF_CONVERT, "an MP4 file"},
    {0, 4, "\x1A\x45\xDF\xA3", SNIFF_CONVERT, "a WebM or Matroska file"},
    {0, 9, "#!AMR-WB\n", SNIFF_CONVERT, "an AMR-WB file (speech of a phone)"},
    {0, 5, "#!AMR", SNIFF_CONVERT, "an AMR file (speech of a phone)"},
    {0, 4, "\x30\x26\xB2\x75", SNIFF_CONVERT, "a Windows Media file"},
    {0, 4, "ADIF", SNIFF_CONVERT, "an AAC file"},
    {0, 4, "wvpk", SNIFF_CONVERT, "a WavPack file"},
    {0, 4, "MAC ", SNIFF_CONVERT, "a Monkey's Audio file"},
    {0, 4, "DSD ", SNIFF_CONVERT, "a DSD file"},
    {0, 4, "FLV\x01", SNIFF_CONVERT, "a Flash video file"},
    {8, 4, "AVI ", SNIFF_CONVERT, "an AVI video file"},
    {0, 4, "fLaC", SNIFF_STREAMS, NULL},
    {0, 4, ".snd", SNIFF_STREAMS, NULL},
    {8, 4, "AIFF", SNIFF_STREAMS, NULL},
    {8, 4, "AIFC", SNIFF_STREAMS, NULL},
    {0, 4, "OggS", SNIFF_SEEKS, NULL},
    {0, 4, "caff", SNIFF_SEEKS, NULL},
    {0, 4, "riff", SNIFF_SEEKS, NULL},
    {0, 3, "ID3", SNIFF_SEEKS, NULL},
};

static bool fits(const struct signature *s, const unsigned char *head, size_t size)
{
    return size >= s->at + s->size && memcmp(head + s->at, s->bytes, s->size) == 0;
}

static bool is_wav(const unsigned char *head, size_t size)
{
    static const char kinds[][5] = {"RIFF", "RIFX", "RF64", "BW64"};
    for (size_t i = 0; size >= 12 && i < sizeof kinds / sizeof kinds[0]; i++)
        if (memcmp(head, kinds[i], 4) == 0 && memcmp(head + 8, "WAVE", 4) == 0)
            return true;
    return false;
}

enum sniffed sniff(const unsigned char *head, size_t size, const char **what)
{
    *what = NULL;
    if (size == 0)
        return SNIFF_EMPTY;
    if (is_wav(head, size))
        return SNIFF_WAV;
    for (size_t i = 0; i < sizeof signatures / sizeof signatures[0]; i++) {
        if (fits(&signatures[i], head, size)) {
            *what = signatures[i].name;
            return signatures[i].kind;
        }
    }
    if (size >= 2 && head[0] == 0xFF && (head[1] & 0xF6) == 0xF0) { /* ADTS: layer bits are 00 */
        *what = "an AAC file";
        return SNIFF_CONVERT;
    }
    if (size >= 2 && head[0] == 0xFF && (head[1] & 0xE0) == 0xE0)
        return SNIFF_SEEKS;
    return SNIFF_UNKNOWN;
}
