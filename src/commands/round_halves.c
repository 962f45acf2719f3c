/* What a round that searches by halves needs. */
#include "bundle/halves.h"
#include "commands/command.h"
#include "commands/round_job.h"
#include "commands/say.h"

int round_wires(const struct round_job *job)
{
    const struct practice_probe *probe = intake_practice(job->intake);
    return probe ? practice_probe_wires(probe) : job->n_wires;
}

int round_halves_ok(const struct round_job *job)
{
    if (!job->halves)
        return CODE_DONE;
    if (round_wires(job) == 0)
        return say_usage("--halves needs to know how many wires there are: add --wires N");
    if (round_wires(job) < THRUM_HALVES_FEWEST)
        return say_usage("--halves saves no touches with fewer than %d wires: leave it out",
                         THRUM_HALVES_FEWEST);
    if (job->n_voices > 1)
        return say_usage("--halves searches for one sender: give one voice, or leave --halves out");
    if (!intake_info(job->intake)->live && !job->screen && !job->keys)
        return say_usage(
            "--halves says which wires to hold next: it needs a terminal, --keys or a sound input");
    return CODE_DONE;
}
