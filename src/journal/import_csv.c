/* import_csv.c - the CSV reader: bytes to rows, nothing else.
 *
 * RFC 4180, with what spreadsheets do to it: a byte order mark, bare line feeds, and ';' or a
 * tab between the cells (told from the first line). */
#include "journal/journal_import.h"

#include <stdio.h>
#include <string.h>
#include "mem.h"
#include "text.h"


/* Where the reader stands, and what it has read of the present cell. */
struct csv {
    const char *name, *at, *end;
    size_t line, column;
    char separator;
    struct err *e;
    struct text cell;
    size_t cell_line, cell_column;
};

enum cell_end { CELL_NEXT, CELL_ROW_END, CELL_FILE_END, CELL_BROKEN };

static void step(struct csv *c)
{
    if (*c->at == '\n') {
        c->line++;
        c->column = 1;
    } else if (((unsigned char)*c->at & 0xC0) != 0x80)
        c->column++;
    c->at++;
}

/* Inside quotes up to the closing one; "" is a quote. */
static bool read_quoted(struct csv *c)
{
    step(c);
    for (; c->at < c->end; step(c)) {
        if (*c->at == '"') {
            step(c);
            if (c->at >= c->end || *c->at != '"')
                return true;
        }
        text_add_bytes(&c->cell, c->at, 1);
    }
    err_at(c->e, c->name, c->cell_line, c->cell_column,
           "A quote is opened here and never closed, expected another \".");
    return false;
}

static enum cell_end read_cell(struct csv *c)
{
    text_clear(&c->cell);
    c->cell_line = c->line;
    c->cell_column = c->column;
    if (c->at < c->end && *c->at == '"' && !read_quoted(c))
        return CELL_BROKEN;
    for (; c->at < c->end; step(c)) {
        if (*c->at == c->separator) {
            step(c);
            return CELL_NEXT;
        }
        if (*c->at == '\r' && c->at + 1 < c->end && c->at[1] == '\n')
            continue;
        if (*c->at == '\n') {
            step(c);
            return c->at < c->end ? CELL_ROW_END : CELL_FILE_END;
        }
        text_add_bytes(&c->cell, c->at, 1);
    }
    return CELL_FILE_END;
}

/* What a column holds: a field by number, or one of these. */
enum { COLUMN_KIND = -1, COLUMN_ID = -2, COLUMN_UPDATED = -3, COLUMN_BAD = -4 };

struct table {
    char *column[IMPORT_COLUMNS_MOST]; /* names of the first line */
    size_t count;
    int kind_column;
};

static void complain_cell(struct csv *c, const char *key, const char *wanted)
{
    char cut[64];
    const char *value = text_cstr(&c->cell);
    int length = (int)strnlen(value, 60);
    while (length > 0 && value[length] && ((unsigned char)value[length] & 0xC0) == 0x80)
        length--;
    snprintf(cut, sizeof cut, "%.*s", length, value);
    err_at(c->e, c->name, c->cell_line, c->cell_column, "%s is \"%s\", expected %s.", key, cut,
           wanted);
}

/* Is the name a column of any kind at all?  (Which kind a row is, its own cell says.) */
static bool any_kind_has(const char *name)
{
    if (strcmp(name, "id") == 0 || strcmp(name, "kind") == 0 || strcmp(name, "updated_ms") == 0)
        return true;
    for (int kind = 0; kind < RECORD_KINDS; kind++)
        if (record_field_of((enum record_kind)kind, name) >= 0)
            return true;
    return false;
}

static int column_of(const struct table *t, size_t i, enum record_kind kind)
{
    if ((int)i == t->kind_column)
        return COLUMN_KIND;
    if (strcmp(t->column[i], "id") == 0)
        return COLUMN_ID;
    if (strcmp(t->column[i], "updated_ms") == 0)
        return COLUMN_UPDATED;
    int field = record_field_of(kind, t->column[i]);
    return field >= 0 ? field : COLUMN_BAD;
}

static bool read_heading(struct csv *c, struct table *t, enum cell_end *end)
{
    bool ok = true;
    t->kind_column = -1;
    do {
        *end = read_cell(c);
        if (*end == CELL_BROKEN)
            return false;
        if (t->count == IMPORT_COLUMNS_MOST) {
            err_at(c->e, c->name, c->cell_line, c->cell_column,
                   "The first line has more than %d columns.", IMPORT_COLUMNS_MOST);
            return false;
        }
        const char *name = text_cstr(&c->cell);
        if (!any_kind_has(name)) {
            complain_cell(c, "The column", "a field of a record, see letoff journal schema");
            ok = false;
        }
        if (t->kind_column < 0 && strcmp(name, "kind") == 0)
            t->kind_column = (int)t->count;
        t->column[t->count++] = mem_copy_text(name);
    } while (*end == CELL_NEXT);
    if (t->kind_column < 0) {
        err_at(c->e, c->name, 1, 1,
               "The first line has no column \"kind\", expected one that says "
               "customer, clock, call ...");
        ok = false;
    }
    return ok;
}

static struct import_row *new_row(struct import_rows *rows, size_t line)
{
    rows->at = mem_grow(rows->at, &rows->room, rows->count + 1, sizeof *rows->at);
    struct import_row *row = &rows->at[rows->count++];
    memset(row, 0, sizeof *row);
    row->line = line;
    return row;
}

/* A cell of a row whose kind is known. */
static bool fill_cell(struct csv *c, const struct table *t, size_t i, struct import_row *row)
{
    const char *value = text_cstr(&c->cell);
    int column = column_of(t, i, row->record.kind);
    long number;
    switch (column) {
    case COLUMN_KIND:
        return true;
    case COLUMN_ID:
        if (!value[0])
            return true;
        if (!record_id_ok(value)) {
            complain_cell(c, "id", "32 of the digits 0-9 and a-f");
            return false;
        }
        memcpy(row->record.id, value, sizeof row->record.id);
        return true;
    case COLUMN_UPDATED:
        if (!value[0])
            return true;
        if (!text_int(value, &number) || number < 0) {
            complain_cell(c, "updated_ms", "milliseconds since 1970");
            return false;
        }
        row->record.updated_ms = number;
        return true;
    case COLUMN_BAD:
        if (!value[0])
            return true; /* a column of another kind in a file of several */
        complain_cell(c, t->column[i], "nothing, since this kind has no such field");
        return false;
    }
    struct err why = {0};
    char *canonical = record_canonical(row->record.kind, (size_t)column, value, &why);
    if (why.count)
        err_at(c->e, c->name, c->cell_line, c->cell_column, "%s", why.line[0]);
    err_release(&why);
    if (!canonical)
        return false;
    mem_free(row->record.value[column]);
    row->record.value[column] = canonical;
    return true;
}

/* Cells of a row before its kind is known are kept, the kind may stand anywhere. */
struct cells {
    char *at[IMPORT_COLUMNS_MOST];
    size_t line[IMPORT_COLUMNS_MOST], column[IMPORT_COLUMNS_MOST];
    size_t count;
};

static enum cell_end read_cells(struct csv *c, const struct table *t, struct cells *cells)
{
    enum cell_end end;
    do {
        end = read_cell(c);
        if (end == CELL_BROKEN)
            return end;
        if (cells->count < t->count) {
            cells->line[cells->count] = c->cell_line;
            cells->column[cells->count] = c->cell_column;
            cells->at[cells->count] = mem_copy_text(text_cstr(&c->cell));
        }
        cells->count++;
    } while (end == CELL_NEXT);
    return end;
}

static void show_cell(struct csv *c, const struct cells *cells, size_t i)
{
    text_clear(&c->cell);
    text_add(&c->cell, cells->at[i]);
    c->cell_line = cells->line[i];
    c->cell_column = cells->column[i];
}

static bool fill_row(struct csv *c, const struct table *t, const struct cells *cells,
                     struct import_rows *rows)
{
    bool ok = true;
    if (cells->count != t->count) {
        err_at(c->e, c->name, cells->line[0], 0,
               "This row has %zu cells, expected %zu as in the "
               "first line.",
               cells->count, t->count);
        return false;
    }
    show_cell(c, cells, (size_t)t->kind_column);
    int kind = record_kind_of(text_cstr(&c->cell));
    if (kind < 0) {
        complain_cell(c, "kind", "customer, clock, call or another kind of record");
        return false;
    }
    struct import_row *row = new_row(rows, cells->line[0]);
    record_init(&row->record, (enum record_kind)kind);
    for (size_t i = 0; i < cells->count; i++) {
        show_cell(c, cells, i);
        ok = fill_cell(c, t, i, row) && ok;
    }
    return ok;
}

static bool is_blank(const struct cells *cells)
{
    return cells->count == 1 && cells->at[0][0] == '\0';
}

static bool read_rows(struct csv *c, const struct table *t, struct import_rows *rows)
{
    bool ok = true;
    for (enum cell_end end = CELL_ROW_END; end == CELL_ROW_END;) {
        struct cells cells = {0};
        end = read_cells(c, t, &cells);
        if (end == CELL_BROKEN)
            ok = false;
        else if (!is_blank(&cells))
            ok = fill_row(c, t, &cells, rows) && ok;
        for (size_t i = 0; i < IMPORT_COLUMNS_MOST; i++)
            mem_free(cells.at[i]);
    }
    return ok;
}

static char separator_of(const char *bytes, size_t length)
{
    const char *newline = memchr(bytes, '\n', length);
    size_t first = newline ? (size_t)(newline - bytes) : length;
    if (memchr(bytes, ',', first))
        return ',';
    if (memchr(bytes, ';', first))
        return ';';
    return memchr(bytes, '\t', first) ? '\t' : ',';
}

static bool is_text(const char *name, const char *bytes, size_t length, struct err *e)
{
    size_t bad, line = 1;
    if (text_is_utf8(bytes, length, &bad))
        return true;
    for (size_t i = 0; i < bad; i++)
        line += bytes[i] == '\n';
    err_at(e, name, line, 0, "Byte %zu of the file is no UTF-8 text, expected a CSV file in UTF-8.",
           bad + 1);
    return false;
}

bool import_parse_csv(const char *name, const char *bytes, size_t length, struct import_rows *rows,
                      struct err *e)
{
    struct table t = {0};
    enum cell_end end;
    if (length >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0) {
        bytes += 3;
        length -= 3;
    }
    if (length == 0) {
        err_at(e, name, 0, 0, "The file is empty, expected CSV or JSON Lines.");
        return false;
    }
    if (!is_text(name, bytes, length, e))
        return false;
    struct csv c = {.name = name,
                    .at = bytes,
                    .end = bytes + length,
                    .line = 1,
                    .column = 1,
                    .separator = separator_of(bytes, length),
                    .e = e};
    bool ok = read_heading(&c, &t, &end);
    if (ok && end == CELL_ROW_END)
        ok = read_rows(&c, &t, rows);
    for (size_t i = 0; i < t.count; i++)
        mem_free(t.column[i]);
    text_release(&c.cell);
    return ok;
}
