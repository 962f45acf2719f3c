/* What thrum rank found, made into the page of a review. */
#ifndef THRUM_REVIEW_PAGE_H
#define THRUM_REVIEW_PAGE_H

#include <stdbool.h>

#include "commands/findings.h"
#include "paper/text.h"

/* Puts the page at page's end; the recordings are heard once more for it. path: those that were ranked, [n_files]. False when there
 * was no memory. */
bool review_compose(const struct findings *findings, const char *const *path, int n_files,
                    struct paper_text *page);

#endif
