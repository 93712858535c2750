/* cue_counts.c - how often each cue (cues.h) holds and is right, counted in texts of which is written down what they say.
 *
 *     cue_counts FILE... > build/cues-en.yaml
 *
 * Each note of the files that says in `also` what else is true is read with the whole phrase table and with LOTS others, of
 * which LEFT_OUT of the rows is left out by lot: there the cues are asked what they will be asked of strangers' words.
 * A row counts once a note, whenever it held and told news: as met, and as right if the note bears out all it
 * gives.  What is written out is chimes/cues-en.yaml with these numbers.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "diagnose/cues.h"
#include "diagnose/story.h"
#include "less_phrases.h"
#include "mem.h"
#include "note_facts.h"
#include "text.h"
#include "yaml_map.h"

#define PHRASES   "chimes/phrases-en.yaml"
#define CUES      "chimes/cues-en.yaml"
#define LOTS      4
#define LEFT_OUT  0.4
#define FILE_MOST 4000000

struct count {
    int met, right;
    bool here; /* held in this note */
};
struct counts {
    struct words *words;
    struct phrases *phrases[LOTS + 1];
    struct count *row;
    size_t rows;
};

/* Take down all facts of `shorthand`, of two readings both. */
static void take_down(struct sheet *sheet, const char *shorthand)
{
    for (const char *at = shorthand; *at;) {
        struct err e = {0};
        size_t length = strcspn(at, ",|");
        if (!sheet_parse_shorthand(sheet, at, length, &e)) {
            err_print(&e, stderr);
            exit(2);
        }
        at += length + (at[length] != '\0');
    }
}

static bool is_right(const struct counts *c, size_t row, const struct sheet *truth)
{
    struct fact *fact = mem_alloc(FACTS_MOST * sizeof *fact);
    bool right = true;
    struct give g;
    for (size_t at = 0; phrases_give(cues_at(phrases_cues(*c->phrases), row)->gives, &at, &g);) {
        struct sheet got;
        sheet_init(&got, c->words);
        take_down(&got, g.line);
        size_t count = facts_of(&got, fact, FACTS_MOST);
        for (size_t i = 0; i < count; i++)
            right = right && fact_holds(&fact[i], truth);
        sheet_release(&got);
    }
    mem_free(fact);
    return right;
}

static void count_note(struct counts *c, const char *text, const struct sheet *truth)
{
    for (size_t i = 0; i < c->rows; i++)
        c->row[i].here = false;
    for (size_t k = 0; k <= LOTS; k++) {
        struct sheet sheet;
        struct story story = {0};
        sheet_init(&sheet, c->words);
        if (story_read(c->phrases[k], text, strlen(text), &sheet, &story, NULL))
            for (size_t i = 0; i < story.cues; i++)
                c->row[story.cue[i]].here = true;
        story_release(&story);
        sheet_release(&sheet);
    }
    for (size_t i = 0; i < c->rows; i++)
        if (c->row[i].here) {
            c->row[i].met++;
            c->row[i].right += is_right(c, i, truth);
        }
}

static bool count_file(struct counts *c, const char *path)
{
    struct err e = {0};
    struct yaml_tree *tree = yaml_load(path, &e);
    const struct yaml_node *notes = tree ? yaml_get(yaml_root(tree), "notes") : NULL;
    for (size_t i = 0; notes && i < yaml_count(notes); i++) {
        const struct yaml_node *note = yaml_item(notes, i), *also = yaml_get(note, "also"),
                               *reads = yaml_get(note, "reads"), *text = yaml_get(note, "text");
        struct sheet truth;
        if (!also || !reads || !text)
            continue;
        sheet_init(&truth, c->words);
        take_down(&truth, yaml_text(reads));
        take_down(&truth, yaml_text(also));
        count_note(c, yaml_text(text), &truth);
        sheet_release(&truth);
    }
    err_print(&e, stderr);
    bool good = notes && !e.count;
    err_release(&e);
    yaml_free(tree);
    return good;
}

/* The file as it is, but for the numbers at the end of each row. */
static bool write_table(const struct counts *c)
{
    struct err e = {0};
    char *all = text_read_file(CUES, FILE_MOST, NULL, &e);
    size_t row = 0;
    for (const char *line = all; line && *line;) {
        size_t length = strcspn(line, "\n"), body = length;
        char *numbers = strstr(line, ", met:");
        if (!strncmp(line, "  - {all: ", 10) && numbers && numbers < line + length &&
            row < c->rows) {
            body = (size_t)(numbers - line);
            printf("%.*s, met: %d, right: %d}\n", (int)body, line, c->row[row].met,
                   c->row[row].right);
            row++;
        } else {
            printf("%.*s\n", (int)body, line);
        }
        line += length + (line[length] == '\n');
    }
    mem_free(all);
    err_print(&e, stderr);
    err_release(&e);
    return row == c->rows;
}

int main(int argc, char **argv)
{
    struct counts c = {0};
    struct err e = {0};
    c.words = words_load("chimes/words.yaml", &e);
    bool good = c.words != NULL;
    for (size_t k = 0; good && k <= LOTS; k++) {
        c.phrases[k] = less_phrases(PHRASES, CUES, c.words, k ? LEFT_OUT : 0, k, &e);
        good = c.phrases[k] != NULL;
    }
    if (good) {
        c.rows = cues_count(phrases_cues(*c.phrases));
        c.row = mem_alloc((c.rows + 1) * sizeof *c.row);
    }
    err_print(&e, stderr);
    for (int i = 1; good && i < argc; i++)
        good = count_file(&c, argv[i]);
    if (good && !write_table(&c)) {
        fprintf(stderr, "cue_counts: the numbers of a row do not stand at the end of its line\n");
        good = false;
    }
    for (size_t k = 0; k <= LOTS; k++)
        phrases_free(c.phrases[k]);
    words_free(c.words);
    mem_free(c.row);
    err_release(&e);
    return good ? 0 : 2;
}
