/* report_json.c - all of it as one JSON document.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The parts are the documents that lie beside the report, taken as they are, so that nothing is said twice differently.
 */
#include "result/json.h"

static json_t *sentences_object(const struct ww_report_item *sentence, size_t count)
{
    json_t *o = json_object();
    bool good = o != NULL;
    for (size_t i = 0; i < count; i++)
        good = put(o, sentence[i].key, text(sentence[i].value)) && good;
    return whole(o, good);
}

enum ww_status ww_result_report_json(FILE *stream, const struct ww_study *study,
                                     const struct ww_report_item *sentence, size_t sentences,
                                     const struct ww_report_item *document, size_t documents, struct ww_error *error)
{
    bool good = false;
    json_t *o = ww_json_study("report", study, &good);
    good = put(o, "signal", ww_json_signal(study)) && good;
    good = put(o, "answer", sentences_object(sentence, sentences)) && good;
    for (size_t i = 0; i < documents; i++) {
        json_error_t reason;
        json_t *part = json_load_file(document[i].value, 0, &reason);
        if (!part) {
            json_decref(o);
            return ww_error_set(error, WW_IO, document[i].value, 0, "could not be read back: %s", reason.text);
        }
        good = put(o, document[i].key, part) && good;
    }
    return ww_json_write(stream, whole(o, good), error);
}
