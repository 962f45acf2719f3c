#include "thrum/status.h"

const char *thrum_status_text(enum thrum_status status)
{
    switch (status) {
    case THRUM_OK:
        return "done";
    case THRUM_ERR_ARG:
        return "an argument is out of range";
    case THRUM_ERR_MEM:
        return "out of memory";
    case THRUM_ERR_DEVICE:
        return "sound device trouble";
    case THRUM_ERR_FILE:
        return "the file cannot be used";
    case THRUM_ERR_FORMAT:
        return "the content is not what it should be";
    case THRUM_ERR_FULL:
        return "no room left";
    case THRUM_ERR_UNSUPPORTED:
        return "not supported here";
    case THRUM_ERR_NOT_FOUND:
        return "nothing found";
    }
    return "unknown status";
}
