#!/bin/bash
# thrum round where there is no screen: lines, events, recording; every source.
. "$(dirname "$0")/lib.sh"

practice_walk --seed 21 --wires 6 --rate 16000
tag=$(jq -r .driven_tag p/truth.json)

# Events.
expect 0 "$THRUM" round --from file:p/walk.wav --voice v.json --json --hands-free
cp out events
[ "$(wc -l <events)" = "$(jq -c . events | wc -l)" ] || fail "not one event a line"
jq -s . events >all.json
json '(map(.event) | unique) - ["input","pick","reading","snapshot","warning"] == []' all.json
json '.[0].event == "input" and .[0].state == "live" and .[0].rate_hz == 16000 and .[0].channels == 1' all.json
json 'map(select(.event == "reading")) | length == 6 and [.[].wire] == ["1","2","3","4","5","6"]' all.json
json 'map(select(.event == "reading")) | all(.[]; has("start_s") and has("duration_s") and has("strength") and has("faults") and has("hum_dbfs") and has("touch") and has("source"))' all.json
json 'map(select(.event == "snapshot")) | length > 50 and (.[1:] | all(.[]; .time_s > 0)) and ([.[].time_s] | . == sort)' all.json
json 'map(select(.event == "snapshot")) | all(.[]; has("wire") and has("strength") and has("heard") and has("hum_dbfs") and has("mains_hz"))' all.json
json "map(select(.event == \"pick\")) | last | .final and .outcome == \"picked\" and .wire == \"$tag\"" all.json
json 'map(select(.event == "input")) | last | .state == "ended" and .lost_frames == 0' all.json

# The same sound, ranked as a recording: the same readings to the last digit.
"$THRUM" rank --voice v.json --json --walk p/walk.wav >walk.json
is "the readings" "$(jq -c 'map(select(.event == "reading") | del(.event, .source))' all.json)" \
    "$(jq -c '[.readings[] | del(.source)]' walk.json)"

# Standard input and practice.
"$THRUM" round --from - --voice v.json --json --hands-free <p/walk.wav >piped 2>err || fail "round from standard input"
is "the readings from standard input" "$(jq -c 'select(.event == "reading") | del(.source)' piped)" \
    "$(jq -c 'select(.event == "reading") | del(.source)' events)"
"$THRUM" round --from - --json --hands-free <p/walk.wav >piped 2>err || fail "round from standard input without a voice"
is "the pick without a voice" "$(jq -rs 'map(select(.event == "pick")) | last | .wire' piped)" "$tag"
expect 0 "$THRUM" round --from practice:21 --json
is "touches in practice" "$(jq -s 'map(select(.event == "reading")) | length' out)" 24

# Lines for a person.
expect 0 "$THRUM" round --from file:p/walk.wav --voice v.json
prints "PICKED: wire $tag"
[ "$(wc -l <out)" -ge 20 ] || fail "too few lines"
grep -q $'\033' out && fail "escape sequences where there is no terminal"

# An end after so much sound.
expect 1 "$THRUM" round --from file:p/walk.wav --voice v.json --json --for 2.5
json '.time_s <= 2.51' <(jq -s 'map(select(.event == "snapshot")) | last' out)

# Recording: the same sound, the touches marked in it, and it ranks the same.
expect 0 "$THRUM" round --from file:p/walk.wav --voice v.json --json --record r
recording=$(ls r/*.wav)
is "recordings" "$(ls r | wc -l)" 1
says "recorded in $recording"
"$THRUM" rank --voice v.json --json "$recording" >again.json
is "the readings of the recording" "$(jq -c '[.readings[] | del(.source, .hum_dbfs)]' again.json)" \
    "$(jq -c '[.readings[] | del(.source, .hum_dbfs)]' walk.json)"
is "the pick of the recording" "$(jq -c '.picks' again.json)" "$(jq -c '.picks' walk.json)"
grep -qa 'adtl' "$recording" || fail "no labels in the recording"
expect 0 "$THRUM" round --from file:p/walk.wav --voice v.json --json --record r
is "recordings" "$(ls r/*.wav | wc -l)" 2

# Whoever stops reading ends it, and the recording is whole all the same.
"$THRUM" round --from practice:3 --voice v.json --json --record s 2>err | head -n 1 >first
json '.event == "input"' first
"$THRUM" rank --voice v.json --json s/*.wav >/dev/null 2>err
[ "$?" -le 1 ] || fail "the recording is not whole: $(cat err)"

# Asked to stop in the middle: what was heard is kept, and the answer comes.
mkfifo pipe
"$THRUM" round --from - --voice v.json --json --record t <pipe >stopped 2>err &
round=$!
exec 9>pipe
head -c 400000 p/walk.wav >&9
for _ in $(seq 2400); do
    grep -q '"event":"reading"' stopped && break
    sleep 0.05
done
grep -q '"event":"reading"' stopped || fail "events come only at the end"
kill -TERM $round
wait $round
[ "$?" -le 1 ] || fail "exit after TERM"
exec 9>&-
is "the last event" "$(tail -n 1 stopped | jq -c '[.event, .final]')" '["pick",true]'
"$THRUM" rank --voice v.json --json t/*.wav >/dev/null 2>err
[ "$?" -le 1 ] || fail "the recording is not whole: $(cat err)"
finish
