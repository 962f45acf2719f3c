/* Asks the system to put a file on the disk, without making the caller wait for a slow stick. */
#ifndef THRUM_SOUND_DISK_SYNC_H
#define THRUM_SOUND_DISK_SYNC_H

struct disk_sync;

/* NULL when there is no memory or no thread: recording goes on without. */
struct disk_sync *disk_sync_create(void);

/* Sync fd soon; a request that comes while one is under way replaces the waiting one. fd is duplicated. */
void disk_sync_ask(struct disk_sync *sync, int fd);

/* Finishes the sync under way, then ends. NULL is allowed. */
void disk_sync_destroy(struct disk_sync *sync);

#endif
