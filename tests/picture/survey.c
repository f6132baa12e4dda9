/* survey.c - how near are the figures of measured pictures? survey WEAVES [FIRST LAST [LARGEST]]: a line for each family of each seed,
 * and how often each limit is met.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sample.h"

static const double degree = WW_PI / 180.0;

static void print_family(const struct rendering *r, const struct ww_picture_yarns *y, int f)
{
    struct misses misses = rendering_misses(r, y, f);
    printf("%llu %d %zu %zu px=%.1f op=%.1f ratio=%.3f blur=%.2f noise=%.3f gap=%.2f grad=%.2f persp=%.3f "
           "wander=%.4f len=%.1f tog=%.2f turn=%.2f "
           "shape=%.0f hw=%.3f yarns=%zu ",
           (unsigned long long)r->seed, f, r->nx, r->ny, r->pitch[f] / r->pixel, r->pitch[1 - f] / r->pixel,
           r->width[f] / r->pitch[f], r->blur, r->noise, (r->pitch[f] - r->width[f]) / r->pixel, r->gradient,
           r->perspective, r->wander / r->pitch[f], r->length / r->pitch[f], r->together, r->turn[f] / degree,
           r->shape, r->height[f] / r->width[f], y->yarns);
    printf("ep=%.5f sp=%.5f np=%.5f et=%.5f st=%.5f nt=%.5f seen=%d ew=%.4f sw=%.4f mblur=%.2f mscat=%.4f scat=%.4f "
           "pos=%.4f pnoise=%.4f off=%.4f mwander=%.4f mlen=%.2f mtog=%.2f\n",
           misses.pitch, y->pitch.error / r->pitch[f], y->pitch.value / r->pitch[f] - 1.0, misses.turn / degree,
           y->turn.error / degree, (y->turn.value - r->turn[f]) / degree, y->edges_seen, misses.width,
           y->width.error / r->width[f], y->blur / r->pixel, y->width_scatter / r->width[f], r->scatter,
           misses.position / r->pitch[f], y->noise / r->pitch[f], misses.offset / r->pitch[f],
           y->wander / r->pitch[f], y->correlation_length / r->pitch[f], y->together);
}

int main(int argc, char **argv)
{
    struct ww_weaves weaves = {0};
    struct ww_error error = {0};
    unsigned long long first = argc > 3 ? strtoull(argv[2], NULL, 10) : 1,
                       last = argc > 3 ? strtoull(argv[3], NULL, 10) : 300;
    double most = argc > 4 ? atof(argv[4]) : 2000.0;
    if (argc < 2 || ww_weaves_open(&weaves, argv[1], NULL, &error)) {
        fprintf(stderr, "%s\n", argc < 2 ? "survey WEAVES [FIRST LAST [LARGEST]]" : error.text);
        return 2;
    }
    for (unsigned long long seed = first; seed <= last; seed++) {
        struct rendering r = rendering_of_seed(&weaves, seed, most);
        struct ww_picture picture = render(&r);
        struct ww_picture_options how = {0};
        struct ww_cloth_picture cloth;
        if (ww_picture_measure(&cloth, &picture, &how, &error))
            printf("%llu refused px=%.1f op=%.1f ratio=%.3f/%.3f blur=%.2f noise=%.3f: %s\n", seed,
                   r.pitch[0] / r.pixel, r.pitch[1] / r.pixel, r.width[0] / r.pitch[0], r.width[1] / r.pitch[1],
                   r.blur, r.noise, error.text);
        else {
            print_family(&r, &cloth.warp, 0);
            print_family(&r, &cloth.fill, 1);
            ww_cloth_picture_clear(&cloth);
        }
        fflush(stdout);
        ww_picture_clear(&picture);
    }
    ww_weaves_close(&weaves);
    return 0;
}
