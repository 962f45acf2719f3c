/* thrum review: a round from recordings, as a page to be read, printed and kept. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "commands/command.h"
#include "commands/file_write.h"
#include "commands/options.h"
#include "commands/rank_job.h"
#include "commands/review_page.h"
#include "commands/say.h"
#include "commands/stop.h"

struct review_job {
    struct rank_job rank;
    const char *page;
    bool replace;
};

/* The recordings ranked. *path is the caller's, to be freed; NULL without memory. */
static int recordings(const struct rank_job *rank, const char ***path)
{
    int n = rank->walk ? 1 : rank->n_targets;
    *path = calloc((size_t)n + 1, sizeof **path);
    for (int i = 0; *path && i < n; i++)
        (*path)[i] = rank->walk ? rank->walk : rank->targets[i].path;
    return n;
}

static bool compose(const struct review_job *job, const struct findings *findings, struct paper_text *page)
{
    const char **path;
    int n = recordings(&job->rank, &path);
    bool good = path && review_compose(findings, path, n, page);
    free(path);
    return good;
}

static void print_verdicts(const struct thrum_snapshot *snapshot)
{
    char text[400];
    for (int s = 0; s < snapshot->n_senders; s++) {
        verdict_sentence(snapshot, s, text, sizeof text);
        if (snapshot->n_senders > 1)
            printf("Sender %s: ", snapshot->sender[s].name);
        print_sentence(stdout, text, false);
    }
}

static int write_page(const struct findings *findings, const void *context)
{
    const struct review_job *job = context;
    struct paper_text page = {.bytes = NULL};
    errno = ENOMEM;
    bool composed = compose(job, findings, &page);
    bool good = composed && !stop_asked() && file_write(job->page, page.bytes, page.size);
    paper_text_free(&page);
    if (stop_asked())
        return CODE_BROKEN_OFF;
    if (!good) {
        say("%s cannot be written: %s", job->page, strerror(errno));
        return CODE_OUTPUT;
    }
    print_verdicts(&findings->snapshot);
    printf("Written to %s; open it in a browser, or print it.\n", job->page);
    return CODE_DONE;
}

/* Before the work is done: a page that stays unwritten is found out at once. Devices and pipes hold nothing to lose. */
static int look_at_page(const struct review_job *job)
{
    struct stat about;
    if (!job->page)
        return say_usage("where is the page to go? --page OUT.html");
    if (strcmp(job->page, "-") == 0)
        return say_usage("--page wants a file's name");
    if (job->replace || stat(job->page, &about) != 0 || !(S_ISREG(about.st_mode) || S_ISDIR(about.st_mode)))
        return CODE_DONE;
    say("%s is there already; name another place, or say --replace", job->page);
    return CODE_OUTPUT;
}

static int review(const struct command *command, int argc, char **argv)
{
    struct review_job job = {.page = NULL};
    const struct option_rule rules[] = {
        RANK_OPTIONS(job.rank),
        {.name = "page", .kind = OPTION_TEXT, .into = &job.page},
        {.name = "replace", .kind = OPTION_FLAG, .into = &job.replace},
        {.name = NULL},
    };
    enum options_result result = options_read(command, rules, &argc, argv);
    if (result != OPTIONS_GO)
        return result == OPTIONS_DONE ? CODE_DONE : CODE_USAGE;
    int code = rank_usage(&job.rank, argc, argv);
    if (code == CODE_DONE)
        code = look_at_page(&job);
    return code == CODE_DONE ? rank_run(&job.rank, argc, argv, write_page, &job) : code;
}

const struct command command_review = {
    .name = "review",
    .summary = "makes a page of a recorded round, to be printed and kept",
    .help = "Usage: thrum review [OPTION...] --page OUT.html FILE...\n"
            "       thrum review [OPTION...] --page OUT.html --walk FILE\n"
            "\n"
            "Ranks recordings as thrum rank does, and writes what the round came to as one\n"
            "page that needs nothing else: the pick, the ranking and the strength over time\n"
            "as pictures, every touch with its faults. It shows later why a wire was named.\n"
            "\n"
            "  thrum review --page zone7.html rounds/zone7.wav\n"
            "\n"
            "  --page OUT.html  where the page goes\n"
            "  --replace        a page that is there already is replaced\n"
            "  --voice V.json   a sender's voice, from thrum learn; may be given several\n"
            "                   times. Without it: the recordings' own, else learned\n"
            "  --walk FILE      one unbroken recording\n"
            "  --marks CSV      lines tag,start_s,end_s that say which stretches are touches\n"
            "  --exclude TAGS   wires that cannot be it, as in w03,w11\n"
            "  --history JSON   what thrum rank --json wrote of an earlier round\n"
            "\n"
            "FILE, and what else these mean: thrum rank --help.\n"
            "Exit status: 0 picked, 1 no pick, 2 wrong usage, 4 a file was bad,\n"
            "5 the page could not be written, 130 broken off.\n",
    .run = review,
};
