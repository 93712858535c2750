/* yaml_record.c - loaded in front of libyaml (LD_PRELOAD): keeps what it makes of each text; events_file.h. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <string.h>
#include <unistd.h>
#include <yaml.h>

#include "events_file.h"

typedef void set_input(yaml_parser_t *parser, const unsigned char *input, size_t size);

static void put(FILE *out, const void *bytes, int length)
{
    if (length > 0)
        fwrite(bytes, 1, (size_t)length, out);
}

static void put_event(FILE *out, int type, yaml_mark_t at, int style, long plain, long quoted,
                      const void *value, int length, const void *anchor, const void *tag)
{
    int a = anchor ? (int)strlen(anchor) : -1, t = tag ? (int)strlen(tag) : -1;
    fprintf(out, "%d %zu %zu %d %ld %ld %d %d %d\n", type, at.line, at.column, style, plain, quoted,
            value ? length : -1, a, t);
    put(out, value, length);
    put(out, anchor, a);
    put(out, tag, t);
}

static void record_event(FILE *out, const yaml_event_t *e)
{
    int type = (int)e->type;
    switch (e->type) {
    case YAML_SCALAR_EVENT:
        put_event(out, type, e->start_mark, (int)e->data.scalar.style,
                  e->data.scalar.plain_implicit, e->data.scalar.quoted_implicit,
                  e->data.scalar.value, (int)e->data.scalar.length, e->data.scalar.anchor,
                  e->data.scalar.tag);
        break;
    case YAML_SEQUENCE_START_EVENT:
        put_event(out, type, e->start_mark, 0, 0, 0, NULL, 0, e->data.sequence_start.anchor,
                  e->data.sequence_start.tag);
        break;
    case YAML_MAPPING_START_EVENT:
        put_event(out, type, e->start_mark, 0, 0, 0, NULL, 0, e->data.mapping_start.anchor,
                  e->data.mapping_start.tag);
        break;
    case YAML_ALIAS_EVENT:
        put_event(out, type, e->start_mark, 0, 0, 0, NULL, 0, e->data.alias.anchor, NULL);
        break;
    default:
        put_event(out, type, e->start_mark, 0, 0, 0, NULL, 0, NULL, NULL);
        break;
    }
}

static void record_error(FILE *out, const yaml_parser_t *p)
{
    const char *problem = p->problem ? p->problem : "";
    put_event(out, EVENTS_ERROR, p->problem_mark, (int)p->error, (long)p->problem_offset,
              (long)p->context_mark.line, problem, (int)strlen(problem), p->context, NULL);
}

static void record(set_input *real, const unsigned char *input, size_t size, FILE *out)
{
    yaml_parser_t parser;
    yaml_event_t event;
    if (!yaml_parser_initialize(&parser))
        return;
    yaml_parser_set_encoding(&parser, YAML_UTF8_ENCODING);
    real(&parser, input, size);
    for (int more = 1; more;) {
        if (!yaml_parser_parse(&parser, &event)) {
            record_error(out, &parser);
            break;
        }
        more = event.type != YAML_STREAM_END_EVENT;
        record_event(out, &event);
        yaml_event_delete(&event);
    }
    yaml_parser_delete(&parser);
}

/* Stands in front of libyaml's own, which it calls in the end. */
void yaml_parser_set_input_string(yaml_parser_t *parser, const unsigned char *input, size_t size)
{
    set_input *real;
    void *symbol = dlsym(RTLD_NEXT, "yaml_parser_set_input_string");
    char path[512];
    memcpy(&real, &symbol, sizeof real);
    if (events_path(input, size, path) && access(path, F_OK) != 0) {
        FILE *out = fopen(path, "wb");
        if (out) {
            record(real, input, size, out);
            fclose(out);
        }
    }
    real(parser, input, size);
}
