/* What the parts of the stand-in for PortAudio share. */
#ifndef THRUM_TEST_PORTAUDIO_STANDIN_OWN_H
#define THRUM_TEST_PORTAUDIO_STANDIN_OWN_H

#include <portaudio.h>
#include <pthread.h>
#include <stdbool.h>
#include <stdint.h>

enum { MAX_DEVICES = 16, MAX_SKIPS = 32, MAX_STREAMS = 64, MAX_THREADS = 16, MAX_PLAYED = 1000000 };
enum { NS = 1000000000 };

struct device {
    char name[128];
    int api;
    int channels;
    int outputs;
    double rate_hz;
    int only_channels;
    double only_rate_hz;
    double actual_rate_hz;
    int open_error;
    int start_error;
};

struct skip {
    uint64_t at;
    uint64_t frames;
    bool silent;
    bool done;
};

struct stream {
    int device;
    int channels;
    double rate_hz;
    int number; /* 1 for the first ever */
    bool started;
    bool closed;
    uint64_t start_ns;
    uint64_t base;  /* frames delivered before this start */
    uint64_t taken; /* read since this start */
    uint64_t skipped;
    bool flag;
    bool cured; /* of plug_stall */
    bool plays;
    uint64_t world; /* the world's frame at which it was started */
    PaStreamInfo info;
};

struct standin_thread {
    pthread_t thread;
    void (*work)(void *);
    void *job;
    bool done;
    bool left;
};

/* PortAudio is one per process, so its stand-in is too. */
extern struct standin {
    struct device list[2][MAX_DEVICES];
    int n_devices[2];
    int n_lists;
    int current_list;
    int default_device, default_output;
    int init_error;
    bool init_blocks, open_blocks, start_blocks, stop_blocks, abort_blocks, close_blocks;
    unsigned block;
    bool zeros;
    double ppm;
    bool flag_every;
    struct skip skip[MAX_SKIPS];
    int n_skips;
    uint64_t quiet_after, error_after, plug_stall, stall_at;
    double stall_s, return_after_s;
    int error;
    uint64_t holds;
    int side;
    uint64_t room, deaf_after, write_error_after;
    int write_error;
    float played[MAX_PLAYED]; /* by outputs, first channel */
    uint64_t n_played;
    uint64_t now_ns;
    uint64_t first_start_ns;
    const float *feed; /* [n_feed] what sounds in the world since the first start */
    size_t n_feed;
    int starts, running, streams_ever, open_streams, stop_calls;
    struct stream *stream[MAX_STREAMS]; /* all ever opened; freed at the end, since some are left hanging */
    PaDeviceInfo info;
    PaHostApiInfo api;
    pthread_mutex_t lock;
    pthread_cond_t changed;
    int blocked; /* calls that block now */
    bool ever_blocked;
    bool release;
    struct standin_thread thread[MAX_THREADS];
    int n_threads;
} standin;

/* Adds what a script says, line by line; an unknown line fails the test. */
void standin_read_script(const char *script);

/* Number of a device in the current list; NULL when there is none. */
struct device *standin_device(int number);

/* The call never comes back, until the test is over. */
void standin_block_for_ever(void);

/* Frees all streams ever opened. */
void standin_free_streams(void);

#endif
