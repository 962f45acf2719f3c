/* The same information as the picture, as one line. */
#include <string.h>

#include "screen/words.h"

/* A control character in a tag or a name must not reach the terminal by this way either. */
static void append(char *line, size_t size, size_t *used, const char *text)
{
    unsigned long code;
    if (!text[0])
        return;
    if (*used > 0)
        *used += canvas_copy(line + *used, size - *used, " | ");
    for (size_t n; (n = canvas_decode(text, &code)) != 0 && *used + n < size; text += n) {
        bool shown = canvas_printable(code, true);
        memcpy(line + *used, shown ? text : "?", shown ? n : 1);
        *used += shown ? n : 1;
    }
    line[*used] = 0;
}

static void say_now(struct words *words, const struct scene *scene)
{
    const struct thrum_now *now = &scene->snapshot->now;
    if (scene->snapshot->rate_hz > 0.0) {
        words_time(words, (double)now->frames / scene->snapshot->rate_hz);
        words_add(words, " ");
    }
    words_add(words, "wire %s: %s, ", scene->snapshot->current, words_heard(scene));
    words_level(words, words_shown_dbfs(scene));
    words_add(words, " dBFS");
}

size_t thrum_screen_line(const struct thrum_snapshot *snapshot, const struct thrum_screen_facts *facts,
                         char *line, size_t size)
{
    size_t used = 0;
    if (size == 0)
        return 0;
    line[0] = 0;
    struct scene scene = scene_of(snapshot, facts, 0);
    struct words now = {.text = ""}, touch = {.text = ""}, hum = {.text = ""}, next = {.text = ""};
    struct words faults = {.text = ""}, others = {.text = ""}, recording = {.text = ""},
                 verdict = {.text = ""};
    append(line, size, &used, facts->practice ? "PRACTICE" : "");
    append(line, size, &used, facts->message);
    say_now(&now, &scene);
    append(line, size, &used, now.text);
    words_touch(&touch, &scene);
    append(line, size, &used, snapshot->touching || snapshot->finished ? touch.text : "");
    words_hum(&hum, &scene);
    append(line, size, &used, hum.text);
    words_faults(&faults, &scene);
    append(line, size, &used, faults.text);
    words_verdict(&verdict, &scene);
    append(line, size, &used, verdict.text);
    words_next(&next, &scene);
    append(line, size, &used, next.text);
    words_other_senders(&others, &scene);
    append(line, size, &used, others.text);
    words_recording(&recording, &scene);
    append(line, size, &used, facts->record == THRUM_RECORD_OFF ? "" : recording.text);
    return used;
}
