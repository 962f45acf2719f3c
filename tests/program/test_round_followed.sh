#!/bin/bash
# A sender that moves within a round is followed by a key, and the recording says so: ranked again it gives the same readings and the same
# answer, those from before the move among them.
. "$(dirname "$0")/lib.sh"
command -v sox >/dev/null || skip "no sox here"

loaded_bundle 5011 2 morning --tone 1037
"$THRUM" learn morning/lead.wav --voice v.json >/dev/null 2>err || fail "no voice learned"
loaded_bundle 5011 2 noon --tone 1089
sox morning/walk.wav noon/walk.wav both.wav || fail "no sound"

mkfifo keys
exec 4<>keys
"$THRUM" round --from file:both.wav --voice v.json --hands-free --keys --json --record r <keys >events 2>err &
round=$!
told_moved events
echo m >&4
wait "$round"
grep -aq '~moved 108[89]\.' r/*.wav || fail "the recording does not say it"

# The last word of the round on each touch; both halves touch the same two wires, all of them heard.
readings='[.wire, .strength[0].heard, (.strength[0].dbfs // 0 | . * 100 | round), .faults]'
jq -c 'select(.event == "reading")' events | jq -s -c "group_by(.wire)[] | last | $readings" | sort >live
is "touches heard" "$(grep -c true live)" 4
again() {
    jq -c ".readings[] | $readings" out | sort >ranked
    cmp -s live ranked || fail "$1: $(diff live ranked)"
    json 'any(.warnings[]; .code == "moved" and (.text | test("1089 Hz")))'
}
"$THRUM" rank --json r/*.wav >out 2>err
again "ranked again"
"$THRUM" rank --json --voice v.json r/*.wav >out 2>err
again "with its voice"
finish
