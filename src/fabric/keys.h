/* fabric/keys.h - one table of keys reads, checks and explains a kind of section.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef FABRIC_KEYS_H
#define FABRIC_KEYS_H

#include "weftwise/fabric.h"

enum key_kind {
    KEY_NUMBER, /* double, SI */
    KEY_DATUM,  /* struct ww_datum; KEY.source may stand beside it, at a length KEY.uncertainty too */
    KEY_PITCH,  /* struct ww_datum of a count: a length, of which 1/length is kept; KEY.source may stand beside it */
    KEY_YARN,   /* struct ww_yarn: its code and linear density; KEY.source may stand beside it */
    KEY_WEAVE,  /* enum ww_weave_kind */
    KEY_FOIL,   /* enum ww_foil_model */
    KEY_TEXT    /* char array of `size` bytes */
};

struct key {
    struct ww_key_help help;
    enum key_kind kind;
    enum ww_dimension dimension; /* numbers, data, yarns */
    double least, most;          /* SI, both allowed */
    size_t offset, size;         /* of the field in the struct that is filled */
    bool needed;
};

/* A section of settings. */
struct section {
    const struct ww_settings *settings;
    const char *name; /* "style T1" */
};

/* Does a key or value ask for another weave than plain: "weave", "twill", "8-harness satin"? Such are refused with these words. */
bool ww_is_other_weave(const char *key, const char *value);
#define WW_OTHER_WEAVE                                                                                               \
    "only plain weave is modelled, one over and one under; glass cloth for circuit boards is woven plain"

/* Has the section every key that is needed? */
bool ww_keys_complete(const struct section *section, const struct key *table, size_t count);

/* Fill `object` from the section by the table; figures that it holds already stay where the section says nothing of them, and
 * then no key is needed (`over`). Two keys of one field stand for each other. WW_MALFORMED: unknown or repeated key, value that does not follow its
 * format; WW_INVALID: a value outside its range, a needed key missing. */
enum ww_status ww_keys_read(void *object, const struct section *section, const struct key *table, size_t count,
                            bool over, struct ww_error *error);

#endif
