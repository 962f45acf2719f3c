/* Looks a practice configuration over. */
#ifndef PRACTICE_CONFIG_H
#define PRACTICE_CONFIG_H

#include <stdbool.h>

#include "thrum/practice.h"

bool practice_config_is_sound(const struct thrum_practice_config *config);

#endif
