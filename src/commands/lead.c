#include "commands/lead.h"

#include <string.h>

#include "commands/command.h"
#include "commands/say.h"
#include "sound/quiet.h"

static int listen_quietly(const char *from, const char *path,
                          int (*heard)(const void *job, struct intake *intake), const void *job)
{
    struct intake_config config = {.from = from, .hand = PRACTICE_AT_LEAD};
    struct intake *intake;
    struct thrum_message message;
    if (path && strcmp(path, "-") == 0)
        config.from = "-";
    else if (path)
        config.path = path;
    int code = intake_open(&config, &intake, &message);
    if (code == CODE_USAGE && path)
        code = CODE_FILE;
    if (code != CODE_DONE) {
        char line[700];
        say_about(path ? path : "", message.text, line, sizeof line);
        say("%s", path ? line : message.text);
        return code;
    }
    code = heard(job, intake);
    intake_close(intake);
    return code;
}

int lead_listen(const char *from, const char *path, int (*heard)(const void *job, struct intake *intake),
                const void *job)
{
    struct thrum_quiet *quiet = thrum_quiet_begin(NULL);
    say_stream(thrum_quiet_stream(quiet));
    int code = listen_quietly(from, path, heard, job);
    say_stream(NULL);
    thrum_quiet_end(quiet);
    return code;
}
