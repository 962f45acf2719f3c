/** @file status.h
 *  What a call of the library can answer.
 *
 *  Pure: no I/O. The library never prints, never exits and leaves no result in errno.
 */
#ifndef THRUM_STATUS_H
#define THRUM_STATUS_H

#ifdef __cplusplus
extern "C" {
#endif

/** Zero is success; the rest is split by who must act. */
enum thrum_status {
    THRUM_OK = 0,
    THRUM_ERR_ARG = -1,         /**< The caller: an argument is outside its stated range. */
    THRUM_ERR_MEM = -2,         /**< The machine: out of memory. */
    THRUM_ERR_DEVICE = -3,      /**< The user: a sound device is missing, busy or gone. */
    THRUM_ERR_FILE = -4,        /**< The user: a file cannot be opened, read or written. */
    THRUM_ERR_FORMAT = -5,      /**< The user: the content of a file is not what it should be. */
    THRUM_ERR_FULL = -6,        /**< The user: no room left (disk, or a stated capacity). */
    THRUM_ERR_UNSUPPORTED = -7, /**< Nobody here: this build or machine cannot do it. */
    THRUM_ERR_NOT_FOUND = -8    /**< Done properly, and nothing was found (no voice, no touch). */
};

/** One short English phrase per status, without a full stop; "unknown status" for any other number. Never NULL. */
const char *thrum_status_text(enum thrum_status status);

#ifdef __cplusplus
}
#endif
#endif
