#include "commands/replay.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands/marks_given.h"
#include "commands/moved.h"

bool replay_begin(struct replay *replay, const struct thrum_mark *marks, size_t n_marks,
                  const struct thrum_source *source, const struct thrum_voice *voice)
{
    *replay = (struct replay){.n_marks = n_marks, .mark = marks_given(marks, n_marks)};
    if (voice && n_marks > 0) {
        replay->voice = *voice;
        replay->n_moves = recorded_moves(source, voice, &replay->move);
    }
    return replay->mark || n_marks == 0;
}

void replay_end(struct replay *replay)
{
    free(replay->mark);
    free(replay->move);
}

/* "w07~2" is another touch of w07. */
static void tag_of_label(const char *label, char *tag)
{
    size_t n = strcspn(label, "~");
    n = n < THRUM_WIRE_TAG_SIZE ? n : THRUM_WIRE_TAG_SIZE - 1;
    while (n > 0 && ((unsigned char)label[n] & 0xC0) == 0x80)
        n--;
    memcpy(tag, label, n);
    tag[n] = 0;
}

static void take_marks(struct replay *replay, struct thrum_round *round, uint64_t frames, bool at_end)
{
    while (replay->next_mark < replay->n_marks) {
        const struct thrum_mark *mark = &replay->mark[replay->next_mark];
        struct thrum_span span = {mark->first, mark->end};
        if (at_end && span.end > frames)
            span.end = frames;
        if (span.end > frames)
            return;
        char tag[THRUM_WIRE_TAG_SIZE];
        tag_of_label(mark->label, tag);
        replay->next_mark++;
        bool measured = span.end > span.first && thrum_round_mark(round, tag, span) == THRUM_OK;
        if (!measured && !replay->unmeasured[0])
            snprintf(replay->unmeasured, sizeof replay->unmeasured, "%s", mark->label);
    }
}

static void follow_moves(struct replay *replay, struct thrum_round *round, uint64_t frames)
{
    while (replay->next_move < replay->n_moves && replay->move[replay->next_move].frame <= frames) {
        double tone_hz = replay->move[replay->next_move++].tone_hz;
        struct thrum_voice moved = moved_to(&replay->voice, tone_hz);
        if (thrum_round_aim(round, tone_hz) == THRUM_OK)
            moved_text(&replay->voice, &moved, replay->followed, sizeof replay->followed);
    }
}

void replay_to(struct replay *replay, struct thrum_round *round, uint64_t frames, bool at_end)
{
    take_marks(replay, round, frames, at_end);
    follow_moves(replay, round, frames);
}

void replay_later(struct thrum_round *round, const struct recorded_move *later, size_t n)
{
    uint64_t passed = 0;
    for (size_t i = 0; i < n; i++) {
        if (later[i].frame > passed) {
            thrum_round_lost(round, later[i].frame - passed);
            passed = later[i].frame;
        }
        (void)thrum_round_aim(round, later[i].tone_hz);
    }
}

size_t replay_block(const struct replay *replay, uint64_t frames, size_t block, double rate_hz)
{
    if (replay->next_mark < replay->n_marks && (double)block > rate_hz / 2.0)
        block = (size_t)(rate_hz / 2.0);
    if (replay->next_move < replay->n_moves && replay->move[replay->next_move].frame > frames &&
        replay->move[replay->next_move].frame - frames < block)
        block = (size_t)(replay->move[replay->next_move].frame - frames);
    return block;
}
