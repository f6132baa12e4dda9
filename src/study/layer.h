/* study/layer.h - one layer of the stackup, from its line of text and back.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef STUDY_LAYER_H
#define STUDY_LAYER_H

#include "weftwise/study.h"

/* Does the word name a line that is not modelled, such as coplanar? And what to say of it: "... is not modelled ...". */
bool ww_is_line_not_modelled(const char *word);
extern const char ww_line_not_modelled[];

/* Read one layer from `text`, which is *count of them where a ply has several cloths, at most WW_CLOTHS_MOST. fallback is the
 * stackup's resin, NULL if it has none. The fill beside the trace is not known before all layers are: see ww_layers_fill. The
 * message has no file and line. */
enum ww_status ww_layer_read(struct ww_layer *layer, size_t *count, const char *text, const struct ww_weaves *weaves,
                             const struct ww_resin *fallback, struct ww_error *error);

/* Set dk and df of what stands beside the copper: the mask or air above it, the resin of the cloth or resin layer
 * above it; under a solid layer, the resin beneath; else what is above. */
void ww_layers_fill(struct ww_layer *layer, size_t count);

/* Write the layer as ww_layer_read takes it; fallback as there. Not checked: see ferror. */
void ww_layer_write(const struct ww_layer *layer, const struct ww_resin *fallback, FILE *stream);

#endif
