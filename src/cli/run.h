/* cli/run.h - the commands, each in the file of its name.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_RUN_H
#define CLI_RUN_H

#include "options.h"

enum outcome styles_run(const struct options *options);
enum outcome new_run(const struct options *options);
enum outcome map_run(const struct options *options);
enum outcome skew_run(const struct options *options);
enum outcome verify_run(const struct options *options);
enum outcome angles_run(const struct options *options);
enum outcome compare_run(const struct options *options);
enum outcome pitch_run(const struct options *options);
enum outcome frequency_run(const struct options *options);
enum outcome budget_run(const struct options *options);
enum outcome cloth_run(const struct options *options);
enum outcome report_run(const struct options *options);
enum outcome measure_run(const struct options *options);
enum outcome recall_run(const struct options *options);

#endif
