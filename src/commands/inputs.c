/* thrum inputs: the list of sound inputs. */
#include "sound/inputs.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "commands/command.h"
#include "commands/json_out.h"
#include "commands/options.h"
#include "commands/say.h"

#define MOST 256

static json_t *input_json(const struct thrum_input *input)
{
    return json_pack("{s:o, s:i, s:o, s:b, s:b, s:b}", "name", json_text(input->name), "channels",
                     input->channels, "rate_hz",
                     input->rate_hz > 0.0 ? json_rounded(input->rate_hz, 1e-3) : json_null(), "default",
                     input->is_default, "monitor", input->monitor, "bluetooth", input->bluetooth);
}

static void print_json(const struct thrum_input *inputs, int n)
{
    json_t *list = json_array();
    for (int i = 0; i < n; i++)
        json_array_append_new(list, input_json(&inputs[i]));
    json_print(json_pack("{s:s, s:o}", "thrum", THRUM_VERSION, "inputs", list));
}

static void print_text(const struct thrum_input *inputs, int n)
{
    for (int i = 0; i < n; i++) {
        const struct thrum_input *input = &inputs[i];
        printf("%c %s: ", input->is_default ? '*' : ' ', input->name);
        printf("%d channel%s", input->channels, input->channels == 1 ? "" : "s");
        if (input->rate_hz > 0.0)
            printf(", %.0f Hz", input->rate_hz);
        if (input->is_default)
            printf(", default");
        if (input->bluetooth)
            printf(", BLUETOOTH: headsets gate and squeeze sound, use a wired input");
        if (input->monitor)
            printf(", MONITOR: hears the loudspeakers, not the probe");
        putchar('\n');
    }
}

/* Sound systems read a user's own settings from the home folder; an input that is set up there is missing without. */
static void say_whose_settings(void)
{
    const char *home = getenv("HOME"), *user = getenv("SUDO_USER");
    if (!home || !home[0])
        say("HOME is not set: nobody's own sound settings (~/.asoundrc) are read");
    else if (access(home, R_OK | X_OK) != 0)
        say("the home folder %s cannot be read: no sound settings of its own (.asoundrc) are used", home);
    else if (user && user[0])
        say("run by sudo: the sound settings in %s are used, which may not be those of %s", home, user);
}

static int inputs(const struct command *command, int argc, char **argv)
{
    bool json = false;
    const struct option_rule rules[] = {
        {.name = "json", .kind = OPTION_FLAG, .into = &json},
        {.name = NULL},
    };
    enum options_result result = options_read(command, rules, &argc, argv);
    if (result != OPTIONS_GO)
        return result == OPTIONS_DONE ? CODE_DONE : CODE_USAGE;
    if (argc > 0)
        return say_usage("there is nothing to say after the command, but '%s' was given", argv[0]);
    say_whose_settings();
    struct thrum_input *list = calloc(MOST, sizeof *list);
    struct thrum_message message = {.text = ""};
    int count = 0;
    enum thrum_status status = list ? thrum_inputs_list(list, MOST, &count, &message) : THRUM_ERR_MEM;
    int n = count < MOST ? count : MOST;
    int code = CODE_DONE;
    if (status == THRUM_OK && json)
        print_json(list, n);
    else if (status == THRUM_OK)
        print_text(list, n);
    if (status != THRUM_OK) {
        say("%s", message.text[0] ? message.text : thrum_status_text(status));
        code = CODE_DEVICE;
    } else if (n == 0) {
        say("no sound input was found: plug the probe's sound card in, close programs that hold it, or try "
            "without: "
            "thrum round --from practice:7");
        code = CODE_DEVICE;
    }
    free(list);
    return code;
}

const struct command command_inputs = {
    .name = "inputs",
    .summary = "lists the sound inputs",
    .help = "Usage: thrum inputs [--json]\n"
            "\n"
            "Lists the sound inputs by the names that --from device:NAME understands; any\n"
            "part of a name is enough, in capitals or not. The default is marked with a *.\n"
            "\n"
            "  --json   one JSON document: {\"thrum\":..., \"inputs\":[{\"name\":...,\n"
            "           \"channels\":..., \"rate_hz\":..., \"default\":..., \"monitor\":...,\n"
            "           \"bluetooth\":...}]}\n"
            "\n"
            "Use a wired input, and switch off whatever improves speech: level control,\n"
            "noise suppression, echo cancelling. They make strengths lie; thrum check tells.\n"
            "\n"
            "Exit status: 0 inputs were found, 2 wrong usage, 3 no sound input.\n",
    .run = inputs,
};
