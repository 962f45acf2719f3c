/* A round without a screen: lines for a person, events for a program. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "commands/json_out.h"
#include "commands/round_job.h"
#include "commands/say.h"
#include "sound/message.h"

/* Of sound, between two snapshots told. */
#define EVENT_EACH_S 0.2
#define LINE_EACH_S  1.0

static json_t *now_strength(const struct thrum_snapshot *snapshot)
{
    json_t *list = json_array();
    for (int i = 0; i < snapshot->n_senders; i++)
        json_array_append_new(list,
                              json_pack("{s:o, s:o, s:o, s:o}", "sender", json_text(snapshot->sender[i].name),
                                        "dbfs", json_level(snapshot->now.steady_dbfs[i]), "bar_dbfs",
                                        json_level(snapshot->now.bar_dbfs[i]), "best_dbfs",
                                        json_level(snapshot->now.best_dbfs[i])));
    return list;
}

static json_t *snapshot_event(const struct worker_view *view)
{
    const struct thrum_snapshot *snapshot = &view->snapshot;
    const struct thrum_now *now = &snapshot->now;
    double rate_hz = snapshot->rate_hz > 0.0 ? snapshot->rate_hz : 1.0;
    return json_pack("{s:s, s:o, s:o, s:b, s:b, s:o, s:s, s:o, s:o, s:o, s:o, s:o, s:I}", "event", "snapshot",
                     "time_s", json_rounded((double)now->frames / rate_hz, 1e-6), "wire",
                     json_text(snapshot->current), "touching", snapshot->touching, "enough", snapshot->enough,
                     "hold_s", json_rounded(snapshot->hold_s, 0.1), "heard", thrum_heard_name(now->heard),
                     "strength", now_strength(snapshot), "hum_dbfs", json_level(now->hum_dbfs), "mains_hz",
                     json_mains(now->mains_hz), "peak_dbfs", json_level(now->peak_dbfs), "faults",
                     json_faults(now->faults), "lost_frames", (json_int_t)view->lost);
}

static json_t *input_event(const struct round_job *job, const struct worker_view *view, const char *state)
{
    const struct thrum_source_info *info = intake_info(job->intake);
    return json_pack("{s:s, s:o, s:s, s:o, s:i, s:I, s:o}", "event", "input", "name", json_text(view->input),
                     "state", state, "rate_hz", json_rounded(info->rate_hz, 1e-3), "channels", info->channels,
                     "lost_frames", (json_int_t)view->lost, "text", json_text(view->message.text));
}

static json_t *pick_event(const struct thrum_snapshot *snapshot, int sender, bool final)
{
    json_t *event = json_pack("{s:s, s:b}", "event", "pick", "final", final),
           *pick = pick_json(snapshot, sender);
    json_object_update(event, pick);
    json_decref(pick);
    return event;
}

static bool tell_input(struct round_teller *teller, const struct worker_view *view)
{
    bool was_lost = teller->input_lost, first = !teller->input_told;
    teller->input_told = true;
    teller->input_lost = view->input_lost;
    if (!first && was_lost == view->input_lost)
        return true;
    return json_print(input_event(teller->job, view, view->input_lost ? "lost" : first ? "live" : "back"));
}

static bool same_offers(const struct thrum_offers *a, const struct thrum_offers *b)
{
    int same = 0;
    while (same < a->n && same < b->n && strcmp(a->name[same], b->name[same]) == 0)
        same++;
    return same == a->n && same == b->n;
}

/* What can take the place of a lost input. True when there is something new to tell. */
static bool new_offers(struct round_teller *teller, const struct worker_view *view)
{
    if (!view->input_lost)
        teller->offers.n = 0;
    if (!view->input_lost || same_offers(&teller->offers, &view->offers))
        return false;
    teller->offers = view->offers;
    return true;
}

static bool tell_offers(struct round_teller *teller, const struct worker_view *view)
{
    if (!new_offers(teller, view))
        return true;
    json_t *names = json_array();
    for (int i = 0; i < view->offers.n; i++)
        json_array_append_new(names, json_text(view->offers.name[i]));
    return json_print(json_pack("{s:s, s:o}", "event", "inputs", "names", names));
}

/* Only where there are keys: else nobody could choose. */
static bool tell_offers_line(struct round_teller *teller, const struct worker_view *view)
{
    if (!teller->job->keys || !new_offers(teller, view))
        return true;
    bool good = printf("Inputs there are%s",
                       view->offers.n > 0 ? " (i1 takes the first in place of the lost one):" : ": none") > 0;
    for (int i = 0; i < view->offers.n; i++)
        good = printf("%s %d %s", i > 0 ? "," : "", i + 1, view->offers.name[i]) > 0 && good;
    return putchar('\n') != EOF && good && fflush(stdout) == 0;
}

static bool tell_moved(struct round_teller *teller, const struct worker_view *view)
{
    bool news = view->moved[0] && strcmp(view->moved, teller->moved) != 0;
    memcpy(teller->moved, view->moved, sizeof teller->moved);
    return !news || json_print(json_pack("{s:s, s:s, s:o}", "event", "warning", "code", "moved", "text",
                                         json_text(view->moved)));
}

/* A disk that does not take the recording, or a machine that is too slow. */
static bool tell_stuck(struct round_teller *teller, const struct worker_view *view)
{
    bool news = view->stuck && !teller->stuck;
    teller->stuck = view->stuck;
    return !news || json_print(json_pack("{s:s, s:s, s:o}", "event", "warning", "code", "stuck", "text",
                                         json_text(view->message.text)));
}

static bool tell_ears(struct round_teller *teller)
{
    struct thrum_message said;
    bool gone = ears_gone(teller->job->ears, &said), news = gone && !teller->ears_gone;
    teller->ears_gone = gone;
    return !news || json_print(json_pack("{s:s, s:s, s:o}", "event", "warning", "code", "ears-gone", "text",
                                         json_text(said.text)));
}

/* The input delivers another rate than it says, or its own again. */
static bool tell_rate(struct round_teller *teller, const struct worker_view *view)
{
    struct thrum_message said;
    double says_hz = intake_info(teller->job->intake)->rate_hz;
    if (fabs(view->came_hz - teller->came_hz) < 0.5)
        return true;
    teller->came_hz = view->came_hz;
    message_wrong_rate(&said, says_hz, view->came_hz > 0.0 ? view->came_hz : says_hz);
    return json_print(
        json_pack("{s:s, s:s, s:o}", "event", "warning", "code", "wrong-rate", "text", json_text(said.text)));
}

/* A sender that is followed may be heard in a touch that did not hear it, and one that was heard may count no more. */
static unsigned char how_told(const struct thrum_reading *reading)
{
    return (unsigned char)((reading->strength[0].heard ? 1 : 0) |
                           (reading->faults & THRUM_FAULT_NOT_COMPARED ? 2 : 0));
}

static bool is_told(const struct round_teller *teller, int i, const struct thrum_reading *reading)
{
    return strcmp(teller->told[i], reading->wire) == 0 && teller->told_how[i] == how_told(reading);
}

static bool tell_readings(struct round_teller *teller, const struct worker_view *view)
{
    const struct thrum_snapshot *snapshot = &view->snapshot;
    int complete = snapshot->n_complete; /* the others still change */
    int same = 0;                        /* the others were undone, mended or measured anew */
    while (same < teller->readings && same < complete && is_told(teller, same, &snapshot->readings[same]))
        same++;
    teller->readings = same;
    while (teller->readings < complete) {
        const struct thrum_reading *reading = &snapshot->readings[teller->readings];
        memcpy(teller->told[teller->readings], reading->wire, sizeof teller->told[0]);
        teller->told_how[teller->readings++] = how_told(reading);
        json_t *event = json_pack("{s:s}", "event", "reading");
        json_t *fields = reading_json(snapshot, reading, view->input);
        json_object_update(event, fields);
        json_decref(fields);
        if (!json_print(event))
            return false;
    }
    return true;
}

static bool tell_picks(struct round_teller *teller, const struct worker_view *view)
{
    const struct thrum_snapshot *snapshot = &view->snapshot;
    for (int i = 0; i < snapshot->n_senders && snapshot->n_readings > 0; i++) {
        char verdict[sizeof teller->picked[0]];
        verdict_sentence(snapshot, i, verdict, sizeof verdict);
        if (strcmp(verdict, teller->picked[i]) == 0)
            continue;
        memcpy(teller->picked[i], verdict, sizeof verdict);
        if (!json_print(pick_event(snapshot, i, false)))
            return false;
    }
    return true;
}

static bool tell_events(struct round_teller *teller, const struct worker_view *view)
{
    const struct thrum_snapshot *snapshot = &view->snapshot;
    if (!tell_input(teller, view) || !tell_offers(teller, view) || !tell_moved(teller, view) ||
        !tell_stuck(teller, view) || !tell_ears(teller) || !tell_rate(teller, view))
        return false;
    if (snapshot->now.frames >= teller->next_frame) {
        teller->next_frame = snapshot->now.frames + (uint64_t)(EVENT_EACH_S * snapshot->rate_hz);
        if (!json_print(snapshot_event(view)))
            return false;
    }
    return tell_readings(teller, view) && tell_picks(teller, view);
}

/* When it changes: the first time, and when the recording begins or ends. */
static bool tell_input_line(struct round_teller *teller, const struct thrum_snapshot *snapshot,
                            const struct thrum_screen_facts *facts)
{
    char line[2 * THRUM_FACT_TEXT];
    if (teller->head_told && teller->record == facts->record)
        return true;
    teller->head_told = true;
    teller->record = facts->record;
    thrum_screen_input_line(snapshot, facts, line, sizeof line);
    return puts(line) != EOF;
}

/* When it changes: after a touch, when one is taken back or gets another tag. */
static bool tell_rankings(struct round_teller *teller, const struct thrum_snapshot *snapshot,
                          const struct thrum_screen_facts *facts)
{
    for (int i = 0; i < snapshot->n_senders; i++) {
        char line[sizeof teller->ranking[0]];
        size_t n = thrum_screen_ranking_line(snapshot, facts, i, line, sizeof line);
        if (strcmp(line, teller->ranking[i]) == 0)
            continue;
        memcpy(teller->ranking[i], line, sizeof line);
        if (n > 0 && puts(line) == EOF)
            return false;
    }
    return fflush(stdout) == 0;
}

static bool tell_line(struct round_teller *teller, const struct worker_view *view)
{
    const struct thrum_snapshot *snapshot = &view->snapshot;
    bool news = snapshot->n_readings != teller->readings || view->input_lost != teller->input_lost ||
                view->stuck != teller->stuck || strcmp(view->input, teller->input) != 0 ||
                fabs(view->came_hz - teller->came_hz) > 0.5;
    if (teller->job->keys) /* what was asked for is answered at once */
        news =
            news || snapshot->touching != teller->touching || strcmp(snapshot->current, teller->current) != 0;
    if (!tell_offers_line(teller, view))
        return false;
    if (snapshot->now.frames < teller->next_frame && !news)
        return true;
    struct thrum_screen_facts facts;
    char line[sizeof teller->line];
    round_facts(teller->job, view, &facts);
    if (!tell_input_line(teller, snapshot, &facts))
        return false;
    thrum_screen_line(snapshot, &facts, line, sizeof line);
    teller->next_frame = snapshot->now.frames + (uint64_t)(LINE_EACH_S * snapshot->rate_hz);
    teller->readings = snapshot->n_readings;
    teller->input_lost = view->input_lost;
    teller->stuck = view->stuck;
    memcpy(teller->input, view->input, sizeof teller->input);
    teller->came_hz = view->came_hz;
    teller->touching = snapshot->touching;
    memcpy(teller->current, snapshot->current, sizeof teller->current);
    if (strcmp(line, teller->line) == 0)
        return true;
    memcpy(teller->line, line, sizeof line);
    return puts(line) != EOF && tell_rankings(teller, snapshot, &facts);
}

bool round_tell(struct round_teller *teller, const struct worker_view *view)
{
    chatter_bound(&teller->job->chatter);
    return teller->job->json ? tell_events(teller, view) : tell_line(teller, view);
}

bool round_tell_end(struct round_teller *teller, const struct worker_view *view,
                    const struct findings *findings)
{
    bool good = tell_readings(teller, view) && json_print(input_event(teller->job, view, "ended"));
    for (int i = 0; i < findings->n_warnings && good; i++)
        good = json_print(json_pack("{s:s, s:s, s:o}", "event", "warning", "code", findings->warning[i].code,
                                    "text", json_text(findings->warning[i].text)));
    for (int i = 0; i < findings->snapshot.n_senders && good; i++)
        good = json_print(pick_event(&findings->snapshot, i, true));
    return good;
}
