/* Reading a command line against a table of options. Long names only; --name VALUE or --name=VALUE; -- ends them. */
#ifndef THRUM_OPTIONS_H
#define THRUM_OPTIONS_H

#include <stdbool.h>

#include "commands/command.h"

enum option_kind {
    OPTION_FLAG,   /* into: bool */
    OPTION_TEXT,   /* into: const char *, never empty */
    OPTION_TEXTS,  /* into: struct option_texts */
    OPTION_NUMBER, /* into: double */
    OPTION_COUNT,  /* into: int */
    OPTION_SEED    /* into: uint64_t */
};

#define OPTION_TEXTS_MAX 64
struct option_texts {
    int n;
    const char *text[OPTION_TEXTS_MAX];
};

struct option_rule {
    const char *name; /* without the dashes; NULL ends the table */
    enum option_kind kind;
    void *into;
    double low, high; /* for numbers and counts */
    bool *given;      /* set when the option is there; may be NULL */
};

enum options_result {
    OPTIONS_GO,
    OPTIONS_DONE, /* help was asked for and printed */
    OPTIONS_BAD   /* said what is wrong */
};

/* Fills the table's targets. What is no option is moved to the front of argv, *argc becomes the number of those. */
enum options_result options_read(const struct command *command, const struct option_rule *rules, int *argc,
                                 char **argv);

/* A whole text as a number with a decimal point; false for anything else, infinity and NaN included. */
bool number_from_text(const char *text, double *number);

/* The name in the list that is nearest to text, NULL when none is near. names ends with NULL. */
const char *nearest_name(const char *text, const char *const *names);

#endif
