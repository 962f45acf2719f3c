#!/bin/bash
# Several senders in one round: each on its own wire, measured and named together.
. "$(dirname "$0")/lib.sh"

expect 0 "$THRUM" practice --seed 6 --write four --senders 4 --wires 12 --rate 16000
says "lead-b.wav to lead-d.wav"
json '(.senders | length) == 4 and ([.senders[].driven] | unique | length) == 4' four/truth.json
json '.driven == .senders[0].driven and .senders[3].lead == "lead-d.wav"' four/truth.json
voices=()
for name in a b c d; do
    lead=four/lead-$name.wav
    [ "$name" = a ] && lead=four/lead.wav
    expect 0 "$THRUM" learn "$lead" --voice "$name.json" --name "$name"
    voices+=(--voice "$name.json")
done

# Every pick is the truth, and every strength that is not far down is what was played, wobble of the hand apart.
agrees() { # PLACE: where in the truth the wires are named, driven or driven_tag
    jq -e --slurpfile truth four/truth.json --arg place "$1" '. as $got | $truth[0] as $t |
        [.picks[] | .outcome] == ["picked", "picked", "picked", "picked"] and
        [.picks[].wire] == [$t.senders[] | .[$place]]' out >/dev/null || { fail "picks are not the truth"; jq -c '.picks[] | [.outcome, .wire, .chance]' out >&2; }
}
expect 0 "$THRUM" rank "${voices[@]}" --json four/w[0-9]*.wav
agrees driven
jq -e --slurpfile truth four/truth.json '[.readings[] as $r | ($truth[0].wires[] | select(.wire == $r.wire)) as $w | $r.strength[] |
    $w.played_dbfs_by_sender[.sender] as $played | select($played > -60) | (.dbfs // -200) - $played | fabs] |
    length > 8 and max < 1.0' out >/dev/null || fail "strengths are not those played"
expect 0 "$THRUM" rank "${voices[@]}" --json --walk four/walk.wav
agrees driven_tag
expect 0 "$THRUM" rank "${voices[@]}" --walk four/walk.wav
prints "All senders:"
is "lines of the summary" "$(sed -n '/^All senders:/,$p' out | grep -c 'PICKED: wire')" 4

# The same voices come out of thrum tone, and a round on such a bundle knows them.
expect 0 "$THRUM" tone --set 2 --mains 50 --write set --for 1
expect 0 "$THRUM" round --from practice:12:2 --wires 8 --hands-free --voice set/a.json --voice set/b.json --json
expect 2 "$THRUM" round --from practice:4:9
says "8 at most"
expect 2 "$THRUM" round --from practice:4:
expect 2 "$THRUM" practice --seed 1 --senders 4 --wires 3 --write few
says "4 senders need as many wires"
expect 2 "$THRUM" practice --seed 1 --senders 2 --tone 1000 --write few
[ ! -e few ] || fail "a folder was made although the usage was wrong"

# Two senders on one wire are said to be, and neither is picked.
"$THRUM" tone --set 2 --mains 50 --write pair --for 3 --level -30 --rate 16000 >/dev/null || fail "no pair"
for wire in w1 w2 w3 w4; do
    sox -n -r 16000 -b 16 "noise-$wire.wav" synth 3 whitenoise vol 0.0003
    cp "noise-$wire.wav" "$wire.wav"
done
sox -m -v 1 pair/a.wav -v 1 pair/b.wav -v 1 noise-w2.wav w2.wav trim 0 3
expect 1 "$THRUM" rank --voice pair/a.json --voice pair/b.json w[1-4].wav
prints "NO PICK: wire w2 is strongest for sender b too."
prints "two senders may be clipped to one wire"
expect 1 "$THRUM" rank --voice pair/a.json --voice pair/b.json --json w[1-4].wav
json '[.picks[] | .outcome == "too-close" and .wire == null and .contenders == ["w2"] and .next_touch == "w2"] | all'

# A square wave at a third of another's tone is heard as that one too: it is said which, and of voices apart nothing is said.
expect 0 "$THRUM" practice --seed 5007 --wires 4 --write square --square --tone 500
"$THRUM" tone --out third.wav --tone 1503 --for 4 --level -30 >/dev/null
expect 0 "$THRUM" learn third.wav --voice third.json --name third
expect 0 "$THRUM" learn square/lead.wav --voice half.json --name half
"$THRUM" rank --voice half.json --voice third.json --json square/w[1-4].wav >out 2>err
json '[.warnings[] | select(.code == "harmonic") | .text] | length == 1 and (.[0] | contains("3 times sender half"))'
"$THRUM" rank --voice pair/a.json --voice pair/b.json --json w[1-4].wav >out 2>err
json '[.warnings[] | select(.code == "harmonic")] == []'
finish
