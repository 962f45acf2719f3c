#include "sound/formats.h"

#include <portaudio.h>
#include <sndfile.h>
#include <string.h>

#include "sound/message.h"

static const struct {
    const char *name;
    int format;
} kinds[] = {
    {"WAV", SF_FORMAT_WAV | SF_FORMAT_PCM_24},
    {"RF64", SF_FORMAT_RF64 | SF_FORMAT_PCM_24},
    {"W64", SF_FORMAT_W64 | SF_FORMAT_PCM_24},
    {"AIFF", SF_FORMAT_AIFF | SF_FORMAT_PCM_24},
    {"AU", SF_FORMAT_AU | SF_FORMAT_PCM_24},
    {"CAF", SF_FORMAT_CAF | SF_FORMAT_PCM_24},
    {"FLAC", SF_FORMAT_FLAC | SF_FORMAT_PCM_24},
    {"Ogg Vorbis", SF_FORMAT_OGG | SF_FORMAT_VORBIS},
    {"Ogg Opus", SF_FORMAT_OGG | SF_FORMAT_OPUS},
    {"MP3", 0x230082}, /* MPEG, layer III: a libsndfile from before 1.1 has no name for it and says no */
};

static bool known(int format)
{
    SF_INFO info = {.samplerate = 48000, .channels = 1, .format = format};
    return sf_format_check(&info) != 0;
}

void sound_formats(char *text, size_t size)
{
    text[0] = '\0';
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        size_t used = strlen(text);
        if (known(kinds[i].format))
            text_set(text + used, size - used, 0, "%s%s", used > 0 ? ", " : "", kinds[i].name);
    }
}

bool sound_formats_flac(void)
{
    return known(SF_FORMAT_FLAC | SF_FORMAT_PCM_24);
}

void sound_libraries(char *text, size_t size)
{
    text_set(text, size, 0, "%s, %s", sf_version_string(), Pa_GetVersionText());
}
