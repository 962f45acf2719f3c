/* The same information as the picture, as one line. */
#include <string.h>

#include "screen/words.h"

#define RANKS 10 /* wires that a ranking names */

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
    if (line->size > 0)
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
    words_level(words, scene->dbfs);
    words_add(words, " dBFS, best so far ");
    words_level(words, scene->sender < 0 ? THRUM_FLOOR_DBFS : now->best_dbfs[scene->sender]);
}

/* What the next step does not say as well. */
static bool touch_is_news(const struct scene *scene)
{
    return scene->snapshot->touching || scene->snapshot->finished || words_no_sound(scene) ||
           (scene->facts->hands_free && !(scene->snapshot->now.mains_hz > 0.0));
}

static void append_said(struct line *line, const struct scene *scene,
                        void (*say)(struct words *, const struct scene *))
{
    struct words words = {.text = ""};
    say(&words, scene);
    append(line, words.text);
}

static struct line begin(char *out, size_t size)
{
    if (size > 0)
        out[0] = 0;
    return (struct line){.out = out, .size = size, .full = size == 0};
}

size_t thrum_screen_line(const struct thrum_snapshot *snapshot, const struct thrum_screen_facts *facts,
                         char *text, size_t size)
{
    struct line line = begin(text, size);
    struct scene scene = scene_of(snapshot, facts, 0);
    struct words touched = {.text = ""};
    append(&line, facts->practice ? "PRACTICE" : "");
    append_said(&line, &scene, words_message);
    append_said(&line, &scene, say_now);
    words_touched(&touched, snapshot);
    append(&line, touched.text);
    if (touch_is_news(&scene))
        append_said(&line, &scene, words_touch);
    append_said(&line, &scene, words_hum);
    append_said(&line, &scene, words_faults);
    append_said(&line, &scene, words_verdict);
    append_said(&line, &scene, words_next);
    append_said(&line, &scene, words_other_senders);
    if (facts->record != THRUM_RECORD_OFF)
        append_said(&line, &scene, words_recording);
    return line.used;
}

size_t thrum_screen_input_line(const struct thrum_snapshot *snapshot, const struct thrum_screen_facts *facts,
                               char *text, size_t size)
{
    struct line line = begin(text, size);
    struct scene scene = scene_of(snapshot, facts, 0);
    append_said(&line, &scene, words_input);
    append_said(&line, &scene, words_recording);
    return line.used;
}

/* "1. wire w07 -43.2 dBFS, -44.3 to -42.2, 71.0 %, 2x" */
static void say_rank(struct words *words, const struct scene *scene, const struct thrum_wire_rank *rank,
                     int place)
{
    words_add(words, "%d. wire %s ", place, words_tag(scene->snapshot, rank->wire));
    if (!rank->heard)
        words_add(words, "not heard, below ");
    words_level(words, rank->heard ? rank->dbfs : rank->high_db);
    words_add(words, " dBFS");
    if (rank->heard) {
        words_add(words, ", ");
        words_level(words, rank->low_db);
        words_add(words, " to ");
        words_level(words, rank->high_db);
    }
    words_add(words, ", ");
    if (words_excluded(scene, rank->wire))
        words_add(words, "not it");
    else
        words_chance(words, rank->chance);
    words_add(words, ", %dx", rank->touches);
}

size_t thrum_screen_ranking_line(const struct thrum_snapshot *snapshot,
                                 const struct thrum_screen_facts *facts, int sender, char *text, size_t size)
{
    struct line line = begin(text, size);
    struct scene scene = scene_of(snapshot, facts, sender);
    if (scene.sender < 0 || snapshot->n_readings == 0)
        return 0;
    const struct thrum_pick *pick = &snapshot->pick[scene.sender];
    const char *note;
    int touched = 0, n = pick->n_ranked < THRUM_MAX_WIRES ? pick->n_ranked : THRUM_MAX_WIRES;
    struct words rest = {.text = ""};
    if (snapshot->n_senders > 1)
        words_add(&rest, "Ranking for sender %s", snapshot->sender[scene.sender].name);
    append(&line, snapshot->n_senders > 1 ? rest.text : "Ranking");
    for (int i = 0; i < n; i++) {
        struct words words = {.text = ""};
        if (pick->rank[i].touches == 0 || ++touched > RANKS)
            continue;
        say_rank(&words, &scene, &pick->rank[i], touched);
        append(&line, words.text);
    }
    rest.text[0] = 0;
    words_rest(&rest, touched - RANKS, n - touched);
    append(&line, rest.text);
    for (int i = 0; (note = words_note(&scene, i)) != NULL; i++)
        append(&line, note);
    return line.used;
}
