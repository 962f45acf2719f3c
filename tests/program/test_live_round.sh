#!/bin/bash
# The whole way for real: a walk played in real time into a PortAudio input is heard without a lost frame, picked right
# with hands free, and its recording ranks the same afterwards.
. "$(dirname "$0")/lib.sh"
echo 'int main(void) { return 0; }' >t.c
cc -o t t.c -lasound 2>/dev/null || skip "the library of ALSA is not here"
export LIMIT_S=300

practice_walk --seed 8 --wires 5
tag=$(jq -r .driven_tag p/truth.json)
walk_s=$(jq '.walk[-1].end_s + 1.0' p/truth.json) # ends in the air after the last touch

bash "$play" p/walk.wav "$THRUM" inputs --json >inputs.json 2>err || fail "no input: $(cat err)"
json '.inputs | length >= 1 and any(.[]; .default)' inputs.json

bash "$play" p/walk.wav "$THRUM" round --voice v.json --hands-free --json --for "$walk_s" --record r >events 2>err
is "exit" "$?" 0
jq -s . events >all.json || fail "no JSON"
json 'map(select(.event == "input")) | .[0].state == "live" and (last | .state == "ended" and .lost_frames == 0)' all.json
json '[.[] | select(.event == "reading")] | length == 5' all.json
json '[.[] | select(.event == "reading") | .faults[]] | index("lost") == null' all.json
json "map(select(.event == \"pick\")) | last | .final and .outcome == \"picked\" and .wire == \"$tag\"" all.json
expect 0 "$THRUM" rank --voice v.json --json r/*.wav
is "the pick of the recording" "$(jq -c '.picks[0] | del(.advice)' out)" \
    "$(jq -sc 'map(select(.event == "pick")) | last | del(.event, .final, .advice)' events)"
is "the readings of the recording" "$(jq -c '[.readings[] | [.wire, .start_s, .duration_s, .strength]]' out)" \
    "$(jq -sc 'map(select(.event == "reading") | [.wire, .start_s, .duration_s, .strength])' events)"

grep -aq '"part":1,"first_frame":0,"start":"20[0-9-]*T[0-9:.]*Z"' r/*.wav || fail "the recording does not say when it began"

# Learning live, from the lead.
expect 0 bash "$play" p/lead.wav "$THRUM" learn --from device: --for 7 --voice live.json
json '(.tones_hz[0] - 1037 | fabs) < 0.2 and (.pattern | length) == 2' live.json

# A terminal is not needed to be told that the input went away.
FAULT=die@2 STRICT=1 bash "$play" p/walk.wav "$THRUM" round --voice v.json --hands-free --json --for 4 --record g >out 2>err
[ "$?" -le 1 ] || fail "the round did not end well: $(cat err)" # what was heard before and after may do for a pick, or not
json 'map(select(.event == "input") | .state) | index("lost") != null' <(jq -s . out)
"$THRUM" rank --voice v.json --walk g/*.wav --json >/dev/null 2>err
[ "$?" -le 1 ] || fail "the recording of the lost input is not valid: $(cat err)"

# The input says 48000 frames a second and delivers 44100: told within a second of sound, kept, and the round goes on.
SPEED=0.91875 bash "$play" p/walk.wav "$THRUM" round --voice v.json --hands-free --json --for 5 --record w >out 2>err
[ "$?" -le 1 ] || fail "a wrong rate ends the round: $(cat err)"
jq -s . out >all.json
json 'map(select(.event == "warning" and .code == "wrong-rate")) | .[0].text | contains("delivers 44100")' all.json
json 'to_entries | (map(select(.value.code == "wrong-rate")) | .[0].key) as $told
    | .[:$told] | map(select(.value.event == "snapshot")) | last | .value.time_s < 1.1' all.json
json 'map(select(.event == "snapshot")) | last | .faults | index("wrong-rate") != null' all.json
json 'map(select(.event == "input")) | last | .lost_frames == 0' all.json
"$THRUM" rank --voice v.json --json w/*.wav >out 2>err
json '[.readings[].faults[]] | index("wrong-rate") != null'
SPEED=0.91875 bash "$play" p/lead.wav "$THRUM" check --json --seconds 4 >out 2>err
json '.made_at_hz == 44100 and ([.faults[].fault] | index("wrong-rate")) != null'
SPEED=0.91875 bash "$play" p/lead.wav "$THRUM" learn --from device: --for 4 >out 2>err
says "WRONG RATE: the input says 48000"
finish
