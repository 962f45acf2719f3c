#include "screen/line_keys.h"

#include <string.h>

#include "screen/keys.h"

static bool is_tag(const char *line)
{
    return (line[0] == 'g' && line[1]) || strspn(line, "0123456789") == strlen(line);
}

int thrum_line_keys(const char *line, const char *take_key, struct thrum_key_press *press, int most)
{
    struct keys keys = {.take = take_key ? keys_named(take_key) : 0};
    struct thrum_screen_view view = {.utf8 = true};
    int n = 0;
    if (line[0] == 0 || (take_key && strcmp(line, take_key) == 0)) {
        press[0] = (struct thrum_key_press){.key = THRUM_KEY_TAKE};
        return 1;
    }
    bool tag = is_tag(line);
    for (const char *c = line; *c && n < most; c++) {
        struct key_effect effect = keys_take(&keys, &view, (unsigned char)*c);
        if (effect.press.key != THRUM_KEY_NONE)
            press[n++] = effect.press;
        else if (!tag)
            return -1;
    }
    if (tag && n < most)
        press[n++] = keys_take(&keys, &view, '\n').press;
    return n;
}
