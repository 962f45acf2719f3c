#include "commands/excluding.h"

#include <string.h>

#include "commands/say.h"

/* Goes over the tags of all lists, one a call. */
struct tags {
    const struct option_texts *lists;
    int list;
    const char *rest; /* of the list; NULL: the next one begins */
};

/* False at the end. A tag that is none is empty. */
static bool next_tag(struct tags *tags, char tag[THRUM_WIRE_TAG_SIZE])
{
    if (!tags->rest) {
        if (tags->list == tags->lists->n)
            return false;
        tags->rest = tags->lists->text[tags->list++];
    }
    size_t n = strcspn(tags->rest, ","), kept = n < THRUM_WIRE_TAG_SIZE ? n : 0;
    memcpy(tag, tags->rest, kept);
    tag[kept] = 0;
    tags->rest = tags->rest[n] ? tags->rest + n + 1 : NULL;
    return true;
}

static bool is_wire(const struct thrum_snapshot *snapshot, const char *tag)
{
    for (int i = 0; i < snapshot->n_wires; i++)
        if (strcmp(snapshot->wire[i], tag) == 0)
            return true;
    return false;
}

bool exclude_lists_ok(const struct option_texts *lists)
{
    struct tags tags = {.lists = lists};
    char tag[THRUM_WIRE_TAG_SIZE];
    while (next_tag(&tags, tag)) {
        if (tag[0])
            continue;
        say_usage(
            "--exclude takes tags of 1 to %d bytes with commas between them, as in w03,w11; not '%.80s'",
            THRUM_WIRE_TAG_SIZE - 1, lists->text[tags.list - 1]);
        return false;
    }
    return true;
}

bool exclude_unknown(const struct option_texts *lists, const struct thrum_snapshot *snapshot,
                     char tag[THRUM_WIRE_TAG_SIZE])
{
    struct tags tags = {.lists = lists};
    while (next_tag(&tags, tag))
        if (!is_wire(snapshot, tag))
            return true;
    return false;
}

enum thrum_status exclude_wires(const struct option_texts *lists, struct thrum_round *round)
{
    struct tags tags = {.lists = lists};
    char tag[THRUM_WIRE_TAG_SIZE];
    enum thrum_status status = THRUM_OK;
    while (!status && next_tag(&tags, tag))
        status = thrum_round_exclude(round, tag, true);
    return status;
}
