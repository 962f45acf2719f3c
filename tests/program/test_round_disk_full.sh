#!/bin/bash
# The disk fills up while recording: the round goes on to its pick, what was written is valid, exit status 5.
. "$(dirname "$0")/lib.sh"

practice_walk --seed 21 --wires 6
"$THRUM" rank --voice v.json --json --walk p/walk.wav >walk.json

# A limit on the size of files stands in for a full disk: writes beyond it fail in the same way.
(
    ulimit -f 1000
    "$THRUM" round --from file:p/walk.wav --voice v.json --json --hands-free --record r 2>"$scratch/err"
    echo $? >"$scratch/code"
) | cat >"$scratch/out"
is "exit" "$(cat code)" 5
says "NOT RECORDING"
is "the pick" "$(jq -rs 'map(select(.event == "pick")) | last | .wire' out)" "$(jq -r '.picks[0].wire' walk.json)"
is "touches" "$(jq -s 'map(select(.event == "reading")) | length' out)" 6
"$THRUM" rank --voice v.json --json r/*.wav >kept.json 2>err
[ "$?" -le 1 ] || fail "what was recorded is not valid: $(cat err)"
json '.readings | length >= 1' kept.json
finish
