/* The benchmark: every figure that is asked of the program, beside its limit. Run it with tests/bench.sh.
 *
 * Two figures are worked out side by side, those that take longest first, each in a process of its own whose table lines
 * are kept in a file and shown in order; speeds are taken alone, at the end. Exit status 0 when everything ran, whatever
 * the figures say. */
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/types.h>
#include <sys/wait.h>
#include <unistd.h>

#include "alarms.h"
#include "checking.h"
#include "choosing.h"
#include "curves.h"
#include "hum.h"
#include "learning.h"
#include "live.h"
#include "measuring.h"
#include "presence.h"
#include "rows.h"
#include "senders.h"
#include "speed.h"
#include "trusting.h"

struct job {
    const char *figures;
    void (*run)(bool full, uint64_t seed);
    int about_s; /* processor time of the quick form: what takes longest goes first */
    bool alone;
};

static const struct job jobs[] = {
    {"M1 M5", bench_strength_noise, 20, false},
    {"M2 M3 M5", bench_strength_hum, 25, false},
    {"M4 M5", bench_strength_on_hum, 25, false},
    {"M6", bench_presence, 20, false},
    {"M6", bench_presence_under_hum, 25, false},
    {"M7", bench_alarms_hum, 30, false},
    {"M7", bench_alarms, 30, false},
    {"M7", bench_alarms_tones, 20, false},
    {"M7", bench_alarms_real, 30, false},
    {"M8", bench_learning, 5, false},
    {"M9", bench_mains, 5, false},
    {"M10", bench_cleaning, 5, false},
    {"M11", bench_bar, 2, false},
    {"S1", bench_to_the_end, 18, false},
    {"S1", bench_with_halves, 5, false},
    {"S2", bench_honest, 30, false},
    {"S3", bench_picked_at_once, 10, false},
    {"S3", bench_most_that_can_be, 2, false},
    {"S4", bench_two_alike, 6, false},
    {"S5", bench_no_tone, 3, false},
    {"S6", bench_senders, 17, false},
    {"T1 T2", bench_trusting, 10, false},
    {"T1 T3", bench_checking, 10, false},
    {"T4", bench_clipping, 8, false},
    {"T5", bench_losing, 6, false},
    {"M12", bench_ranking, 0, true},
    {"M13", bench_live, 0, true},
    {"FFT", bench_transform, 0, true},
};
enum { JOBS = sizeof jobs / sizeof *jobs, SIDE_BY_SIDE = 2 };

struct options {
    bool full;
    uint64_t seed;
    const char *only, *curve;
};

struct running {
    pid_t pid;
    FILE *lines;
    bool begun, ended;
    int status;
    double cpu_s;
};

struct score {
    int jobs, reached, unsure, asked, broken;
};

/* Is the figure asked for one of the job's? */
static bool wanted(const struct options *options, const struct job *job)
{
    size_t length = options->only ? strlen(options->only) : 0;
    for (const char *at = job->figures; length > 0 && (at = strstr(at, options->only)) != NULL; at += length)
        if (at[length] == '\0' || at[length] == ' ')
            return true;
    return !options->only;
}

static bool begin(const struct job *job, const struct options *options, struct running *running)
{
    running->lines = tmpfile();
    if (!running->lines)
        return false;
    fflush(stdout);
    running->pid = fork();
    if (running->pid == 0) {
        if (dup2(fileno(running->lines), STDOUT_FILENO) < 0)
            _exit(1);
        job->run(options->full, options->seed);
        exit(fflush(stdout) ? 1 : 0);
    }
    return running->pid > 0;
}

static bool wait_for_one(struct running *running, int n)
{
    int status;
    struct rusage took;
    pid_t pid = wait4(-1, &status, 0, &took);
    for (int i = 0; pid > 0 && i < n; i++)
        if (running[i].pid == pid) {
            running[i].ended = true;
            running[i].status = status;
            running[i].cpu_s = (double)(took.ru_utime.tv_sec + took.ru_stime.tv_sec) +
                               1e-6 * (double)(took.ru_utime.tv_usec + took.ru_stime.tv_usec);
            return true;
        }
    return pid > 0;
}

static void show(const struct job *job, struct running *running, struct score *score)
{
    char line[512];
    rewind(running->lines);
    while (fgets(line, sizeof line, running->lines)) {
        fputs(line, stdout);
        line[strcspn(line, "\n")] = '\0';
        const char *word = strrchr(line, ' ');
        bool yes = word && !strcmp(word, " yes"), unsure = word && !strcmp(word, " unsure");
        score->reached += yes;
        score->unsure += unsure;
        score->asked += yes || unsure || (word && !strcmp(word, " no"));
    }
    fclose(running->lines);
    score->jobs++;
    if (!WIFEXITED(running->status) || WEXITSTATUS(running->status)) {
        fprintf(stderr, "%s could not be worked out (status %d)\n", job->figures, running->status);
        score->broken++;
    }
    fflush(stdout);
}

/* The next to begin: the longest of those that go side by side, then the others in their order. -1: none is left. */
static int next_job(const struct running *running)
{
    int best = -1;
    for (int i = 0; i < JOBS; i++)
        if (!running[i].begun && (best < 0 || (!jobs[i].alone && jobs[i].about_s > jobs[best].about_s)))
            best = i;
    return best;
}

static void tell_times(const struct running *running)
{
    const char *between = "\nProcessor time, s: ";
    for (int i = 0; i < JOBS; i++) {
        if (!running[i].lines)
            continue;
        printf("%s%s %.1f", between, jobs[i].figures, running[i].cpu_s);
        between = ", ";
    }
    printf("\n");
}

static bool run_all(const struct options *options, struct score *score)
{
    struct running running[JOBS] = {0};
    int shown = 0, going = 0;
    for (int i = 0; i < JOBS; i++)
        running[i].begun = running[i].ended = !wanted(options, &jobs[i]);
    for (int i; going > 0 || next_job(running) >= 0;) {
        while ((i = next_job(running)) >= 0 && going < (jobs[i].alone ? 1 : SIDE_BY_SIDE)) {
            if (!begin(&jobs[i], options, &running[i]))
                return false;
            running[i].begun = true;
            going++;
        }
        if (!wait_for_one(running, JOBS))
            return false;
        going--;
        for (; shown < JOBS && running[shown].ended; shown++)
            if (running[shown].lines)
                show(&jobs[shown], &running[shown], score);
    }
    tell_times(running);
    return true;
}

static bool read_options(int argc, char **argv, struct options *options)
{
    *options = (struct options){.seed = 1};
    for (int i = 1; i < argc; i++) {
        char *end = "x";
        if (!strcmp(argv[i], "--full"))
            options->full = true;
        else if (!strcmp(argv[i], "--seed") && i + 1 < argc && argv[i + 1][0] >= '0' &&
                 argv[i + 1][0] <= '9') {
            options->seed = strtoull(argv[++i], &end, 10);
            if (*end)
                return false;
        } else if (!strcmp(argv[i], "--only") && i + 1 < argc)
            options->only = argv[++i];
        else if (!strcmp(argv[i], "--curve") && i + 1 < argc)
            options->curve = argv[++i];
        else
            return false;
    }
    return true;
}

int main(int argc, char **argv)
{
    struct options options;
    struct score score = {0};
    if (!read_options(argc, argv, &options)) {
        fprintf(stderr, "Usage: thrum_bench [--full] [--seed N] [--only M1]\n"
                        "       thrum_bench --curve strength|presence [--seed N]\n");
        return 2;
    }
    if (options.curve) {
        if (bench_curve(options.curve, options.seed))
            return fflush(stdout) ? 1 : 0;
        fprintf(stderr, "No curve is called %s; there are strength and presence.\n", options.curve);
        return 2;
    }
    printf("Thrum's figures, %s run, seed %llu\n\n", options.full ? "full" : "quick",
           (unsigned long long)options.seed);
    bench_heading();
    if (!run_all(&options, &score)) {
        perror("The benchmark could not go on");
        return 1;
    }
    if (score.jobs == 0) {
        fprintf(stderr, "No figure is called %s.\n", options.only);
        return 2;
    }
    printf("\n%d of %d figures reached, %d more missed by less than two standard errors (a longer run "
           "decides).\n",
           score.reached, score.asked, score.unsure);
    return score.broken ? 1 : 0;
}
