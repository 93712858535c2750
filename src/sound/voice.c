#include "sound/voice.h"

#include <assert.h>
#include <dirent.h>
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "err.h"
#include "mem.h"
#include "sound/partials.h"
#include "text.h"
#include "yaml_map.h"

/* ---- the file: one row joins a key with a member ---------------------------------------------- */

/* A voice as it is written; turned into a struct voice when all of it is right. */
struct voice_row {
    struct voice voice;
    int modes, pitch_mode;
    double strike_at, pitch_times;
    const char *recording;
    const struct yaml_node *partials, *noise;
};

static const struct yaml_word KINDS[] = {
    {"struck", VOICE_STRUCK},
    {"pipe", VOICE_PIPE},
    {"noise", VOICE_NOISE},
    {NULL, 0},
};

static const struct yaml_word LAWS[] = {
    {"list", LAW_LIST},
    {"clamped_rod", LAW_CLAMPED_ROD},
    {"free_tube", LAW_FREE_TUBE},
    {NULL, 0},
};

#define ROW(member) offsetof(struct voice_row, member)
#define OF(member)  offsetof(struct voice_row, voice.member)

static const struct yaml_key VOICE_KEYS[] = {
    {.key = "id", .kind = YAML_K_ID, .offset = OF(id), .needed = true},
    {.key = "name", .kind = YAML_K_TEXT, .offset = OF(name), .needed = true},
    {.key = "source", .kind = YAML_K_TEXT, .offset = OF(source), .needed = true},
    {.key = "kind", .kind = YAML_K_WORD, .offset = OF(kind), .words = KINDS},
    {.key = "law", .kind = YAML_K_WORD, .offset = OF(law), .words = LAWS},
    {.key = "modes", .kind = YAML_K_INT, .offset = ROW(modes), .low = 1, .high = VOICE_PARTIALS},
    {.key = "strike_at", .kind = YAML_K_REAL, .offset = ROW(strike_at), .low = 0.01, .high = 1},
    {.key = "partials", .kind = YAML_K_NODE, .offset = ROW(partials)},
    {.key = "pitch_mode", .kind = YAML_K_INT, .offset = ROW(pitch_mode), .low = 1,
     .high = VOICE_PARTIALS},
    {.key = "pitch_times", .kind = YAML_K_REAL, .offset = ROW(pitch_times), .low = 0.1, .high = 10},
    {.key = "stretch", .kind = YAML_K_REAL, .offset = OF(stretch), .low = -0.3, .high = 0.3},
    {.key = "low_hz", .kind = YAML_K_REAL, .offset = OF(low_hz), .low = 10, .high = 10000},
    {.key = "high_hz", .kind = YAML_K_REAL, .offset = OF(high_hz), .low = 10, .high = 10000},
    {.key = "t60_s", .kind = YAML_K_REAL, .offset = OF(t60_s), .low = 0.01, .high = 120},
    {.key = "t60_hz", .kind = YAML_K_REAL, .offset = OF(t60_hz), .low = 10, .high = 10000},
    {.key = "t60_slope", .kind = YAML_K_REAL, .offset = OF(t60_slope), .low = 0, .high = 3},
    {.key = "contact_ms", .kind = YAML_K_REAL, .offset = OF(contact_ms), .low = 0.02, .high = 20},
    {.key = "board_hz", .kind = YAML_K_REAL, .offset = OF(board_hz), .low = 10, .high = 2000},
    {.key = "split", .kind = YAML_K_REAL, .offset = OF(split), .low = 0, .high = 0.05},
    {.key = "split_level", .kind = YAML_K_REAL, .offset = OF(split_level), .low = 0, .high = 1},
    {.key = "noise", .kind = YAML_K_NODE, .offset = ROW(noise)},
    {.key = "attack_ms", .kind = YAML_K_REAL, .offset = OF(attack_ms), .low = 1, .high = 500},
    {.key = "hold_s", .kind = YAML_K_REAL, .offset = OF(hold_s), .low = 0.02, .high = 10},
    {.key = "release_ms", .kind = YAML_K_REAL, .offset = OF(release_ms), .low = 1, .high = 2000},
    {.key = "sag_cents", .kind = YAML_K_REAL, .offset = OF(sag_cents), .low = 0, .high = 400},
    {.key = "flutter_hz", .kind = YAML_K_REAL, .offset = OF(flutter_hz), .low = 0.1, .high = 200},
    {.key = "level", .kind = YAML_K_REAL, .offset = OF(level), .low = 0.001, .high = 1},
    {.key = "midi_program", .kind = YAML_K_INT, .offset = OF(midi_program), .low = 0.0,
     .high = 127},
    {.key = "recording", .kind = YAML_K_TEXT, .offset = ROW(recording)},
    {.key = "recording_hz", .kind = YAML_K_REAL, .offset = OF(recording_hz), .low = 10,
     .high = 10000},
};

#define PART(member) offsetof(struct voice_partial, member)
static const struct yaml_key PARTIAL_KEYS[] = {
    {.key = "ratio", .kind = YAML_K_REAL, .offset = PART(ratio), .needed = true, .low = 0.01,
     .high = 1000},
    {.key = "level", .kind = YAML_K_REAL, .offset = PART(level), .needed = true, .low = 0.0001,
     .high = 1000},
    {.key = "t60_s", .kind = YAML_K_REAL, .offset = PART(t60_s), .low = 0.01, .high = 120},
    {.key = "split", .kind = YAML_K_REAL, .offset = PART(split), .low = 0, .high = 0.05},
};

#define NOISE(member) offsetof(struct voice_noise, member)
static const struct yaml_key NOISE_KEYS[] = {
    {.key = "level", .kind = YAML_K_REAL, .offset = NOISE(level), .needed = true, .low = 0.0001,
     .high = 10},
    {.key = "ms", .kind = YAML_K_REAL, .offset = NOISE(ms), .needed = true, .low = 0.5,
     .high = 5000},
    {.key = "low_hz", .kind = YAML_K_REAL, .offset = NOISE(low_hz), .needed = true, .low = 10,
     .high = 20000},
    {.key = "high_hz", .kind = YAML_K_REAL, .offset = NOISE(high_hz), .needed = true, .low = 10,
     .high = 20000},
};

#define COUNT(a) (sizeof(a) / sizeof *(a))

/* Values of a row that is silent about them; ours. */
static const struct voice_row ROW_AS_LEFT = {
    .voice = {.low_hz = 40, .high_hz = 5000, .t60_s = 4, .t60_hz = 440, .t60_slope = 0.8,
              .contact_ms = 1, .split_level = 0.3, .attack_ms = 20, .hold_s = 0.3,
              .release_ms = 40, .level = 0.5, .midi_program = 14},
    .modes = 12,
    .pitch_mode = 1,
    .strike_at = 0.1,
    .pitch_times = 1,
};

/* ---- the laws ----------------------------------------------------------------------------------- */

/* A rod is heard through the board its clamp stands on.  After an impulse at `at` mode n swings with
 * amplitude shape_n(at) / w_n, w ~ x^2, and pulls at the clamp with x^3 times that. */
static void fill_clamped_rod(struct voice *v, int modes, double at)
{
    for (int n = 1; n <= modes; n++)
        v->partial[n - 1] = (struct voice_partial){
            .ratio = partials_clamped_ratio(n),
            .level = fmax(partials_clamped_root(n) * fabs(partials_clamped_shape(n, at)), 1e-4),
        };
    v->partials = (size_t)modes;
}

/* A tube struck at its end: every mode gets the same velocity; being thin it is a dipole, which
 * radiates better as the frequency rises. */
static void fill_free_tube(struct voice *v, int modes)
{
    for (int n = 1; n <= modes; n++)
        v->partial[n - 1] = (struct voice_partial){
            .ratio = partials_free_ratio(n),
            .level = partials_free_ratio(n),
        };
    v->partials = (size_t)modes;
}

static bool fill_list(struct voice *v, const struct yaml_node *list, struct err *e)
{
    if (yaml_shape_of(list) != YAML_LIST || yaml_count(list) < 1 ||
        yaml_count(list) > VOICE_PARTIALS) {
        yaml_complain(list, e, "partials must be a list of 1 to %d maps with ratio and level.",
                      VOICE_PARTIALS);
        return false;
    }
    bool good = true;
    for (size_t i = 0; i < yaml_count(list); i++) {
        struct voice_partial p = {0};
        good &= yaml_read_map(yaml_item(list, i), "partial", PARTIAL_KEYS, COUNT(PARTIAL_KEYS), &p,
                              e);
        v->partial[i] = p;
    }
    v->partials = yaml_count(list);
    return good;
}

/* ---- checking and making ------------------------------------------------------------------------ */

static bool partials_make(struct voice_row *row, const struct yaml_node *map, struct err *e)
{
    struct voice *v = &row->voice;
    bool listed = row->partials != NULL;
    if (v->law != LAW_LIST && listed) {
        yaml_complain(row->partials, e, "partials stand beside a law that gives them already; "
                                        "leave out one of the two.");
        return false;
    }
    if (v->law == LAW_LIST && v->kind != VOICE_NOISE && !listed && !row->recording) {
        yaml_complain(map, e, "voice %s has neither partials nor a law nor a recording.", v->id);
        return false;
    }
    if (v->law == LAW_CLAMPED_ROD)
        fill_clamped_rod(v, row->modes, row->strike_at);
    else if (v->law == LAW_FREE_TUBE)
        fill_free_tube(v, row->modes);
    else if (listed)
        return fill_list(v, row->partials, e);
    return true;
}

static bool pitch_make(struct voice_row *row, const struct yaml_node *map, struct err *e)
{
    struct voice *v = &row->voice;
    v->pitch_ratio = 1;
    if (!v->partials)
        return true;
    if ((size_t)row->pitch_mode > v->partials) {
        yaml_complain(map, e, "pitch_mode of voice %s is %d, but it has %zu partials.", v->id,
                      row->pitch_mode, v->partials);
        return false;
    }
    v->pitch_ratio = v->partial[row->pitch_mode - 1].ratio * row->pitch_times;
    return true;
}

static bool noise_make(struct voice_row *row, const struct yaml_node *map, struct err *e)
{
    struct voice *v = &row->voice;
    if (!row->noise) {
        if (v->kind == VOICE_NOISE && !row->recording)
            yaml_complain(map, e, "voice %s is of kind noise and needs a noise map.", v->id);
        return v->kind != VOICE_NOISE || row->recording;
    }
    if (!yaml_read_map(row->noise, "noise", NOISE_KEYS, COUNT(NOISE_KEYS), &v->noise, e))
        return false;
    if (v->noise.low_hz < v->noise.high_hz)
        return true;
    yaml_complain(row->noise, e, "noise of voice %s has low_hz %g, not below high_hz %g.", v->id,
                  v->noise.low_hz, v->noise.high_hz);
    return false;
}

static bool range_check(const struct voice *v, const struct yaml_node *map, struct err *e)
{
    if (v->low_hz <= v->high_hz)
        return true;
    yaml_complain(map, e, "voice %s is for pitches from %g to %g Hz, which is no range.", v->id,
                  v->low_hz, v->high_hz);
    return false;
}

/* "folder of the voice file" / name, unless the name is a whole path. */
static void recording_path(const struct yaml_node *map, const char *name, struct text *path)
{
    const char *file = yaml_file(map), *slash = strrchr(file, '/');
    if (name[0] != '/' && slash)
        text_add_bytes(path, file, (size_t)(slash - file) + 1);
    text_add(path, name);
}

static bool recording_make(struct voice_row *row, const struct yaml_node *map,
                           voice_reader *reader, struct err *e)
{
    struct voice *v = &row->voice;
    if (!row->recording)
        return true;
    if (v->recording_hz <= 0 && v->kind != VOICE_NOISE) {
        yaml_complain(map, e, "voice %s has a recording but no recording_hz, the pitch of it.",
                      v->id);
        return false;
    }
    struct text path = {0};
    struct err trouble = {0};
    recording_path(map, row->recording, &path);
    bool good = reader(&v->recording, text_cstr(&path), &trouble);
    if (!good)
        yaml_complain(map, e, "recording of voice %s cannot be used: %s", v->id,
                      trouble.count ? trouble.line[0] : "it cannot be read.");
    else if (v->recording.frames == 0) {
        yaml_complain(map, e, "recording \"%s\" of voice %s is empty.", row->recording, v->id);
        good = false;
    }
    err_release(&trouble);
    text_release(&path);
    return good;
}

/* All problems of a row are told, so nothing stops at the first. */
static bool voice_read(struct voice *to, const struct yaml_node *map, voice_reader *reader,
                       struct err *e)
{
    struct voice_row row = ROW_AS_LEFT;
    row.voice.id = row.voice.name = row.voice.source = "";
    bool good = yaml_read_map(map, "voice", VOICE_KEYS, COUNT(VOICE_KEYS), &row, e);
    if (yaml_shape_of(map) != YAML_MAP)
        return false;
    bool made = partials_make(&row, map, e);
    good &= made;
    if (made)
        good &= pitch_make(&row, map, e);
    good &= noise_make(&row, map, e);
    good &= range_check(&row.voice, map, e);
    good &= recording_make(&row, map, reader, e);
    if (good)
        *to = row.voice;
    else
        pcm_release(&row.voice.recording);
    return good;
}

/* ---- the set ------------------------------------------------------------------------------------ */

static struct voice *voice_seek(const struct voice_set *set, size_t from, size_t to, const char *id)
{
    for (size_t i = from; i < to; i++)
        if (strcmp(set->at[i].id, id) == 0)
            return &set->at[i];
    return NULL;
}

static void voice_add(struct voice_set *set, const struct voice *v)
{
    set->at = mem_grow(set->at, &set->room, set->count + 1, sizeof *set->at);
    set->at[set->count++] = *v;
}

static bool voices_read(struct voice_set *fresh, const struct yaml_node *list, voice_reader *reader,
                        struct err *e)
{
    bool good = true;
    for (size_t i = 0; i < yaml_count(list); i++) {
        struct voice v = {0};
        const struct yaml_node *map = yaml_item(list, i);
        if (!voice_read(&v, map, reader, e)) {
            good = false;
            continue;
        }
        if (voice_seek(fresh, 0, fresh->count, v.id)) {
            yaml_complain(map, e, "voice %s stands twice in this file.", v.id);
            pcm_release(&v.recording);
            good = false;
            continue;
        }
        voice_add(fresh, &v);
    }
    return good;
}

static bool file_read(struct voice_set *fresh, const struct yaml_node *root, voice_reader *reader,
                      struct err *e)
{
    const struct yaml_node *list = NULL;
    const struct yaml_key keys[] = {
        {.key = "voices", .kind = YAML_K_NODE, .offset = 0, .needed = true},
    };
    if (!yaml_read_map(root, "voice file", keys, 1, &list, e))
        return false;
    if (yaml_shape_of(list) != YAML_LIST || !yaml_count(list)) {
        yaml_complain(list, e, "voices must be a list with at least one voice.");
        return false;
    }
    return voices_read(fresh, list, reader, e);
}

/* A shop's voice of the same id takes the place of the one that came with the program. */
static void set_merge(struct voice_set *set, struct voice_set *fresh, struct yaml_tree *tree)
{
    for (size_t i = 0; i < fresh->count; i++) {
        struct voice *old = voice_seek(set, 0, set->count, fresh->at[i].id);
        if (old) {
            pcm_release(&old->recording);
            *old = fresh->at[i];
        } else {
            voice_add(set, &fresh->at[i]);
        }
    }
    mem_free(fresh->at); /* the recordings went over to the set */
    set->tree = mem_grow(set->tree, &set->tree_room, set->trees + 1, sizeof(struct yaml_tree *));
    set->tree[set->trees++] = tree;
}

bool voice_set_load(struct voice_set *set, const char *path, voice_reader *reader, struct err *e)
{
    struct yaml_tree *tree = yaml_load(path, e);
    if (!tree)
        return false;
    struct voice_set fresh = {0};
    if (file_read(&fresh, yaml_root(tree), reader ? reader : pcm_read_wav, e)) {
        set_merge(set, &fresh, tree);
        return true;
    }
    voice_set_release(&fresh);
    yaml_free(tree);
    return false;
}

static bool is_yaml(const char *name)
{
    size_t length = strlen(name);
    return length > 5 && name[0] != '.' && strcmp(name + length - 5, ".yaml") == 0;
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

/* Paths of the folder's yaml files, sorted; the caller frees each and the array. */
static char **folder_list(DIR *dir, const char *folder, size_t *count)
{
    char **path = NULL;
    size_t room = 0;
    *count = 0;
    for (struct dirent *d; (d = readdir(dir));) {
        if (!is_yaml(d->d_name))
            continue;
        struct text t = {0};
        text_addf(&t, "%s/%s", folder, d->d_name);
        path = mem_grow(path, &room, *count + 1, sizeof *path);
        path[(*count)++] = mem_copy_text(text_cstr(&t));
        text_release(&t);
    }
    if (path)
        qsort(path, *count, sizeof *path, by_name);
    return path;
}

bool voice_set_load_folder(struct voice_set *set, const char *folder, voice_reader *reader,
                           struct err *e)
{
    DIR *dir = opendir(folder);
    if (!dir) {
        err_device(e, "The folder \"%s\" with the voices cannot be opened: %s.", folder,
                   strerror(errno));
        return false;
    }
    size_t count;
    char **path = folder_list(dir, folder, &count);
    closedir(dir);
    bool good = true;
    for (size_t i = 0; i < count; i++) {
        good &= voice_set_load(set, path[i], reader, e);
        mem_free(path[i]);
    }
    mem_free(path);
    return good;
}

void voice_set_release(struct voice_set *set)
{
    for (size_t i = 0; i < set->count; i++)
        pcm_release(&set->at[i].recording);
    for (size_t i = 0; i < set->trees; i++)
        yaml_free(set->tree[i]);
    mem_free(set->at);
    mem_free(set->tree);
    *set = (struct voice_set){0};
}

const struct voice *voice_find(const struct voice_set *set, const char *id)
{
    return voice_seek(set, 0, set->count, id);
}

const char *voice_nearest(const struct voice_set *set, const char *id)
{
    const char **ids = mem_alloc((set->count + 1) * sizeof *ids);
    for (size_t i = 0; i < set->count; i++)
        ids[i] = set->at[i].id;
    const char *near = text_nearest(id, ids, set->count);
    mem_free(ids);
    return near;
}
