/* annex.h - the parts of the program that need a heavy outside library, loaded when first wanted.
 *
 * A window, a loudspeaker, paper and a database server bring some eighty libraries with them, which take
 * longer to load than most verbs to answer.  So what names such a library stands in a shared object of its
 * own, the annex, that offers one struct of functions; the program and the suites link only the front, which
 * opens the annex and hands every call on.
 *
 *     annex       outside libraries        offers                     front
 *     paint       Cairo, Pango             draw/paint_annex.h         draw/paint_front.c
 *     sound       SDL2, SDL2_mixer         sound/sound_annex.h        sound/sound_front.c
 *     window      SDL2, Cairo              screen/window_annex.h      screen/window_front.c
 *     postgres    libpq                    a struct store_back        journal/store_front.c
 *
 * To add one: 1. name its file and libraries with letoff_annex() in the folder's CMakeLists.txt; 2. write the
 * struct it offers and define it, called letoff_annex, in the annex; 3. write the front; 4. add it above and to
 * the names in tests/ground/test_annex.c and tests/frame/package.sh.
 *
 * An annex holds copies of what it uses of the ground and its own folder: nothing there may hang on a
 * variable of the whole program.
 *
 * letoff-NAME.so is looked for in lib/letoff beside the bin/ of the running program, then where the build
 * put it.
 */
#ifndef LETOFF_ANNEX_H
#define LETOFF_ANNEX_H

#include "err.h"

/* A front has one of these as a static variable, {"paint"}. */
struct annex {
    const char *name;
    _Atomic(const void *) offered; /* NULL until it is loaded */
};

/* The struct that the annex offers; once loaded it stays so, and asking again costs nothing.  NULL with one
 * sentence (device) when it is not there or cannot be loaded.  Any thread. */
const void *annex_open(struct annex *a, struct err *e);

#endif
