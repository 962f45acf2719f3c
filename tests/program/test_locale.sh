#!/bin/bash
# A country with a decimal comma changes no number, in or out.
. "$(dirname "$0")/lib.sh"
command -v localedef >/dev/null || skip "localedef is not here"
localedef -i de_DE -f UTF-8 "$scratch/loc_de" >/dev/null 2>&1
[ -d "$scratch/loc_de" ] || skip "the locale cannot be made: its description is not here"
export LOCPATH=$scratch

"$THRUM" practice --seed 4 --wires 3 --rate 8000 --tone 1037.5 --write plain 2>/dev/null
LC_ALL=loc_de "$THRUM" practice --seed 4 --wires 3 --rate 8000 --tone 1037.5 --write german 2>/dev/null ||
    fail "a decimal point was not taken"
for file in plain/*; do
    cmp -s "$file" "german/$(basename "$file")" || fail "$(basename "$file") is not the same"
done
LC_ALL=loc_de expect 2 "$THRUM" practice --seed 4 --tone 1037,5 --write x
for command in "learn plain/lead.wav --json" "learn plain/lead.wav" "rank --json plain/w01.wav plain/w02.wav plain/w03.wav" \
    "rank plain/w01.wav plain/w02.wav plain/w03.wav" "rank --walk plain/walk.wav --json" \
    "round --from file:plain/walk.wav --json" "round --from file:plain/walk.wav"; do
    # shellcheck disable=SC2086 # words
    "$THRUM" $command >here 2>here.err
    # shellcheck disable=SC2086 # words
    LC_ALL=loc_de "$THRUM" $command >there 2>there.err
    cmp -s here there || fail "the answer differs: $command"
    [ -s there ] || fail "no answer: $command"
done
finish
