#include "commands/practice_lesson.h"

#include <stdlib.h>
#include <string.h>

#include "commands/findings.h"
#include "commands/say.h"

struct lesson {
    const char *name, *offer, *moral;
    uint64_t seed;
    enum thrum_ending ending;
    double hum_over_tone_db, tone_hz;
};

static const struct lesson lessons[] = {
    {"easy", "one stands out: the others are tied to the common",
     "Where the others are tied to the common, the neighbours of the driven wire carry over 10 dB less, and "
     "wires behind them next to nothing. A hand that is not quite where it was before makes 1 or 2 dB: one "
     "touch each is enough.",
     19, THRUM_ENDING_TIED, 10.0, 1037.0},
    {"neighbours", "some others hang free: a neighbour is close",
     "Wires that hang free couple so well that a neighbour is only 2 to 3 dB weaker, hardly more than the "
     "hand makes from touch to touch. Those tied to the common carry next to nothing. Only the contenders "
     "are "
     "worth more touches; tie the others to the common where you may.",
     264, THRUM_ENDING_SOME, 20.0, 1037.0},
    {"harmonic", "the tone on a mains harmonic, shared by all wires",
     "At 1000 Hz a harmonic of 50 Hz mains lies on the tone: a reading takes longer to settle, and another "
     "tone would be better. And the common shared the tone among all wires: they differ by less than the "
     "hand makes, and no touching helps there. Lift the common, earth the sender.",
     9, THRUM_ENDING_SHARED, 20.0, 1000.0},
};
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
    fputs("\nSpace puts the probe on the wire whose tag is large on the screen, and lifts\n"
          "it again; n, p and digits choose the wire, h shows all keys. What really was is\n"
          "told in the end.\n",
          stream);
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

static int weakest(const struct thrum_practice *practice, int n_wires)
{
    int last = 0;
    for (int i = 1; i < n_wires; i++)
        if (thrum_practice_strength(practice, i) < thrum_practice_strength(practice, last))
            last = i;
    return last;
}

static void tell_truth(const struct thrum_practice *practice, int n_wires, FILE *stream)
{
    char text[TOLD * 40 + 100];
    int wire[TOLD], driven = thrum_practice_driven(practice);
    if (driven < 0)
        fputs("The sender drove no wire.\n", stream);
    else
        fprintf(stream, "The sender drove wire %d.\n", driven + 1);
    int used = snprintf(text, sizeof text, "Without the hand, in dBFS:");
    for (int i = 0; i < n_wires && i < TOLD; i++) {
        wire[i] = next_strongest(practice, n_wires, wire, i);
        used += snprintf(text + used, sizeof text - (size_t)used, "%s wire %d %.1f", i ? "," : "",
                         wire[i] + 1, thrum_practice_strength(practice, wire[i]));
    }
    int last = weakest(practice, n_wires);
    if (n_wires > TOLD)
        snprintf(text + used, sizeof text - (size_t)used, "; weakest wire %d %.1f", last + 1,
                 thrum_practice_strength(practice, last));
    print_sentence(stream, text, true);
}

static void tell_chance(const struct thrum_pick *pick, FILE *stream)
{
    char chance[32];
    chance_text(pick->chance, chance, sizeof chance);
    double wrong = 10000.0 * (1.0 - pick->chance);
    if (wrong < 1.0)
        fprintf(stream,
                "The chance of %s means: of 10000 rounds that end with so much, less than one names a wrong "
                "wire.\n",
                chance);
    else
        fprintf(
            stream,
            "The chance of %s means: of 10000 rounds that end with so much, about %.0f name a wrong wire.\n",
            chance, wrong);
}

/* Where the driven wire stands among those touched. */
static void tell_place(const struct thrum_practice *practice, const struct thrum_snapshot *snapshot,
                       FILE *stream)
{
    const struct thrum_pick *pick = &snapshot->pick[0];
    int place = 0;
    for (int i = 0; i < pick->n_ranked; i++) {
        const struct thrum_wire_rank *rank = &pick->rank[i];
        place += rank->touches > 0;
        if (rank->touches > 0 && atoi(snapshot->wire[rank->wire]) == thrum_practice_driven(practice) + 1) {
            fprintf(stream, "The driven wire came %d%s among those touched.\n", place,
                    place == 1   ? "st"
                    : place == 2 ? "nd"
                    : place == 3 ? "rd"
                                 : "th");
            return;
        }
    }
}

static void judge_close(const struct thrum_practice *practice, const struct thrum_snapshot *snapshot,
                        FILE *stream)
{
    const struct thrum_pick *pick = &snapshot->pick[0];
    char chance[32];
    int n_wires, left = thrum_snapshot_untouched(snapshot, 0, &n_wires);
    chance_text(pick->rank[0].chance, chance, sizeof chance);
    if (left > 0)
        fprintf(stream, "The round named none: %d of %d wires were not touched.\n", left, n_wires);
    else if (pick->n_contenders == 1)
        fprintf(stream, "The round named none: wire %s was likeliest, with a chance of %s.\n",
                snapshot->wire[pick->rank[0].wire], chance);
    else
        fprintf(stream, "The round named none: %d wires were too close to each other.\n", pick->n_contenders);
    tell_place(practice, snapshot, stream);
}

static void judge(const struct thrum_practice *practice, const struct thrum_snapshot *snapshot, FILE *stream)
{
    const struct thrum_pick *pick = &snapshot->pick[0];
    int driven = thrum_practice_driven(practice);
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
        judge_close(practice, snapshot, stream);
        return;
    case THRUM_NO_TONE:
        fprintf(stream, "The round heard no tone: %s.\n",
                driven < 0 ? "right" : "the touches were too short, or on other wires");
        return;
    case THRUM_EVERYWHERE:
        fputs("The round found the tone alike on nearly all wires.\n", stream);
        tell_place(practice, snapshot, stream);
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
        print_sentence(stream, lesson->moral, true);
}
