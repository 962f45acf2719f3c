#!/bin/bash
# Ears of a round on a real PortAudio stream: never unasked, heard when asked for, and no frame of the input is lost by it.
. "$(dirname "$0")/lib.sh"
play=$THRUM_SOURCE/tests/tools/play-into-portaudio.sh
"$THRUM" practice --seed 8 --wires 2 --ending loaded --write p 2>/dev/null || fail "no practice recordings"
"$THRUM" learn p/lead.wav --voice v.json >/dev/null || fail "no voice"
expect 2 "$THRUM" round --from file:p/walk.wav --voice v.json --ears loud
says "cues, guide, cleaned"
expect 2 "$THRUM" round --from file:p/walk.wav --voice v.json --ears guide
says "in real time"

echo 'int main(void) { return 0; }' >t.c
cc -o t t.c -lasound 2>/dev/null || skip "the library of ALSA is not here; wrong options are refused"
command -v sox >/dev/null || skip "sox is not here; wrong options are refused"
export LIMIT_S=120
# The largest sample that the output was given.
loudest() {
    sox "$1" -n stat 2>&1 | awk '/Maximum amplitude/ {print $3}'
}

for how in off guide cleaned; do
    ears=(--ears $how)
    [ $how != off ] || ears=()
    OUT_WAV=$PWD/$how.wav bash "$play" p/walk.wav "$THRUM" round --voice v.json --hands-free --json --for 6 \
        ${ears[@]+"${ears[@]}"} >events 2>err
    [ "$?" -le 1 ] || fail "$how: exit $?: $(cat err)"
    jq -s . events >all.json || fail "no JSON"
    json 'map(select(.event == "input")) | last | .state == "ended" and .lost_frames == 0' all.json
    if [ $how = off ]; then
        [ ! -s off.wav ] || fail "it plays unasked"
        grep -q "ears:" err && fail "it speaks of ears unasked"
    else
        says "ears: ALSA: default, about 0."
        says "use headphones"
        jq -ne "$(loudest $how.wav) > 0.02" >/dev/null || fail "$how: nothing is heard ($(loudest $how.wav))"
    fi
done
finish
