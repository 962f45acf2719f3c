#!/bin/bash
# thrum check: trusted, not to be trusted, or unclear; for each fault what to do; and a pick that must not be trusted says so.
. "$(dirname "$0")/lib.sh"

verdict() { # WANT CODE SOURCE...
    local want=$1 code=$2
    shift 2
    expect "$code" "$THRUM" check --json "$@"
    json ".verdict == \"$want\""
}

# Honest inputs, at the sender's lead: live, as a file, and piped in.
verdict trusted 0 --from practice:7
json '.input.name == "practice:7" and .heard_s == 10 and .faults == [] and .missing == null'
json '(.mains_hz - 50 | fabs) < 0.1 and (.voice.tones_hz[0] - 1037 | fabs) < 0.1 and (.breath_db | fabs) < 0.3'
json '.tone_dbfs > -24 and .tone_dbfs < -20 and .hum_dbfs > -24 and .hum_dbfs < -20 and .noise_dbfs < -50'
"$THRUM" practice --seed 9 --wires 8 --ending loaded --hum -10 --rate 8000 --write p 2>/dev/null || fail "no practice recordings"
verdict trusted 0 p/lead.wav
json '.input.rate_hz == 8000 and .heard_s == 8 and .told >= 1'
"$THRUM" check --json - <p/lead.wav >piped 2>err || fail "a pipe is not trusted"
is "the piped sound" "$(jq -c 'del(.input)' piped)" "$(jq -c 'del(.input)' out)"
verdict trusted 0 p/walk.wav
json '.stretches == 8'
verdict trusted 0 p/lead.wav --seconds 6
json '.heard_s == 6'
expect 0 "$THRUM" check p/lead.wav
prints "TRUSTED: strengths from this input can be compared."
awk 'length > 80 {bad = 1} END {exit bad}' out || fail "lines are wider than 80 columns"

# Without beeps nothing is known of a level control, and hum far above the beeps hides it.
"$THRUM" practice --seed 9 --wires 2 --no-sender --rate 8000 --write none 2>/dev/null || fail "no practice recordings"
verdict unclear 1 none/walk.wav
json '.voice == null and .faults == [] and (.missing | contains("own lead"))'
"$THRUM" practice --seed 9 --wires 2 --ending loaded --hum 25 --touch 8 --rate 8000 --write hum 2>/dev/null || fail "no practice recordings"
verdict unclear 1 "hum/$(jq -r .driven hum/truth.json).wav"
json '.voice != null and (.missing | contains("hum is louder"))'
# But lifts show it: 12 wires under hum 20 dB above the beeps.
for fault in none gain-riding; do
    "$THRUM" practice --seed 4 --wires 12 --touch 2 --rate 8000 --fault $fault --write lifts --replace 2>/dev/null || fail "no practice recordings"
    if [ $fault = none ]; then verdict trusted 0 lifts/walk.wav; else verdict not-trusted 1 lifts/walk.wav; fi
    json '.falls >= 6 and .hum_dbfs > .tone_dbfs and (.breath_db | fabs) < 0.3'
    json "(.rise_db_per_s > 1) == (\"$fault\" != \"none\") and ([.faults[].fault] | index(\"gain-riding\") != null) == (\"$fault\" != \"none\")"
done

"$THRUM" practice --seed 9 --wires 8 --ending loaded --hum -10 --rate 8000 --fault gain-riding --write bad 2>/dev/null || fail "no practice recordings"
# Every fault is found and named, says what to do, and is not there without it.
for fault in gain-riding suppressed clipped silent lost; do
    verdict not-trusted 1 --from "practice:11:$fault" --seconds 5
    json ".input.name == \"practice:11:$fault\" and [.faults[].fault] == [\"$fault\"] and all(.faults[]; .advice | length > 20)"
done
expect 1 "$THRUM" check bad/lead.wav
prints "NOT TO BE TRUSTED"
prints "gain-riding (in 2 of 2 stretches)"
prints "Try: alsamixer"
# The switches by name, whatever line they stand in, and the whole sentence.
names_switches() {
    for name in "'Auto Gain Control'" "'Noise Suppression' off" "'Mic', which sends the probe to the loudspeaker, off" "unprocessed microphone."; do
        tr -s ' \n' ' ' <out | grep -qF "$name" || fail "the check does not name $name: $(cat out)"
    done
}
names_switches
awk 'length > 80 {bad = 1} END {exit bad}' out || fail "lines are wider than 80 columns"
verdict trusted 0 --from practice:11:dc --seconds 5 # strengths are measured without it
json '[.faults[].fault] == ["dc"]'
"$THRUM" practice --seed 9 --wires 4 --hum -20 --fault gated --touch 6 --rate 8000 --write gate 2>/dev/null || fail "no practice recordings"
verdict not-trusted 1 "gate/$(jq -r .driven gate/truth.json).wav"
json '[.faults[].fault] == ["gated"]'

# Made at 48000 samples a second, read at 44100: the mains tells, by how much, and strengths hold.
"$THRUM" practice --seed 9 --wires 2 --touch 1 --write fast 2>/dev/null || fail "no practice recordings"
{ head -c 24 fast/lead.wav; printf '\x44\xac\x00\x00\x88\x58\x01\x00'; tail -c +33 fast/lead.wav; } >slow.wav
verdict trusted 0 slow.wav --seconds 8
json '.made_at_hz == 48000 and [.faults[].fault] == ["wrong-rate"] and (.mains_hz - 45.94 | fabs) < 0.1'
expect 0 "$THRUM" check slow.wav --seconds 8
prints "-8.1 %"

# Cut off at 8 kHz, as a Bluetooth headset does.
if command -v sox >/dev/null; then
    sox -n -r 48000 -b 24 noise.wav synth 3 whitenoise vol 0.05
    sox noise.wav -r 16000 narrow16.wav
    sox narrow16.wav -r 48000 narrow.wav
    verdict unclear 1 narrow.wav
    json '.band_hz == 8000 and (.noise_dbfs + 37 | fabs) < 3'
    verdict unclear 1 noise.wav
    json '.band_hz == null'
fi

# What cannot be checked.
expect 4 "$THRUM" check nothing.wav
says "No such file"
head -c 44 p/lead.wav >empty.wav
expect 4 "$THRUM" check empty.wav
expect 2 "$THRUM" check p/lead.wav p/lead.wav
says "one input is checked at a time"
expect 2 "$THRUM" check --input x p/lead.wav
expect 2 "$THRUM" check --seconds 0 p/lead.wav
expect 2 "$THRUM" check --from practice:7:loud
says "gain-riding, gated"
expect 2 "$THRUM" check --from practice:7x
expect 2 "$THRUM" practice --seed 1 --write there --fault loud
expect 5 bash -c "\"$THRUM\" check p/lead.wav >/dev/full"

# A pick that rests on a level control must not be read without that.
expect 0 "$THRUM" rank --voice <("$THRUM" learn p/lead.wav --json) bad/w[0-9]*.wav
prints "NOT TO BE TRUSTED: the input changes strengths by itself"
grep -q '^PICKED: wire .*NOT TO BE TRUSTED' out || fail "the pick's line does not say that it cannot be trusted"
expect 0 "$THRUM" rank --json --voice <("$THRUM" learn p/lead.wav --json) bad/w[0-9]*.wav
json '.picks[0].caveat | startswith("NOT TO BE TRUSTED")'
json 'any(.warnings[]; .code == "gain-riding")'
"$THRUM" practice --seed 31 --wires 6 --ending loaded --rate 16000 --fault gain-riding --write ride 2>/dev/null || fail "no practice recordings"
"$THRUM" practice --seed 31 --wires 6 --ending loaded --rate 16000 --write calm 2>/dev/null || fail "no practice recordings"
"$THRUM" learn calm/lead.wav --voice v.json >/dev/null || fail "no voice"
expect 0 "$THRUM" round --from file:ride/walk.wav --voice v.json --hands-free
grep -q '^PICKED: wire .*NOT TO BE TRUSTED' out || fail "the round's last line does not say that the pick cannot be trusted"
grep '| PICK: ' out | tail -n 1 | grep -q '| PICK: [^|]*NOT TO BE TRUSTED' || fail "the round's lines do not say so while it runs"
# Nor is there ever a line that names a wire beside an input that is called gain-riding, and nothing more.
grep '| PICK: ' out | grep gain-riding | grep -v 'NOT TO BE TRUSTED' && fail "a line says gain-riding, its pick does not"
expect 0 "$THRUM" round --from file:ride/walk.wav --voice v.json --hands-free --json
json 'map(select(.event == "pick" and .final)) | length == 1 and (.[0].caveat | startswith("NOT TO BE TRUSTED"))' <(jq -s . out)
expect 0 "$THRUM" rank --json --voice <("$THRUM" learn p/lead.wav --json) p/w[0-9]*.wav
json '.picks[0].caveat == null and ([.readings[].faults[]] | index("gain-riding") == null)'
finish
