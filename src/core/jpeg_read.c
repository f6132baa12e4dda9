/* core/jpeg_read.c - a JPEG read as grey: the one doorway to libjpeg.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * libjpeg reports trouble by a jump, too; decode(), which it comes back to, owns nothing. It goes on where a file ends early,
 * with a warning and grey samples: that warning is an error here. A JPEG's density is about paper and seldom true: not read.
 */
#include "core/photo.h"

#ifdef WW_JPEG

#include <setjmp.h>
#include <stdlib.h>

#include <jpeglib.h>

#include <jerror.h>

/* Scans of a progressive file that are read; encoders write about ten, and each costs a pass over the whole picture. */
enum { SCANS_MOST = 200 };

struct trouble {
    struct jpeg_error_mgr manager; /* first: libjpeg hands back its address */
    jmp_buf back;
    enum ww_status status;
    char text[JMSG_LENGTH_MAX];
};

struct reading {
    struct jpeg_decompress_struct jpeg;
    struct jpeg_progress_mgr progress;
    JSAMPLE *row;
    const char *name;
    struct ww_photo *photo;
    struct ww_error *error;
};

static void give_up(j_common_ptr jpeg)
{
    struct trouble *trouble = (struct trouble *)(void *)jpeg->err;
    if (!trouble->status) {
        trouble->status = jpeg->err->msg_code == JERR_OUT_OF_MEMORY ? WW_NO_MEMORY : WW_MALFORMED;
        jpeg->err->format_message(jpeg, trouble->text);
    }
    longjmp(trouble->back, 1);
}

static void on_message(j_common_ptr jpeg, int level)
{
    bool early = jpeg->err->msg_code == JWRN_JPEG_EOF || jpeg->err->msg_code == JWRN_HIT_MARKER;
    struct trouble *trouble = (struct trouble *)(void *)jpeg->err;
    if (level >= 0 || !early)
        return;
    trouble->status = WW_MALFORMED;
    (void)snprintf(trouble->text, sizeof trouble->text, "the picture ends early; get the whole file");
    give_up(jpeg);
}

static void on_progress(j_common_ptr common)
{
    const struct jpeg_decompress_struct *jpeg = (const struct jpeg_decompress_struct *)(void *)common;
    struct trouble *trouble = (struct trouble *)(void *)common->err;
    if (jpeg->input_scan_number <= SCANS_MOST)
        return;
    trouble->status = WW_MALFORMED;
    (void)snprintf(trouble->text, sizeof trouble->text, "over %d scans; save it anew", SCANS_MOST);
    give_up(common);
}

static void take_row(struct ww_photo *photo, size_t y, const JSAMPLE *row)
{
    for (size_t x = 0; x < photo->nx; x++)
        photo->value[(photo->ny - 1 - y) * photo->nx + x] = row[x] / 255.0;
}

/* The one place that libjpeg's jump comes back to. A status of its own is set where the size is refused. */
static enum ww_status decode(struct reading *reading, FILE *stream, struct trouble *trouble)
{
    struct jpeg_decompress_struct *jpeg = &reading->jpeg;
    if (setjmp(trouble->back) != 0)
        return ww_error_set(reading->error, trouble->status, reading->name, 0, "is a broken JPEG: %s", trouble->text);
    jpeg_create_decompress(jpeg);
    jpeg->progress = &reading->progress;
    jpeg_stdio_src(jpeg, stream);
    (void)jpeg_read_header(jpeg, TRUE);
    if (jpeg->jpeg_color_space == JCS_CMYK || jpeg->jpeg_color_space == JCS_YCCK)
        return ww_error_set(reading->error, WW_INVALID, reading->name, 0,
                            "is a JPEG of printing inks (CMYK); save it in RGB or grey");
    enum ww_status status =
        ww_photo_allocate(reading->photo, jpeg->image_width, jpeg->image_height, reading->name, reading->error);
    if (status)
        return status;
    jpeg->out_color_space = JCS_GRAYSCALE;
    reading->row = malloc(jpeg->image_width);
    if (!reading->row)
        return ww_error_set(reading->error, WW_NO_MEMORY, reading->name, 0, "no memory to read the picture");
    (void)jpeg_start_decompress(jpeg);
    while (jpeg->output_scanline < jpeg->output_height) {
        size_t y = jpeg->output_scanline;
        (void)jpeg_read_scanlines(jpeg, &reading->row, 1);
        take_row(reading->photo, y, reading->row);
    }
    (void)jpeg_finish_decompress(jpeg);
    return WW_OK;
}

enum ww_status ww_photo_read_jpeg(struct ww_photo *photo, FILE *stream, const char *name, struct ww_error *error)
{
    struct trouble trouble = {.status = WW_OK};
    struct reading reading = {.name = name, .photo = photo, .error = error};
    reading.progress.progress_monitor = on_progress;
    reading.jpeg.err = jpeg_std_error(&trouble.manager);
    trouble.manager.error_exit = give_up;
    trouble.manager.emit_message = on_message;
    enum ww_status status = decode(&reading, stream, &trouble);
    jpeg_destroy_decompress(&reading.jpeg);
    free(reading.row);
    if (status)
        ww_photo_clear(photo);
    return status;
}

#else

enum ww_status ww_photo_read_jpeg(struct ww_photo *photo, FILE *stream, const char *name, struct ww_error *error)
{
    (void)stream;
    *photo = (struct ww_photo){0};
    return ww_error_set(error, WW_INVALID, name, 0,
                        "is a JPEG, and this weftwise is built without libjpeg; save it as PNG");
}

#endif
