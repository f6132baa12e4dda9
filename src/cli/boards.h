/* cli/boards.h - the boards of real cloth that a study asks for.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_BOARDS_H
#define CLI_BOARDS_H

#include "job.h"

#include <weftwise/patch.h>

enum { BOARDS_MOST_LANES = 64, BOARDS_MOST_NETS = 1000 }; /* that are told */

/* Without the paths of a picture, which are to be loaded. */
struct ww_real_request boards_request(const struct job *job);
/* What those that are drawn at once hold, with the tables of their walks [B]; 0: what is asked is out of range, or the cloth is a
 * picture's, which is small. */
double boards_bytes(const struct job *job);

#endif
