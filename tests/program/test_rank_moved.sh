#!/bin/bash
# A sender learned in the morning has moved by noon: its wire is named all the same, and it is said.
. "$(dirname "$0")/lib.sh"

loaded_bundle 5011 8 morning --tone 1037
"$THRUM" learn morning/lead.wav --voice v.json >/dev/null 2>err || fail "no voice learned"
driven=$(jq -r .driven morning/truth.json)

tones="962 1089 1110"
[ -z "${THRUM_LIGHT:-}" ] || tones=1089 # under the sanitizers
for tone in $tones; do
    loaded_bundle 5011 8 noon --tone $tone
    expect 0 "$THRUM" rank --voice v.json --json noon/w[0-9]*.wav
    json ".picks[0].wire == \"$driven\""
    json 'any(.warnings[]; .code == "moved" and (.text | test("'$tone' Hz")) and (.text | test("Learn it again")))'
    expect 0 "$THRUM" rank --voice v.json --json --walk noon/walk.wav
    json 'any(.warnings[]; .code == "moved")'
done

# What cannot be read is complained of once, not once for each look.
printf 'no sound' >bad.wav
expect 4 "$THRUM" rank --voice v.json noon/w[0-9]*.wav bad.wav
is "complaints" "$(grep -c 'bad.wav' err)" 1

# Farther away, or without a sender: no tone, and nothing about moving.
loaded_bundle 5011 8 far --tone 1140
loaded_bundle 5011 8 none --no-sender

for dir in far none; do
    expect 1 "$THRUM" rank --voice v.json --json $dir/w[0-9]*.wav
    json '.picks[0].outcome == "no-tone"'
    json 'all(.warnings[]; .code != "moved")'
done
finish
