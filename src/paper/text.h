/* A text that grows: what pages and pictures are written into. Not for several threads at once. */
#ifndef THRUM_PAPER_TEXT_H
#define THRUM_PAPER_TEXT_H

#include <stdbool.h>
#include <stddef.h>

/* Zeroed it is empty and ready. Free bytes with paper_text_free(). */
struct paper_text {
    char *bytes; /* [size], and a 0 after them; NULL while nothing was put */
    size_t size, room;
    bool failed; /* there was no memory: what was put since is missing, and so is everything put later */
};

void paper_text_free(struct paper_text *text);

void paper_put_bytes(struct paper_text *text, const void *bytes, size_t size);
void paper_put(struct paper_text *text, const char *bytes);
void paper_putf(struct paper_text *text, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* As text of XML or HTML, in an element or an attribute in double quotes: & < > " ' are escaped. What is no UTF-8, or no character that
 * XML allows (most controls), becomes U+FFFD. words may be NULL: nothing. */
void paper_put_escaped(struct paper_text *text, const char *words);

/* As paper_putf(), then escaped. At most 1000 bytes. */
void paper_put_escapedf(struct paper_text *text, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* In base64 (RFC 4648, section 4), without line ends. */
void paper_put_base64(struct paper_text *text, const void *bytes, size_t size);

/* Length of the UTF-8 character at bytes, 1 to 4; 0 where there is none that XML 1.0 allows. bytes ends with a 0. */
size_t paper_character(const char *bytes);

#endif
