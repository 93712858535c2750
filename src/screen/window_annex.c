#include "screen/window_annex.h"

extern const struct window_annex letoff_annex; /* found by its name */

const struct window_annex letoff_annex = {
    .open = window_new,
    .close = window_free,
    .size = window_size,
    .zoom = window_zoom,
    .set_zoom = window_set_zoom,
    .pixels = window_pixels,
    .next = window_next,
    .pending = window_pending,
    .wake = window_wake,
    .show = window_show,
    .text_at = window_text_at,
    .paste = window_paste,
    .copy = window_copy,
    .now_s = window_now_s,
};
