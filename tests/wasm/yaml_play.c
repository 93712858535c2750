/* yaml_play.c - stands in for libyaml under WebAssembly: events out of files; see events_file.h. */
#include <string.h>
#include <yaml.h>

#include "events_file.h"

/* The parser struct is libyaml's own; the file is kept where it would keep its input. */
static FILE *file_of(const yaml_parser_t *p)
{
    return p->input.file;
}

int yaml_parser_initialize(yaml_parser_t *p)
{
    memset(p, 0, sizeof *p);
    return 1;
}

void yaml_parser_set_encoding(yaml_parser_t *p, yaml_encoding_t encoding)
{
    p->encoding = encoding;
}

void yaml_parser_set_input_string(yaml_parser_t *p, const unsigned char *input, size_t size)
{
    char path[512];
    if (events_path(input, size, path))
        p->input.file = fopen(path, "rb");
    if (!p->input.file)
        fprintf(stderr, "No events were recorded for this text of %zu bytes: %.60s\n", size,
                (const char *)input);
}

static unsigned char *bytes(FILE *file, long length)
{
    unsigned char *s = length >= 0 ? calloc(1, (size_t)length + 1) : NULL;
    if (s && fread(s, 1, (size_t)length, file) != (size_t)length)
        s[0] = 0;
    return s;
}

static int fail_as_recorded(yaml_parser_t *p, yaml_mark_t at, int error, long offset,
                            long context_line, unsigned char *problem, unsigned char *context)
{
    p->error = (yaml_error_type_t)error;
    p->problem_mark = at;
    p->problem_offset = (size_t)offset;
    p->context_mark.line = (size_t)context_line;
    p->problem = (const char *)problem; /* lives as long as the process: a few in a suite */
    p->context = (const char *)context;
    return 0;
}

int yaml_parser_parse(yaml_parser_t *p, yaml_event_t *e)
{
    yaml_mark_t at = {0};
    int type, style;
    long plain, quoted, value, anchor, tag;
    FILE *file = file_of(p);
    memset(e, 0, sizeof *e);
    if (!file ||
        fscanf(file, "%d %zu %zu %d %ld %ld %ld %ld %ld", &type, &at.line, &at.column, &style,
               &plain, &quoted, &value, &anchor, &tag) != 9 ||
        fgetc(file) != '\n')
        return fail_as_recorded(p, at, YAML_PARSER_ERROR, 0, 0,
                                (unsigned char *)"its events were not recorded", NULL);
    unsigned char *v = bytes(file, value), *a = bytes(file, anchor), *t = bytes(file, tag);
    if (type == EVENTS_ERROR)
        return fail_as_recorded(p, at, style, plain, quoted, v, a);
    e->type = (yaml_event_type_t)type;
    e->start_mark = at;
    switch (e->type) {
    case YAML_SCALAR_EVENT:
        e->data.scalar.value = v;
        e->data.scalar.length = (size_t)value;
        e->data.scalar.style = (yaml_scalar_style_t)style;
        e->data.scalar.plain_implicit = (int)plain;
        e->data.scalar.quoted_implicit = (int)quoted;
        e->data.scalar.anchor = a;
        e->data.scalar.tag = t;
        break;
    case YAML_SEQUENCE_START_EVENT:
        e->data.sequence_start.anchor = a;
        e->data.sequence_start.tag = t;
        break;
    case YAML_MAPPING_START_EVENT:
        e->data.mapping_start.anchor = a;
        e->data.mapping_start.tag = t;
        break;
    case YAML_ALIAS_EVENT:
        e->data.alias.anchor = a;
        break;
    default:
        break;
    }
    return 1;
}

void yaml_event_delete(yaml_event_t *e)
{
    switch (e->type) {
    case YAML_SCALAR_EVENT:
        free(e->data.scalar.value);
        free(e->data.scalar.anchor);
        free(e->data.scalar.tag);
        break;
    case YAML_SEQUENCE_START_EVENT:
        free(e->data.sequence_start.anchor);
        free(e->data.sequence_start.tag);
        break;
    case YAML_MAPPING_START_EVENT:
        free(e->data.mapping_start.anchor);
        free(e->data.mapping_start.tag);
        break;
    case YAML_ALIAS_EVENT:
        free(e->data.alias.anchor);
        break;
    default:
        break;
    }
    memset(e, 0, sizeof *e);
}

void yaml_parser_delete(yaml_parser_t *p)
{
    if (file_of(p))
        fclose(file_of(p));
    memset(p, 0, sizeof *p);
}
