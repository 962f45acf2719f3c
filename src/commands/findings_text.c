/* The ranking for a person, in at most 80 columns. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "commands/findings.h"
#include "commands/findings_rows.h"
#include "commands/say.h"

#define TAG_COLUMNS  4 /* at least */
#define LINE_COLUMNS 80

void chance_text(double chance, char *text, size_t size)
{
    double percent = 100.0 * chance;
    if (percent > 99.99)
        snprintf(text, size, "> 99.99 %%");
    else if (percent >= 99.0)
        snprintf(text, size, "%.2f %%", floor(percent * 100.0) / 100.0);
    else if (percent < 0.1)
        snprintf(text, size, "< 0.1 %%");
    else
        snprintf(text, size, "%.1f %%", percent);
}

void voice_sentence(const struct thrum_voice *voice, char *text, size_t size)
{
    size_t used = 0;
    text[0] = 0;
    if (voice->n_steps == 0) {
        snprintf(text, size, "unknown");
        return;
    }
    if (voice->steady) {
        snprintf(text, size, "%.1f Hz without a pause", voice->tones_hz[0]);
        return;
    }
    if (voice->n_tones == 1) {
        snprintf(text, size, "%.1f Hz", voice->tones_hz[0]);
        used = strlen(text);
    }
    for (int i = 0; i < voice->n_steps && used < size; i++) {
        const struct thrum_voice_step *step = &voice->step[i];
        const char *comma = used > 0 ? ", " : "";
        if (step->tone == THRUM_SILENCE)
            snprintf(text + used, size - used, "%s%.3f s off", comma, step->s);
        else if (voice->n_tones == 1)
            snprintf(text + used, size - used, "%s%.3f s on", comma, step->s);
        else
            snprintf(text + used, size - used, "%s%.1f Hz %.3f s", comma, voice->tones_hz[step->tone],
                     step->s);
        used += strlen(text + used);
    }
}

/* "w07 and w04", "w07, w04 and 3 more". */
static void list_contenders(const struct thrum_snapshot *snapshot, const struct thrum_pick *pick, char *text,
                            size_t size)
{
    int shown = pick->n_contenders <= 4 ? pick->n_contenders : 3;
    size_t used = 0;
    text[0] = 0;
    for (int i = 0; i < shown && used < size; i++) {
        const char *join = i == 0 ? "" : i + 1 == pick->n_contenders ? " and " : ", ";
        snprintf(text + used, size - used, "%s%s", join, findings_tag(snapshot, pick->contenders[i]));
        used += strlen(text + used);
    }
    if (shown < pick->n_contenders && used < size)
        snprintf(text + used, size - used, " and %d more", pick->n_contenders - shown);
}

/* How far before the others the wire that is picked lies. */
static void lead_sentence(const struct thrum_pick *pick, int untouched, char *text, size_t size)
{
    if (pick->lead_db > 0.0)
        snprintf(text, size, "%.1f dB ahead of the next", pick->lead_db);
    else if (pick->lead_db < 0.0)
        snprintf(text, size, "%.1f dB below a wire that is another sender's", -pick->lead_db);
    else
        snprintf(text, size, "the only one with the tone%s", untouched > 0 ? " so far" : "");
}

void verdict_sentence(const struct thrum_snapshot *snapshot, int sender, char *text, size_t size)
{
    const struct thrum_pick *pick = &snapshot->pick[sender];
    enum thrum_caveat caveat = thrum_snapshot_caveat(snapshot, sender);
    char chance[32], contenders[200], lead[64];
    int n_wires, untouched = thrum_snapshot_untouched(snapshot, sender, &n_wires);
    int wire, rival = thrum_snapshot_rival(snapshot, sender, &wire);
    chance_text(pick->chance, chance, sizeof chance);
    if (pick->n_ranked == 0 && pick->outcome == THRUM_TOO_CLOSE) {
        snprintf(text, size, "NO PICK: nothing was measured.");
        return;
    }
    if (thrum_snapshot_silent(snapshot)) {
        snprintf(text, size, "NO SIGNAL AT ALL: digital silence on every touch.");
        return;
    }
    if (n_wires == 0 && pick->n_ranked > 0) {
        snprintf(text, size, "NO PICK: all wires are excluded.");
        return;
    }
    switch (pick->outcome) {
    case THRUM_PICKED:
        lead_sentence(pick, untouched, lead, sizeof lead);
        snprintf(text, size, "PICKED: wire %s, chance %s, %s.", findings_tag(snapshot, pick->wire), chance,
                 lead);
        if (caveat != THRUM_CAVEAT_NONE)
            snprintf(text + strlen(text), size - strlen(text), " %s: %s.", thrum_caveat_name(caveat),
                     thrum_caveat_reason(caveat));
        return;
    case THRUM_TOO_CLOSE:
        if (untouched > 0) {
            snprintf(text, size, "NO PICK YET: %d of %d wires %s not been touched.", untouched, n_wires,
                     untouched == 1 ? "has" : "have");
            return;
        }
        if (pick->notes & THRUM_NOTE_ONE_WIRE && rival >= 0) {
            snprintf(text, size, "NO PICK: wire %s is strongest for sender %s too.",
                     findings_tag(snapshot, wire), snapshot->sender[rival].name);
            return;
        }
        if (pick->notes & THRUM_NOTE_ALONE) {
            snprintf(text, size, "NO PICK YET: wire %s is the only one here.",
                     findings_tag(snapshot, pick->wire));
            return;
        }
        if (pick->n_contenders == 1) {
            snprintf(text, size, "TOO CLOSE to be sure: probably wire %s, chance %s.",
                     findings_tag(snapshot, pick->contenders[0]), chance);
            return;
        }
        list_contenders(snapshot, pick, contenders, sizeof contenders);
        snprintf(text, size, "TOO CLOSE to name one wire: it is among %s.", contenders);
        return;
    case THRUM_NO_TONE:
        snprintf(text, size, "NO TONE on any of the wires%s.",
                 pick->notes & THRUM_NOTE_LEFT_OUT ? " that may be it" : "");
        return;
    case THRUM_EVERYWHERE:
        snprintf(text, size, "EVERYWHERE: the tone is on nearly all wires alike.");
        return;
    }
    text[0] = 0;
}

static bool left_out_between(const struct thrum_snapshot *snapshot, int first, int last)
{
    bool any = false;
    for (int i = first; i <= last && i < snapshot->n_wires; i++)
        any |= snapshot->excluded[i];
    return any;
}

void verdict_next(const struct thrum_snapshot *snapshot, int sender, char *text, size_t size)
{
    const struct thrum_pick *pick = &snapshot->pick[sender];
    text[0] = 0;
    if (thrum_snapshot_silent(snapshot))
        snprintf(text, size, "%s", thrum_fault_advice(THRUM_FAULT_SILENT));
    else if (pick->outcome == THRUM_PICKED && thrum_snapshot_caveat(snapshot, sender) != THRUM_CAVEAT_NONE)
        snprintf(text, size, "Do not write it down before that is cleared up.");
    else if (pick->outcome == THRUM_PICKED)
        snprintf(text, size, "Write it down, then measure the circuit before you connect it.");
    else if (pick->next_touch >= 0 && pick->next_last > pick->next_touch)
        snprintf(text, size, "Hold the probe against wires %s to %s next, apart from the %sothers.",
                 findings_tag(snapshot, pick->next_touch), findings_tag(snapshot, pick->next_last),
                 left_out_between(snapshot, pick->next_touch, pick->next_last) ? "excluded and the " : "");
    else if (pick->next_touch >= snapshot->n_wires)
        snprintf(text, size, "Touch a wire next that has not been touched.");
    else if (pick->next_touch >= 0 && pick->outcome != THRUM_EVERYWHERE)
        snprintf(text, size, "Touch wire %s next.", findings_tag(snapshot, pick->next_touch));
    else if (pick->next_touch >= 0)
        snprintf(text, size, "Where nothing can be changed: touch wire %s next.",
                 findings_tag(snapshot, pick->next_touch));
}

/* What all rows of one table share: bars end in the table's last column. */
struct chart {
    int tag_width, cells;
    double top_db;
};

static int cell_of(const struct chart *chart, double db)
{
    double share = 1.0 - (chart->top_db - db) / FINDINGS_BAR_SPAN_DB;
    return (int)lround(chart->cells * (share > 0.0 ? share < 1.0 ? share : 1.0 : 0.0));
}

/* Sure up to the interval's lower end, likely up to the strength, possible up to its upper end. */
static void print_bar(FILE *stream, const struct chart *chart, const struct thrum_wire_rank *rank)
{
    int sure = cell_of(chart, rank->low_db), likely = cell_of(chart, rank->dbfs);
    int possible = cell_of(chart, rank->high_db);
    for (int i = 0; i < possible; i++)
        fprintf(stream, "%s%c", i == 0 ? "  " : "", i < sure ? '#' : i < likely ? '=' : '-');
}

/* How many columns a UTF-8 text takes, near enough for tags. */
static int columns(const char *text)
{
    int n = 0;
    for (; *text; text++)
        n += ((unsigned char)*text & 0xC0) != 0x80;
    return n;
}

static void print_row(FILE *stream, const struct thrum_snapshot *snapshot, const struct thrum_pick *pick,
                      const struct thrum_wire_rank *rank, const struct chart *chart)
{
    const char *name = findings_tag(snapshot, rank->wire);
    char chance[32];
    findings_chance(pick, rank, chance, sizeof chance);
    fprintf(stream, "  %s%*s", name, chart->tag_width - columns(name), "");
    if (rank->heard)
        fprintf(stream, "  %7.1f  %7.1f to %6.1f", rank->dbfs, rank->low_db, rank->high_db);
    else
        fprintf(stream, "  %7s  %7s    %6s", "no tone", "", "");
    fprintf(stream, "  %7d  %9s", rank->touches, chance);
    if (rank->heard)
        print_bar(stream, chart, rank);
    fputc('\n', stream);
}

/* "No tone on w02, w11 ...", in lines of 80 columns; excluded wires with their strengths. */
static void print_list(FILE *stream, const struct thrum_snapshot *snapshot, const struct thrum_pick *pick,
                       const char *title, enum findings_place place)
{
    int column = 0;
    for (int wire = 0; wire < snapshot->n_wires; wire++) {
        char text[FINDINGS_LISTED_SIZE];
        if (!findings_listed(snapshot, pick, wire, place, text))
            continue;
        if (column == 0)
            column = fprintf(stream, "\n  %s", title);
        else
            column += fprintf(stream, ",");
        if (column + 1 + columns(text) > LINE_COLUMNS - 1)
            column = fprintf(stream, "\n   ") - 1;
        fprintf(stream, " %s", text);
        column += 1 + columns(text);
    }
    if (column > 0)
        fputs(".\n", stream);
}

static struct chart chart_of(const struct thrum_snapshot *snapshot, const struct thrum_pick *pick)
{
    struct chart chart = {.tag_width = TAG_COLUMNS, .top_db = findings_top_db(snapshot, pick)};
    for (int i = 0; i < snapshot->n_wires; i++)
        if (columns(snapshot->wire[i]) > chart.tag_width)
            chart.tag_width = columns(snapshot->wire[i]);
    chart.cells = LINE_COLUMNS - 52 - chart.tag_width;
    return chart;
}

static void print_header(FILE *stream, const struct chart *chart)
{
    static const char legend[] = "#sure =likely -possible";
    fprintf(stream, "\n  %-*s  %7s  %17s  %7s  %9s", chart->tag_width, "wire", "dBFS", "95 % interval",
            "touches", "chance");
    if (chart->cells >= (int)sizeof legend - 1)
        fprintf(stream, "  %s", legend);
    fputc('\n', stream);
}

/* The table with its bars, then the wires that are not worth a row. */
static void print_wires(FILE *stream, const struct thrum_snapshot *snapshot, const struct thrum_pick *pick)
{
    struct chart chart = chart_of(snapshot, pick);
    int rows = 0;
    for (int i = 0; i < pick->n_ranked; i++) {
        if (findings_place(snapshot, pick, &pick->rank[i]) != FINDINGS_ROW)
            continue;
        if (rows++ == 0)
            print_header(stream, &chart);
        print_row(stream, snapshot, pick, &pick->rank[i], &chart);
    }
    print_list(stream, snapshot, pick, "No tone on", FINDINGS_SILENT);
    print_list(stream, snapshot, pick, "Excluded:", FINDINGS_EXCLUDED);
}

static void print_sender(FILE *stream, const struct findings *findings, int sender)
{
    const struct thrum_snapshot *snapshot = &findings->snapshot;
    const struct thrum_pick *pick = &snapshot->pick[sender];
    char text[400];
    voice_sentence(&snapshot->sender[sender], text, sizeof text);
    fprintf(stream, "Sender %s: %s\n", snapshot->sender[sender].name, text);
    print_wires(stream, snapshot, pick);
    verdict_sentence(snapshot, sender, text, sizeof text);
    fputc('\n', stream);
    print_sentence(stream, text, false);
    verdict_next(snapshot, sender, text, sizeof text);
    if (text[0])
        print_sentence(stream, text, false);
    for (int i = 0; i < THRUM_PICK_NOTES; i++)
        if (findings_advice(snapshot, sender, i))
            print_sentence(stream, findings_advice(snapshot, sender, i), false);
}

/* Several senders: one line each, where they can be read together. */
static void print_all(FILE *stream, const struct thrum_snapshot *snapshot)
{
    char text[400];
    fputs("\nAll senders:\n", stream);
    for (int s = 0; s < snapshot->n_senders; s++) {
        verdict_sentence(snapshot, s, text, sizeof text);
        fprintf(stream, "  %s  %s\n", snapshot->sender[s].name, text);
    }
}

void findings_print(const struct findings *findings, FILE *stream)
{
    for (int s = 0; s < findings->snapshot.n_senders; s++) {
        if (s > 0)
            fputc('\n', stream);
        print_sender(stream, findings, s);
    }
    if (findings->snapshot.n_senders > 1)
        print_all(stream, &findings->snapshot);
    if (findings->n_warnings > 0)
        fputc('\n', stream);
    for (int i = 0; i < findings->n_warnings; i++) {
        char text[sizeof findings->warning[i].text + 64];
        snprintf(text, sizeof text, "Note (%s): %s", findings->warning[i].code, findings->warning[i].text);
        print_sentence(stream, text, false);
    }
}
