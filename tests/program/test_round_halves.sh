#!/bin/bash
# A round by halves on a practice bundle, led by lines: it says what to hold next, takes groups under their tags, picks the
# right wire, and its recording ranks the same. Nothing is waited for by time.
. "$(dirname "$0")/lib.sh"
limit_s=240

"$THRUM" learn --from practice:14 --voice v.json >/dev/null || fail "no voice"
mkfifo keys
"$THRUM" round --from practice:14 --voice v.json --halves --keys --record r <keys >lines 2>err &
round=$!
exec 9>keys
# waits_from LINE REGEX: for a line of output after that one
waits_from() {
    for _ in $(seq $((limit_s * 20))); do
        tail -n +$(($1 + 1)) lines | grep -qE "$2" && return
        sleep 0.05
    done
    fail "no '$2' after: $(tail -n 2 lines)"
}
answers() {
    local from
    from=$(wc -l <lines)
    echo "$1" >&9
    waits_from "$from" "$2"
}
waits_from 0 'wires 1 to 12: .*Hold the probe against wires 1 to 12, the others apart'
answers '' 'HOLD ON'
waits_from "$(wc -l <lines)" 'ENOUGH'
answers '' 'wires 13 to 24: .*NO PICK YET: one of 24 wires .*Hold the probe against wires 13 to 24, the others apart'
answers u 'wires 1 to 12: '
answers '' 'HOLD ON'
waits_from "$(wc -l <lines)" 'ENOUGH'
answers '' 'wires 13 to 24: '
answers g20-30 'that cannot be done now'
answers g13-24 'wires 13 to 24: '
for touch in $(seq 24); do
    from=$(wc -l <lines)
    answers '' 'HOLD ON'
    waits_from "$from" 'ENOUGH'
    from=$(wc -l <lines)
    answers '' 'NO PICK YET|PICK: |TOO CLOSE'
    tail -n +$((from + 1)) lines | grep -q 'PICK: wire' && break
done
echo f >&9
wait $round
is "exit" "$?" 0
exec 9>&-
grep -q '^The sender drove wire 2' lines || fail "the truth is not told"
grep -q '^PICKED: wire 2,' lines || fail "not wire 2: $(grep -E '^(PICKED|NO PICK|TOO CLOSE)' lines)"
[ "$touch" -lt 16 ] || fail "too many touches: $touch"
# The recording says of itself that halves were searched: the same answer, groups among the readings.
expect 0 "$THRUM" rank --json r/*.wav
json '.picks[0].wire == "2" and (.readings[0].wire == "1-12") and (.readings[1].wire == "13-24")'
json '.picks[0].outcome == "picked" and ([.wires[].wire] | index("1-12") == null)'
chance=$(jq -r '.picks[0].chance' out)
expect 0 "$THRUM" rank r/*.wav
prints "PICKED: wire 2"
# The line is cut to 0.01 %; the 24 bits of the recording move levels by less than 0.0001 dB and the chance by 1e-6 (measured).
live=$(sed -n 's/^PICKED: wire 2, chance [> ]*\([0-9.]*\) %.*/\1/p' lines)
jq -ne "($live / 100 - $chance) | fabs < 0.00011" >/dev/null || fail "another chance than the live one, $live %: $chance"

expect 2 "$THRUM" round --from practice:14 --halves
says "it needs a terminal, --keys or a sound input"
expect 2 "$THRUM" round --from practice:14:2 --voice v.json --voice v.json --halves --keys
says "for one sender"
"$THRUM" practice --seed 3 --wires 5 --write p 2>/dev/null
expect 2 "$THRUM" round --from file:p/walk.wav --halves --keys
says "add --wires N"
expect 2 "$THRUM" round --from file:p/walk.wav --halves --keys --wires 9
says "saves no touches with fewer than 10 wires"
finish
