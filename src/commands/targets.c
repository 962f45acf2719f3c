#include "commands/targets.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "commands/command.h"
#include "sound/message.h"

/* TAG=FILE, unless there is a file of that whole name. */
static const char *equals_in(const char *argument)
{
    const char *equals = strchr(argument, '='), *slash = strchr(argument, '/');
    if (!equals || equals == argument || (slash && slash < equals) || access(argument, F_OK) == 0)
        return NULL;
    return equals;
}

/* The name without folders and without what follows its last dot. */
static void stem_of(const char *path, char *stem, size_t size)
{
    const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path, *dot = strrchr(name, '.');
    size_t n = dot && dot > name ? (size_t)(dot - name) : strlen(name);
    n = n < size ? n : size - 1;
    memcpy(stem, name, n);
    stem[n] = 0;
}

/* Bytes that are no printable character would disturb a terminal and are no JSON. */
static void make_plain(char *text)
{
    for (; *text; text++)
        if ((unsigned char)*text < 0x20 || *text == 0x7F)
            *text = '?';
}

static int read_one(const char *argument, struct target *target, struct thrum_message *message)
{
    const char *equals = equals_in(argument);
    target->tagged = equals != NULL;
    target->path = equals ? equals + 1 : argument;
    if (!*target->path) {
        message_set(message, "'%.100s' names no file after the =", argument);
        return CODE_USAGE;
    }
    if (equals) {
        size_t n = (size_t)(equals - argument);
        n = n < sizeof target->touch ? n : sizeof target->touch - 1;
        memcpy(target->touch, argument, n);
        target->touch[n] = 0;
    } else if (strcmp(argument, "-") == 0) {
        memcpy(target->touch, "stdin", sizeof "stdin");
    } else {
        stem_of(argument, target->touch, sizeof target->touch);
    }
    make_plain(target->touch);
    size_t n = strcspn(target->touch, "~");
    if (n == 0 || n >= THRUM_WIRE_TAG_SIZE) {
        message_set(message, "'%.100s' gives no tag of 1 to %d bytes; say which wire it is: w07=%.100s",
                    argument, THRUM_WIRE_TAG_SIZE - 1, target->path);
        return CODE_USAGE;
    }
    memcpy(target->tag, target->touch, n);
    target->tag[n] = 0;
    return CODE_DONE;
}

int targets_read(char *const *arguments, int n, struct target **targets, struct thrum_message *message)
{
    struct target *list = calloc((size_t)n + 1, sizeof *list);
    int code = CODE_DONE;
    if (!list) {
        message_set(message, "%s", thrum_status_text(THRUM_ERR_MEM));
        code = CODE_FILE;
    }
    for (int i = 0; i < n && code == CODE_DONE; i++) {
        code = read_one(arguments[i], &list[i], message);
        for (int k = 0; k < i && code == CODE_DONE; k++) {
            if (strcmp(list[i].touch, list[k].touch) != 0 && strcmp(list[i].path, list[k].path) != 0)
                continue;
            message_set(message,
                        "wire %s is there twice: %.120s and %.120s; a second touch of the same wire is named "
                        "%.31s~2=FILE or %.31s~2.wav",
                        list[i].tag, list[k].path, list[i].path, list[i].tag, list[i].tag);
            code = CODE_USAGE;
        }
    }
    if (code != CODE_DONE) {
        free(list);
        list = NULL;
    }
    *targets = list;
    return code;
}
