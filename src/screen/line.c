/* The same information as the picture, as one line. */
#include "screen/words.h"

static void append(char *line, size_t size, size_t *used, const char *text)
{
    if (!text[0] || *used >= size)
        return;
    if (*used > 0)
        *used += canvas_copy(line + *used, size - *used, "; ");
    /* A control character in a tag or a name must not reach the terminal by this way either. */
    size_t first = *used;
    *used += canvas_copy(line + *used, size - *used, text);
    for (size_t i = first; i < *used; i++)
        if ((unsigned char)line[i] < 0x20 || line[i] == 0x7F)
            line[i] = '?';
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
