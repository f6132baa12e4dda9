/* core/utf8.h - characters of UTF-8 text.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_CORE_UTF8_H
#define WW_CORE_UTF8_H

#include <stdbool.h>
#include <stddef.h>

/* Length of the UTF-8 character at p (Unicode 15, table 3-7), 0 if there is none. Reads no further than the first byte
 * that does not fit, so a NUL ends it. */
size_t ww_utf8_length(const unsigned char *p);
/* Is all of a terminated text UTF-8? */
bool ww_utf8_valid(const char *text);

/* Is the character at p one that a terminal or a page acts on in place of showing it: a control character (C0, DEL, C1), a
 * mark that turns the direction of writing, a separator of lines, or one that has neither shape nor room? Such text may look like
 * other text. The joiners that letters need, U+200C-D, are not. */
bool ww_utf8_hidden(const unsigned char *p);

#endif
