/* M12: the program itself on an hour of sound: a practice walk, over and over, and one plain touch of an hour. Beside
 * it the time libsndfile takes merely to decode the same sound from FLAC. Needs about 600 MB in TMPDIR for a minute. */
#include <fcntl.h>
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/statvfs.h>
#include <sys/types.h>
#include <sys/wait.h>
#include <unistd.h>

#include "rows.h"
#include "speed.h"

#define RATE   48000
#define HOUR_S 3600
enum { PATH = 512, BLOCK = 1 << 16 };

struct spent {
    double cpu_s, peak_mb;
    int status; /* of exit; -1: it did not come to that */
};

static double seconds(struct timeval t)
{
    return (double)t.tv_sec + 1e-6 * (double)t.tv_usec;
}

/* Run a program with its output thrown away and what it says kept in a file, and see what it took. */
static struct spent run(const char *const *words, const char *said)
{
    struct spent spent = {.status = -1};
    struct rusage took;
    int status;
    fflush(stdout);
    pid_t pid = fork();
    if (pid == 0) {
        int null = open("/dev/null", O_WRONLY), say = open(said, O_WRONLY | O_CREAT | O_TRUNC, 0600);
        if (null < 0 || say < 0 || dup2(null, STDOUT_FILENO) < 0 || dup2(say, STDERR_FILENO) < 0)
            _exit(126);
        execv(words[0], (char *const *)words);
        _exit(127);
    }
    if (pid < 0 || wait4(pid, &status, 0, &took) != pid)
        return spent;
    spent.cpu_s = seconds(took.ru_utime) + seconds(took.ru_stime);
    spent.peak_mb = (double)took.ru_maxrss * 1024.0 / 1e6;
    spent.status = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    return spent;
}

/* Fill a file with the sound of another, over and over, for so many seconds. */
static bool tile(const char *from, const char *to, int format, int length_s)
{
    SF_INFO in = {0}, out = {.samplerate = RATE, .channels = 1, .format = format};
    SNDFILE *source = sf_open(from, SFM_READ, &in);
    if (!source || in.channels != 1 || in.samplerate != RATE) {
        sf_close(source);
        return false;
    }
    short *x = malloc((size_t)in.frames * sizeof *x);
    SNDFILE *target = sf_open(to, SFM_WRITE, &out);
    bool ok = x && target && in.frames > 0 && sf_readf_short(source, x, in.frames) == in.frames;
    for (sf_count_t left = (sf_count_t)RATE * length_s; ok && left > 0; left -= in.frames) {
        sf_count_t n = left < in.frames ? left : in.frames;
        ok = sf_writef_short(target, x, n) == n;
    }
    sf_close(source);
    ok = target && sf_close(target) == 0 && ok;
    free(x);
    return ok;
}

/* Processor time of decoding the whole file, in a process of its own; NaN when it fails. */
static double decode_s(const char *path)
{
    struct rusage took;
    int status;
    fflush(stdout);
    pid_t pid = fork();
    if (pid == 0) {
        SF_INFO info = {0};
        SNDFILE *file = sf_open(path, SFM_READ, &info);
        static float x[BLOCK];
        sf_count_t all = 0, got;
        while (file && (got = sf_readf_float(file, x, BLOCK)) > 0)
            all += got;
        _exit(file && all == info.frames ? 0 : 1);
    }
    if (pid < 0 || wait4(pid, &status, 0, &took) != pid || status)
        return (double)NAN;
    return seconds(took.ru_utime) + seconds(took.ru_stime);
}

struct files {
    char folder[PATH], made[PATH + 16], lead[PATH + 32], walk[PATH + 32], voice[PATH + 16];
    char minute[PATH + 16], hour[PATH + 16], flac[PATH + 16], said[PATH + 16];
};

static bool name_files(struct files *f)
{
    const char *base = getenv("TMPDIR");
    struct statvfs room;
    snprintf(f->folder, sizeof f->folder, "%s/thrum-bench-XXXXXX", base && *base ? base : "/tmp");
    if (!mkdtemp(f->folder)) {
        perror(f->folder);
        return false;
    }
    if (statvfs(f->folder, &room) || (double)room.f_bavail * (double)room.f_frsize < 900e6) {
        fprintf(stderr, "%s has less than 900 MB free: name a folder with more in TMPDIR.\n", f->folder);
        rmdir(f->folder);
        return false;
    }
    snprintf(f->made, sizeof f->made, "%s/made", f->folder);
    snprintf(f->lead, sizeof f->lead, "%s/lead.wav", f->made);
    snprintf(f->walk, sizeof f->walk, "%s/walk.wav", f->made);
    snprintf(f->voice, sizeof f->voice, "%s/v.json", f->folder);
    snprintf(f->minute, sizeof f->minute, "%s/minute.wav", f->folder);
    snprintf(f->hour, sizeof f->hour, "%s/hour.wav", f->folder);
    snprintf(f->flac, sizeof f->flac, "%s/hour.flac", f->folder);
    snprintf(f->said, sizeof f->said, "%s/said.txt", f->folder);
    return true;
}

static void remove_all(const struct files *f)
{
    const char *const words[] = {"/bin/rm", "-rf", f->folder, NULL};
    run(words, "/dev/null");
}

static void tell(const char *said)
{
    char line[512];
    FILE *file = fopen(said, "r");
    while (file && fgets(line, sizeof line, file))
        fputs(line, stderr);
    if (file)
        fclose(file);
}

static bool make_files(const struct files *f, const char *thrum, uint64_t seed)
{
    char number[32];
    snprintf(number, sizeof number, "%llu", (unsigned long long)(seed % 1000000u));
    const char *const make[] = {thrum, "practice", "--seed", number, "--write", f->made, NULL};
    const char *const learn[] = {thrum, "learn", f->lead, "--voice", f->voice, NULL};
    return run(make, f->said).status == 0 && run(learn, f->said).status == 0 &&
           tile(f->walk, f->minute, SF_FORMAT_WAV | SF_FORMAT_PCM_16, 300) &&
           tile(f->walk, f->hour, SF_FORMAT_WAV | SF_FORMAT_PCM_16, HOUR_S) &&
           tile(f->walk, f->flac, SF_FORMAT_FLAC | SF_FORMAT_PCM_16, HOUR_S);
}

static void report(const char *name, struct spent spent, double decode)
{
    const struct bench_sample one = {1, 0.0};
    char what[96];
    bool ran = spent.status == 0 || spent.status == 1;
    snprintf(what, sizeof what, "%s: times real time", name);
    bench_at_least("M12", what, ran ? HOUR_S / spent.cpu_s : (double)NAN, 1000.0, one);
    snprintf(what, sizeof what, "%s: time over decoding it from FLAC", name);
    bench_at_most("M12", what, ran ? spent.cpu_s / decode : (double)NAN, 3.0, one);
    snprintf(what, sizeof what, "%s: most memory, MB", name);
    bench_at_most("M12", what, ran ? spent.peak_mb : (double)NAN, 48.0, one);
    bench_remark("processor time %.2f s, exit status %d; libsndfile alone %.2f s", spent.cpu_s, spent.status,
                 decode);
}

void bench_ranking(bool full, uint64_t seed)
{
    const char *thrum = getenv("THRUM");
    struct files f;
    (void)full;
    if (!thrum) {
        fprintf(stderr, "THRUM does not name the program: use tests/bench.sh.\n");
        exit(1);
    }
    if (!name_files(&f))
        exit(1);
    bool ok = make_files(&f, thrum, seed);
    const char *const touch_short[] = {thrum, "rank", "--voice", f.voice, f.minute, NULL};
    const char *const touch[] = {thrum, "rank", "--voice", f.voice, f.hour, NULL};
    const char *const walk[] = {thrum, "rank", "--voice", f.voice, "--walk", f.hour, NULL};
    if (ok) {
        double decode = decode_s(f.flac);
        struct spent five = run(touch_short, f.said), hour = run(touch, f.said);
        report("an hour as one touch", hour, decode);
        bench_note("M12", "memory for an hour over that for five minutes, MB", hour.peak_mb - five.peak_mb,
                   (struct bench_sample){1, 0.0});
        report("an hour's walk", run(walk, f.said), decode);
    }
    if (!ok) {
        fprintf(stderr, "The hour of sound could not be made in %s. %s said last:\n", f.folder, thrum);
        tell(f.said);
    }
    remove_all(&f);
    if (!ok)
        exit(1);
}
