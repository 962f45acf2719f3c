#include "commands/options.h"

#include <errno.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands/say.h"

#define NAME_SIZE 32

bool number_from_text(const char *text, double *number)
{
    char *end;
    if (!*text || strspn(text, "+-.0123456789eE") != strlen(text))
        return false;
    *number = strtod(text, &end);
    return !*end && isfinite(*number);
}

/* Edit distance of two short names. */
static size_t distance(const char *a, const char *b)
{
    size_t row[NAME_SIZE + 1], n = strlen(b);
    if (strlen(a) > NAME_SIZE || n > NAME_SIZE)
        return NAME_SIZE;
    for (size_t j = 0; j <= n; j++)
        row[j] = j;
    for (size_t i = 1; a[i - 1]; i++) {
        size_t corner = row[0];
        row[0] = i;
        for (size_t j = 1; j <= n; j++) {
            size_t swap = corner + (a[i - 1] != b[j - 1]);
            corner = row[j];
            size_t shorter = (row[j] < row[j - 1] ? row[j] : row[j - 1]) + 1;
            row[j] = swap < shorter ? swap : shorter;
        }
    }
    return row[n];
}

const char *nearest_name(const char *text, const char *const *names)
{
    const char *best = NULL;
    size_t least = 3;
    for (; *names; names++) {
        size_t d = distance(text, *names);
        if (d < least && d < strlen(*names)) {
            least = d;
            best = *names;
        }
    }
    return best;
}

static const struct option_rule *rule_named(const struct option_rule *rules, const char *name, size_t length)
{
    for (; rules->name; rules++)
        if (strlen(rules->name) == length && strncmp(rules->name, name, length) == 0)
            return rules;
    return NULL;
}

static enum options_result unknown(const struct option_rule *rules, const char *argument, size_t length)
{
    const char *names[40];
    size_t n = 0;
    for (; rules->name && n + 2 < sizeof names / sizeof *names; rules++)
        names[n++] = rules->name;
    names[n++] = "help";
    names[n] = NULL;
    char name[NAME_SIZE + 1] = "";
    if (argument[1] == '-' && length <= NAME_SIZE)
        memcpy(name, argument + 2, length);
    const char *near = name[0] ? nearest_name(name, names) : NULL;
    if (near)
        say_usage("there is no option '%s'; did you mean '--%s'?", argument, near);
    else
        say_usage("there is no option '%s'", argument);
    return OPTIONS_BAD;
}

static bool take_seed(const char *text, uint64_t *seed)
{
    char *end;
    if (!*text || strspn(text, "0123456789") != strlen(text))
        return false;
    errno = 0;
    *seed = strtoull(text, &end, 10);
    return errno == 0 && !*end;
}

static bool take_number(const struct option_rule *rule, const char *text)
{
    double number;
    bool whole = rule->kind == OPTION_COUNT;
    if (!number_from_text(text, &number) || !(number >= rule->low && number <= rule->high) ||
        (whole && number != floor(number))) {
        say_usage("--%s wants a %s from %g to %g%s, not '%s'", rule->name, whole ? "whole number" : "number",
                  rule->low, rule->high, whole ? "" : " (with a decimal point)", text);
        return false;
    }
    if (whole)
        *(int *)rule->into = (int)number;
    else
        *(double *)rule->into = number;
    return true;
}

static bool take_value(const struct option_rule *rule, const char *text)
{
    if (rule->kind == OPTION_NUMBER || rule->kind == OPTION_COUNT)
        return take_number(rule, text);
    if (rule->kind == OPTION_SEED) {
        if (take_seed(text, rule->into))
            return true;
        say_usage("--%s wants a whole number from 0 up, not '%s'", rule->name, text);
        return false;
    }
    if (!*text) {
        say_usage("--%s wants a value", rule->name);
        return false;
    }
    if (rule->kind == OPTION_TEXT) {
        *(const char **)rule->into = text;
        return true;
    }
    struct option_texts *texts = rule->into;
    if (texts->n == OPTION_TEXTS_MAX) {
        say_usage("--%s is there more than %d times", rule->name, OPTION_TEXTS_MAX);
        return false;
    }
    texts->text[texts->n++] = text;
    return true;
}

/* One option at argv[*i]; *i is moved over its value. */
static enum options_result take_option(const struct option_rule *rules, int argc, char **argv, int *i)
{
    const char *argument = argv[*i], *name = argument + 2, *equals = strchr(name, '=');
    size_t length = equals ? (size_t)(equals - name) : strlen(name);
    const struct option_rule *rule = argument[1] == '-' ? rule_named(rules, name, length) : NULL;
    if (!rule)
        return unknown(rules, argument, length);
    if (rule->given)
        *rule->given = true;
    if (rule->kind == OPTION_FLAG) {
        if (equals) {
            say_usage("--%s takes no value", rule->name);
            return OPTIONS_BAD;
        }
        *(bool *)rule->into = true;
        return OPTIONS_GO;
    }
    if (!equals && *i + 1 >= argc) {
        say_usage("--%s wants a value", rule->name);
        return OPTIONS_BAD;
    }
    return take_value(rule, equals ? equals + 1 : argv[++*i]) ? OPTIONS_GO : OPTIONS_BAD;
}

enum options_result options_read(const struct command *command, const struct option_rule *rules, int *argc,
                                 char **argv)
{
    int kept = 0;
    bool open = true;
    for (int i = 0; i < *argc; i++) {
        if (!open || argv[i][0] != '-' || !argv[i][1]) {
            argv[kept++] = argv[i];
        } else if (strcmp(argv[i], "--") == 0) {
            open = false;
        } else if (strcmp(argv[i], "--help") == 0 || strcmp(argv[i], "-h") == 0) {
            fputs(command->help, stdout);
            return OPTIONS_DONE;
        } else {
            enum options_result result = take_option(rules, *argc, argv, &i);
            if (result != OPTIONS_GO)
                return result;
        }
    }
    *argc = kept;
    return OPTIONS_GO;
}
