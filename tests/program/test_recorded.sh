#!/bin/bash
# A recording of a round says of itself what it needs: it ranks the same without the voice and without a table of touches;
# several parts are one round.
. "$(dirname "$0")/lib.sh"

"$THRUM" practice --seed 44 --wires 5 --ending loaded --write p 2>/dev/null || fail "no practice recordings"
expect 0 "$THRUM" learn p/lead.wav --voice v.json
for name in a b; do
    expect 0 "$THRUM" round --from file:p/walk.wav --voice v.json --json --hands-free --record $name
    mv $name/*.wav $name/round.wav # as of two that began in the same second
done
expect 0 "$THRUM" rank --voice v.json --json a/*.wav
cp out with
expect 0 "$THRUM" rank --json a/*.wav
is "the answer without the voice" "$(jq -Sc . out)" "$(jq -Sc . with)"
json '.readings | length == 5' with

# Its touches bring their tags along; only with a tag of its own a file is one touch.
expect 0 "$THRUM" rank --json a/round.wav b/round.wav
json '.readings | length == 10' out
is "wires" "$(jq -c '[.readings[].wire] | unique' out)" '["1","2","3","4","5"]'
is "the pick of both" "$(jq -r '.picks[0].wire' out)" "$(jq -r '.picks[0].wire' with)"
expect 2 "$THRUM" rank p/lead.wav q=p/walk.wav ./p/lead.wav # one touch each: two of the same name are a mistake
set -- a/*.wav
cp "$1" one.wav
"$THRUM" rank --json w1=one.wav w2=p/lead.wav >out 2>err
is "one touch each" "$(jq -c '[.readings[].wire]' out)" '["w1","w2"]'

# Heard again as a round.
expect 0 "$THRUM" round --from "file:$1" --json
is "the pick heard again" "$(jq -rs 'map(select(.event == "pick")) | last | .wire' out)" "$(jq -r '.picks[0].wire' with)"

# Wires that nobody touched are not forgotten: what named none live names none from the recording, however it is heard again.
final='map(select(.event == "pick" and .final))[0] | "\(.outcome) \(.chance * 1000 | round)"'
expect 1 "$THRUM" round --from file:p/walk.wav --voice v.json --wires 9 --json --hands-free --record c
live=$(jq -rs "$final" out)
mv c/*.wav c/round.wav
for again in "rank --json c/round.wav" "rank --json --walk c/round.wav"; do
    expect 1 "$THRUM" $again
    is "$again" "$(jq -r '.picks[0] | "\(.outcome) \(.chance * 1000 | round)"' out)" "$live"
done
expect 1 "$THRUM" rank c/round.wav
prints "Touch a wire next that has not been touched." # nobody knows its tag
expect 1 "$THRUM" round --from file:c/round.wav --json
is "the round heard again" "$(jq -rs "$final" out)" "$live"

# Nor are wires that were left out: the one that carries the most would else be named again.
picked=$(jq -r '.picks[0].wire' with)
expect 1 "$THRUM" round --from file:p/walk.wav --voice v.json --exclude "$picked,9" --json --hands-free --record d
live=$(jq -rs "$final" out)
mv d/*.wav d/round.wav
for again in "rank --json d/round.wav" "rank --json a/round.wav d/round.wav"; do
    expect 1 "$THRUM" $again
    is "left out by $again" "$(jq -r '[.wires[] | select(.excluded) | .wire] | sort | join(" ")' out)" \
        "$(printf '%s\n' "$picked" 9 | sort | xargs)"
done
expect 1 "$THRUM" rank --json d/round.wav
is "with wires left out" "$(jq -r '.picks[0] | "\(.outcome) \(.chance * 1000 | round)"' out)" "$live"
expect 1 "$THRUM" round --from file:d/round.wav --json
is "with wires left out, heard again" "$(jq -rs "$final" out)" "$live"
# A table in place of the marks is in place of these, too.
jq -r '.readings[] | "\(.wire),\(.start_s),\(.start_s + .duration_s)"' with >marks.csv
expect 0 "$THRUM" rank --json --marks marks.csv d/round.wav
json 'all(.wires[]; .excluded | not)'

# By key, and taken back by the same one: it stays a wire of the round.
"$THRUM" round --from practice:7 --keys --voice v.json --json --record e >out 2>err <<END
5
x
6
x
7
x
7
x
f
END
is "exit" $? 1
marks=$(strings -a e/*.wav | grep -E '^~(excluded|wire)' | sort | xargs)
is "notes" "$marks" "~excluded 5 ~excluded 6 ~wire 7"

# What only looks like ours is left alone: the voice is learned.
sed 's/"tones_hz"/"tones_xx"/' "$1" >odd.wav
expect 0 "$THRUM" rank --json odd.wav
json '.senders[0].tones_hz[0] > 1036.8 and .senders[0].tones_hz[0] < 1037.2' out
finish
