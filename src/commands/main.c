/* thrum: picks the command, keeps the promises that all commands share. */
#include <fcntl.h>
#include <locale.h>
#include <stdio.h>
#include <string.h>

#include "commands/command.h"
#include "commands/options.h"
#include "commands/say.h"
#include "commands/stop.h"
#include "sound/formats.h"

static const struct command *const commands[] = {&command_inputs,   &command_check, &command_learn,
                                                 &command_round,    &command_rank,  &command_review,
                                                 &command_practice, &command_tone};
#define COMMANDS (sizeof commands / sizeof *commands)

static void print_help(FILE *stream)
{
    fputs("thrum: names the wire, out of a bundle, that a tone sender drives.\n"
          "\n"
          "Usage: thrum COMMAND [OPTION...] [FILE...]\n\n",
          stream);
    for (size_t i = 0; i < COMMANDS; i++)
        fprintf(stream, "  %-10s %s\n", commands[i]->name, commands[i]->summary);
    fputs("\n"
          "thrum COMMAND --help says more about each; 'man thrum' has the rest.\n"
          "thrum --version says which version this is, and which sound files it reads.\n"
          "\n"
          "Without a sound input try:   thrum round --from practice:7\n"
          "\n"
          "Before wires are lifted: controller off and unplugged, and a rated meter says\n"
          "there is no voltage. More of this: thrum round --help\n",
          stream);
}

static void print_version(void)
{
    char formats[200], libraries[200];
    sound_formats(formats, sizeof formats);
    sound_libraries(libraries, sizeof libraries);
    printf("thrum %s\nsound files: %s\nFLAC copies of recordings: %s\nlibraries: %s\n", THRUM_VERSION,
           formats, sound_formats_flac() ? "yes" : "no", libraries);
}

static int unknown_command(const char *name)
{
    const char *names[COMMANDS + 1];
    for (size_t i = 0; i < COMMANDS; i++)
        names[i] = commands[i]->name;
    names[COMMANDS] = NULL;
    const char *near = nearest_name(name, names);
    if (near)
        return say_usage("there is no command '%s'; did you mean '%s'?", name, near);
    return say_usage("there is no command '%s'", name);
}

static int run(int argc, char **argv)
{
    if (argc < 2) {
        print_help(stderr);
        return CODE_USAGE;
    }
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0 || strcmp(argv[1], "help") == 0) {
        print_help(stdout);
        return CODE_DONE;
    }
    if (strcmp(argv[1], "--version") == 0) {
        print_version();
        return CODE_DONE;
    }
    for (size_t i = 0; i < COMMANDS; i++) {
        if (strcmp(argv[1], commands[i]->name) == 0) {
            say_command(commands[i]->name);
            return commands[i]->run(commands[i], argc - 2, argv + 2);
        }
    }
    if (argv[1][0] == '-')
        return say_usage("there is no option '%s' before a command", argv[1]);
    return unknown_command(argv[1]);
}

/* Where one was closed, the next file opened would take its place: a recording read as keys, or written to by libraries that
 * complain. Reading from a closed one gives nothing, writing an answer to it fails as it did. */
static void keep_standard_streams(void)
{
    static const int how[] = {O_RDONLY, O_RDONLY, O_WRONLY};
    for (int fd = 0; fd <= 2; fd++)
        if (fcntl(fd, F_GETFD) < 0)
            open("/dev/null", how[fd]);
}

int main(int argc, char **argv)
{
    keep_standard_streams();
    /* Only which characters there are: numbers keep their decimal point in every country. */
    setlocale(LC_CTYPE, "");
    stop_prepare();
    return output_finish(run(argc, argv));
}
