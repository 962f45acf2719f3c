#include <stdio.h>
#include <string.h>

#include "check.h"
#include "portaudio_standin_own.h"

static bool device_line(const char *line, struct device *d)
{
    return sscanf(line, "api %d", &d->api) == 1 || sscanf(line, "outputs %d", &d->outputs) == 1 ||
           sscanf(line, "channels %d", &d->channels) == 1 || sscanf(line, "rate %lf", &d->rate_hz) == 1 ||
           sscanf(line, "only_channels %d", &d->only_channels) == 1 ||
           sscanf(line, "only_rate %lf", &d->only_rate_hz) == 1 ||
           sscanf(line, "actual_rate %lf", &d->actual_rate_hz) == 1 ||
           sscanf(line, "open_error %d", &d->open_error) == 1 ||
           sscanf(line, "start_error %d", &d->start_error) == 1;
}

static bool word_line(const char *line)
{
    static const struct {
        const char *word;
        bool *flag;
    } words[] = {{"init_blocks", &standin.init_blocks},
                 {"open_blocks", &standin.open_blocks},
                 {"start_blocks", &standin.start_blocks},
                 {"stop_blocks", &standin.stop_blocks},
                 {"abort_blocks", &standin.abort_blocks},
                 {"close_blocks", &standin.close_blocks},
                 {"zeros", &standin.zeros},
                 {"flag_every", &standin.flag_every}};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (strcmp(line, words[i].word) == 0) {
            *words[i].flag = true;
            return true;
        }
    }
    return false;
}

static bool skip_line(const char *line)
{
    unsigned long long at = 0;
    unsigned long long frames = 0;
    bool silent = sscanf(line, "skip_silent %llu %llu", &at, &frames) == 2;
    if (!silent && sscanf(line, "skip %llu %llu", &at, &frames) != 2)
        return false;
    assert_true(standin.n_skips < MAX_SKIPS);
    standin.skip[standin.n_skips++] = (struct skip){.at = at, .frames = frames, .silent = silent};
    return true;
}

static bool output_line(const char *line)
{
    unsigned long long at = 0;
    if (sscanf(line, "room %llu", &at) == 1)
        standin.room = at;
    else if (sscanf(line, "deaf_after %llu", &at) == 1)
        standin.deaf_after = at;
    else if (sscanf(line, "write_error_after %llu %d", &at, &standin.write_error) == 2)
        standin.write_error_after = at;
    else
        return false;
    return true;
}

static bool fault_line(const char *line)
{
    unsigned long long at = 0;
    if (sscanf(line, "holds %llu", &at) == 1) {
        standin.holds = at;
    } else if (sscanf(line, "quiet_after %llu", &at) == 1) {
        standin.quiet_after = at;
    } else if (sscanf(line, "error_after %llu %d", &at, &standin.error) == 2) {
        standin.error_after = at;
    } else if (sscanf(line, "plug_stall %llu", &at) == 1) {
        standin.plug_stall = at;
    } else if (sscanf(line, "stall %llu %lf", &at, &standin.stall_s) == 2) {
        standin.stall_at = at;
    } else {
        return sscanf(line, "default %d", &standin.default_device) == 1 ||
               sscanf(line, "default_output %d", &standin.default_output) == 1 ||
               sscanf(line, "init_error %d", &standin.init_error) == 1 ||
               sscanf(line, "block %u", &standin.block) == 1 || sscanf(line, "ppm %lf", &standin.ppm) == 1 ||
               sscanf(line, "side %d", &standin.side) == 1 ||
               sscanf(line, "return_after %lf", &standin.return_after_s) == 1;
    }
    return true;
}

static void read_line(const char *line)
{
    int l = standin.n_lists - 1;
    int *n = &standin.n_devices[l];
    if (line[0] == '\0')
        return;
    if (strcmp(line, "relist") == 0) {
        assert_int_equal(standin.n_lists, 1);
        standin.n_lists = 2;
        return;
    }
    if (strncmp(line, "device ", 7) == 0) {
        assert_true(*n < MAX_DEVICES);
        struct device *d = &standin.list[l][(*n)++];
        *d = (struct device){.channels = 2, .rate_hz = 48000.0};
        snprintf(d->name, sizeof d->name, "%.127s", line + 7);
        return;
    }
    if ((*n > 0 && device_line(line, &standin.list[l][*n - 1])) || word_line(line) || skip_line(line) ||
        fault_line(line) || output_line(line))
        return;
    fail_msg("stand-in: what is '%s'?", line);
}

void standin_read_script(const char *script)
{
    while (*script) {
        char line[200];
        size_t n = strcspn(script, "\n;");
        const char *from = script;
        size_t length = n;
        while (length > 0 && *from == ' ') {
            from++;
            length--;
        }
        snprintf(line, sizeof line, "%.*s", (int)length, from);
        read_line(line);
        script += n + (script[n] ? 1 : 0);
    }
}
