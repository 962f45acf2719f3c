/* What a check found, for a person and as JSON. */
#include <math.h>
#include <string.h>

#include "commands/check_facts.h"
#include "commands/findings.h"
#include "commands/json_out.h"
#include "commands/voice_file.h"
#include "sound/message.h"

enum { LINE = 79 };

/* What to try on Linux, by hand: nothing is changed by itself. */
struct remedy {
    uint32_t faults;
    const char *text;
};

/* As the drivers of common cards and dongles call their switches (Linux kernel, sound/usb/mixer.c; from memory). */
static const struct remedy remedies[] = {
    {THRUM_FAULT_GAIN_RIDING | THRUM_FAULT_GATED | THRUM_FAULT_SUPPRESSED,
     "alsamixer shows the card's switches (F6 the card, F4 capture): 'Auto Gain Control', 'AGC', 'Noise "
     "Suppression' off; "
     "on the playback side (F3) 'Mic', which sends the probe to the loudspeaker, off too: dongles differ in "
     "which are on at "
     "first. From a script: 'amixer scontrols' lists them, 'amixer sset NAME off' switches one. A sound "
     "server may do it too: "
     "'pactl list short modules' names them, 'pactl unload-module module-echo-cancel' removes one. On a "
     "telephone record with "
     "an unprocessed microphone."},
    {THRUM_FAULT_CLIPPED, "alsamixer, F4: turn the capture level down, and the boost off."},
    {THRUM_FAULT_LOW, "alsamixer, F4: turn the capture level up, then the boost."},
    {THRUM_FAULT_SILENT, "alsamixer, F4: capture on (space), not muted; then the plug, then the permission."},
    {THRUM_FAULT_LOST, "close what else runs; try another USB socket, without a hub."},
};

/* In lines of LINE columns; those after the first are indented. */
static void print_wrapped(FILE *stream, const char *text)
{
    int column = 0;
    while (*text) {
        int word = (int)strcspn(text, " ");
        if (column > 0 && column + 1 + word > LINE)
            column = fprintf(stream, "\n ") - 1;
        column += fprintf(stream, "%s%.*s", column > 0 ? " " : "", word, text);
        text += word;
        text += *text == ' ';
    }
    fputc('\n', stream);
}

static void print_levels(const struct check_facts *facts, FILE *stream)
{
    char text[400];
    fprintf(stream, "  peak            %7.1f dBFS\n", facts->peak_dbfs);
    if (facts->mains_hz > 0.0)
        fprintf(stream, "  hum             %7.1f dBFS, mains %.2f Hz\n", facts->hum_dbfs, facts->mains_hz);
    else
        fputs("  hum             none found\n", stream);
    if (facts->noise_dbfs > THRUM_FLOOR_DBFS)
        fprintf(stream, "  noise floor     %7.1f dBFS, 300 to 3400 Hz\n", facts->noise_dbfs);
    if (facts->has_voice) {
        voice_sentence(&facts->learned.voice, text, sizeof text);
        if (facts->tone_dbfs > THRUM_FLOOR_DBFS)
            fprintf(stream, "  sender          %7.1f dBFS, %s\n", facts->tone_dbfs, text);
        else
            fprintf(stream, "  sender          %s\n", text);
    } else {
        fprintf(stream, "  sender          no beeps: %s\n", thrum_not_voice_text(facts->learned.what));
    }
    if (facts->told > 0)
        fprintf(stream, "  hum and noise   %+.2f dB (+-%.2f) in the pauses over those in the beeps\n",
                facts->breath_db, 1.96 * facts->breath_sd_db);
    if (facts->falls >= 2)
        fprintf(stream, "  after it dropped %+6.2f dB (+-%.2f) a second, %d stretches\n", facts->rise,
                1.96 * facts->rise_sd, facts->falls);
}

static void print_notes(const struct check_facts *facts, FILE *stream)
{
    char text[400];
    if (facts->came_hz > 0.0) {
        struct thrum_message said;
        message_wrong_rate(&said, facts->info.rate_hz, facts->came_hz);
        print_wrapped(stream, said.text);
    } else if (facts->made_at_hz > 0.0) {
        snprintf(text, sizeof text,
                 "WRONG RATE? Mains at %.2f Hz fits no grid, but sound that was made at %.0f samples a "
                 "second and is "
                 "read as %.0f has it: then all frequencies are off by %+.1f %%. A generator can do it too.",
                 facts->mains_hz, facts->made_at_hz, facts->info.rate_hz,
                 100.0 * (facts->info.rate_hz / facts->made_at_hz - 1.0));
        print_wrapped(stream, text);
    }
    if (facts->band_hz > 0.0) {
        snprintf(text, sizeof text,
                 "NARROW: the sound ends at %.0f Hz as if cut off: a Bluetooth headset or a telephone "
                 "connection? Use a "
                 "wired input.",
                 facts->band_hz);
        print_wrapped(stream, text);
    }
    if (facts->info.bluetooth)
        fputs("BLUETOOTH: headsets gate and squeeze the sound. Use a wired input.\n", stream);
    if (facts->info.monitor)
        print_wrapped(
            stream,
            "MONITOR: this input hears the loudspeakers, not the probe. thrum inputs lists the others.");
    if (facts->lost_s > 0.0)
        fprintf(stream, "LOST: %.3f s of sound did not arrive.\n", facts->lost_s);
    if (facts->cut)
        fprintf(stream, "Only the first %.0f s were looked at; --seconds says how much.\n", facts->heard_s);
}

static void print_faults(const struct check_facts *facts, FILE *stream)
{
    char text[800];
    for (int f = 0; f < THRUM_FAULTS; f++) {
        enum thrum_fault fault = (enum thrum_fault)(1 << f);
        if (!(facts->faults >> f & 1u) || fault == THRUM_FAULT_RATE) /* that one has a note of its own */
            continue;
        if (facts->seen[f] > 0)
            snprintf(text, sizeof text, "%s (in %d of %d stretches): %s", thrum_fault_name(fault),
                     facts->seen[f], facts->stretches, thrum_fault_advice(fault));
        else
            snprintf(text, sizeof text, "%s: %s", thrum_fault_name(fault), thrum_fault_advice(fault));
        print_wrapped(stream, text);
    }
    /* A level control or a gate that is only suspected is looked for in the same place. */
    uint32_t faults = facts->faults;
    bool suspected = facts->breath == CHECK_BREATH_LOUDER || facts->breath == CHECK_BREATH_QUIETER;
    if (facts->verdict == CHECK_UNCLEAR && suspected)
        faults |= THRUM_FAULT_GAIN_RIDING;
    for (size_t i = 0; i < sizeof remedies / sizeof *remedies; i++)
        if (faults & remedies[i].faults) {
            snprintf(text, sizeof text, "Try: %s", remedies[i].text);
            print_wrapped(stream, text);
        }
}

void check_print(const struct check_facts *facts, FILE *stream)
{
    const struct thrum_source_info *info = &facts->info;
    char text[400];
    fprintf(stream, "%s: %.0f Hz, %d channel%s", info->name, info->rate_hz, info->channels,
            info->channels == 1 ? "" : "s");
    if (info->channels > 1)
        fprintf(stream, " (number %d is used)", facts->channel + 1);
    fprintf(stream, ", %.1f s heard\n", facts->heard_s);
    print_levels(facts, stream);
    fputc('\n', stream);
    switch (facts->verdict) {
    case CHECK_TRUSTED:
        fputs("TRUSTED: strengths from this input can be compared.\n", stream);
        break;
    case CHECK_UNCLEAR:
        snprintf(text, sizeof text, "UNCLEAR: %s", check_missing(facts));
        print_wrapped(stream, text);
        break;
    case CHECK_NOT_TRUSTED:
        fputs("NOT TO BE TRUSTED: strengths from this input cannot be compared.\n", stream);
        break;
    }
    print_faults(facts, stream);
    print_notes(facts, stream);
}

static const char *verdict_name(enum check_verdict verdict)
{
    return verdict == CHECK_TRUSTED ? "trusted" : verdict == CHECK_UNCLEAR ? "unclear" : "not-trusted";
}

static json_t *faults_json(const struct check_facts *facts)
{
    json_t *list = json_array();
    for (int f = 0; f < THRUM_FAULTS; f++) {
        enum thrum_fault fault = (enum thrum_fault)(1 << f);
        if (facts->faults >> f & 1u)
            json_array_append_new(list,
                                  json_pack("{s:s, s:i, s:s}", "fault", thrum_fault_name(fault), "stretches",
                                            facts->seen[f], "advice", thrum_fault_advice(fault)));
    }
    return list;
}

json_t *check_json(const struct check_facts *facts)
{
    const struct thrum_source_info *info = &facts->info;
    json_t *input = json_pack("{s:o, s:o, s:i, s:i, s:b, s:b, s:b}", "name", json_text(info->name), "rate_hz",
                              json_rounded(info->rate_hz, 1e-3), "channels", info->channels, "channel",
                              facts->channel + 1, "live", info->live, "bluetooth", info->bluetooth, "monitor",
                              info->monitor);
    json_t *document =
        json_pack("{s:s, s:o, s:s, s:o, s:i, s:i, s:o, s:o, s:o, s:o}", "thrum", THRUM_VERSION, "input",
                  input, "verdict", verdict_name(facts->verdict), "heard_s",
                  json_rounded(facts->heard_s, 1e-6), "stretches", facts->stretches, "told", facts->told,
                  "peak_dbfs", json_level(facts->peak_dbfs), "mains_hz", json_mains(facts->mains_hz),
                  "hum_dbfs", json_level(facts->hum_dbfs), "noise_dbfs", json_level(facts->noise_dbfs));
    if (!document)
        return NULL;
    json_object_set_new(document, "voice",
                        facts->has_voice ? voice_json(&facts->learned.voice) : json_null());
    json_object_set_new(document, "tone_dbfs", json_level(facts->tone_dbfs));
    json_object_set_new(document, "breath_db",
                        facts->told > 0 ? json_rounded(facts->breath_db, 1e-4) : json_null());
    json_object_set_new(document, "breath_sd_db",
                        facts->told > 0 ? json_rounded(facts->breath_sd_db, 1e-4) : json_null());
    json_object_set_new(document, "falls", json_integer(facts->falls));
    json_object_set_new(document, "rise_db_per_s",
                        facts->falls > 0 ? json_rounded(facts->rise, 1e-4) : json_null());
    json_object_set_new(document, "rise_sd_db_per_s",
                        facts->falls > 0 ? json_rounded(facts->rise_sd, 1e-4) : json_null());
    json_object_set_new(document, "made_at_hz",
                        facts->made_at_hz > 0.0 ? json_rounded(facts->made_at_hz, 1.0) : json_null());
    json_object_set_new(document, "band_hz",
                        facts->band_hz > 0.0 ? json_rounded(facts->band_hz, 1.0) : json_null());
    json_object_set_new(document, "lost_s", json_rounded(facts->lost_s, 1e-6));
    json_object_set_new(document, "faults", faults_json(facts));
    json_object_set_new(document, "missing",
                        facts->verdict == CHECK_UNCLEAR ? json_string(check_missing(facts)) : json_null());
    return document;
}
