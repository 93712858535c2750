/* sheet_list.h - the call sheet explained: each key with its meaning, forms and allowed values.
 *
 * A row has `id` ("heard.at"), `map`, `key`, `about`, `values` (each with `value`, `about` and
 * `example`, a whole sheet that can be read) and, where the words of a kind may stand, `kind`. */
#ifndef LETOFF_COMMAND_SHEET_LIST_H
#define LETOFF_COMMAND_SHEET_LIST_H

#include <jansson.h>
#include "diagnose/words.h"

void sheet_list(const struct words *words, json_t *rows);
void sheet_list_print(const json_t *rows);

#endif
