/* A round on a stand-in for PortAudio, that records into a folder of its own; on a virtual clock. */
#ifndef THRUM_TEST_LIVE_ROUND_H
#define THRUM_TEST_LIVE_ROUND_H

#include "commands/intake.h"
#include "commands/session.h"

#define LIVE_RATE  48000.0
#define LIVE_BLOCK 2400

struct live_round {
    char folder[200];
    char path[400]; /* of the recording */
    struct intake *intake;
    struct session *session;
};

/* For cmocka, with wb_fixture_remove(). */
int live_set_up(void **state);

/* Begins the script and opens its default input; then a session that records it; ends both, and the script. */
void live_open_intake(struct live_round *f, const char *script);
void live_open_session(struct live_round *f, const struct thrum_voice *voice, bool hands_free);
void live_end(struct live_round *f);

/* Reads the intake for so long, without a session. */
void live_read_for(struct live_round *f, double seconds);

/* What happened while the session went on for some time. */
struct live_log {
    int lost, back;
    double lost_s; /* when it was first told */
    double away_s; /* how long it was shown as lost, in all */
    enum session_state state;
    struct thrum_message said;
};

void live_run_for(struct live_round *f, double seconds, struct live_log *log);

/* All of a file by the library of the distribution; *n frames of one channel, malloc'ed. */
int *live_read_all(const char *path, size_t *n);

/* What a sample is there. */
int live_in_24_bits(float sample);

#endif
