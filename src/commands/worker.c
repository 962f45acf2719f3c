#include "commands/worker.h"

#include <errno.h>
#include <pthread.h>
#include <signal.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "commands/progress.h"
#include "sound/bell.h"

#define QUEUE     64
#define PUBLISH_S 0.125 /* 8 pictures a second... */
#define QUICK_S   0.005 /* ...and one at once when the bar has risen by so much */
#define QUICK_DB  6.0
#define STUCK_S   1.0
#define LOOK_S    0.6 /* of the time between two looks, that counts */

/* What a thread does wrong itself is delivered to it. */
static const int own_faults[] = {SIGSEGV, SIGBUS, SIGILL, SIGFPE, SIGABRT, SIGSYS};

struct request {
    enum thrum_action action;
    char tag[THRUM_WIRE_TAG_SIZE];
    bool has_tag;
    bool look, follow; /* for an input, the sender, in place of all that */
    char input[160];
};

struct worker {
    struct session *session;
    bool paced;
    double began_s, published_s;
    struct bell bell;
    struct thrum_message message; /* the worker's own */
    double message_s;
    double looked_s, seen_alive_s, still_s; /* the looker's own */
    pthread_t thread;
    pthread_mutex_t lock; /* guards what follows */
    pthread_cond_t change;
    struct worker_view view;
    double alive_s; /* when it last began a step */
    struct request queue[QUEUE];
    int n_queue;
    bool stop;
};

static struct timespec after(double wait_s)
{
    struct timespec at;
    clock_gettime(CLOCK_MONOTONIC, &at);
    double s = (double)at.tv_nsec * 1e-9 + (wait_s > 0.0 ? wait_s : 0.0);
    at.tv_sec += (time_t)s;
    at.tv_nsec = (long)((s - (double)(time_t)s) * 1e9);
    return at;
}

static void publish(struct worker *worker, bool input_lost)
{
    struct session *session = worker->session;
    pthread_mutex_lock(&worker->lock);
    struct worker_view *view = &worker->view;
    thrum_round_snapshot(session_round(session), &view->snapshot);
    view->input_lost = input_lost;
    view->message = worker->message;
    view->message_s = worker->message_s;
    view->recording = session_records(session);
    view->recorded = session_recorded(session);
    view->lost = session_lost(session);
    view->came_hz = session_came_hz(session);
    snprintf(view->input, sizeof view->input, "%s", session_input(session));
    session_offers(session, &view->offers);
    snprintf(view->moved, sizeof view->moved, "%s", session_moved(session));
    view->version++;
    pthread_cond_broadcast(&worker->change);
    pthread_mutex_unlock(&worker->lock);
    bell_ring(&worker->bell);
    worker->published_s = clock_s();
}

/* Somebody who moves the probe wants to see the tone when it is there, not with the next picture. */
static bool is_due(const struct worker *worker)
{
    const struct thrum_now *shown = &worker->view.snapshot.now; /* only this thread writes it */
    double since_s = clock_s() - worker->published_s;
    if (since_s >= PUBLISH_S)
        return true;
    for (int i = 0; since_s >= QUICK_S && i < worker->view.snapshot.n_senders; i++)
        if (thrum_round_bar_dbfs(session_round(worker->session), i) > shown->bar_dbfs[i] + QUICK_DB)
            return true;
    return false;
}

static void tell(struct worker *worker, const struct thrum_message *message)
{
    if (!message->text[0])
        return;
    worker->message = *message;
    worker->message_s = clock_s();
}

static bool next_request(struct worker *worker, struct request *request, bool *stop)
{
    pthread_mutex_lock(&worker->lock);
    worker->alive_s = clock_s();
    bool have = worker->n_queue > 0;
    if (have) {
        *request = worker->queue[0];
        worker->n_queue--;
        memmove(worker->queue, worker->queue + 1, sizeof *request * (size_t)worker->n_queue);
    }
    *stop = worker->stop;
    pthread_mutex_unlock(&worker->lock);
    return have;
}

static const char *why_not(enum thrum_action action, enum thrum_status status)
{
    if (status == THRUM_ERR_FULL)
        return "no room for another wire or touch: finish this round";
    if (status == THRUM_ERR_NOT_FOUND && (action == THRUM_TAG_LOWER || action == THRUM_TAG_HIGHER))
        return "there is no touch whose tag could be moved so";
    if (status == THRUM_ERR_NOT_FOUND && action == THRUM_DROP)
        return "this wire has not been touched";
    if (status == THRUM_ERR_NOT_FOUND)
        return action == THRUM_UNDO ? "there is nothing to undo" : "nothing has been touched yet";
    if (action == THRUM_TAKE)
        return "that was too short to measure: hold the probe on the wire longer";
    return "that cannot be done now";
}

static const char *why_no_look(enum thrum_status status)
{
    if (status == THRUM_OK)
        return "INPUT LOST - looking for it";
    if (status == THRUM_ERR_NOT_FOUND)
        return "the input is there: it can be looked for, or another one taken, when it is lost";
    return status == THRUM_ERR_UNSUPPORTED ? "only a sound device can be looked for"
                                           : "it is being looked for";
}

static void do_request(struct worker *worker, const struct request *request)
{
    struct thrum_message message;
    if (request->look)
        strcpy(message.text, why_no_look(session_look(worker->session, request->input)));
    else if (request->follow && session_follow(worker->session) != THRUM_OK)
        strcpy(message.text, "the sender was not found at other tones");
    else if (request->follow)
        snprintf(message.text, sizeof message.text, "%s; measured there", session_followed(worker->session));
    else {
        enum thrum_status status =
            session_act(worker->session, request->action, request->has_tag ? request->tag : NULL);
        strcpy(message.text, status == THRUM_OK ? "" : why_not(request->action, status));
    }
    tell(worker, &message);
}

/* True when something was done. */
static bool do_requests(struct worker *worker, bool *stop)
{
    struct request request;
    bool any = false;
    while (next_request(worker, &request, stop)) {
        do_request(worker, &request);
        any = true;
    }
    return any;
}

/* Waits until what was heard would have sounded, or something is asked. */
static void keep_pace(struct worker *worker)
{
    const struct session *session = worker->session;
    double ahead_s = (double)session_frames(session) / session_rate(session) - (clock_s() - worker->began_s);
    if (ahead_s <= 0.0)
        return;
    struct timespec due = after(ahead_s);
    pthread_mutex_lock(&worker->lock);
    while (worker->n_queue == 0 && !worker->stop &&
           pthread_cond_timedwait(&worker->change, &worker->lock, &due) != ETIMEDOUT)
        ;
    pthread_mutex_unlock(&worker->lock);
}

static void finish(struct worker *worker)
{
    struct thrum_message trouble;
    int code = session_finish(worker->session, &trouble);
    publish(worker, false);
    pthread_mutex_lock(&worker->lock);
    worker->view.code = code;
    worker->view.trouble = trouble;
    worker->view.ended = true;
    worker->view.version++;
    pthread_cond_broadcast(&worker->change);
    pthread_mutex_unlock(&worker->lock);
    bell_ring(&worker->bell);
}

/* Signals go to the thread that waits for keys, so that it reacts at once. */
static void leave_signals_to_others(void)
{
    sigset_t all;
    sigfillset(&all);
    for (size_t i = 0; i < sizeof own_faults / sizeof own_faults[0]; i++)
        sigdelset(&all, own_faults[i]);
    pthread_sigmask(SIG_BLOCK, &all, NULL);
}

static void *work(void *context)
{
    struct worker *worker = context;
    leave_signals_to_others();
    enum session_state state = SESSION_GOES_ON;
    bool stop = false;
    while (state != SESSION_ENDED) {
        struct thrum_message message;
        bool asked = do_requests(worker, &stop);
        enum session_state before = state;
        /* Once more when it is to stop: what has come in by now belongs to the recording. */
        state = session_step(worker->session, &message);
        if (stop)
            break;
        tell(worker, &message);
        if (asked || state != before || message.text[0] || is_due(worker))
            publish(worker, state == SESSION_LOST_INPUT);
        if (worker->paced)
            keep_pace(worker);
    }
    finish(worker);
    return NULL;
}

static void free_worker(struct worker *worker)
{
    pthread_cond_destroy(&worker->change);
    pthread_mutex_destroy(&worker->lock);
    bell_free(&worker->bell);
    free(worker);
}

struct worker *worker_start(struct session *session, bool paced)
{
    struct worker *worker = calloc(1, sizeof *worker);
    pthread_condattr_t monotonic;
    if (!worker || !bell_make(&worker->bell)) {
        free(worker);
        return NULL;
    }
    thrum_snapshot_reserve(&worker->view.snapshot);
    worker->session = session;
    worker->paced = paced;
    worker->began_s = worker->alive_s = worker->looked_s = clock_s();
    pthread_mutex_init(&worker->lock, NULL);
    pthread_condattr_init(&monotonic);
    pthread_condattr_setclock(&monotonic, CLOCK_MONOTONIC);
    pthread_cond_init(&worker->change, &monotonic);
    pthread_condattr_destroy(&monotonic);
    publish(worker, false);
    if (pthread_create(&worker->thread, NULL, work, worker) == 0)
        return worker;
    free_worker(worker);
    return NULL;
}

static bool ask(struct worker *worker, const struct request *request)
{
    pthread_mutex_lock(&worker->lock);
    bool room = worker->n_queue < QUEUE;
    if (room)
        worker->queue[worker->n_queue++] = *request;
    pthread_cond_broadcast(&worker->change);
    pthread_mutex_unlock(&worker->lock);
    return room;
}

bool worker_ask(struct worker *worker, enum thrum_action action, const char *tag)
{
    struct request request = {.action = action, .has_tag = tag != NULL};
    if (tag && strlen(tag) < sizeof request.tag)
        strcpy(request.tag, tag);
    return ask(worker, &request);
}

bool worker_ask_input(struct worker *worker, const char *name)
{
    struct request request = {.look = true};
    snprintf(request.input, sizeof request.input, "%s", name);
    return ask(worker, &request);
}

bool worker_ask_follow(struct worker *worker)
{
    return ask(worker, &(struct request){.follow = true});
}

void worker_stop(struct worker *worker)
{
    pthread_mutex_lock(&worker->lock);
    worker->stop = true;
    pthread_cond_broadcast(&worker->change);
    pthread_mutex_unlock(&worker->lock);
}

/* Counted by the looks, so that a program that was stopped itself does not take its worker for stuck. */
static void say_if_stuck(struct worker *worker, double alive_s, struct worker_view *view)
{
    double now_s = clock_s(), since_look_s = now_s - worker->looked_s;
    bool moved = worker->seen_alive_s < alive_s || view->ended;
    worker->still_s = moved ? 0.0 : worker->still_s + (since_look_s < LOOK_S ? since_look_s : LOOK_S);
    worker->seen_alive_s = alive_s;
    worker->looked_s = now_s;
    view->stuck = worker->still_s > STUCK_S;
    if (!view->stuck)
        return;
    view->message_s = now_s;
    if (session_writing(worker->session))
        snprintf(
            view->message.text, sizeof view->message.text,
            "THE DISK DOES NOT TAKE THE RECORDING, for %.0f s now; the sound waits, half a minute at most",
            worker->still_s);
    else
        snprintf(view->message.text, sizeof view->message.text,
                 "the computer is too slow: nothing new for %.0f s; close other programs", worker->still_s);
}

/* The snapshot comes first, and is mostly empty room. */
static void copy_view(struct worker_view *to, const struct worker_view *from)
{
    const size_t rest = offsetof(struct worker_view, version);
    thrum_snapshot_copy(&to->snapshot, &from->snapshot);
    memcpy((char *)to + rest, (const char *)from + rest, sizeof *to - rest);
}

void worker_look(struct worker *worker, struct worker_view *view, double wait_s)
{
    struct timespec due = after(wait_s);
    pthread_mutex_lock(&worker->lock);
    while (wait_s > 0.0 && worker->view.version == view->version &&
           pthread_cond_timedwait(&worker->change, &worker->lock, &due) != ETIMEDOUT)
        ;
    bell_hush(&worker->bell);
    copy_view(view, &worker->view);
    double alive_s = worker->alive_s;
    pthread_mutex_unlock(&worker->lock);
    say_if_stuck(worker, alive_s, view);
}

int worker_fd(const struct worker *worker)
{
    return bell_fd(&worker->bell);
}

bool worker_join(struct worker *worker, double limit_s)
{
    struct timespec due = after(limit_s);
    pthread_mutex_lock(&worker->lock);
    while (!worker->view.ended && pthread_cond_timedwait(&worker->change, &worker->lock, &due) != ETIMEDOUT)
        ;
    bool ended = worker->view.ended;
    pthread_mutex_unlock(&worker->lock);
    if (!ended)
        return false;
    pthread_join(worker->thread, NULL);
    free_worker(worker);
    return true;
}
