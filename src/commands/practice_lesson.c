#include "commands/practice_lesson.h"

#include <stdlib.h>
#include <string.h>

#include "commands/findings.h"

struct lesson {
    const char *name, *offer, *moral;
    uint64_t seed;
    enum thrum_ending ending;
    double hum_over_tone_db, tone_hz;
};

static const struct lesson lessons[] = {
    {"easy", "one wire stands out: the other wires are tied to the common",
     "Tied wires carry 6 to 16 dB less, and a hand that is not quite where it was before makes 1 "
     "or 2 dB: one "
     "touch each is enough.",
     19, THRUM_ENDING_TIED, 10.0, 1037.0},
    {"neighbours", "the others hang free: neighbours carry nearly as much",
     "Wires that hang free couple so well that a neighbour is only 1 to 3 dB weaker, as little as the hand "
     "makes from touch "
     "to touch. Only the contenders are worth more touches; tie the others to the common where you may.",
     5, THRUM_ENDING_FREE, 20.0, 1037.0},
    {"harmonic", "the tone lies on a harmonic of the mains, and all wires share it",
     "At 1000 Hz a harmonic of 50 Hz mains lies on the tone: a reading takes longer to settle, and another "
     "tone would be "
     "better. And the common shared the tone among all wires: no touching helps there. Lift the common, "
     "earth the sender.",
     9, THRUM_ENDING_SHARED, 20.0, 1000.0},
};
#define COLUMNS 80
#define TOLD    4 /* strengths */
#define LESSONS (sizeof lessons / sizeof lessons[0])

static const struct lesson *find_lesson(const char *name)
{
    for (size_t i = 0; i < LESSONS; i++)
        if (strcmp(lessons[i].name, name) == 0)
            return &lessons[i];
    return NULL;
}

bool lesson_config(const char *name, struct thrum_practice_config *config)
{
    const struct lesson *lesson = find_lesson(name);
    if (!lesson)
        return false;
    *config = thrum_practice_config_default(lesson->seed);
    config->n_wires = 8;
    config->ending = lesson->ending;
    config->hum_over_tone_db = lesson->hum_over_tone_db;
    config->voice = thrum_voice_beep(lesson->tone_hz, 0.25, 0.25);
    return true;
}

void lesson_offer(FILE *stream)
{
    fputs("Three short practice rounds at Hollin Fern House, eight grey wires each:\n\n", stream);
    for (size_t i = 0; i < LESSONS; i++)
        fprintf(stream, "  thrum practice %-11s %s\n", lessons[i].name, lessons[i].offer);
    fputs("\nSpace puts the probe on the wire whose tag is large on the screen, and lifts it again;\n"
          "n, p and digits choose the wire, h shows all keys. What really was is told in the end.\n",
          stream);
}

/* In lines of at most COLUMNS. */
static void print_wrapped(const char *text, FILE *stream)
{
    size_t column = 0;
    while (*text) {
        size_t n = strcspn(text, " ");
        if (column > 0 && column + 1 + n > COLUMNS) {
            fputc('\n', stream);
            column = 0;
        }
        column += (size_t)fprintf(stream, "%s%.*s", column > 0 ? " " : "", (int)n, text);
        text += n + (text[n] == ' ');
    }
    fputc('\n', stream);
}

/* --- Afterwards ------------------------------------------------------------------------------------------------ */

/* The strongest wire that is not among the first n of wire; -1 when there is none. */
static int next_strongest(const struct thrum_practice *practice, int n_wires, const int *wire, int n)
{
    int best = -1;
    for (int i = 0; i < n_wires; i++) {
        bool told = false;
        for (int k = 0; k < n; k++)
            told = told || wire[k] == i;
        if (!told &&
            (best < 0 || thrum_practice_strength(practice, i) > thrum_practice_strength(practice, best)))
            best = i;
    }
    return best;
}

static void tell_truth(const struct thrum_practice *practice, int n_wires, FILE *stream)
{
    int wire[TOLD], driven = thrum_practice_driven(practice);
    if (driven < 0)
        fputs("The sender drove no wire.\n", stream);
    else
        fprintf(stream, "The sender drove wire %d.\n", driven + 1);
    fputs("Without the hand, in dBFS:", stream);
    for (int i = 0; i < n_wires && i < TOLD; i++) {
        wire[i] = next_strongest(practice, n_wires, wire, i);
        fprintf(stream, "%s wire %d %.1f", i ? "," : "", wire[i] + 1,
                thrum_practice_strength(practice, wire[i]));
    }
    fputs(".\n", stream);
}

static void tell_chance(const struct thrum_pick *pick, FILE *stream)
{
    char chance[32];
    chance_text(pick->chance, chance, sizeof chance);
    fprintf(
        stream,
        "The chance of %s means: of 10000 rounds that end with so much, at most %.0f name a wrong wire.\n",
        chance, 10000.0 * (1.0 - pick->chance) + 0.5);
}

static void judge(const struct thrum_practice *practice, const struct thrum_snapshot *snapshot, FILE *stream)
{
    const struct thrum_pick *pick = &snapshot->pick[0];
    int driven = thrum_practice_driven(practice), n_wires;
    int left = thrum_snapshot_untouched(snapshot, 0, &n_wires);
    if (snapshot->n_readings == 0) {
        fputs("No wire was touched.\n", stream);
        return;
    }
    switch (pick->outcome) {
    case THRUM_PICKED: {
        const char *tag =
            pick->wire >= 0 && pick->wire < snapshot->n_wires ? snapshot->wire[pick->wire] : "?";
        fprintf(stream, "The round named wire %s: %s.\n", tag, atoi(tag) == driven + 1 ? "right" : "WRONG");
        tell_chance(pick, stream);
        return;
    }
    case THRUM_TOO_CLOSE:
        if (left > 0)
            fprintf(stream, "The round named none: %d of %d wires were not touched.\n", left, n_wires);
        else
            fprintf(stream, "The round named none: %d wires were too close to each other.\n",
                    pick->n_contenders);
        return;
    case THRUM_NO_TONE:
        fprintf(stream, "The round heard no tone: %s.\n",
                driven < 0 ? "right" : "the touches were too short");
        return;
    case THRUM_EVERYWHERE:
        fputs("The round found the tone alike on nearly all wires.\n", stream);
        return;
    }
}

void lesson_explain(const struct thrum_practice *practice, const char *from, int n_wires,
                    const struct thrum_snapshot *snapshot, FILE *stream)
{
    const char *colon = strchr(from, ':');
    const struct lesson *lesson = colon ? find_lesson(colon + 1) : NULL;
    fputs("\nWhat really was (this was practice):\n", stream);
    tell_truth(practice, n_wires, stream);
    judge(practice, snapshot, stream);
    if (lesson)
        print_wrapped(lesson->moral, stream);
}
