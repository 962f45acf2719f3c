/* Names and advice for what a listener can say. */
#include <stddef.h>

#include "thrum/listen.h"
#include "thrum/reading.h"

struct fault_words {
    enum thrum_fault fault;
    const char *name, *advice;
};

static const struct fault_words fault_words[THRUM_FAULTS] = {
    {THRUM_FAULT_SILENT, "silent", "No signal at all (digital silence): check permission, mute and plug."},
    {THRUM_FAULT_CLIPPED, "clipped",
     "Too loud, the input clips: turn the capture gain down and touch again."},
    {THRUM_FAULT_DC, "dc",
     "The input has a constant offset: strengths are measured without it, but look for a better input."},
    {THRUM_FAULT_GAIN_RIDING, "gain-riding",
     "A level control moves the gain: strengths cannot be compared; switch automatic gain off and touch "
     "again."},
    {THRUM_FAULT_GATED, "gated",
     "A noise gate cuts the pauses to nothing: switch it off, or use a wired input."},
    {THRUM_FAULT_SUPPRESSED, "suppressed",
     "Beeps fade after their onset: noise suppression is on; switch input processing off."},
    {THRUM_FAULT_LOST, "lost",
     "Samples were lost on the way in: touch again; close other programs if it goes on."},
    {THRUM_FAULT_NOT_FINITE, "not-finite",
     "The input held samples that are no numbers; they were taken as silence."},
    {THRUM_FAULT_ONE_SIDED, "one-sided", "The sound is on one channel only; that channel was measured."},
    {THRUM_FAULT_CANCELLING, "cancelling", "The two channels are opposite; one of them was measured."},
    {THRUM_FAULT_TOO_SHORT, "too-short", "Too short to judge: hold the probe for at least two beeps."},
    {THRUM_FAULT_HUM_ON_TONE, "hum-on-tone",
     "A mains harmonic lies on the tone: the reading takes longer to settle; another tone would be better."},
    {THRUM_FAULT_DRIFT, "drift", "The sender's tone has moved: look at its battery."},
    {THRUM_FAULT_OTHER_CADENCE, "other-cadence",
     "A tone is there, but with another cadence: another sender, or learn the voice again."},
    {THRUM_FAULT_LOW, "low", "Very low level: raise the capture gain or the microphone boost."},
    {THRUM_FAULT_COUNT, "count-in-doubt",
     "How many wires came before this touch is in doubt, and so is its tag: lift the probe for half a second "
     "between wires; where wires carry neither hum nor tone, mark the touches."},
    {THRUM_FAULT_RATE, "wrong-rate",
     "The sound is read at another rate than it was made at, by the clock or by its hum: strengths hold, "
     "frequencies are wrong; choose the input's own rate. By the hum alone it may be a generator."},
    {THRUM_FAULT_NOT_COMPARED, "not-compared",
     "Made with another input, or where the sender was not: not compared; touch the wire again."},
};

static const struct fault_words *find_fault(enum thrum_fault fault)
{
    for (int i = 0; i < THRUM_FAULTS; i++)
        if (fault_words[i].fault == fault)
            return &fault_words[i];
    return NULL;
}

const char *thrum_fault_name(enum thrum_fault fault)
{
    const struct fault_words *words = find_fault(fault);
    return words ? words->name : NULL;
}

const char *thrum_fault_advice(enum thrum_fault fault)
{
    const struct fault_words *words = find_fault(fault);
    return words ? words->advice : NULL;
}

const char *thrum_heard_name(enum thrum_heard heard)
{
    switch (heard) {
    case THRUM_HEARD_NOTHING_YET:
        return "nothing yet";
    case THRUM_HEARD_SILENCE:
        return "digital silence";
    case THRUM_HEARD_TOO_LOW:
        return "too low";
    case THRUM_HEARD_NO_TONE:
        return "no tone";
    case THRUM_HEARD_OTHER_CADENCE:
        return "a tone with another cadence";
    case THRUM_HEARD_TONE:
        return "the sender's beeps";
    case THRUM_HEARD_OVERLOAD:
        return "too loud";
    }
    return "unknown";
}
