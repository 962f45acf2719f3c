#include "commands/review_page.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "commands/findings_rows.h"
#include "commands/levels_heard.h"
#include "commands/origins.h"
#include "commands/sound_heard.h"
#include "paper/review.h"
#include "signal/shorttime.h"

/* The words of one sender, owned here; what the page points to. */
struct sender_words {
    char title[500], verdict[400], next[400];
    struct paper_text silent, excluded, advice;
};

struct words {
    struct sender_words sender[THRUM_MAX_SENDERS];
    const char *voice[THRUM_MAX_SENDERS], *advice[THRUM_MAX_SENDERS];
    struct paper_ranking ranking[THRUM_MAX_SENDERS];
    struct paper_levels levels[THRUM_MAX_SENDERS];
    struct paper_span *span;       /* [n_senders * n_readings] */
    struct paper_span *span_heard; /* [touches in the sound], where only touches are */
    double *begin_heard_s;
    struct paper_note *note;
    char *printed;
    struct thrum_shorttime *shorttime;
    struct paper_spectrogram spectrogram;
    struct paper_sound sound;
    char no_sound[200]; /* why there is none; "" where there is */
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
    char voice[sizeof own->title - 40];
    voice_sentence(&snapshot->sender[s], voice, sizeof voice);
    snprintf(own->title, sizeof own->title, "Sender %s: %s", snapshot->sender[s].name, voice);
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

/* The touches of one sender on the time of all recordings; how many. */
static int take_spans(const struct findings *findings, const struct levels_heard *heard, int sender,
                      struct paper_span *span)
{
    int n = 0;
    for (int i = 0; i < findings->snapshot.n_readings; i++) {
        const struct thrum_reading *reading = &findings->snapshot.readings[i];
        double from_s = levels_when(heard, findings, i);
        if (from_s < 0.0 || sender >= reading->n_senders)
            continue;
        span[n++] = (struct paper_span){.from_s = from_s,
                                        .to_s = from_s + (double)reading->frames / reading->rate_hz,
                                        .tag = reading->wire,
                                        .heard = reading->strength[sender].heard,
                                        .dbfs = reading->strength[sender].dbfs};
    }
    return n;
}

static bool take_levels(const struct findings *findings, const struct levels_heard *heard,
                        struct words *words)
{
    size_t room = (size_t)findings->snapshot.n_readings;
    words->span = calloc(room * THRUM_MAX_SENDERS + 1, sizeof *words->span);
    for (int s = 0; words->span && s < heard->n_senders; s++) {
        struct paper_span *span = words->span + room * (size_t)s;
        words->levels[s] = (struct paper_levels){.title = words->sender[s].title,
                                                 .step_s = LEVELS_STEP_S,
                                                 .dbfs = heard->dbfs[s],
                                                 .n_levels = heard->n,
                                                 .time.joint_s = heard->begin_s,
                                                 .time.n_joints = heard->n_files,
                                                 .time.span = span,
                                                 .time.n_spans = take_spans(findings, heard, s, span)};
    }
    return words->span != NULL;
}

static void say_no_sound(const struct sound_heard *heard, char *text, size_t size)
{
    if (heard->too_long && heard->n == 0)
        snprintf(text, size,
                 "There is none here: the recordings are longer than %.0f s, the most that a page holds, and "
                 "there is no "
                 "touch in them. Play the recordings themselves, or review fewer of them.",
                 SOUND_MOST_S);
    else if (heard->rates_differ)
        snprintf(text, size, "There is none here: the recordings have different sample rates.");
    else if (heard->n == 0)
        snprintf(text, size, "There is none: it was given on standard input, or could not be read.");
}

/* Where only touches are heard, the time of the sound is its own. False without memory. */
static bool take_touches_heard(const struct findings *findings, const struct sound_heard *heard,
                               struct words *words)
{
    size_t n = (size_t)heard->n_touches;
    words->span_heard = calloc(n + 1, sizeof *words->span_heard);
    words->begin_heard_s = calloc(n + 1, sizeof *words->begin_heard_s);
    if (!words->span_heard || !words->begin_heard_s)
        return false;
    for (int i = 0; i < heard->n_touches; i++) {
        const struct sound_touch *touch = &heard->touch[i];
        words->begin_heard_s[i] = touch->begin_s;
        words->span_heard[i] = (struct paper_span){.from_s = touch->from_s,
                                                   .to_s = touch->to_s,
                                                   .tag = findings->snapshot.readings[touch->reading].wire};
    }
    words->spectrogram.time = (struct paper_time){.joint_s = words->begin_heard_s,
                                                  .n_joints = heard->n_touches,
                                                  .span = words->span_heard,
                                                  .n_spans = heard->n_touches};
    words->sound.touch = words->span_heard;
    words->sound.n_touches = heard->n_touches;
    words->sound.left_out = heard->left_out;
    return true;
}

/* The sound, and the spectrogram of the clean one up to 4 kHz, on the time of the levels where all is heard. False without memory. */
static bool take_sound(const struct findings *findings, const struct sound_heard *heard, struct words *words)
{
    static const double WINDOW_S = 0.064, TOP_HZ = 4000.0;
    say_no_sound(heard, words->no_sound, sizeof words->no_sound);
    if (words->no_sound[0])
        return true;
    double total_s = (double)heard->n / heard->rate_hz;
    if (thrum_shorttime_create(heard->rate_hz, WINDOW_S, paper_spectrogram_step(total_s), TOP_HZ, total_s,
                               &words->shorttime) != THRUM_OK)
        return false;
    const struct thrum_shorttime *shorttime = words->shorttime;
    thrum_shorttime_run(words->shorttime, heard->clean, heard->n);
    words->spectrogram =
        (struct paper_spectrogram){.title = "Spectrogram, with the hum taken out",
                                   .total_s = total_s,
                                   .first_s = thrum_shorttime_at_s(shorttime, 0.0),
                                   .step_s = shorttime->hop / heard->rate_hz,
                                   .n_columns = shorttime->frames,
                                   .n_rows = (int)fmin(TOP_HZ / shorttime->bin_hz, shorttime->bins),
                                   .stride = shorttime->bins,
                                   .row_hz = shorttime->bin_hz,
                                   .power = shorttime->power,
                                   .time = words->levels[0].time};
    words->sound = (struct paper_sound){.rate_hz = heard->rate_hz,
                                        .n = heard->n,
                                        .raw = heard->raw,
                                        .clean = heard->clean,
                                        .gain_db = SOUND_GAIN_DB};
    return !heard->too_long || take_touches_heard(findings, heard, words);
}

static void words_destroy(struct words *words)
{
    for (int s = 0; words && s < THRUM_MAX_SENDERS; s++) {
        paper_text_free(&words->sender[s].silent);
        paper_text_free(&words->sender[s].excluded);
        paper_text_free(&words->sender[s].advice);
    }
    if (words) {
        thrum_shorttime_destroy(words->shorttime);
        free(words->span);
        free(words->span_heard);
        free(words->begin_heard_s);
        free(words->note);
        free(words->printed);
    }
    free(words);
}

bool review_compose(const struct findings *findings, const char *const *path, int n_files,
                    struct paper_text *page)
{
    struct words *words = calloc(1, sizeof *words);
    struct levels_heard heard = {.n = 0};
    struct sound_heard sound = {.n = 0};
    struct origins origins = {.n = 0};
    bool good = words && take_words(findings, words) && origins_find(&origins, findings, path, n_files) &&
                levels_hear(&heard, findings, path, n_files) && take_levels(findings, &heard, words) &&
                sound_hear(&sound, findings, path, n_files) && take_sound(findings, &sound, words);
    if (good) {
        struct paper_review review = {.snapshot = &findings->snapshot,
                                      .origin = origins.origin,
                                      .n_origins = origins.n,
                                      .mains = origins.mains,
                                      .source = (const char *const *)findings->source,
                                      .ranking = words->ranking,
                                      .levels = heard.n > 0 ? words->levels : NULL,
                                      .spectrogram = words->no_sound[0] ? NULL : &words->spectrogram,
                                      .sound = words->no_sound[0] ? NULL : &words->sound,
                                      .no_sound = words->no_sound,
                                      .voice = words->voice,
                                      .advice = words->advice,
                                      .note = words->note,
                                      .n_notes = findings->n_warnings,
                                      .printed = words->printed};
        good = paper_review_page(&review, page) == THRUM_OK;
    }
    words_destroy(words);
    origins_free(&origins);
    levels_free(&heard);
    sound_free(&sound);
    return good;
}
