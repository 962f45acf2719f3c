/* How fast a slow line may be drawn to, so that a key is answered by the next picture and not behind seconds of old ones: what waits
 * in a remote line cannot be seen from here, so no more goes out than the line is sure to carry. Pure: time is given. */
#ifndef THRUM_SCREEN_PACE_H
#define THRUM_SCREEN_PACE_H

#include <stdbool.h>
#include <stddef.h>

#define PACE_REMOTE_BYTES_S 1500.0 /* through ssh: three quarters of a line of 2 kB/s */

struct pace {
    double bytes_s; /* what may go out; 0: as much as there is */
    double free_s;  /* time from which the next picture may be drawn; the first at once */
};

/* What the line at fd carries, in bytes a second: 0 where it is no slow one. */
double pace_of_line(int fd);

bool pace_allows(const struct pace *pace, double now_s);

/* A picture of so many bytes went out. */
void pace_drew(struct pace *pace, double now_s, size_t bytes);

#endif
