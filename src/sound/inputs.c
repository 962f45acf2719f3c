#include "sound/inputs.h"

#include "sound/device_list.h"
#include "sound/host.h"
#include "sound/message.h"
#include "sound/pa_stream.h"
#include "sound/quiet.h"

enum thrum_status thrum_inputs_list(struct thrum_input *inputs, int max, int *count,
                                    struct thrum_message *message)
{
    struct sound_host host = sound_host_real();
    struct pa_stream pa = {.stream = NULL};
    struct device_list list;
    struct thrum_quiet *quiet = thrum_quiet_begin(NULL);
    *count = 0;
    message_set(message, "%s", "");
    enum thrum_status status =
        pa_stream_begin(&host, &pa, message) == PA_DONE ? device_list_make(&list, false) : THRUM_ERR_DEVICE;
    if (status == THRUM_OK) {
        *count = list.n;
        for (int i = 0; i < list.n && i < max; i++)
            inputs[i] = list.entry[i].info;
        device_list_free(&list);
    } else if (status == THRUM_ERR_MEM) {
        message_set(message, "not enough memory to list the inputs; close other programs");
    }
    pa_stream_end(&host, &pa);
    thrum_quiet_end(quiet);
    return status;
}
