/* Memory that runs out: calloc, which is all that the pure parts allocate with, fails from the n-th call on. Link this
 * and use thrum_fail_calloc_after(); it replaces calloc for the whole test program. */
#ifndef THRUM_TEST_NO_MEMORY_H
#define THRUM_TEST_NO_MEMORY_H

#include <stddef.h>

/* The next n calls succeed, all later ones fail; a negative n: none fails. */
void no_memory_after(int n);

/* Calls since no_memory_after(). */
int no_memory_calls(void);

/* Bytes in use, as the C library counts them; 0 where it does not (under a sanitizer, which looks for leaks itself). */
size_t no_memory_in_use(void);

#endif
