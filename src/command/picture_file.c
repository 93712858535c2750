#include "command/picture_file.h"

#include <string.h>

#include "draw/paint.h"
#include "draw/svg.h"

static bool ends_with(const char *s, const char *end)
{
    size_t n = strlen(s), m = strlen(end);
    return n >= m && !strcmp(s + n - m, end);
}

bool picture_ending(const char *path, struct err *e)
{
    if (ends_with(path, ".png") || ends_with(path, ".svg") || ends_with(path, ".pdf"))
        return true;
    err_add(e, "The name of the picture must end in .png, .svg or .pdf, not \"%s\".", path);
    return false;
}

bool picture_write(const struct canvas *c, const char *title, const char *path, struct err *e)
{
    const struct canvas *page = c;
    if (ends_with(path, ".svg"))
        return svg_file(c, title, path, e);
    if (ends_with(path, ".png"))
        return paint_png(c, 2, path, e);
    return paint_pdf(&page, 1, title, path, e);
}
