/* Device sources on a stand-in for PortAudio. */
#ifndef THRUM_TEST_STANDIN_SOURCE_H
#define THRUM_TEST_STANDIN_SOURCE_H

#include "sound/source.h"

/* Begins the script and opens the input with this name; NULL for the default. Fails the test where it cannot be opened. */
struct thrum_source *standin_open(const char *script, const char *name);

/* Begins the script: the input cannot be opened, and the message has these words. Ends the script. Returns why. */
enum thrum_status standin_refused(const char *script, const char *name, const char *words);

/* Closes the source and ends the script. */
void standin_close(struct thrum_source *source);

#endif
