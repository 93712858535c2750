#include "screen/settings.h"

#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "err.h"
#include "yaml_map.h"

static const struct yaml_word contrasts[] = {
    {"plain", CONTRAST_PLAIN}, {"strong", CONTRAST_STRONG}, {"night", CONTRAST_NIGHT}, {NULL, 0},
};

static const struct yaml_key keys[] = {
    {.key = "width", .kind = YAML_K_INT, .offset = offsetof(struct settings, width), .low = 900, .high = 16000},
    {.key = "height", .kind = YAML_K_INT, .offset = offsetof(struct settings, height), .low = 600, .high = 16000},
    {.key = "zoom", .kind = YAML_K_REAL, .offset = offsetof(struct settings, zoom), .low = 0.5, .high = 4},
    {.key = "text", .kind = YAML_K_REAL, .offset = offsetof(struct settings, text), .low = 0.8, .high = 2},
    {.key = "contrast", .kind = YAML_K_WORD, .offset = offsetof(struct settings, contrast), .words = contrasts},
    {.key = "sound", .kind = YAML_K_BOOL, .offset = offsetof(struct settings, sound)},
};

void settings_defaults(struct settings *s)
{
    *s = (struct settings){.width = 1280, .height = 800, .text = 1, .sound = true};
}

static void make_folders(const char *path)
{
    struct text part = {0};
    for (const char *slash = strchr(path + 1, '/'); slash; slash = strchr(slash + 1, '/')) {
        text_clear(&part);
        text_add_bytes(&part, path, (size_t)(slash - path));
        mkdir(text_cstr(&part), 0700);
    }
    text_release(&part);
}

void settings_path(struct text *path, const char *variable, const char *under_home,
                   const char *name)
{
    const char *told = getenv(variable), *home = getenv("HOME");
    text_clear(path);
    if (told && told[0] == '/')
        text_addf(path, "%s/letoff/%s", told, name);
    else if (home && home[0] == '/')
        text_addf(path, "%s/%s/letoff/%s", home, under_home, name);
    else
        return;
    make_folders(text_cstr(path));
}

void settings_load(struct settings *s)
{
    struct text path = {0};
    struct err e = {0};
    struct settings fresh;
    settings_defaults(s);
    settings_defaults(&fresh);
    settings_path(&path, "XDG_CONFIG_HOME", ".config", "window.yaml");
    struct yaml_tree *tree = path.length ? yaml_load(text_cstr(&path), &e) : NULL;
    if (tree && yaml_read_map(yaml_root(tree), "window", keys, sizeof keys / sizeof *keys, &fresh, &e))
        *s = fresh;
    yaml_free(tree);
    err_release(&e);
    text_release(&path);
}

bool settings_save(const struct settings *s)
{
    struct text path = {0}, out = {0};
    struct err e = {0};
    settings_path(&path, "XDG_CONFIG_HOME", ".config", "window.yaml");
    text_addf(&out, "width: %d\nheight: %d\n", s->width, s->height);
    if (s->zoom > 0)
        text_addf(&out, "zoom: %.2f\n", s->zoom);
    text_addf(&out, "text: %.2f\ncontrast: %s\nsound: %s\n", s->text > 0 ? s->text : 1,
              ink_contrast_name((enum contrast)s->contrast), s->sound ? "yes" : "no");
    bool good = path.length && text_write_file(text_cstr(&path), out.at, out.length, &e);
    err_release(&e);
    text_release(&path);
    text_release(&out);
    return good;
}
