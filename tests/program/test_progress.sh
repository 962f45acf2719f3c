#!/bin/bash
# Long work on a terminal shows how far it is, can be broken off, and leaves nothing behind.
. "$(dirname "$0")/lib.sh"
command -v script >/dev/null || skip "script is not here"

"$THRUM" practice --seed 4 --wires 4 --rate 8000 --write p 2>/dev/null
"$THRUM" learn p/lead.wav --voice v.json >/dev/null
# Sound of no stated length, as from a recorder that is still running: it ends when the pipe does.
{ head -c 40 p/walk.wav; printf '\377\377\377\377'; tail -c +45 p/walk.wav; } >endless.wav
mkfifo pipe
mkdir tmp
set -m # a job of its own: what runs in the background would ignore Ctrl-C else

# The sound comes slowly, through a pipe; the terminal is a pseudo-terminal.
start() {
    : >terminal
    TMPDIR=$scratch/tmp script -qefc "$THRUM rank --voice v.json --walk - <pipe; echo EXIT \$?" /dev/null \
        >terminal 2>&1 </dev/null &
    running=$!
    exec 9>pipe
}
wait_for() { # TEXT: until the terminal shows it; the sound goes on meanwhile
    for _ in $(seq 2400); do
        grep -qa "$1" terminal && return 0
        head -c 8000 /dev/zero >&9
        sleep 0.05
    done
    fail "the terminal never showed '$1'"
}
start
head -c 200000 endless.wav >&9
wait_for 'min heard'
exec 9>&-
wait $running
grep -qa 'EXIT [01]' terminal || fail "it did not end well: $(tail -c 300 terminal)"
# The line was wiped before the answer came.
tr '\r' '\n' <terminal | grep -a -A1 'min heard' | tail -n 1 | grep -qa $'^\033\\[K' || fail "the progress line was left there"

start
head -c 200000 endless.wav >&9
wait_for 'min heard'
shell=$(pgrep -P $running | head -n 1)
program=$(pgrep -P "${shell:-0}" | head -n 1)
kill -INT "${program:-x}" 2>/dev/null || fail "the program was not found"
wait $running
exec 9>&-
grep -qa 'EXIT 130' terminal || fail "not broken off with 130: $(tail -c 300 terminal)"
grep -qaE 'PICKED|NO TONE|TOO CLOSE' terminal && fail "an answer although it was broken off"
is "left in the folder for temporary files" "$(ls tmp)" ""
finish
