#include "commands/marks_file.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands/command.h"
#include "commands/options.h"
#include "sound/message.h"
#include "thrum/units.h"

#define LINE_SIZE 512
#define MOST_S    1e7

static bool add_mark(struct thrum_mark **marks, size_t *n, const struct thrum_mark *mark)
{
    if ((*n & (*n - 1)) == 0) { /* a power of two, or none: the array is full */
        struct thrum_mark *more = realloc(*marks, sizeof *more * (*n ? 2 * *n : 1));
        if (!more)
            return false;
        *marks = more;
    }
    (*marks)[(*n)++] = *mark;
    return true;
}

/* Cuts a field off the line at its comma, with spaces and quotes around it taken away; NULL when there is none. */
static char *next_field(char **line)
{
    char *field = *line;
    if (!field)
        return NULL;
    char *comma = strchr(field, ',');
    *line = comma ? comma + 1 : NULL;
    if (comma)
        *comma = 0;
    field += strspn(field, " \t\"");
    size_t n = strlen(field);
    while (n > 0 && strchr(" \t\"", field[n - 1]))
        field[--n] = 0;
    return field;
}

/* NULL when the line is a mark, else what is wrong with it. */
static const char *parse(char *line, double rate_hz, struct thrum_mark *mark)
{
    double start_s, end_s;
    char *tag = next_field(&line), *start = next_field(&line), *end = next_field(&line);
    if (!tag || !start || !end || line)
        return "three fields are wanted: tag,start_s,end_s";
    if (!*tag)
        return "the tag is missing";
    if (strlen(tag) >= THRUM_WIRE_TAG_SIZE)
        return "the tag is longer than 31 bytes";
    if (!number_from_text(start, &start_s) || !number_from_text(end, &end_s))
        return "start and end are wanted in seconds, with a decimal point";
    if (!(start_s >= 0.0 && end_s > start_s && end_s < MOST_S))
        return "the end must come after the start";
    mark->first = (uint64_t)(start_s * rate_hz + 0.5);
    mark->end = (uint64_t)(end_s * rate_hz + 0.5);
    snprintf(mark->label, sizeof mark->label, "%s", tag);
    return NULL;
}

static bool is_heading(const char *line)
{
    return strncmp(line, "tag", 3) == 0 && strstr(line, "start") != NULL;
}

static int read_lines(FILE *file, const char *path, double rate_hz, struct thrum_mark **marks, size_t *n,
                      struct thrum_message *message)
{
    char line[LINE_SIZE];
    for (int number = 1; fgets(line, sizeof line, file); number++) {
        char *text = line;
        if (number == 1 && strncmp(text, "\xEF\xBB\xBF", 3) == 0)
            text += 3;
        text[strcspn(text, "\r\n")] = 0;
        if (!*text || *text == '#' || (number == 1 && is_heading(text)))
            continue;
        struct thrum_mark mark;
        const char *wrong =
            strlen(text) < LINE_SIZE - 8 ? parse(text, rate_hz, &mark) : "the line is too long";
        if (!wrong && !add_mark(marks, n, &mark))
            wrong = thrum_status_text(THRUM_ERR_MEM);
        if (wrong) {
            message_set(message, "%.200s, line %d: %s", path, number, wrong);
            return CODE_FILE;
        }
    }
    if (ferror(file)) {
        message_set(message, "%.200s cannot be read: %s", path, strerror(errno));
        return CODE_FILE;
    }
    if (*n == 0) {
        message_set(message, "%.200s holds no marks; a line is: w07,12.5,15.5", path);
        return CODE_FILE;
    }
    return CODE_DONE;
}

int marks_read(const char *path, double rate_hz, struct thrum_mark **marks, size_t *n,
               struct thrum_message *message)
{
    *marks = NULL;
    *n = 0;
    FILE *file = fopen(path, "r");
    if (!file) {
        message_set(message, "the marks %.200s cannot be read: %s", path, strerror(errno));
        return CODE_FILE;
    }
    int code = read_lines(file, path, rate_hz, marks, n, message);
    fclose(file);
    return code;
}

int marks_inside(const struct thrum_source *source, struct thrum_mark **marks, size_t *n,
                 struct thrum_message *message)
{
    size_t all = thrum_source_marks(source, NULL, 0);
    *marks = NULL;
    *n = 0;
    if (all == 0)
        return CODE_DONE;
    *marks = malloc(sizeof **marks * all);
    if (!*marks) {
        message_set(message, "%s", thrum_status_text(THRUM_ERR_MEM));
        return CODE_FILE;
    }
    thrum_source_marks(source, *marks, all);
    for (size_t i = 0; i < all; i++)
        if ((*marks)[i].label[0] && (*marks)[i].label[0] != '~') /* a note is no touch */
            (*marks)[(*n)++] = (*marks)[i];
    return CODE_DONE;
}
