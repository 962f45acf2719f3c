#!/bin/bash
# What earlier rounds say of the hand goes into a later one; a walk among the touches is told in JSON too.
. "$(dirname "$0")/lib.sh"
loaded_bundle 5401 6 p
"$THRUM" learn p/lead.wav --voice v.json >/dev/null || fail "no voice"
wires=$(echo p/w0*.wav)

"$THRUM" rank --voice v.json --json $wires >once.json
# Each touch twice the same is as steady as a hand can be.
mkdir again
for wire in $wires; do cp "$wire" "again/$(basename "$wire" .wav)~2.wav"; done
"$THRUM" rank --voice v.json --json $wires again/*.wav >steady.json

# Without a repeat nothing is known of the hand: the same answer, to the digit.
expect 0 "$THRUM" rank --voice v.json --history once.json --json $wires
cmp -s out once.json || fail "a round without repeats says something of the hand"
expect 0 "$THRUM" rank --voice v.json --history steady.json --json $wires
# A steady hand narrows the intervals of wires touched once, in a file per wire and in a walk.
json "(.wires[0].high_db - .wires[0].low_db) < $(jq '.wires[0] | .high_db - .low_db' once.json)"
"$THRUM" rank --voice v.json --json --walk p/walk.wav >walk.json
expect 0 "$THRUM" rank --voice v.json --history steady.json --history once.json --json --walk p/walk.wav
json "(.wires[0].high_db - .wires[0].low_db) < $(jq '.wires[0] | .high_db - .low_db' walk.json)"

# A live round starts from the same: its picks are those of the recording ranked with it, to the digit.
live_chance() { "$THRUM" round --from file:p/walk.wav --voice v.json --hands-free --json "$@" 2>err | jq -s '[.[] | select(.event == "pick" and .final) | .chance]' -c; }
"$THRUM" rank --voice v.json --json --history steady.json --walk p/walk.wav >steady_walk.json
is "the chance with a steady hand" "$(live_chance --history steady.json)" "$(jq -c '[.picks[].chance]' steady_walk.json)"
is "the chance without" "$(live_chance)" "$(jq -c '[.picks[].chance]' walk.json)"
[ "$(jq -c '[.picks[].chance]' steady_walk.json)" != "$(jq -c '[.picks[].chance]' walk.json)" ] || fail "the hand makes no difference here"
expect 4 "$THRUM" round --from file:p/walk.wav --voice v.json --history nosuch.json
says "the round nosuch.json cannot be read"

# What is no round is named.
echo '{"readings":[{"wire":"w01"}]}' >bad.json
echo '{"readings":[]}' >none.json
echo 'x' >text.json
for file in bad.json none.json text.json; do
    expect 4 "$THRUM" rank --voice v.json --history $file $wires
    says "$file: no touches in it"
done
expect 4 "$THRUM" rank --voice v.json --history nosuch.json $wires
says "the round nosuch.json cannot be read"

# A walk taken along as one wire, by itself and among others.
expect 1 "$THRUM" rank --voice v.json --json p/walk.wav
json '[.warnings[] | select(.code == "walk") | .text] | length == 1 and (.[0] | contains("thrum rank --walk p/walk.wav"))'
"$THRUM" rank --voice v.json --json $wires p/walk.wav >out
json '[.warnings[] | select(.code == "walk") | .text] | length == 1 and (.[0] | startswith("'"'walk'"' was taken as one wire"))'
json '[.warnings[] | select(.code == "walk")] == []' once.json
finish
