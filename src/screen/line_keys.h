/* Keys for somebody who has lines only: a pipe, a screen reader, a terminal that cannot place its cursor. */
#ifndef THRUM_SCREEN_LINE_KEYS_H
#define THRUM_SCREEN_LINE_KEYS_H

#include "screen/screen.h"

/**
 * What a line asks for: the same keys as on the screen. An empty line takes; digits, or g and a tag, go to that wire; else
 * each letter is a key.
 *
 * @param[in]  line      Without its end.
 * @param[in]  take_key  As in thrum_screen_config, or NULL.
 * @param[out] press     Shape [most].
 * @return how many; -1 when there is no such key in it: then nothing is to be done.
 */
int thrum_line_keys(const char *line, const char *take_key, struct thrum_key_press *press, int most);

#endif
