/** @file wide.h
 *  For plain loops over samples: compiled a second time for the wide vectors that most processors have; which one is used
 *  is settled when the program starts.
 *
 *  Products are never joined with sums (-ffp-contract=off) and sums keep the order they are written in, so both give the
 *  same numbers to the last bit. Put THRUM_WIDE before the definition; what it calls should be inline in the same file.
 *  It is empty for other compilers and processors, where the C library cannot choose at the start, and under the address
 *  and thread sanitizers, which are not ready by then.
 */
#ifndef THRUM_WIDE_H
#define THRUM_WIDE_H

#if defined(__GNUC__) && !defined(__clang__) && defined(__x86_64__) && defined(__gnu_linux__) &&             \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define THRUM_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define THRUM_WIDE
#endif

#endif
