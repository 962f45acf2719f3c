#!/bin/bash
# A real sound server between the sound and the program, both ways: it is heard without a loss, and when the server dies and comes back
# the round says so, goes on, and what it recorded is valid.
. "$(dirname "$0")/lib.sh"
needs_server
export LIMIT_S=120

practice_walk --seed 8 --wires 3
tag=$(jq -r .driven_tag p/truth.json)
walk_s=$(jq '.walk[-1].end_s' p/truth.json)

OUT_WAV=$PWD/heard.wav bash "$play" p/walk.wav "$THRUM" round --voice v.json --hands-free --json \
    --for "$(jq -n "$walk_s + 1.5")" --record r --ears guide >events 2>err
status=$?
[ "$status" != 125 ] || skip "the sound server does not start: $(cat err)"
is "exit" "$status" 0
jq -s . events >all.json || fail "no JSON"
json 'map(select(.event == "input")) | last | .state == "ended" and .lost_frames == 0' all.json
json "map(select(.event == \"pick\")) | last | .outcome == \"picked\" and .wire == \"$tag\"" all.json
if command -v sox >/dev/null; then # and the server was given what the ears hear
    loudest=$(sox heard.wav -n stat 2>&1 | awk '/Maximum amplitude/ {print $3}')
    jq -ne "$loudest > 0.1" >/dev/null || fail "the ears play nothing: $loudest"
fi

# The server is killed in the second touch, and is there again two seconds later: the walk is heard from its beginning.
FAULT=die@6:2 bash "$play" p/walk.wav "$THRUM" round --voice v.json --hands-free --json --for "$(jq -n "$walk_s + 15")" --record s --ears cues >events 2>err
status=$?
[ "$status" -le 1 ] || fail "exit $status: $(cat err)"
jq -s . events >all.json || fail "no JSON"
is "states" "$(jq -c 'map(select(.event == "input") | .state)' all.json)" '["live","lost","back","ended"]'
json 'map(select(.event == "input" and .state == "lost")) | .[0].text | contains("INPUT LOST")' all.json
json 'map(select(.event == "input" and .state == "back")) | .[0].lost_frames > 48000' all.json # not told before it is
json '[.[] | select(.event == "reading")] | length >= 4' all.json # the first wire before, all three after
is "parts" "$(ls s/*.wav | wc -l)" 2
"$THRUM" rank --json s/*.wav >kept.json 2>err
[ "$?" -le 1 ] || fail "the recording is not valid: $(cat err)"
is "readings kept" "$(jq '.readings | length' kept.json)" "$(jq '[.[] | select(.event == "reading")] | length' all.json)"
json "[.readings[] | select(.wire == \"1\")] | length == 1" kept.json

# The ears' connection ends in the second touch: it is said, they are silent from there on, the round and its recording know nothing of it.
OUT_WAV=$PWD/deaf.wav FAULT=deaf@5 bash "$play" p/walk.wav "$THRUM" round --voice v.json --hands-free --json \
    --for "$(jq -n "$walk_s + 1.5")" --record t --ears guide >events 2>err
is "exit with deaf ears" "$?" 0
jq -s . events >all.json || fail "no JSON"
json 'map(select(.event == "warning" and .code == "ears-gone")) | length == 1 and (.[0].text | contains("the round goes on"))' all.json
json 'map(select(.event == "input" and .state == "ended")) | length == 1 and .[0].lost_frames == 0' all.json
json "map(select(.event == \"pick\")) | last | .outcome == \"picked\" and .wire == \"$tag\"" all.json
"$THRUM" rank --json t/*.wav >kept.json 2>err || fail "the recording is not valid: $(cat err)"
told=$(jq -c '[.[] | select(.event == "reading")]' all.json)
json "[.readings, $told] | map(map([.wire, .duration_s])) | .[0] == .[1]" kept.json
json "[.readings, $told] | transpose | map((.[0].strength[0].dbfs - .[1].strength[0].dbfs | fabs) < 0.001) | all" kept.json # of 24 bits
if command -v sox >/dev/null; then
    loudest=$(for part in "1 3" "9 3"; do sox deaf.wav -n trim $part stat 2>&1; done | awk '/Maximum amplitude/ {print $3}')
    jq -es '.[0] > 0.1 and .[1] == 0' <<<"$loudest" >/dev/null || fail "the ears before and after: $loudest"
fi
finish
