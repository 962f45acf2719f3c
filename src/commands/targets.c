#include "commands/targets.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "commands/command.h"
#include "commands/recorded.h"
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

/* "round-part3.wav" is the third file of round.wav: its number, else 1; *base is the length of what they share. */
static long part_of(const char *path, size_t *base)
{
    const char *slash = strrchr(path, '/'), *dot = strrchr(path, '.');
    size_t n = dot && (!slash || dot > slash) ? (size_t)(dot - path) : strlen(path), digits = n;
    while (digits > 0 && path[digits - 1] >= '0' && path[digits - 1] <= '9')
        digits--;
    bool part = digits < n && digits >= 5 && strncmp(path + digits - 5, "-part", 5) == 0;
    *base = part ? digits - 5 : n;
    return part ? strtol(path + digits, NULL, 10) : 1;
}

bool target_comes_after(const struct target *a, const struct target *b)
{
    size_t a_base, b_base;
    long a_part = part_of(a->path, &a_base), b_part = part_of(b->path, &b_base);
    return a_base == b_base && strncmp(a->path, b->path, a_base) == 0 && a_part > b_part;
}

/* A shell lists round-part2.wav before round.wav. All else stays where it is. */
static void order_parts(struct target *list, int n)
{
    for (int i = 1; i < n; i++) {
        struct target moved = list[i];
        int to = 0;
        while (to < i && !target_comes_after(&list[to], &moved))
            to++;
        memmove(&list[to + 1], &list[to], sizeof *list * (size_t)(i - to));
        list[to] = moved;
    }
}

/* Recordings of rounds bring their own tags along: what the files are called does not matter. */
static bool is_round(const struct target *target)
{
    struct thrum_source *source;
    struct thrum_message ignored;
    if (target->tagged || strcmp(target->path, "-") == 0 ||
        thrum_source_open_file(target->path, &source, &ignored) != THRUM_OK)
        return false;
    bool round = recorded_round(source);
    thrum_source_close(source);
    return round;
}

static int check_twice(const struct target *a, const struct target *b, struct thrum_message *message)
{
    bool same_file = strcmp(a->path, b->path) == 0, same_touch = strcmp(a->touch, b->touch) == 0;
    if (!same_file && (!same_touch || (is_round(a) && is_round(b))))
        return CODE_DONE;
    message_set(message,
                "wire %s is there twice: %.120s and %.120s; a second touch of the same wire is named "
                "%.31s~2=FILE or %.31s~2.wav",
                b->tag, a->path, b->path, b->tag, b->tag);
    return CODE_USAGE;
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
        for (int k = 0; k < i && code == CODE_DONE; k++)
            code = check_twice(&list[k], &list[i], message);
    }
    if (code != CODE_DONE) {
        free(list);
        list = NULL;
    } else {
        order_parts(list, n);
    }
    *targets = list;
    return code;
}
