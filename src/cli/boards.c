/* boards.c - the boards of real cloth that a study asks for.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "boards.h"

#include "progress.h"

/* Lanes that lie at a pitch on one cloth. */
static size_t lanes_of(const struct ww_study *study)
{
    bool one_cloth = study->trace.pitch > 0.0 && study->lane_pitch > 0.0 && study->lanes <= BOARDS_MOST_LANES;
    return one_cloth ? study->lanes : 0;
}

/* Nets that lie anywhere on one panel: the study's lanes, where nothing ties them to each other. */
static size_t nets_of(const struct job *job)
{
    const struct ww_study *study = &job->study;
    if (study->paths[0])
        return 0;
    if (job->options->nets > 0)
        return (size_t)job->options->nets;
    return study->lane_pitch > 0.0 || study->lanes > BOARDS_MOST_NETS ? 0 : study->lanes;
}

struct ww_real_request boards_request(const struct job *job)
{
    const struct ww_study *study = &job->study;
    return (struct ww_real_request){.scatter = &study->scatter,
                                    .length = study->length,
                                    .longest = job->options->to_length,
                                    .angle = study->angle,
                                    .route = study->route,
                                    .segments = study->segments,
                                    .bends = !study->compensated,
                                    .turn = study->turn,
                                    .turn_law = study->turn_law,
                                    .warp_tolerance = study->warp_tolerance,
                                    .fill_tolerance = study->fill_tolerance,
                                    .spacing = study->spacing,
                                    .boards = (size_t)job->options->boards,
                                    .lanes = lanes_of(study),
                                    .lane_pitch = study->lane_pitch,
                                    .budget = study->budget,
                                    .nets = nets_of(job),
                                    .arm = study->arm,
                                    .arms = study->paths[0] ? 0 : study->arms,
                                    .neighbours = true,
                                    .sections = study->sections,
                                    .angles = true,
                                    .design = true,
                                    .progress = progress_of()};
}

double boards_bytes(const struct job *job)
{
    const struct ww_study *study = &job->study;
    const struct ww_real_request request = boards_request(job);
    return study->paths[0] ? 0.0 : ww_real_bytes(&study->stack, &study->trace, &request);
}
