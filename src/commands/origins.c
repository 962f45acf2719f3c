#include "commands/origins.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands/recorded.h"

/* The levels are those of the readings: what hums between the wires bothers nobody. */
static void say_mains(const struct thrum_snapshot *snapshot, char *text, size_t size)
{
    double hz = findings_mains_hz(snapshot), least = (double)INFINITY, most = THRUM_FLOOR_DBFS;
    for (int i = 0; i < snapshot->n_readings; i++)
        if (snapshot->readings[i].hum_dbfs > THRUM_FLOOR_DBFS) {
            least = fmin(least, snapshot->readings[i].hum_dbfs);
            most = fmax(most, snapshot->readings[i].hum_dbfs);
        }
    if (!(hz > 0.0))
        snprintf(text, size, "No mains was found.");
    else if (most <= THRUM_FLOOR_DBFS)
        snprintf(text, size, "Mains: %.2f Hz.", hz);
    else
        snprintf(text, size, "Mains: %.2f Hz; hum in the touches %.1f to %.1f dBFS.", hz, least, most);
}

bool origins_find(struct origins *origins, const struct findings *findings, const char *const *path,
                  int n_files)
{
    *origins = (struct origins){.origin = calloc((size_t)n_files + 1, sizeof *origins->origin)};
    say_mains(&findings->snapshot, origins->mains, sizeof origins->mains);
    for (int i = 0; origins->origin && i < n_files; i++) {
        struct thrum_source *source;
        struct thrum_message ignored;
        struct paper_origin *origin = &origins->origin[origins->n];
        if (strcmp(path[i], "-") == 0 || thrum_source_open_file(path[i], &source, &ignored) != THRUM_OK)
            continue;
        origin->recording = path[i];
        recorded_start(source, origin->start, sizeof origin->start);
        recorded_input_name(source, origin->input, sizeof origin->input);
        origins->n += origin->start[0] || origin->input[0];
        thrum_source_close(source);
    }
    return origins->origin != NULL;
}

void origins_free(struct origins *origins)
{
    free(origins->origin);
    *origins = (struct origins){.n = 0};
}
