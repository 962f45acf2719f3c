#!/bin/bash
# Rounds from recordings: the wire that the practice bundle drives is named, in every way the sound can be given.
. "$(dirname "$0")/lib.sh"

"$THRUM" practice --seed 11 --wires 12 --ending loaded --write p 2>/dev/null || fail "no practice recordings"
"$THRUM" learn p/lead.wav --voice v.json >learned || fail "the voice was not learned"
grep -q '^Voice: 1037\.0 Hz, 0\.250 s on, 0\.250 s off' learned || { fail "another voice:"; cat learned >&2; }
driven=$(jq -r .driven p/truth.json)
tag=$(jq -r .driven_tag p/truth.json)

# A file per wire.
expect 0 "$THRUM" rank --voice v.json --json p/w[0-9]*.wav
is "the pick" "$(jq -r '.picks[0].wire' out)" "$driven"
cp out touches.json

# The document has the agreed shape.
json 'keys == ["mains_hz","picks","readings","senders","thrum","warnings","wires"]'
json '.thrum | test("^[0-9]+\\.[0-9]+\\.[0-9]+$")'
json '.mains_hz > 49.9 and .mains_hz < 50.1'
json '.senders | length == 1 and .[0].name == "a" and (.[0].tones_hz[0] - 1037 | fabs) < 0.2'
json '.senders[0].pattern | length == 2 and .[0].tone == 0 and .[1].tone == null and all(.[]; (.s - 0.25 | fabs) < 0.003)'
json '.readings | length == 12'
json 'all(.readings[]; (keys == ["duration_s","faults","hum_dbfs","source","start_s","strength","touch","wire"]))'
json 'all(.readings[]; .touch == 1 and .start_s == 0 and (.duration_s - 3 | fabs) < 0.01 and (.faults | type) == "array")'
json '[.readings[].wire] == ["w01","w02","w03","w04","w05","w06","w07","w08","w09","w10","w11","w12"]'
json '.readings[6].source == "p/w07.wav"'
json 'all(.readings[].strength[]; (keys == ["dbfs","heard","high_db","low_db","sender"]) and .sender == "a")'
json 'all(.readings[].strength[]; if .heard then .low_db <= .dbfs and .dbfs <= .high_db else .dbfs == null and .low_db == null and (.high_db | type) == "number" end)'
json '.wires | length == 12 and all(.[]; keys == ["chance","dbfs","excluded","high_db","low_db","sender","touches","wire"])'
json '([.wires[].chance] | add) <= 1.000001 and all(.wires[]; .chance >= 0 and .chance <= 1 and .touches == 1)'
json '.picks | length == 1 and (.[0] | keys == ["advice","caveat","chance","contenders","lead_db","next_touch","outcome","sender","wire"])'
json '.picks[0].caveat == null'
json '.picks[0].outcome == "picked" and .picks[0].chance >= 0.99 and .picks[0].contenders[0] == .picks[0].wire and .picks[0].lead_db > 3 and .picks[0].next_touch == null'

# The strength is what was played: the practice bundle's own figure, which does not come from the measuring.
played=$(jq --arg w "$driven" '.wires[] | select(.wire == $w) | .played_dbfs' p/truth.json)
json "(.readings[] | select(.wire == \"$driven\") | .strength[0].dbfs) - ($played) | fabs < 1.5"

# What is not heard lies below its upper limit: one of 97.5 %, so that of 21 wires three above it are chance once in 60.
"$THRUM" practice --seed 6004 --write faint 2>/dev/null || fail "no faint wires"
expect 0 "$THRUM" rank --voice v.json --json faint/w[0-9]*.wav
jq -n --slurpfile said out --slurpfile truth faint/truth.json '[$said[0].readings[] | select(.strength[0].heard | not) |
    .wire as $w | ($truth[0].wires[] | select(.wire == $w) | .played_dbfs) - .strength[0].high_db]' >above
json 'length >= 12 and ([.[] | select(. > 0)] | length) <= 2' above

# The voice is learned from the recordings where none is given.
expect 0 "$THRUM" rank --json p/w[0-9]*.wav
is "the pick without a voice" "$(jq -r '.picks[0].wire' out)" "$driven"

# For a person.
expect 0 "$THRUM" rank --voice v.json p/w[0-9]*.wav
prints "PICKED: wire $driven"
awk 'length > 80 && !/^(Note|No tone|The tone|Not every|Two wires|Strength)/ {exit 1}' out || fail "the table is wider than 80 columns"

# Names: TAG=FILE, a second touch, standard input.
cp "p/$driven.wav" "$driven~2.wav"
expect 0 "$THRUM" rank --voice v.json --json p/w[0-9]*.wav "$driven~2.wav"
json "[.readings[] | select(.wire == \"$driven\") | .touch] == [1, 2]"
json "(.wires[] | select(.wire == \"$driven\") | .touches) == 2"
"$THRUM" rank --voice v.json --json p/w[0-9]*.wav >a.json
mapfile -t others < <(ls p/w[0-9]*.wav | grep -v "/$driven.wav")
"$THRUM" rank --voice v.json --json "${others[@]}" "$driven=-" <"p/$driven.wav" >b.json || fail "a touch from standard input"
is "the pick from standard input" "$(jq -r '.picks[0].wire' b.json)" "$driven"
is "its strength from standard input" "$(jq ".readings[] | select(.wire == \"$driven\") | .strength[0].dbfs" b.json)" \
    "$(jq ".readings[] | select(.wire == \"$driven\") | .strength[0].dbfs" a.json)"

# A walk among the touches is pointed out; touches alone are not.
"$THRUM" rank --voice v.json p/w*.wav >out 2>err
grep -q "'walk' was taken as one wire" out || fail "a walk among the touches is not pointed out"
"$THRUM" rank --voice v.json p/w[0-9]*.wav >out 2>err
grep -q 'was taken as one wire' err out && fail "touches taken for a walk"

# A walk: touches found, tagged in order.
expect 0 "$THRUM" rank --voice v.json --json --walk p/walk.wav
is "the pick of the walk" "$(jq -r '.picks[0].wire' out)" "$tag"
json '[.readings[].wire] == ["1","2","3","4","5","6","7","8","9","10","11","12"]'
cp out walk.json
jq -n --slurpfile found walk.json --slurpfile truth p/truth.json -e \
    '[$found[0].readings, $truth[0].walk] | transpose | all(.[]; ((.[0].start_s - .[1].start_s) | fabs) < 0.5 and ((.[0].start_s + .[0].duration_s - .[1].end_s) | fabs) < 0.5)' \
    >/dev/null || fail "the touches lie elsewhere than they were made"
expect 0 "$THRUM" rank --json --walk p/walk.wav
is "the pick of the walk without a voice" "$(jq -r '.picks[0].wire' out)" "$tag"
"$THRUM" rank --voice v.json --json --walk - <p/walk.wav >piped.json || fail "a piped walk"
is "the pick of the piped walk" "$(jq -c '[.picks, .wires]' piped.json)" "$(jq -c '[.picks, .wires]' walk.json)"
"$THRUM" rank --json --walk - <p/walk.wav >piped.json || fail "a piped walk without a voice"
is "the pick of the piped walk without a voice" "$(jq -r '.picks[0].wire' piped.json)" "$tag"

# Marks given: they say which wire it was.
jq -r '"tag,start_s,end_s", (.walk[] | "\(.wire),\(.start_s),\(.end_s)")' p/truth.json >marks.csv
expect 0 "$THRUM" rank --voice v.json --json --walk p/walk.wav --marks marks.csv
is "the pick by marks" "$(jq -r '.picks[0].wire' out)" "$driven"
cp out marked.json
(printf '\357\273\277'; sed 's/$/\r/' marks.csv | head -c -2) >dos.csv
expect 0 "$THRUM" rank --voice v.json --json --marks dos.csv p/walk.wav
is "the pick by marks from elsewhere" "$(jq -c '.picks' out)" "$(jq -c '.picks' marked.json)"

# What is not a pick says so.
"$THRUM" practice --seed 3 --wires 6 --no-sender --write quiet 2>/dev/null
expect 1 "$THRUM" rank --voice v.json --json quiet/w[0-9]*.wav
json '.picks[0].outcome == "no-tone" and .picks[0].wire == null and all(.readings[].strength[]; .heard | not)'
expect 1 "$THRUM" rank --json quiet/w[0-9]*.wav
json '.picks[0].outcome == "no-tone" and any(.warnings[]; .code == "no-voice")'
expect 1 "$THRUM" rank --json --voice v.json --walk quiet/walk.wav
json '.picks[0].outcome == "no-tone"'
"$THRUM" practice --seed 3 --wires 12 --ending shared --write shared 2>/dev/null
expect 1 "$THRUM" rank --voice v.json --json shared/w[0-9]*.wav
json '.picks[0].outcome == "everywhere" and .picks[0].wire == null'
# Without hum a wire that carries no tone sounds like air; then the tag may be wrong, and the pick's own line says so.
"$THRUM" practice --seed 2 --wires 8 --rate 8000 --hum -60 --ending loaded --write mute 2>/dev/null
expect 0 "$THRUM" rank --voice v.json --walk mute/walk.wav
grep -q '^PICKED: .*CHECK THE TAG' out || fail "a doubtful tag without a word: $(grep PICKED out)"
expect 0 "$THRUM" rank --voice v.json --walk p/walk.wav
grep '^PICKED' out | grep -q 'CHECK THE TAG' && fail "a clear walk in doubt"
finish
