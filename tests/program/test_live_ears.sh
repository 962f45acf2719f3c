#!/bin/bash
# Ears of a round on a real PortAudio stream: never unasked, heard when asked for, and no frame of the input is lost by it.
. "$(dirname "$0")/lib.sh"
practice_walk --seed 8 --wires 2
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

# Power in a band of the first channel, dB: eight seconds, when the hum has been learned.
band() {
    sox "$1" -n remix 1 trim 8 8 sinc -n 16384 "$2" stats 2>&1 | awk '/RMS lev dB/ {print $4}'
}

# No such output: the round runs, and says that the ears are off and why.
bash "$play" p/walk.wav "$THRUM" round --voice v.json --hands-free --json --for 3 --ears guide --ears-output nosuch >events 2>err
[ "$?" -le 1 ] || fail "without an output: exit $?: $(cat err)"
says "EARS ARE OFF: no sound output"
jq -s . events >all.json || fail "no JSON without an output"
json 'map(select(.event == "input")) | length > 0' all.json

# The probe at the lead, quiet: what is heard is the tone 20 dB louder, within 0.5 dB, and its hum 20 dB down or more by that.
sox -D p/lead.wav lead.wav vol -36dB repeat 2 trim 0 18 || fail "no quiet lead"
OUT_WAV=$PWD/cleaned.wav bash "$play" lead.wav "$THRUM" round --voice v.json --hands-free --json --for 17 --ears cleaned \
    >events 2>err || [ $? = 1 ] || fail "cleaned: $(cat err)"
tone_hz=$(jq -r '.tones_hz[0] | round' v.json)
louder=$(jq -n "$(band cleaned.wav $((tone_hz - 20))-$((tone_hz + 20))) - ($(band lead.wav $((tone_hz - 20))-$((tone_hz + 20))))")
jq -ne "($louder - 20 | fabs) < 0.5" >/dev/null || fail "the tone is $louder dB louder, not 20"
hum=$(jq -n "$(band cleaned.wav 40-60) - ($(band lead.wav 40-60)) - 20")
jq -ne "$hum < -20" >/dev/null || fail "hum at 50 Hz is $hum dB, not below -20"

mkfifo keys
exec 9<>keys # nobody presses one
for how in off guide cleaned keys; do
    ears=(--ears $how)
    [ $how != off ] || ears=()
    [ $how != keys ] || ears=(--ears guide --keys)
    OUT_WAV=$PWD/$how.wav bash "$play" p/walk.wav "$THRUM" round --voice v.json --hands-free --json --for 6 \
        ${ears[@]+"${ears[@]}"} <keys >events 2>err
    [ "$?" -le 1 ] || fail "$how: exit $?: $(cat err)"
    jq -s . events >all.json || fail "no JSON"
    json 'map(select(.event == "input")) | last | .state == "ended" and .lost_frames == 0' all.json
    if [ $how = off ]; then
        [ ! -s off.wav ] || fail "it plays unasked"
        grep -q "ears:" err && fail "it speaks of ears unasked"
    else
        says "ears: ALSA: default, about 0."
        says "EARS ARE HEARD BY THE PROBE"
        says "They are about 0."
        jq -ne "$(loudest $how.wav) > 0.02" >/dev/null || fail "$how: nothing is heard ($(loudest $how.wav))"
    fi
done
finish
