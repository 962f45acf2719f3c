/* The sentences of the screen: what a snapshot says, in plain words. Shared by the picture and the plain line. */
#ifndef THRUM_SCREEN_WORDS_H
#define THRUM_SCREEN_WORDS_H

#include <stdbool.h>
#include <stddef.h>

#include "screen/canvas.h"
#include "screen/screen.h"

#define WORDS_SIZE 512

/* Text that grows at its end and is cut, between characters, when it is full. */
struct words {
    char text[WORDS_SIZE];
};

#if defined(__GNUC__)
#define WORDS_PRINTF __attribute__((format(printf, 2, 3)))
#else
#define WORDS_PRINTF
#endif

/* Appends. */
void words_add(struct words *words, const char *format, ...) WORDS_PRINTF;

/* What all sentences are made from. */
struct scene {
    const struct thrum_snapshot *snapshot;
    const struct thrum_screen_facts *facts;
    int sender; /* shown one; -1 when there is none */
    /* Its level in figures: of the touch in progress once it is heard, else of the moment; the floor without
     * sound */
    double dbfs;
};

/* The sender wanted, or the nearest there is. */
struct scene scene_of(const struct thrum_snapshot *snapshot, const struct thrum_screen_facts *facts,
                      int sender);

/* "w07"; "?" for an index that is none. */
const char *words_tag(const struct thrum_snapshot *snapshot, int wire);

/* "wire w07", "wires 3 to 14": those of the current tag. */
void words_current(struct words *words, const struct thrum_snapshot *snapshot);

/* "touched once": how often the current tag was; "" for never. */
void words_touched(struct words *words, const struct thrum_snapshot *snapshot);

/* Whether it is left out. */
bool words_excluded(const struct scene *scene, int wire);

/* "3 more touched, 5 not touched": wires that a ranking does not name. */
void words_rest(struct words *words, int more, int untouched);

/* "-43.2"; "--" for silence and for what is no number. */
void words_level(struct words *words, double dbfs);

/* "99.4 %", never rounded up to certainty. */
void words_chance(struct words *words, double chance);

/* "3:07", "1:02:03". */
void words_time(struct words *words, double seconds);

/* A level worth showing: finite and above the floor. */
bool words_has_level(double dbfs);

/* No sound comes in at this moment: what was heard last is not what is heard now. */
bool words_no_sound(const struct scene *scene);

/* There is no input yet: it is looked for. */
bool words_not_open(const struct scene *scene);

/* What is heard, as a sentence without a full stop, in at most 22 columns, as one short word, and as ink. */
const char *words_heard(const struct scene *scene);
const char *words_heard_brief(const struct scene *scene);
const char *words_heard_short(const struct scene *scene);
enum thrum_ink words_heard_ink(const struct scene *scene);

/* The touch in progress: how long, how good, whether to hold on. The narrow form fits 20 columns. */
void words_touch(struct words *words, const struct scene *scene);
void words_touch_narrow(struct words *words, const struct scene *scene);

/* Whole seconds to hold on for, at least 1. */
int words_hold_s(const struct scene *scene);

/* Hum, apart from strength; the narrow form, of hum that there is, fits 33 columns. */
void words_hum(struct words *words, const struct scene *scene);
void words_hum_narrow(struct words *words, const struct scene *scene);

/* Faults of the input by name; and the same with the advice for the first. "" when there are none. */
void words_fault_names(struct words *words, const struct scene *scene);
void words_faults(struct words *words, const struct scene *scene);

/* The verdict, where there are several senders with the name of the one it is for; the narrow form is without it, and fits
 * 20 columns when the tags are short. */
void words_verdict(struct words *words, const struct scene *scene);
void words_verdict_narrow(struct words *words, const struct scene *scene);
enum thrum_ink words_verdict_ink(const struct scene *scene);

/* One or two words to be read from two metres: hold on, enough, or the verdict; the narrow form is at most one. */
void words_large(struct words *words, const struct scene *scene);
void words_large_narrow(struct words *words, const struct scene *scene);

/* The next step, as one sentence; the narrow form is a few words. */
void words_next(struct words *words, const struct scene *scene);
void words_next_narrow(struct words *words, const struct scene *scene);

/* What else is worth saying, from 0; NULL when there is no such. */
const char *words_note(const struct scene *scene, int number);

/* The verdicts for the other senders; "" when there is only one. */
void words_other_senders(struct words *words, const struct scene *scene);

/* What the user should know at this moment; "" when there is nothing. */
void words_message(struct words *words, const struct scene *scene);

/* The input, and the recording. */
void words_input(struct words *words, const struct scene *scene);
void words_input_name(struct words *words, const struct scene *scene); /* without its time */
void words_recording(struct words *words, const struct scene *scene);
void words_recording_narrow(struct words *words, const struct scene *scene);
enum thrum_ink words_recording_ink(const struct scene *scene);

#endif
