/* The same information as the picture, as one line. */
#include <string.h>

#include "screen/words.h"

struct line {
    char *out;
    size_t size;
    size_t used;
    bool full; /* something has not fitted: nothing more comes */
};

/* A control character in a tag or a name must not reach the terminal by this way either. */
static void put(struct line *line, const char *text)
{
    unsigned long code;
    for (size_t n; !line->full && (n = canvas_decode(text, &code)) != 0; text += n) {
        bool shown = canvas_printable(code, true);
        size_t bytes = shown ? n : 1;
        line->full = line->used + bytes >= line->size;
        if (line->full)
            break;
        memcpy(line->out + line->used, shown ? text : "?", bytes);
        line->used += bytes;
    }
    line->out[line->used] = 0;
}

static void append(struct line *line, const char *text)
{
    if (!text[0])
        return;
    if (line->used > 0)
        put(line, " | ");
    put(line, text);
}

static void say_now(struct words *words, const struct scene *scene)
{
    const struct thrum_now *now = &scene->snapshot->now;
    if (scene->snapshot->rate_hz > 0.0) {
        words_time(words, (double)now->frames / scene->snapshot->rate_hz);
        words_add(words, " ");
    }
    words_current(words, scene->snapshot);
    words_add(words, ": %s, ", words_heard(scene));
    words_level(words, words_shown_dbfs(scene));
    words_add(words, " dBFS");
}

size_t thrum_screen_line(const struct thrum_snapshot *snapshot, const struct thrum_screen_facts *facts,
                         char *line, size_t size)
{
    struct line out = {.out = line, .size = size};
    if (size == 0)
        return 0;
    line[0] = 0;
    struct scene scene = scene_of(snapshot, facts, 0);
    struct words now = {.text = ""}, touch = {.text = ""}, hum = {.text = ""}, next = {.text = ""};
    struct words faults = {.text = ""}, others = {.text = ""}, recording = {.text = ""},
                 verdict = {.text = ""};
    append(&out, facts->practice ? "PRACTICE" : "");
    append(&out, facts->message);
    say_now(&now, &scene);
    append(&out, now.text);
    words_touch(&touch, &scene);
    append(&out, snapshot->touching || snapshot->finished ? touch.text : "");
    words_hum(&hum, &scene);
    append(&out, hum.text);
    words_faults(&faults, &scene);
    append(&out, faults.text);
    words_verdict(&verdict, &scene);
    append(&out, verdict.text);
    words_next(&next, &scene);
    append(&out, next.text);
    words_other_senders(&others, &scene);
    append(&out, others.text);
    words_recording(&recording, &scene);
    append(&out, facts->record == THRUM_RECORD_OFF ? "" : recording.text);
    return out.used;
}
