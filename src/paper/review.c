#include "paper/review.h"

#include <stdio.h>

#include <stdint.h>

#include "paper/wav.h"

/* Black on white, for a screen and for A4 or letter paper. */
static const char head[] =
    "<!DOCTYPE html>\n"
    "<html xmlns=\"http://www.w3.org/1999/xhtml\" lang=\"en\" xml:lang=\"en\">\n"
    "<head>\n"
    "<meta charset=\"utf-8\" />\n"
    "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; media-src "
    "data:; "
    "style-src 'unsafe-inline'\" />\n"
    "<meta name=\"viewport\" content=\"width=device-width\" />\n"
    "<meta name=\"generator\" content=\"thrum " THRUM_VERSION "\" />\n"
    "<title>Review of a round</title>\n"
    "<style>\n"
    "body { color: #000; background: #fff; font: 15px/1.4 sans-serif; max-width: 48em; margin: 1.5em auto; "
    "padding: 0 1em; }\n"
    "h1 { font-size: 1.5em; margin: 0 0 0.6em; } h2 { font-size: 1.15em; margin: 1.6em 0 0.4em; }\n"
    "p { margin: 0.3em 0; } .verdict { font-weight: bold; }\n"
    ".safety { border: 2px solid #000; padding: 0.5em 0.8em; }\n"
    "figure { margin: 0.6em 0; } img { max-width: 100%; height: auto; } audio { width: 100%; }\n"
    "table { border-collapse: collapse; font-variant-numeric: tabular-nums; }\n"
    "th, td { text-align: left; vertical-align: top; padding: 0.15em 0.9em 0.15em 0; border-bottom: 1px "
    "solid "
    "#999; }\n"
    ".number { text-align: right; white-space: nowrap; }\n"
    "pre { white-space: pre-wrap; font-size: 0.8em; }\n"
    "@media print { audio { display: none; } body { margin: 0; max-width: none; font-size: 10pt; } figure, "
    "tr, .safety { "
    "break-inside: "
    "avoid; } thead { display: table-header-group; } }\n"
    "</style>\n"
    "</head>\n"
    "<body>\n"
    "<h1>Review of a round</h1>\n"
    "<p class=\"safety\"><strong>Safety:</strong> controller off and unplugged before wires are lifted; "
    "extra-low-voltage circuits only; test for voltage with a rated meter first; never tie a sender or a "
    "laptop "
    "to a live conductor; laptop on battery; a computed distance is an estimate: dig by hand and have buried "
    "services marked; local codes and licensed practice come first.</p>\n";

static void element(struct paper_text *page, const char *tag, const char *class, const char *words)
{
    if (!words[0])
        return;
    paper_putf(page, class ? "<%s class=\"%s\">" : "<%s>", tag, class);
    paper_put_escaped(page, words);
    paper_putf(page, "</%s>\n", tag);
}

static void put_results(struct paper_text *page, const struct paper_review *review)
{
    const struct thrum_snapshot *snapshot = review->snapshot;
    paper_put(page, "<h2>Result</h2>\n");
    for (int s = 0; s < snapshot->n_senders; s++) {
        paper_put(page, "<p>Sender <bdi>");
        paper_put_escaped(page, snapshot->sender[s].name);
        paper_put(page, "</bdi>: ");
        element(page, "span", "verdict", review->ranking[s].verdict);
        paper_put(page, "</p>\n");
        element(page, "p", NULL, review->ranking[s].next);
        element(page, "p", NULL, review->advice[s]);
    }
}

static void put_origins(struct paper_text *page, const struct paper_review *review)
{
    paper_put(page, "<h2>Recordings</h2>\n");
    if (review->n_origins == 0)
        paper_put(page, "<p>They do not say when they were made, and with which input.</p>\n");
    else
        paper_put(page,
                  "<table id=\"recordings\">\n<thead><tr><th>recording</th><th>begun</th><th>input</th></tr>"
                  "</thead>\n<tbody>\n");
    for (int i = 0; i < review->n_origins; i++) {
        const struct paper_origin *origin = &review->origin[i];
        const char *const cell[] = {origin->recording, origin->start[0] ? origin->start : "not known",
                                    origin->input[0] ? origin->input : "not known"};
        paper_put(page, "<tr>");
        for (int k = 0; k < 3; k++) {
            paper_put(page, "<td><bdi>");
            paper_put_escaped(page, cell[k]);
            paper_put(page, "</bdi></td>");
        }
        paper_put(page, "</tr>\n");
    }
    if (review->n_origins > 0)
        paper_put(page, "</tbody>\n</table>\n");
    element(page, "p", NULL, review->mains);
}

/* The picture stands in an image of its own: names inside several pictures cannot be taken for one another. The words say what it
 * shows, for whom there is no picture. */
static void put_picture(struct paper_text *page, const struct paper_text *svg, const char *words,
                        const char *more)
{
    paper_put(page, "<figure><img src=\"data:image/svg+xml;base64,");
    paper_put_base64(page, svg->bytes, svg->size);
    paper_put(page, "\" alt=\"");
    paper_put_escaped(page, words);
    paper_put(page, ". ");
    paper_put_escaped(page, more);
    paper_put(page, "\" /></figure>\n");
}

static enum thrum_status put_ranking(struct paper_text *page, const struct paper_ranking *ranking)
{
    struct paper_text svg = {.bytes = NULL};
    enum thrum_status status = paper_ranking_picture(ranking, &svg);
    if (status == THRUM_OK)
        put_picture(page, &svg, ranking->title, ranking->verdict);
    paper_text_free(&svg);
    return status;
}

static enum thrum_status put_levels(struct paper_text *page, const struct paper_levels *levels)
{
    struct paper_text svg = {.bytes = NULL};
    enum thrum_status status = paper_level_picture(levels, &svg);
    if (status == THRUM_OK)
        put_picture(page, &svg, levels->title, "What each touch measured is in the table of touches.");
    paper_text_free(&svg);
    return status;
}

static void put_player(struct paper_text *page, const char *words, const float *samples,
                       const struct paper_sound *sound)
{
    struct paper_text wav = {.bytes = NULL};
    paper_put_wav(&wav, samples, sound->n, sound->rate_hz);
    paper_putf(page, "<p>%s<br /><audio controls=\"controls\" src=\"data:audio/wav;base64,", words);
    paper_put_base64(page, wav.bytes, wav.size);
    paper_put(page, "\"></audio></p>\n");
    page->failed = page->failed || wav.failed;
    paper_text_free(&wav);
}

/* What of the recordings it is. */
static void put_extent(struct paper_text *page, const struct paper_sound *sound)
{
    if (!sound->touch) {
        paper_putf(page, "<p>One recording after the other, at %.0f samples a second.</p>\n", sound->rate_hz);
        return;
    }
    paper_putf(page,
               "<p>Only the touches, one after the other, at %.0f samples a second: the recordings are too "
               "long for a "
               "page. From when on each is heard, in seconds:",
               sound->rate_hz);
    for (int i = 0; i < sound->n_touches; i++) {
        paper_put(page, i > 0 ? ", <bdi>" : " <bdi>");
        paper_put_escaped(page, sound->touch[i].tag);
        paper_putf(page, "</bdi> %.1f", sound->touch[i].from_s);
    }
    paper_put(page, ".");
    if (sound->left_out > 0)
        paper_putf(page, " For %d more there was no room: of the wires least likely to be it.",
                   sound->left_out);
    paper_put(page, "</p>\n");
}

static enum thrum_status put_sound(struct paper_text *page, const struct paper_review *review)
{
    const struct paper_sound *sound = review->sound;
    struct paper_text svg = {.bytes = NULL};
    enum thrum_status status = THRUM_OK;
    paper_put(page, "<h2>Sound</h2>\n");
    element(page, "p", NULL, review->no_sound);
    if (review->spectrogram) {
        status = paper_spectrogram_picture(review->spectrogram, &svg);
        if (status == THRUM_OK)
            put_picture(page, &svg, review->spectrogram->title, "The louder, the darker.");
    }
    paper_text_free(&svg);
    if (sound) {
        put_player(page, "As it was recorded:", sound->raw, sound);
        char words[100];
        snprintf(words, sizeof words, "With the hum taken out, %.0f dB louder:", sound->gain_db);
        put_player(page, words, sound->clean, sound);
        put_extent(page, sound);
    }
    return status;
}

static enum thrum_status put_pictures(struct paper_text *page, const struct paper_review *review)
{
    enum thrum_status status = THRUM_OK;
    int n = review->snapshot->n_senders;
    paper_put(page, "<h2>Ranking</h2>\n");
    for (int s = 0; s < n && status == THRUM_OK; s++)
        status = put_ranking(page, &review->ranking[s]);
    paper_put(page, "<h2>Strength over time</h2>\n");
    if (!review->levels)
        paper_put(page,
                  "<p>There is none: the sound was given on standard input, or no voice is known.</p>\n");
    for (int s = 0; s < n && review->levels && status == THRUM_OK; s++)
        status = put_levels(page, &review->levels[s]);
    if (review->levels)
        paper_put(page, "<p>The level at the sender's tone in dBFS with the hum taken out, ten times a "
                        "second; between two beeps it falls "
                        "to the noise. Brackets are touches, a thick line what the touch measured, dotted "
                        "lines down through "
                        "all where one recording ends and the next begins. Where the probe is put on a wire "
                        "or lifted the hum jumps: "
                        "for about half a second the line shows that, not the sender. There is no line in "
                        "the first second or so, until the hum is known.</p>\n");
    return status;
}

static void put_faults(struct paper_text *page, uint32_t faults)
{
    int n = 0;
    for (int i = 0; i < THRUM_FAULTS; i++) {
        const char *name = faults >> i & 1u ? thrum_fault_name((enum thrum_fault)(1 << i)) : NULL;
        if (name)
            paper_putf(page, "%s%s", n++ > 0 ? ", " : "", name);
    }
}

/* Of what is not heard only the upper limit is known. */
static void put_strength(struct paper_text *page, const struct thrum_strength *strength)
{
    if (strength->heard)
        paper_putf(page, "<td class=\"number\">%.1f</td><td class=\"number\">%.1f to %.1f</td>",
                   strength->dbfs, strength->low_db, strength->high_db);
    else if (strength->high_db > THRUM_FLOOR_DBFS)
        paper_putf(page, "<td class=\"number\">no tone</td><td class=\"number\">below %.1f</td>",
                   strength->high_db);
    else
        paper_put(page, "<td class=\"number\">no tone</td><td></td>");
}

static void put_touch(struct paper_text *page, const struct paper_review *review, int i, int sender)
{
    const struct thrum_reading *reading = &review->snapshot->readings[i];
    double rate_hz = reading->rate_hz > 0.0 ? reading->rate_hz : 1.0;
    paper_put(page, "<tr><td><bdi>");
    paper_put_escaped(page, reading->wire);
    paper_putf(
        page,
        "</bdi></td><td class=\"number\">%d</td><td class=\"number\">%.2f</td><td class=\"number\">%.2f</td>",
        reading->touch, (double)reading->first_frame / rate_hz, (double)reading->frames / rate_hz);
    paper_put(page, "<td>");
    paper_put_escaped(page, review->snapshot->sender[sender].name);
    paper_put(page, "</td>");
    put_strength(page, &reading->strength[sender]);
    if (reading->hum_dbfs > THRUM_FLOOR_DBFS)
        paper_putf(page, "<td class=\"number\">%.1f</td>", reading->hum_dbfs);
    else
        paper_put(page, "<td class=\"number\">none</td>");
    paper_put(page, "<td>");
    put_faults(page, reading->faults);
    paper_put(page, "</td><td><bdi>");
    paper_put_escaped(page, review->source[i] ? review->source[i] : "");
    paper_put(page, "</bdi></td></tr>\n");
}

static void put_touches(struct paper_text *page, const struct paper_review *review)
{
    const struct thrum_snapshot *snapshot = review->snapshot;
    paper_put(page, "<h2>Touches</h2>\n");
    if (snapshot->n_readings == 0) {
        paper_put(page, "<p>There are none.</p>\n");
        return;
    }
    paper_put(page,
              "<table id=\"touches\">\n<thead><tr><th>wire</th><th class=\"number\">touch</th>"
              "<th class=\"number\">from s</th><th class=\"number\">for s</th><th>sender</th>"
              "<th class=\"number\">dBFS</th><th class=\"number\">95 % interval</th>"
              "<th class=\"number\">hum dBFS</th><th>faults</th><th>recording</th></tr></thead>\n<tbody>\n");
    for (int i = 0; i < snapshot->n_readings; i++)
        for (int s = 0; s < snapshot->readings[i].n_senders && s < snapshot->n_senders; s++)
            put_touch(page, review, i, s);
    paper_put(page,
              "</tbody>\n</table>\n<p>Strength is in dBFS, full-scale sine = 0; only differences mean "
              "anything. Times count from the beginning of the recording. The interval of a touch is that of "
              "this touch alone; that of a wire, in the ranking, says what could be expected of it touched "
              "again.</p>\n");
}

static void put_voices(struct paper_text *page, const struct paper_review *review)
{
    paper_put(page, "<h2>Voices</h2>\n");
    for (int s = 0; s < review->snapshot->n_senders; s++)
        element(page, "p", NULL, review->voice[s]);
}

static void put_notes(struct paper_text *page, const struct paper_review *review)
{
    paper_put(page, "<h2>Faults and notes</h2>\n");
    if (review->n_notes == 0)
        paper_put(page, "<p>No fault of the input or of the recordings was found.</p>\n");
    for (int i = 0; i < review->n_notes; i++) {
        paper_put(page, "<p><strong>");
        paper_put_escaped(page, review->note[i].code);
        paper_put(page, "</strong>: ");
        paper_put_escaped(page, review->note[i].text);
        paper_put(page, "</p>\n");
    }
}

enum thrum_status paper_review_page(const struct paper_review *review, struct paper_text *page)
{
    paper_put(page, head);
    put_results(page, review);
    put_origins(page, review);
    enum thrum_status status = put_pictures(page, review);
    if (status == THRUM_OK)
        status = put_sound(page, review);
    put_touches(page, review);
    put_voices(page, review);
    put_notes(page, review);
    paper_put(page, "<h2>In plain text</h2>\n");
    element(page, "pre", NULL, review->printed);
    paper_put(page, "</body>\n</html>\n");
    page->failed = page->failed || status != THRUM_OK;
    return page->failed ? THRUM_ERR_MEM : THRUM_OK;
}
