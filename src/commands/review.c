/* thrum review: a round from recordings, as a page to be read, printed and kept. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "commands/command.h"
#include "commands/file_write.h"
#include "commands/findings_rows.h"
#include "commands/options.h"
#include "commands/rank_job.h"
#include "commands/say.h"
#include "paper/review.h"

struct review_job {
    struct rank_job rank;
    const char *page;
    bool replace;
};

/* The words of one sender, owned here; what the page points to. */
struct sender_words {
    char voice[500], title[500], verdict[400], next[400];
    struct paper_text silent, excluded, advice;
};

struct words {
    struct sender_words sender[THRUM_MAX_SENDERS];
    const char *voice[THRUM_MAX_SENDERS], *advice[THRUM_MAX_SENDERS];
    struct paper_ranking ranking[THRUM_MAX_SENDERS];
    struct paper_note *note;
    char *printed;
};

static const char *bytes_of(const struct paper_text *text)
{
    return text->bytes ? text->bytes : "";
}

static void list(const struct thrum_snapshot *snapshot, const struct thrum_pick *pick, const char *title,
                 enum findings_place place, struct paper_text *text)
{
    char listed[FINDINGS_LISTED_SIZE];
    for (int wire = 0; wire < snapshot->n_wires; wire++)
        if (findings_listed(snapshot, pick, wire, place, listed))
            paper_putf(text, "%s %s", text->size == 0 ? title : ",", listed);
    if (text->size > 0)
        paper_put(text, ".");
}

static void take_rows(const struct thrum_snapshot *snapshot, const struct thrum_pick *pick,
                      struct paper_ranking *ranking)
{
    ranking->top_db = findings_top_db(snapshot, pick);
    ranking->span_db = FINDINGS_BAR_SPAN_DB;
    for (int i = 0; i < pick->n_ranked; i++) {
        const struct thrum_wire_rank *rank = &pick->rank[i];
        if (findings_place(snapshot, pick, rank) != FINDINGS_ROW)
            continue;
        struct paper_wire *wire = &ranking->wire[ranking->n_wires++];
        snprintf(wire->tag, sizeof wire->tag, "%s", findings_tag(snapshot, rank->wire));
        wire->heard = rank->heard;
        wire->dbfs = rank->dbfs;
        wire->low_db = rank->low_db;
        wire->high_db = rank->high_db;
        wire->touches = rank->touches;
        findings_chance(pick, rank, wire->chance, sizeof wire->chance);
    }
}

static void take_sender(const struct thrum_snapshot *snapshot, int s, struct words *words)
{
    const struct thrum_pick *pick = &snapshot->pick[s];
    struct sender_words *own = &words->sender[s];
    voice_sentence(&snapshot->sender[s], own->voice, sizeof own->voice - 40);
    snprintf(own->title, sizeof own->title, "Sender %s: %s", snapshot->sender[s].name, own->voice);
    verdict_sentence(snapshot, s, own->verdict, sizeof own->verdict);
    verdict_next(snapshot, s, own->next, sizeof own->next);
    list(snapshot, pick, "No tone on", FINDINGS_SILENT, &own->silent);
    list(snapshot, pick, "Excluded:", FINDINGS_EXCLUDED, &own->excluded);
    for (int i = 0; i < THRUM_PICK_NOTES; i++)
        if (findings_advice(snapshot, s, i))
            paper_putf(&own->advice, "%s%s", own->advice.size > 0 ? " " : "",
                       findings_advice(snapshot, s, i));
    words->voice[s] = own->title;
    words->advice[s] = bytes_of(&own->advice);
    struct paper_ranking *ranking = &words->ranking[s];
    ranking->title = own->title;
    ranking->verdict = own->verdict;
    ranking->silent = bytes_of(&own->silent);
    ranking->excluded = bytes_of(&own->excluded);
    ranking->next = own->next;
    take_rows(snapshot, pick, ranking);
}

/* What thrum rank prints of the same round; NULL without memory. */
static char *printed(const struct findings *findings)
{
    char *text = NULL;
    size_t size;
    FILE *stream = open_memstream(&text, &size);
    if (!stream)
        return NULL;
    findings_print(findings, stream);
    bool good = !ferror(stream);
    if (fclose(stream) == 0 && good)
        return text;
    free(text);
    return NULL;
}

static bool take_words(const struct findings *findings, struct words *words)
{
    words->printed = printed(findings);
    words->note = calloc((size_t)findings->n_warnings + 1, sizeof *words->note);
    if (!words->printed || !words->note)
        return false;
    bool good = true;
    for (int i = 0; i < findings->n_warnings; i++)
        words->note[i] =
            (struct paper_note){.code = findings->warning[i].code, .text = findings->warning[i].text};
    for (int s = 0; s < findings->snapshot.n_senders; s++) {
        struct sender_words *own = &words->sender[s];
        take_sender(&findings->snapshot, s, words);
        good = good && !own->silent.failed && !own->excluded.failed && !own->advice.failed;
    }
    return good;
}

static void words_destroy(struct words *words)
{
    for (int s = 0; words && s < THRUM_MAX_SENDERS; s++) {
        paper_text_free(&words->sender[s].silent);
        paper_text_free(&words->sender[s].excluded);
        paper_text_free(&words->sender[s].advice);
    }
    if (words) {
        free(words->note);
        free(words->printed);
    }
    free(words);
}

static bool compose(const struct findings *findings, struct paper_text *page)
{
    struct words *words = calloc(1, sizeof *words);
    bool good = words && take_words(findings, words);
    if (good) {
        struct paper_review review = {.snapshot = &findings->snapshot,
                                      .source = (const char *const *)findings->source,
                                      .ranking = words->ranking,
                                      .voice = words->voice,
                                      .advice = words->advice,
                                      .note = words->note,
                                      .n_notes = findings->n_warnings,
                                      .printed = words->printed};
        good = paper_review_page(&review, page) == THRUM_OK;
    }
    words_destroy(words);
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
    bool good = compose(findings, &page) && file_write(job->page, page.bytes, page.size);
    paper_text_free(&page);
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
    if (job->replace || lstat(job->page, &about) != 0 || !(S_ISREG(about.st_mode) || S_ISDIR(about.st_mode)))
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
            "page that needs nothing else: the pick, the ranking as a picture, every touch\n"
            "with its faults, the voices. It shows later why a wire was named.\n"
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
            "\n"
            "FILE, and what else these mean: thrum rank --help.\n"
            "Exit status: 0 picked, 1 no pick, 2 wrong usage, 4 a file was bad,\n"
            "5 the page could not be written, 130 broken off.\n",
    .run = review,
};
