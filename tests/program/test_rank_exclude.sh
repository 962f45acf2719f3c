#!/bin/bash
# Wires that cannot be it: left out of the pick, listed apart, and told of where one is stronger than the pick.
. "$(dirname "$0")/lib.sh"

"$THRUM" practice --seed 5 --wires 12 --ending tied --write p 2>/dev/null || fail "no practice round"
"$THRUM" learn p/lead.wav --voice v.json >/dev/null || fail "no voice"
driven=$(jq -r .driven p/truth.json)
other=w01
[ "$driven" != w01 ] || other=w02

expect 0 "$THRUM" rank --voice v.json p/w[0-9]*.wav
cp out all
expect 0 "$THRUM" rank --voice v.json --exclude "$other" p/w[0-9]*.wav
prints "PICKED: wire $driven"
prints "Excluded: $other"
grep -q "LOOK AGAIN" out && fail "a weaker wire left out needs no caveat"

# The strongest left out: it is told of, and the best of the rest is named only with a caveat.
expect 1 "$THRUM" rank --voice v.json --exclude "$other,$driven" --json p/w[0-9]*.wav
is "wires left out" "$(jq -r '[.wires[] | select(.excluded) | .wire] | sort | join(" ")' out)" \
    "$(printf '%s\n' "$other" "$driven" | sort | xargs)"
json '[.picks[0].advice[] | select(startswith("An excluded wire carries more tone"))] | length == 1'
json '.picks[0].caveat | startswith("LOOK AGAIN")'
json 'all(.wires[]; .excluded == false or .chance == 0)'

# Another site's strongest wire among these, left out.
"$THRUM" practice --seed 9 --wires 3 --hum 0 --ending loaded --write q 2>/dev/null || fail "no second round"
stronger=q/$(jq -r .driven q/truth.json).wav
expect 0 "$THRUM" rank --voice v.json --exclude louder louder="$stronger" p/w[0-9]*.wav
prints "PICKED: wire $driven"
grep -q "^PICKED.*LOOK AGAIN: an excluded wire carries more tone" out || { fail "no caveat in the pick's line"; cat out >&2; }

grep -q "^Do not write it down before that is cleared up" out || fail "it is to be written down all the same"
# Behind a wire left out, the others are still compared with each other.
expect 1 "$THRUM" rank --voice v.json --exclude "$driven" --json p/w[0-9]*.wav
json '.picks[0].lead_db > 0'
# Tone on a wire left out only: the sender sounds, so its battery is not to be looked at.
"$THRUM" practice --seed 9 --wires 3 --no-sender --write s 2>/dev/null || fail "no silent round"
expect 1 "$THRUM" rank --voice v.json --exclude louder louder="$stronger" s/w[0-9]*.wav
prints "NO TONE on any of the wires that may be it"
prints "An excluded wire carries more tone"
grep -q "battery" out && fail "a sender that sounds is told to be silent"
# One wire alone.
expect 1 "$THRUM" rank --voice v.json louder="$stronger"
prints "NO PICK YET: wire louder is the only one here"
prints "touch the others as well"
# No input is no reason to look at the sender.
"$THRUM" practice --seed 9 --wires 3 --fault silent --write n 2>/dev/null || fail "no round without an input"
expect 1 "$THRUM" rank --voice v.json n/w[0-9]*.wav
prints "NO SIGNAL AT ALL"
grep -q "battery" out && fail "the sender is blamed for a dead input"
expect 1 "$THRUM" rank --voice v.json --json n/w[0-9]*.wav
json '.picks[0].advice | length == 1 and (.[0] | startswith("No signal at all"))'

# In a walk, and in a round without a screen.
walked=$("$THRUM" rank --voice v.json --walk p/walk.wav --json | jq -r '.picks[0].wire')
expect 1 "$THRUM" rank --voice v.json --walk p/walk.wav --exclude "$walked"
prints "Excluded: $walked ("
expect 1 "$THRUM" round --voice v.json --from file:p/walk.wav --hands-free --exclude "$walked"
prints "Excluded: $walked ("

# A slip of the pen is told.
expect 2 "$THRUM" rank --voice v.json --exclude w99 p/w[0-9]*.wav
says "there is no wire 'w99' here"
for bad in "w01," ",w01" "w01,,w02"; do
    expect 2 "$THRUM" rank --voice v.json --exclude "$bad" p/w[0-9]*.wav
    says "tags of 1 to 31 bytes with commas between them"
done

# One long file may be a walk.
expect 1 "$THRUM" rank --voice v.json p/walk.wav
prints "thrum rank --walk p/walk.wav"
finish
