#include "standin_source.h"

#include <string.h>

#include "check.h"
#include "portaudio_standin.h"
#include "sound/device_source.h"

struct thrum_source *standin_open(const char *script, const char *name)
{
    struct thrum_source *source = NULL;
    struct thrum_message message;
    struct sound_host host = standin_host();
    standin_begin(script);
    if (device_source_open(&host, name, &source, &message) != THRUM_OK)
        fail_msg("%s", message.text);
    return source;
}

enum thrum_status standin_refused(const char *script, const char *name, const char *words)
{
    struct thrum_source *source = NULL;
    struct thrum_message message;
    struct sound_host host = standin_host();
    standin_begin(script);
    enum thrum_status status = device_source_open(&host, name, &source, &message);
    assert_null(source);
    if (!strstr(message.text, words))
        fail_msg("'%s' is not in '%s'", words, message.text);
    standin_end();
    return status;
}

void standin_close(struct thrum_source *source)
{
    thrum_source_close(source);
    standin_end();
}
