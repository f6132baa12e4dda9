/* fabric/yarn.h - yarn codes of the trade.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef FABRIC_YARN_H
#define FABRIC_YARN_H

#include "weftwise/fabric.h"

/* "D450", "ECD450", "ECD 450 1/0", or a linear density such as "11.2 tex": fills yarn->code (canonical, "D450"; "" for
 * a linear density) and yarn->tex (WW_DERIVED or WW_USER). WW_MALFORMED names the nearest code. */
enum ww_status ww_yarn_read(struct ww_yarn *yarn, const char *text, struct ww_error *error);

#endif
