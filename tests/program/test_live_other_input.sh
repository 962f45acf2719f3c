#!/bin/bash
# The input dies in a round, on a real PortAudio stream, and never comes back: the key that looks lists what else is there, a number takes
# it, and the round goes on with it in a part of its own; what was measured before is compared with nothing measured since.
. "$(dirname "$0")/lib.sh"
limit_s=60
export LIMIT_S=100

practice_walk --seed 8 --wires 2
# two.sh COMMAND...: the default input dies after five seconds of sound and is gone from then on; another one is there.
cat >two.sh <<'RUN'
sed 's/pcm.!default/pcm.webcam/' "$ALSA_CONFIG_PATH" >there.conf
sed 's/fault "[^"]*"/fault "die@5"/' "$ALSA_CONFIG_PATH" | cat there.conf - >both.conf
printf 'pcm.!default { type hw card 77 }\n' | cat there.conf - >gone.conf
cp both.conf two.conf
ALSA_CONFIG_PATH=$PWD/two.conf exec "$@"
RUN

mkfifo keys
exec 4<>keys
bash "$play" p/walk.wav bash two.sh "$THRUM" round --voice v.json --hands-free --keys --json --record r <keys >events 2>err &
round=$!
wait_for() { # TEXT, in the events
    for _ in $(seq $((limit_s * 20))); do
        grep -q "$1" events && return
        kill -0 "$round" 2>/dev/null || break
        sleep 0.05
    done
    fail "no event with $1: $(tail -n 3 events) $(cat err)"
}
wait_for '"state":"live"'
echo i >&4
wait_for '"event":"reading"'
cp gone.conf two.conf
wait_for '"state":"lost"'
echo i >&4
wait_for '"event":"inputs"'
echo i1 >&4
wait_for '"state":"back"'
echo g1 >&4 # the first wire again
wait_for '"event":"reading".*"wire":"2"'
echo q >&4
wait "$round"
status=$?
[ "$status" != 125 ] || skip "no PortAudio input can be made here: $(cat err)"
[ "$status" -le 1 ] || fail "exit $status: $(cat err)"
jq -s . events >all.json || fail "no JSON"
is "states" "$(jq -c 'map(select(.event == "input") | .state)' all.json)" '["live","lost","back","ended"]'
json 'map(select(.event == "inputs")) | last | .names == ["ALSA: webcam"]' all.json
json 'map(select(.event == "input" and .state == "back")) | .[0] | .name == "ALSA: webcam" and (.text | contains("do not compare"))' all.json

is "parts" "$(ls r/*.wav | wc -l)" 2
for name in default webcam; do
    grep -aq "\"input\":\"ALSA: $name\"" $(ls -r r/*.wav | sed -n "$([ $name = webcam ] && echo 2 || echo 1)p") || fail "no part says it was made with $name"
done
"$THRUM" rank --json r/*.wav >kept.json 2>rank.err # part 2 comes first in that list
[ "$?" -le 1 ] || fail "the recording is not valid: $(cat rank.err)"
json '[.readings[].faults | index("not-compared") != null] | .[0] and (.[1:] | length >= 2 and (any | not))' kept.json
json '.readings[0].wire == "1" and .readings[1].wire == "1"' kept.json

if command -v tmux >/dev/null; then
    d=$scratch/tui
    LC_ALL=C.UTF-8 bash "$tui" start "$d" 80 24 env -C "$scratch" bash "$play" p/walk.wav bash two.sh "$THRUM" round --voice v.json
    bash "$tui" wait "$d" 'best so far' "$limit_s" && cp gone.conf two.conf
    bash "$tui" wait "$d" 'i looks at once, or takes' "$limit_s" || fail "the screen does not say what to do: $(bash "$tui" text "$d")"
    bash "$tui" keys "$d" i
    bash "$tui" wait "$d" '^1  ALSA: webcam' 10 || fail "the other input is not offered: $(bash "$tui" text "$d")"
    bash "$tui" keys "$d" 1
    bash "$tui" wait "$d" 'another input, ALSA: webcam' 10 || fail "it is not taken: $(bash "$tui" text "$d")"
    bash "$tui" wait "$d" '^ ALSA: webcam' 10 || fail "the head has the old name"
    bash "$tui" keys "$d" q
    bash "$tui" stop "$d"
fi
finish
