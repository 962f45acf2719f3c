#!/bin/bash
# A voice is played on a real PortAudio stream, heard and learned back; Ctrl-C stops it; without an output it says so.
. "$(dirname "$0")/lib.sh"
capture=$THRUM_SOURCE/tests/tools/capture-from-portaudio.sh
expect 2 "$THRUM" tone --play --out x.wav
says "--play plays one voice"
expect 2 "$THRUM" tone --output phones --out x.wav
says "add --play"
# The sound system's own plugins, unloaded by then, leave memory behind: no finding of the leak sanitizer.
expect 3 env ASAN_OPTIONS="${ASAN_OPTIONS:+$ASAN_OPTIONS:}detect_leaks=0" \
    "$THRUM" tone --play --output "no such output of Hollin Fern House"
grep -q "isolating clip" out || fail "no safety words before the first sound"

echo 'int main(void) { return 0; }' >t.c
cc -o t t.c -lasound 2>/dev/null || skip "the library of ALSA is not here; refusals are tested"
export LIMIT_S=60
bash "$capture" heard.wav "$THRUM" tone --play --tone 1025 --on 0.3 --off 0.2 --for 8 --level -12 >out 2>err
status=$?
[ "$status" != 125 ] || skip "sound cannot be captured here: $(cat err)"
is "exit" "$status" 0
prints "Ctrl-C stops it"
is "safety words come first" "$(grep -nm1 -e SAFETY out | cut -d: -f1)" 2
[ "$(grep -n Playing out | cut -d: -f1)" -gt "$(grep -n 'licensed practice' out | cut -d: -f1)" ] || fail "it plays before it warns"
expect 0 "$THRUM" learn heard.wav --json
json '(.tones_hz[0] - 1025 | fabs) < 0.2 and (.pattern[0].s - 0.3 | fabs) < 0.003 and (.pattern[1].s - 0.2 | fabs) < 0.003'
json '(.level_dbfs + 12 | fabs) < 0.3'

# Without --for it goes on until it is asked to stop, which Ctrl-C and TERM do alike (a shell lets no job of its own be
# interrupted), and that is no failure.
mkfifo told
bash "$capture" stopped.wav bash -c '"$0" tone --play >told 2>err & tone=$!
    while read -r line; do case $line in Playing*) kill -TERM $tone; break ;; esac; done <told
    wait $tone; echo $? >code' "$THRUM" 2>err2
is "exit when asked to stop" "$(cat code)" 0
finish
