/* Write one map into a folder as map.npy and map.png, for read_maps.py: value = 1e-12 (10 iy + ix) s at row iy, column
 * ix of 3 by 4 samples, 25 by 50 um each.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <stdio.h>

#include "weftwise/result.h"

int main(int argc, char **argv)
{
    struct ww_map map = {0};
    char path[600];
    enum ww_status status = argc == 2 ? ww_map_init(&map, 4, 3, 100e-6, 150e-6, NULL) : WW_INVALID;

    if (status != WW_OK)
        return 1;
    for (size_t iy = 0; iy < map.ny; iy++)
        for (size_t ix = 0; ix < map.nx; ix++)
            map.value[iy * map.nx + ix] = 1e-12 * (double)(10 * iy + ix);
    snprintf(path, sizeof path, "%s/map.npy", argv[1]);
    status = ww_result_npy(path, &map, NULL);
    snprintf(path, sizeof path, "%s/map.png", argv[1]);
    if (status == WW_OK)
        status = ww_result_grey_png(path, &map, "skew", "s", NULL, NULL);
    ww_map_clear(&map);
    return status == WW_OK ? 0 : 1;
}
