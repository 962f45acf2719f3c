#!/bin/bash
# An input that is plugged in after the program was started: without --wait it is an error that says what to do; with it, and on the
# screen, the input is looked for until PortAudio's list, made anew, has it. On the screen any key looks at once, q leaves.
. "$(dirname "$0")/lib.sh"
limit_s=120
export LIMIT_S=100

practice_walk --seed 8 --wires 2
# unplugged.sh NAME COMMAND...: the input is plugged in once the file NAME.plug is there.
cat >unplugged.sh <<'RUN'
name=$1
shift
printf 'pcm.!default { type hw card 77 }\n' >"$name.conf"
cp "$ALSA_CONFIG_PATH" "$name.there"
(
    until [ -e "$name.plug" ]; do sleep 0.05; done
    mv "$name.there" "$name.conf"
) &
echo $! >"$name.plugger"
ALSA_CONFIG_PATH=$PWD/$name.conf exec "$@"
RUN

bash "$play" p/walk.wav bash unplugged.sh no "$THRUM" round --voice v.json --for 1 --json >events 2>err
status=$?
kill "$(cat no.plugger)" 2>/dev/null
[ "$status" != 125 ] || skip "no PortAudio input can be made here: $(cat err)"
is "exit without --wait" "$status" 3
says "no sound input found"

# Another program holds it: PortAudio does not list it then.
FAULT=busy bash "$play" p/walk.wav "$THRUM" round --voice v.json --for 1 --json >events 2>err
is "exit while it is held" "$?" 3
says "close programs that hold it"
FAULT=busy bash "$play" p/walk.wav "$THRUM" round --voice v.json --from device:default --for 1 --json >events 2>err
is "exit while the one named is held" "$?" 3
FAULT=busy bash "$play" p/walk.wav "$THRUM" inputs >out 2>err
says "close programs that hold it"

bash "$play" p/walk.wav bash unplugged.sh yes "$THRUM" round --voice v.json --for 2 --json --wait >events 2>err &
player=$!
for _ in $(seq $((limit_s * 20))); do
    grep -q 'waiting for it' err && break
    sleep 0.05
done
says "no sound input found"
[ "$(grep -c 'waiting for it' err)" = 1 ] || fail "said more than once: $(cat err)"
[ ! -s events ] || fail "events without an input"
touch yes.plug
wait "$player"
status=$?
[ "$status" -le 1 ] || fail "exit $status: $(cat err)"
jq -s . events >all.json || fail "no JSON"
json 'map(select(.event == "input")) | .[0].state == "live"' all.json

if command -v tmux >/dev/null; then
    d=$scratch/tui
    LC_ALL=C.UTF-8 bash "$tui" start "$d" 80 24 env -C "$scratch" bash "$play" p/walk.wav bash unplugged.sh screen "$THRUM" round --voice v.json
    bash "$tui" wait "$d" 'no sound input found' "$limit_s" || fail "the screen does not say what is missing: $(bash "$tui" text "$d")"
    bash "$tui" wait "$d" 'Any key looks for the input at once, q leaves' 10 || fail "nor what to do"
    touch screen.plug
    bash "$tui" keys "$d" Space
    bash "$tui" wait "$d" 'Wire 1' "$limit_s" || fail "the input is not found: $(bash "$tui" text "$d")"
    bash "$tui" keys "$d" q
    bash "$tui" wait "$d" 'no wire|NO PICK' "$limit_s" || fail "q does not leave"
    bash "$tui" stop "$d"
fi
finish
