#include "sound/marks_journal.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define LINE_BYTES 160
#define MAX_MARKS  4096
#define ENDING     ".marks"

static char *journal_path(const char *recording)
{
    size_t length = strlen(recording);
    char *path = malloc(length + sizeof ENDING);
    if (path) {
        memcpy(path, recording, length);
        memcpy(path + length, ENDING, sizeof ENDING);
    }
    return path;
}

/* One write, so that a line is there whole or not at all as far as the system can promise. */
static bool add_line(const char *recording, const char *line)
{
    char *path = journal_path(recording);
    int fd = path ? open(path, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC | O_NOFOLLOW, 0666) : -1;
    free(path);
    if (fd < 0)
        return false;
    struct stat owner;
    if (geteuid() == 0 && stat(recording, &owner) == 0)
        (void)!fchown(fd, owner.st_uid, owner.st_gid);
    size_t length = strlen(line);
    ssize_t put;
    do {
        put = write(fd, line, length);
    } while (put < 0 && errno == EINTR);
    bool done = put == (ssize_t)length;
    return close(fd) == 0 && done;
}

/* Labels are one line. */
static void one_line(char *out, size_t size, const char *label)
{
    size_t n = 0;
    for (; label[n] && n + 1 < size; n++)
        out[n] = (unsigned char)label[n] < 0x20 ? ' ' : label[n];
    out[n] = '\0';
}

bool marks_journal_add(const char *recording, const struct thrum_mark *mark)
{
    char line[LINE_BYTES];
    char label[sizeof mark->label];
    one_line(label, sizeof label, mark->label);
    int n = snprintf(line, sizeof line, "mark %" PRIu64 " %" PRIu64 " %s\n", mark->first, mark->end, label);
    return n > 0 && (size_t)n < sizeof line && add_line(recording, line);
}

bool marks_journal_take_back(const char *recording, const char *label)
{
    char line[LINE_BYTES];
    char shown[64];
    one_line(shown, sizeof shown, label);
    int n = snprintf(line, sizeof line, "unmark %s\n", shown);
    return n > 0 && (size_t)n < sizeof line && add_line(recording, line);
}

static bool parse_mark(const char *line, struct thrum_mark *mark)
{
    char *end = NULL;
    errno = 0;
    mark->first = strtoull(line, &end, 10);
    if (errno || end == line || *end != ' ')
        return false;
    const char *second = end + 1;
    mark->end = strtoull(second, &end, 10);
    if (errno || end == second || *end != ' ')
        return false;
    one_line(mark->label, sizeof mark->label, end + 1);
    return true;
}

static void take_back(struct thrum_mark *marks, size_t *n, const char *label)
{
    for (size_t i = *n; i > 0; i--) {
        if (strcmp(marks[i - 1].label, label) == 0) {
            memmove(&marks[i - 1], &marks[i], (*n - i) * sizeof *marks);
            (*n)--;
            return;
        }
    }
}

static int by_time(const void *a, const void *b)
{
    const struct thrum_mark *x = a;
    const struct thrum_mark *y = b;
    return x->first < y->first ? -1 : x->first > y->first;
}

/* One line, its newline taken away. */
static void take_line(const char *line, struct thrum_mark *found, size_t *n)
{
    if (strncmp(line, "mark ", 5) == 0 && *n < MAX_MARKS)
        *n += parse_mark(line + 5, &found[*n]) ? 1 : 0;
    else if (strncmp(line, "unmark ", 7) == 0)
        take_back(found, n, line + 7);
}

bool marks_journal_load(const char *recording, struct thrum_mark **marks, size_t *n_marks)
{
    char line[LINE_BYTES];
    char *path = journal_path(recording);
    FILE *file = path ? fopen(path, "re") : NULL;
    free(path);
    *marks = NULL;
    *n_marks = 0;
    struct thrum_mark *found = file ? calloc(MAX_MARKS, sizeof *found) : NULL;
    if (!found) {
        if (file)
            fclose(file);
        return false;
    }
    while (fgets(line, sizeof line, file)) {
        char *newline = strchr(line, '\n');
        if (!newline)
            break;
        *newline = '\0';
        take_line(line, found, n_marks);
    }
    fclose(file);
    qsort(found, *n_marks, sizeof *found, by_time);
    *marks = found;
    return true;
}

char *marks_to_text(const struct thrum_mark *marks, size_t n)
{
    char *text = malloc(n * LINE_BYTES + 1);
    size_t used = 0;
    for (size_t i = 0; text && i < n; i++) {
        int length = snprintf(text + used, LINE_BYTES, "mark %" PRIu64 " %" PRIu64 " %s\n", marks[i].first,
                              marks[i].end, marks[i].label);
        used += length > 0 && length < LINE_BYTES ? (size_t)length : 0;
    }
    if (text)
        text[used] = '\0';
    return text;
}

bool marks_from_text(const char *text, struct thrum_mark **marks, size_t *n_marks)
{
    char line[LINE_BYTES];
    *marks = calloc(MAX_MARKS, sizeof **marks);
    *n_marks = 0;
    for (const char *end; *marks && (end = strchr(text, '\n')) != NULL; text = end + 1) {
        size_t length = (size_t)(end - text);
        if (length < sizeof line) {
            memcpy(line, text, length);
            line[length] = '\0';
            take_line(line, *marks, n_marks);
        }
    }
    if (*marks)
        qsort(*marks, *n_marks, sizeof **marks, by_time);
    return *marks != NULL;
}

void marks_journal_remove(const char *recording)
{
    char *path = journal_path(recording);
    if (path)
        (void)unlink(path);
    free(path);
}
