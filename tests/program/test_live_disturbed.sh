#!/bin/bash
# A round on a real PortAudio stream, at double speed, while the computer is busy and whoever reads the answer has stopped: the
# recording has every sample all the same. THRUM_HOUR=3600 plays an hour of sound; forty seconds without it.
. "$(dirname "$0")/lib.sh"
echo 'int main(void) { return 0; }' >t.c
cc -o t t.c -lasound 2>/dev/null || skip "the library of ALSA is not here"
command -v sox >/dev/null || skip "sox is not here"
hour=${THRUM_HOUR:-40}
export LIMIT_S=$((hour + 120)) SPEED=2 STRICT=1

practice_walk --seed 5003 --wires 3
walk_s=$(soxi -D p/walk.wav)
sox -D p/walk.wav long.wav repeat $(jq -n "$hour / $walk_s | floor") trim 0 "$hour" || fail "no long walk"

mkfifo events
bash "$play" long.wav "$THRUM" round --voice v.json --hands-free --json --for "$((hour + 1))" --record r >events 2>err &
round=$!
exec 3<events
IFS= read -r first <&3 # it is running
busy=()
for _ in 1 2 3; do
    while :; do :; done &
    busy+=($!)
done
# Nobody reads for half the time: the pipe is full after the half of that, and the one who tells stands still; the sound does not.
sleep "$(jq -n "$hour / $SPEED / 2")"
{ echo "$first"; cat <&3; } >told
exec 3<&-
wait "$round"
[ "$?" -le 1 ] || fail "the round did not end well: $(cat err)"
kill "${busy[@]}"

jq -s . told >all.json
json 'map(select(.event == "input")) | last | .state == "ended" and .lost_frames == 0' all.json
sox long.wav -b 24 -t raw want.raw
for file in r/*.wav; do # an hour makes a second part, which must come after the first
    [[ $file != *-part* ]] || mv "$file" "z-${file##*/}"
done
for file in r/*.wav z-*.wav; do
    [ -e "$file" ] || continue
    sox "$file" -b 24 -t raw -
done >got.raw
lead=$((14400 * 3)) # 300 ms of silence before the walk
is "bytes before the walk" "$(head -c $lead got.raw | tr -d '\0' | wc -c)" 0
tail -c +$((lead + 1)) got.raw | cmp -n "$(stat -c %s want.raw)" - want.raw || fail "the recording is not what was played"
jq -ne "$(stat -c %s got.raw) >= $lead + $(stat -c %s want.raw)" >/dev/null || fail "the recording ends early"
finish
