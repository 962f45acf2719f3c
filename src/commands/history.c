#include "commands/history.h"

#include <errno.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands/command.h"
#include "commands/say.h"
#include "sound/message.h"
#include "thrum/reading.h"

/* One round as its document tells it. */
struct earlier_round {
    int n_wires, n_touches;
    const char *wire[THRUM_MAX_WIRES]; /* tags, borrowed from the document */
    struct thrum_touch touch[THRUM_MAX_READINGS];
    struct thrum_pick pick;
};

static int wire_of(struct earlier_round *round, const char *tag)
{
    int i = 0;
    while (i < round->n_wires && strcmp(round->wire[i], tag) != 0)
        i++;
    if (i == THRUM_MAX_WIRES)
        return -1;
    round->wire[i] = tag;
    round->n_wires = i < round->n_wires ? round->n_wires : i + 1;
    return i;
}

/* Readings that count in no pick, as their strength is none or another input's. */
static bool counts(const json_t *reading)
{
    size_t i;
    const json_t *fault;
    json_array_foreach(json_object_get(reading, "faults"), i, fault)
    {
        const char *name = json_string_value(fault);
        if (name && (strcmp(name, thrum_fault_name(THRUM_FAULT_SILENT)) == 0 ||
                     strcmp(name, thrum_fault_name(THRUM_FAULT_NOT_COMPARED)) == 0))
            return false;
    }
    return true;
}

/* Only what was heard tells how much touches of one wire differ. False where it is no reading of that sender. */
static bool take(struct earlier_round *round, const json_t *reading, size_t sender)
{
    const char *tag = json_string_value(json_object_get(reading, "wire"));
    const json_t *strength = json_array_get(json_object_get(reading, "strength"), sender);
    const json_t *heard = json_object_get(strength, "heard");
    double dbfs = json_number_value(json_object_get(strength, "dbfs"));
    double reach = json_number_value(json_object_get(strength, "high_db")) - dbfs;
    if (!tag || !json_is_boolean(heard))
        return false;
    int wire = json_is_true(heard) && counts(reading) ? wire_of(round, tag) : -1;
    if (wire >= 0 && round->n_touches < THRUM_MAX_READINGS)
        round->touch[round->n_touches++] = (struct thrum_touch){
            .wire = wire, .heard = true, .dbfs = dbfs, .sd_db = reach > 0.0 ? reach / 1.96 : 0.0};
    return true;
}

/* One sender's touches, as its round compared them. False where the document has none. */
static bool add_sender(struct earlier_round *round, const json_t *readings, size_t sender,
                       struct thrum_spread *sum)
{
    struct thrum_pick_config config = thrum_pick_config_default();
    bool any = false;
    round->n_wires = round->n_touches = 0;
    for (size_t i = 0; i < json_array_size(readings); i++)
        any |= take(round, json_array_get(readings, i), sender);
    if (round->n_touches > 0 && thrum_pick_compute(&config, round->n_wires, round->touch, round->n_touches,
                                                   &round->pick) == THRUM_OK) {
        sum->squares_db2 += round->pick.spread.squares_db2;
        sum->repeats += round->pick.spread.repeats;
    }
    return any;
}

/* Of several senders the mean, as one hand held the probe for all of them. */
static bool add_round(struct earlier_round *round, const json_t *document, struct thrum_spread *earlier)
{
    const json_t *readings = json_object_get(document, "readings");
    struct thrum_spread sum = {0.0, 0.0};
    size_t senders = 0;
    while (senders < THRUM_MAX_SENDERS && add_sender(round, readings, senders, &sum))
        senders++;
    if (senders > 0) {
        earlier->squares_db2 += sum.squares_db2 / (double)senders;
        earlier->repeats += sum.repeats / (double)senders;
    }
    return senders > 0;
}

static int read_round(struct earlier_round *round, const char *path, struct thrum_spread *earlier,
                      struct thrum_message *message)
{
    json_error_t error;
    FILE *file = fopen(path, "rb");
    if (!file) {
        message_set(message, "the round %.200s cannot be read: %s", path, strerror(errno));
        return CODE_FILE;
    }
    json_t *document = json_loadf(file, JSON_REJECT_DUPLICATES, &error);
    fclose(file);
    bool good = add_round(round, document, earlier);
    json_decref(document);
    if (!good)
        message_set(message, "%.200s: no touches in it; --history takes what thrum rank --json wrote", path);
    return good ? CODE_DONE : CODE_FILE;
}

static int read_all(const struct option_texts *paths, struct thrum_spread *earlier,
                    struct thrum_message *message)
{
    struct earlier_round *round = malloc(sizeof *round);
    int code = CODE_DONE;
    if (!round) {
        message_set(message, "%s", thrum_status_text(THRUM_ERR_MEM));
        return CODE_FILE;
    }
    for (int i = 0; i < paths->n && code == CODE_DONE; i++)
        code = read_round(round, paths->text[i], earlier, message);
    free(round);
    return code;
}

int history_settings(const struct option_texts *paths, struct thrum_pick_config *pick)
{
    struct thrum_spread earlier = {0.0, 0.0};
    struct thrum_message message;
    *pick = thrum_pick_config_default();
    if (paths->n == 0)
        return CODE_DONE;
    int code = read_all(paths, &earlier, &message);
    if (code == CODE_DONE)
        thrum_pick_config_learn(pick, earlier);
    else
        say("%s", message.text);
    return code;
}
