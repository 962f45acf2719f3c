/* The commands of the program, and what all of them answer. */
#ifndef THRUM_COMMAND_H
#define THRUM_COMMAND_H

#include "thrum/status.h"

/* Exit status of every command. A batch goes on after a bad file and returns the highest. */
enum exit_code {
    CODE_DONE = 0, /* done; a pick was made, where one was asked for */
    CODE_NO_PICK =
        1, /* done, but no pick: too close, no tone, everywhere; no voice; an input not to be trusted */
    CODE_USAGE = 2,
    CODE_DEVICE = 3,
    CODE_FILE = 4,
    CODE_OUTPUT = 5,      /* something could not be written */
    CODE_BROKEN_OFF = 130 /* by Ctrl-C or a signal */
};

struct command {
    const char *name;
    const char *summary;                                              /* one line for thrum --help */
    const char *help;                                                 /* at most 24 lines of 80 columns */
    int (*run)(const struct command *command, int argc, char **argv); /* argv without the command's name */
};

extern const struct command command_inputs;
extern const struct command command_check;
extern const struct command command_learn;
extern const struct command command_rank;
extern const struct command command_review;
extern const struct command command_round;
extern const struct command command_practice;
extern const struct command command_tone;

/* What a status from opening or reading sound means for the exit status. */
int code_of_source(enum thrum_status status);

#endif
