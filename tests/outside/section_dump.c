/* section_dump.c - one cross-section over woven cloth, written out for other people's solvers.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 *     outside-section-dump KIND STYLE PITCH FINENESS ANGLE X Y FILE
 *
 * KIND is stripline, sandwich, microstrip or covered (tests/line/structure.h); PITCH 0 for a single trace; lengths in
 * um, the angle in degrees. To the standard output goes JSON: the geometry in m, layers from the lower plane up, what
 * the cloth is made of, the grid, and our answer. FILE receives the grid's conductances as doubles, first up (rows x
 * (columns - 1)), then across ((rows - 1) x columns).
 */
#include "line/structure.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "line/local.h"

static const char *const kind_name[] = {"stripline", "sandwich", "microstrip", "covered"};

static bool write_conductances(const struct ww_line *line, double angle, const double (*place)[2], const char *path)
{
    struct ww_local local = {0};
    struct ww_error error = {0};
    FILE *file = fopen(path, "wb");
    size_t up = 0, across = 0;
    bool good = false;
    if (!file || ww_local_build(&local, line, angle, place, 0, WW_CROSS_SECTION, &error))
        goto done;
    up = line->mesh.rows * local.nodes;
    across = local.levels * (local.nodes + 1);
    good = fwrite(local.up, sizeof(double), up, file) == up &&
           fwrite(local.across, sizeof(double), across, file) == across;
done:
    ww_local_clear(&local);
    if (file && fclose(file))
        good = false;
    return good;
}

static void print_yarn(const char *name, const struct ww_yarn *yarn, double count, double packing)
{
    printf("\"%s\": {\"width\": %.17g, \"height\": %.17g, \"pitch\": %.17g, \"packing\": %.17g}, ", name,
           yarn->width.value, yarn->height.value, 1 / count, packing);
}

static void print_layers(const struct ww_stack *stack)
{
    size_t ply = stack->plies;
    printf("\"layers\": [");
    for (size_t i = stack->count; i-- > 0;) {
        const struct ww_layer *layer = &stack->layer[i];
        bool cloth = layer->kind == WW_LAYER_PLY;
        static const char *const name[] = {"plane", "trace", "ply", "resin", "solid", "mask", "air"};
        if (cloth)
            ply--;
        printf("{\"kind\": \"%s\", \"thickness\": %.17g, \"dk\": %.17g, \"ply\": %d}%s", name[layer->kind],
               layer->thickness, layer->dk, cloth ? (int)ply : -1, i ? ", " : "], ");
    }
}

static void print_grid(const struct ww_mesh *mesh)
{
    printf(
        "\"grid\": {\"columns\": %zu, \"rows\": %zu, \"step\": %.17g, \"bottom\": %zu, \"top\": %zu, \"first\": %zu, "
        "\"span\": %zu, \"dz\": [",
        mesh->columns, mesh->rows, mesh->step, mesh->bottom, mesh->top, mesh->first, mesh->span);
    for (size_t k = 0; k < mesh->rows; k++)
        printf("%.17g%s", mesh->row[k].dz, k + 1 < mesh->rows ? ", " : "]}, ");
}

static void print_all(const struct structure *s, double angle, double x, double y, const struct ww_full *full)
{
    const struct ww_line *line = s->line;
    const struct ww_ply *ply = &s->stack.ply[0];
    const struct ww_style *style = &s->stack.layer[ply->layer].style;
    printf("{\"pair\": %s, \"width\": %.17g, \"thickness\": %.17g, \"pitch\": %.17g, \"angle\": %.17g, \"x\": %.17g, "
           "\"y\": %.17g, ",
           line->mesh.pair ? "true" : "false", line->trace.width, line->trace.thickness, line->trace.pitch, angle, x,
           y);
    print_layers(&s->stack);
    printf("\"cloth\": {");
    print_yarn("warp", &style->warp, style->warp_count.value, ply->cell.warp_packing);
    print_yarn("fill", &style->fill, style->fill_count.value, ply->cell.fill_packing);
    printf("\"shape\": %.17g, \"glass\": %.17g, \"resin\": %.17g}, ", style->shape.value, style->glass.dk,
           s->stack.layer[ply->layer].resin.dk);
    print_grid(&line->mesh);
    printf(
        "\"c\": [[%.17g, %.17g], [%.17g, %.17g]], \"dk\": [%.17g, %.17g], \"mean_dk\": %.17g, \"iterations\": %d}\n",
        full->c[0][0], full->c[0][1], full->c[1][0], full->c[1][1], full->dk[0], full->dk[1], line->summary.dk_eff,
        full->iterations);
}

int main(int argc, char **argv)
{
    struct structure_options options = structure_single();
    struct structure s;
    struct ww_error error = {0};
    struct ww_full full;
    if (argc != 9) {
        fprintf(stderr, "usage: %s KIND STYLE PITCH FINENESS ANGLE X Y FILE\n", argv[0]);
        return 2;
    }
    while (options.kind <= COVERED && strcmp(kind_name[options.kind], argv[1]))
        options.kind++;
    options.style = argv[2];
    options.pitch = strtod(argv[3], NULL) * UM;
    options.fineness = strtod(argv[4], NULL);
    double angle = strtod(argv[5], NULL) * DEGREES, x = strtod(argv[6], NULL) * UM, y = strtod(argv[7], NULL) * UM;
    double place[2][2] = {{x, y}, {x, y}};
    if (options.kind > COVERED || structure_open(&s, &options, &error)) {
        fprintf(stderr, "%s\n", error.text);
        return 1;
    }
    int code = 1;
    if (ww_section_solve(s.line, angle, (const double(*)[2])place, NULL, &full, &error))
        fprintf(stderr, "%s\n", error.text);
    else if (!write_conductances(s.line, angle, (const double(*)[2])place, argv[8]))
        fprintf(stderr, "%s: cannot write\n", argv[8]);
    else {
        print_all(&s, angle, x, y, &full);
        code = 0;
    }
    structure_close(&s);
    return code;
}
