/* style.c - the keys of [style], [glass], [resin] and [foil] sections.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Adding a figure is adding a row (and its field). The ranges keep slips of a unit out, not unusual cloth.
 */
#include "fabric/style.h"
#include "fabric/keys.h"

#include <stddef.h>
#include <string.h>

#define STYLE(field) offsetof(struct ww_style, field), sizeof(((struct ww_style *)NULL)->field)
#define GLASS(field) offsetof(struct ww_glass, field), sizeof(((struct ww_glass *)NULL)->field)
#define RESIN(field) offsetof(struct ww_resin, field), sizeof(((struct ww_resin *)NULL)->field)
#define FOIL(field) offsetof(struct ww_foil, field), sizeof(((struct ww_foil *)NULL)->field)

#define PER_INCH (1.0 / 0.0254)
#define UM 1e-6

static const struct key style_key[] = {
    {{"kind", "plain", "finish of the cloth: plain, spread or open"}, KEY_WEAVE, WW_PURE, 0, 0, STYLE(kind), false},
    {{"warp_count", "60 /in", "warp ends per length, across the warp"},
     KEY_DATUM,
     WW_COUNT,
     PER_INCH,
     1000 * PER_INCH,
     STYLE(warp_count),
     true},
    {{"warp_pitch", "423 um", "of the warp yarns, in place of warp_count"},
     KEY_PITCH,
     WW_LENGTH,
     25.4 * UM,
     25400 * UM,
     STYLE(warp_count),
     false},
    {{"fill_count", "47 /in", "fill picks per length, across the fill"},
     KEY_DATUM,
     WW_COUNT,
     PER_INCH,
     1000 * PER_INCH,
     STYLE(fill_count),
     true},
    {{"fill_pitch", "540 um", "of the fill yarns, in place of fill_count"},
     KEY_PITCH,
     WW_LENGTH,
     25.4 * UM,
     25400 * UM,
     STYLE(fill_count),
     false},
    {{"warp_yarn", "D450 1/0", "code or linear density of the warp yarn"},
     KEY_YARN,
     WW_LINEAR_DENSITY,
     WW_TEX_LEAST,
     WW_TEX_MOST,
     STYLE(warp),
     true},
    {{"fill_yarn", "11.2 tex", "code or linear density of the fill yarn"},
     KEY_YARN,
     WW_LINEAR_DENSITY,
     WW_TEX_LEAST,
     WW_TEX_MOST,
     STYLE(fill),
     true},
    {{"warp_width", "300 um", "of the warp yarn; closed if left out"},
     KEY_DATUM,
     WW_LENGTH,
     WW_YARN_LEAST,
     WW_YARN_MOST,
     STYLE(warp.width),
     false},
    {{"warp_height", "27 um", "of the warp yarn; closed if left out"},
     KEY_DATUM,
     WW_LENGTH,
     WW_YARN_LEAST,
     WW_YARN_MOST,
     STYLE(warp.height),
     false},
    {{"fill_width", "330 um", "of the fill yarn; closed if left out"},
     KEY_DATUM,
     WW_LENGTH,
     WW_YARN_LEAST,
     WW_YARN_MOST,
     STYLE(fill.width),
     false},
    {{"fill_height", "25 um", "of the fill yarn; closed if left out"},
     KEY_DATUM,
     WW_LENGTH,
     WW_YARN_LEAST,
     WW_YARN_MOST,
     STYLE(fill.height),
     false},
    {{"shape", "2", "exponent of the yarn's section: 2 is an ellipse, 3 is flatter"},
     KEY_DATUM,
     WW_PURE,
     WW_SHAPE_LEAST,
     WW_SHAPE_MOST,
     STYLE(shape),
     false},
    {{"thickness", "52 um", "of the fabric, from which widths and heights are closed"},
     KEY_DATUM,
     WW_LENGTH,
     UM,
     10000 * UM,
     STYLE(thickness),
     false},
    {{"weight", "47.2 g/m2", "of the cloth as published, to check the yarns by"},
     KEY_DATUM,
     WW_AREAL_WEIGHT,
     WW_WEIGHT_LEAST,
     WW_WEIGHT_MOST,
     STYLE(weight),
     false},
    {{"resin_least", "45 %", "of prepregs of this cloth, by weight; from memory if left out"},
     KEY_DATUM,
     WW_FRACTION,
     0.0,
     1.0,
     STYLE(resin_least),
     false},
    {{"resin_most", "75 %", "of prepregs of this cloth, by weight; from memory if left out"},
     KEY_DATUM,
     WW_FRACTION,
     0.0,
     1.0,
     STYLE(resin_most),
     false},
    {{"glass", "E", "name of its glass"}, KEY_TEXT, WW_PURE, 0, 0, STYLE(glass.name), true},
    {{"source", "measured on a cross-section", "where figures without a KEY.source of their own are from"},
     KEY_TEXT,
     WW_PURE,
     0,
     0,
     STYLE(source),
     false},
    {{"note", "sources disagree on the fill count", "what a user of this style should know"},
     KEY_TEXT,
     WW_PURE,
     0,
     0,
     STYLE(note),
     false},
};

static const struct key glass_key[] = {
    {{"dk", "6.3", "real permittivity"}, KEY_NUMBER, WW_PURE, 1.0, 100.0, GLASS(dk), true},
    {{"df", "0.004", "loss tangent"}, KEY_NUMBER, WW_PURE, 0.0, 1.0, GLASS(df), true},
    {{"density", "2.58 g/cm3", "of the glass itself"}, KEY_NUMBER, WW_DENSITY, 100.0, 20000.0, GLASS(density), true},
    {{"dk_uncertainty", "6 %", "by which share dk may be off, either way; 6 % where left out"},
     KEY_NUMBER,
     WW_FRACTION,
     0.0,
     0.5,
     GLASS(dk_uncertainty),
     false},
    {{"frequency", "10 GHz", "at which dk and df hold; needed only for what the line does over frequency"},
     KEY_NUMBER,
     WW_FREQUENCY,
     1e3,
     1e12,
     GLASS(frequency),
     false},
    {{"source", "data sheet, at 10 GHz", "where these figures are from"},
     KEY_TEXT,
     WW_PURE,
     0,
     0,
     GLASS(source),
     false},
};

static const struct key resin_key[] = {
    {{"dk", "3.2", "real permittivity"}, KEY_NUMBER, WW_PURE, 1.0, 100.0, RESIN(dk), true},
    {{"df", "0.004", "loss tangent"}, KEY_NUMBER, WW_PURE, 0.0, 1.0, RESIN(df), true},
    {{"density", "1.4 g/cm3", "needed only for the resin content"},
     KEY_NUMBER,
     WW_DENSITY,
     100.0,
     20000.0,
     RESIN(density),
     false},
    {{"frequency", "10 GHz", "at which dk and df hold; needed only for what the line does over frequency"},
     KEY_NUMBER,
     WW_FREQUENCY,
     1e3,
     1e12,
     RESIN(frequency),
     false},
    {{"source", "data sheet, at 10 GHz", "where these figures are from"},
     KEY_TEXT,
     WW_PURE,
     0,
     0,
     RESIN(source),
     false},
};

static const struct key foil_key[] = {
    {{"model", "huray", "smooth, or how roughness is taken into account: hammerstad, groiss or huray"},
     KEY_FOIL,
     WW_PURE,
     0,
     0,
     FOIL(model),
     true},
    {{"rz", "3.5 um", "roughness, peak to valley; 0 um of smooth copper"},
     KEY_NUMBER,
     WW_LENGTH,
     0.0,
     100e-6,
     FOIL(rz),
     true},
    {{"conductivity", "58 MS/m", "of the copper; 58 MS/m where left out"},
     KEY_NUMBER,
     WW_CONDUCTIVITY,
     1e5,
     1e9,
     FOIL(conductivity),
     false},
    {{"sphere_radius", "0.2 um", "huray: of the spheres; from rz where left out"},
     KEY_NUMBER,
     WW_LENGTH,
     1e-9,
     100e-6,
     FOIL(sphere_radius),
     false},
    {{"surface_ratio", "4.9", "huray: surface of the spheres over that of the foil; 4.89 where left out"},
     KEY_NUMBER,
     WW_PURE,
     1e-3,
     100.0,
     FOIL(surface_ratio),
     false},
    {{"source", "data sheet", "where these figures are from"}, KEY_TEXT, WW_PURE, 0, 0, FOIL(source), false},
};

static const struct {
    const char *section;
    const struct key *key;
    size_t count;
} table[] = {
    {"style", style_key, sizeof style_key / sizeof *style_key},
    {"glass", glass_key, sizeof glass_key / sizeof *glass_key},
    {"resin", resin_key, sizeof resin_key / sizeof *resin_key},
    {"foil", foil_key, sizeof foil_key / sizeof *foil_key},
};
enum { STYLE_TABLE, GLASS_TABLE, RESIN_TABLE, FOIL_TABLE, TABLES };

static const struct key *key_of(const char *section, size_t index)
{
    for (size_t n = 0; n < TABLES; n++)
        if (strcmp(section, table[n].section) == 0)
            return index < table[n].count ? &table[n].key[index] : NULL;
    return NULL;
}

const struct ww_key_help *ww_weaves_key(const char *section, size_t index)
{
    const struct key *key = key_of(section, index);
    return key ? &key->help : NULL;
}

bool ww_weaves_key_range(const char *section, size_t index, struct ww_key_range *range)
{
    const struct key *key = key_of(section, index);
    bool ranged = key && key->most > key->least;
    *range = ranged ? (struct ww_key_range){key->least, key->most, key->dimension} : (struct ww_key_range){0};
    return ranged;
}

/* "style T1" -> "T1" into name; a name that does not fit is refused. */
static enum ww_status take_name(char *name, size_t size, const struct section *section, struct ww_error *error)
{
    const char *space = strchr(section->name, ' ');
    const char *word = space ? space + 1 : section->name;
    if (strlen(word) >= size)
        return ww_error_set(error, WW_MALFORMED, section->settings->file, 0, "[%s]: give a name of at most %zu bytes",
                            section->name, size - 1);
    strcpy(name, word);
    return WW_OK;
}

bool ww_style_stands_alone(const struct section *section)
{
    return ww_keys_complete(section, style_key, table[STYLE_TABLE].count);
}

enum ww_status ww_style_read(struct ww_style *style, const struct section *section, bool over, struct ww_error *error)
{
    enum ww_status status = take_name(style->name, sizeof style->name, section, error);
    if (!status)
        status = ww_keys_read(style, section, style_key, table[STYLE_TABLE].count, over, error);
    if (!status && style->resin_least.value > 0 && style->resin_most.value > 0 &&
        style->resin_least.value > style->resin_most.value)
        status = ww_error_set(error, WW_INVALID, section->settings->file, style->resin_least.line,
                              "resin_least is above resin_most; exchange them");
    if (status)
        return status;
    strncpy(style->file, section->settings->file ? section->settings->file : "", sizeof style->file - 1);
    if (style->shape.origin == WW_ABSENT) {
        style->shape = (struct ww_datum){.value = 2.0, .origin = WW_CLOSED};
        strcpy(style->shape.source, "closed: an ellipse where nothing is said");
    }
    return WW_OK;
}

/* E glass: 6.8 at 1 GHz (a supplier's data page), 6.1 to 6.6 to 10 GHz (from memory), 6.37 and 6.49 from prepregs' Dk over
 * their glass (derived): 6.35 +-6 %. */
static const double GLASS_DK_UNCERTAINTY = 0.06;

enum ww_status ww_glass_read(struct ww_glass *glass, const struct section *section, struct ww_error *error)
{
    glass->dk_uncertainty = GLASS_DK_UNCERTAINTY;
    enum ww_status status = take_name(glass->name, sizeof glass->name, section, error);
    return status ? status : ww_keys_read(glass, section, glass_key, table[GLASS_TABLE].count, false, error);
}

enum ww_status ww_resin_read(struct ww_resin *resin, const struct section *section, struct ww_error *error)
{
    enum ww_status status = take_name(resin->name, sizeof resin->name, section, error);
    return status ? status : ww_keys_read(resin, section, resin_key, table[RESIN_TABLE].count, false, error);
}

const char *ww_foil_model_name(enum ww_foil_model model)
{
    static const char *const name[] = {"smooth", "hammerstad", "groiss", "huray"};
    return (size_t)model < sizeof name / sizeof *name ? name[model] : "unknown";
}

enum ww_status ww_foil_read(struct ww_foil *foil, const struct section *section, struct ww_error *error)
{
    foil->conductivity = WW_COPPER_CONDUCTIVITY;
    enum ww_status status = take_name(foil->name, sizeof foil->name, section, error);
    if (!status)
        status = ww_keys_read(foil, section, foil_key, table[FOIL_TABLE].count, false, error);
    if (!status && foil->model != WW_FOIL_SMOOTH && !(foil->rz > 0.0))
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "[%s]: the model %s needs a roughness; give rz above 0 um, or model = smooth",
                            section->name, ww_foil_model_name(foil->model));
    return status;
}
