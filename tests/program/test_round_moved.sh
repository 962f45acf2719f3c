#!/bin/bash
# A live round whose sender has moved since it was learned: where there are keys it is said and one key follows it, touches made before
# are measured anew; without keys it is followed by itself. Nothing is said where it has not moved, or is not there.
. "$(dirname "$0")/lib.sh"

loaded_bundle 5011 5 morning --tone 1037
"$THRUM" learn morning/lead.wav --voice v.json >/dev/null 2>err || fail "no voice learned"
loaded_bundle 5011 5 noon --tone 1089
driven=$(jq -r .driven_tag noon/truth.json)

# Without keys. The readings before it was found are told again, heard.
expect 0 "$THRUM" round --from file:noon/walk.wav --voice v.json --hands-free --json
jq -s . out >all.json
json "map(select(.event == \"pick\")) | last | .outcome == \"picked\" and .wire == \"$driven\"" all.json
json 'map(select(.event == "warning" and .code == "moved")) | last | .text | test("1089 Hz") and test("Learn it again")' all.json
json 'map(select(.event == "reading" and .wire == "2") | .strength[0].heard) | .[0] == false and last' all.json

# With keys: it is said, and nothing is done unasked.
mkfifo keys
exec 4<>keys
"$THRUM" round --from file:noon/walk.wav --voice v.json --hands-free --keys --json --record r <keys >events 2>err &
round=$!
told_moved events
! jq -es 'map(select(.event == "pick" and .outcome == "picked")) | length > 0' events >/dev/null || fail "followed unasked"
echo m >&4
wait "$round" # the sound ends
is "exit" "$?" 0
jq -s . events >all.json
json "map(select(.event == \"pick\")) | last | .outcome == \"picked\" and .wire == \"$driven\"" all.json
# What was recorded gives the same answer.
expect 0 "$THRUM" rank --json r/*.wav
json ".picks[0].wire == \"$driven\" and any(.warnings[]; .code == \"moved\")"

# Farther away, not moved, or not there: nothing is said of moving.
loaded_bundle 5011 5 far --tone 1140
loaded_bundle 5011 5 none --no-sender
for dir in far none morning; do
    "$THRUM" round --from file:$dir/walk.wav --voice v.json --hands-free --json >out 2>err
    is "moved, $dir" "$(grep -c '"moved"' out)" 0
done

if command -v tmux >/dev/null; then
    d=$scratch/tui
    LC_ALL=C.UTF-8 bash "$tui" start "$d" 80 24 "$THRUM" round --from "file:$PWD/noon/walk.wav" --voice "$PWD/v.json" --hands-free
    bash "$tui" wait "$d" 'SENDER MOVED \(m\): the sender is at 1089 Hz' 60 || fail "the screen does not say it: $(bash "$tui" text "$d")"
    bash "$tui" wait "$d" 'm measures the sender where it is' 10 || fail "nor what to do"
    bash "$tui" keys "$d" m
    bash "$tui" wait "$d" 'measured there' 10 || fail "it is not followed: $(bash "$tui" text "$d")"
    bash "$tui" wait "$d" "PICK: wire $driven" 60 || fail "no pick: $(bash "$tui" text "$d")"
    bash "$tui" keys "$d" q
    bash "$tui" stop "$d"
fi
finish
