/* draw_cloth.c - a rendering of cloth as a 16-bit PNG, for the tests of the command: draw-cloth FILE PIXEL_UM WHAT, the size of a
 * pixel that the file tells (0: none), and cloth, large (of more yarns, coarser), small or stripes.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/png.h"
#include "render.h"

static void draw_stripes(struct ww_picture *picture)
{
    for (size_t y = 0; y < picture->ny; y++)
        for (size_t x = 0; x < picture->nx; x++)
            picture->value[y * picture->nx + x] = 0.5 + 0.3 * cos(2.0 * WW_PI * (double)x / 23.0);
}

int main(int argc, char **argv)
{
    if (argc != 4)
        return 2;
    struct rendering cloth = rendering_of_cloth();
    cloth.turn[0] = 1.5 * WW_PI / 180.0;
    cloth.turn[1] = 2.0 * WW_PI / 180.0;
    cloth.blur = 1.0;
    cloth.noise = 0.02;
    cloth.gradient = 0.3;
    cloth.wander = 6e-6;
    cloth.length = 1e-3;
    cloth.nx = 480;
    cloth.ny = 420;
    if (strcmp(argv[3], "large") == 0) {
        cloth.nx = cloth.ny = 700;
        cloth.pixel = 24e-6;
        cloth.length = 3e-3;
    }
    if (strcmp(argv[3], "small") == 0)
        cloth.nx = cloth.ny = 300;
    bool stripes = strcmp(argv[3], "stripes") == 0;
    struct ww_picture picture = stripes ? blank_picture(320, 300, cloth.pixel) : render(&cloth);
    if (stripes)
        draw_stripes(&picture);
    uint16_t *grey = malloc(picture.nx * picture.ny * sizeof *grey);
    FILE *stream = fopen(argv[1], "wb");
    if (!grey || !stream)
        return 3;
    for (size_t y = 0; y < picture.ny; y++)
        for (size_t x = 0; x < picture.nx; x++)
            grey[(picture.ny - 1 - y) * picture.nx + x] =
                (uint16_t)lround(65535.0 * picture.value[y * picture.nx + x]);
    double pixel = atof(argv[2]) * 1e-6;
    struct ww_png_image image = {.kind = WW_PNG_GREY16,
                                 .width = (uint32_t)picture.nx,
                                 .height = (uint32_t)picture.ny,
                                 .grey = grey,
                                 .pixel_width = pixel,
                                 .pixel_height = pixel};
    enum ww_status status = ww_png_write(&image, stream, argv[1], NULL);
    free(grey);
    ww_picture_clear(&picture);
    return fclose(stream) != 0 || status ? 3 : 0;
}
