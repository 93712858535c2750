/* main.c - the program: verbs on the command line, the window when there is none. */
#include "command/command.h"

#ifdef LETOFF_WINDOW
#include "screen/screen.h"
#define WINDOW screen_main
#else
#define WINDOW 0
#endif

int main(int argc, char **argv)
{
    return command_run(argc, argv, WINDOW);
}
