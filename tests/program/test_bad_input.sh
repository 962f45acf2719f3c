#!/bin/bash
# Bad input: one clear line that says what to do, the right exit status, nothing lost.
. "$(dirname "$0")/lib.sh"

practice_walk --seed 5 --wires 4 --rate 8000

# Files that are no sound.
expect 4 "$THRUM" rank --voice v.json --json missing.wav p/w01.wav p/w02.wav p/w03.wav p/w04.wav
one_line
says "missing.wav"
json '(.readings | length) == 4 and any(.warnings[]; .code == "file" and (.text | test("missing.wav")))'
expect 4 "$THRUM" learn missing.wav
one_line
: >empty.wav
expect 4 "$THRUM" learn empty.wav
one_line
printf '\0\0\0\040ftypM4A \0\0\0\0M4A mp42isom\0\0\0\0%2000s' x >phone.m4a
expect 4 "$THRUM" learn phone.m4a
one_line
says "ffmpeg"
cp phone.m4a phone.wav
expect 4 "$THRUM" rank --voice v.json phone.wav
says "ffmpeg"
head -c 44 p/w01.wav >header.wav
expect 4 "$THRUM" rank --voice v.json header.wav
head -c 3000 /dev/urandom >noise.bin
expect 4 "$THRUM" rank --voice v.json noise.bin
expect 4 "$THRUM" rank --voice v.json .
expect 4 "$THRUM" rank --voice v.json --walk missing.wav
one_line
expect 4 "$THRUM" round --from file:missing.wav
one_line
if [ "$(id -u)" != 0 ]; then
    cp p/w01.wav locked.wav
    chmod 0 locked.wav
    expect 4 "$THRUM" learn locked.wav
    one_line
fi

# One bad file of several: the others are ranked all the same, and the worst is returned.
expect 4 "$THRUM" rank --voice v.json p/w0*.wav noise.bin
prints "w04"

# Voices of nonsense.
bad_voice() { # TEXT WORD-IN-MESSAGE
    printf '%s' "$1" >bad.json
    expect 4 "$THRUM" rank --voice bad.json p/w01.wav
    one_line
    says "bad.json"
    says "$2"
    [ ! -s out ] || fail "an answer in spite of a bad voice"
}
bad_voice '' 'line 1'
bad_voice 'hello' 'line 1'
bad_voice '[1, 2]' 'one object'
bad_voice '{}' 'tones_hz'
bad_voice '{"tones_hz": [], "pattern": []}' 'tones_hz'
bad_voice '{"tones_hz": ["high"], "pattern": []}' 'tones_hz'
bad_voice '{"tones_hz": [1000]}' 'pattern'
bad_voice '{"tones_hz": [1000], "pattern": [{"tone": 1, "s": 0.25}]}' 'step 1'
bad_voice '{"tones_hz": [1000], "pattern": [{"tone": 0, "s": "long"}]}' 'step 1'
bad_voice '{"tones_hz": [1000], "pattern": [{"tone": 0, "s": -1}, {"tone": null, "s": 1}]}' 'step'
bad_voice '{"tones_hz": [17000], "pattern": [{"tone": 0, "s": 1}, {"tone": null, "s": 1}]}' '3400 Hz'
bad_voice '{"tones_hz": [1e999], "pattern": [{"tone": 0, "s": 1}, {"tone": null, "s": 1}]}' 'line 1'
expect 4 "$THRUM" rank --voice nowhere.json p/w01.wav
one_line
expect 4 "$THRUM" round --voice bad.json --from practice:1
# What other tools add to a voice is no error.
jq '. + {"painted": "green", "serial": 7}' v.json >more.json
expect 1 "$THRUM" rank --voice more.json p/w01.wav
[ ! -s err ] || fail "a complaint about a strange key"

# The same tag twice by accident.
mkdir other && cp p/w01.wav other/
expect 2 "$THRUM" rank --voice v.json p/w01.wav other/w01.wav
says "w01~2"
expect 2 "$THRUM" rank --voice v.json w01=p/w02.wav p/w01.wav
expect 2 "$THRUM" rank --voice v.json p/w01.wav p/w01.wav
expect 2 "$THRUM" rank --voice v.json "aaaaaaaaaabbbbbbbbbbccccccccccdd=p/w01.wav"
says "1 to 31 bytes"

# Marks of nonsense.
bad_marks() { # TEXT WORD-IN-MESSAGE
    printf "$1" >bad.csv
    expect 4 "$THRUM" rank --voice v.json --walk p/walk.wav --marks bad.csv
    one_line
    says "$2"
}
bad_marks 'tag,start_s,end_s\nw01,1.0\n' 'line 2'
bad_marks 'w01,1,5,3,0\n' 'line 1'
bad_marks 'w01;1.0;3.0\n' 'line 1'
bad_marks 'w01,3.0,1.0\n' 'line 1'
bad_marks 'w01,one,two\n' 'decimal point'
bad_marks '' 'no marks'
bad_marks 'w01,1.0,2.0\nw02,5000,5003\n' 'w02'
expect 4 "$THRUM" rank --voice v.json --walk p/walk.wav --marks nowhere.csv

# No voice in it: what was heard instead.
"$THRUM" practice --seed 5 --wires 2 --no-sender --rate 8000 --write q 2>/dev/null
expect 1 "$THRUM" learn q/w01.wav --voice none.json
one_line
says "no sender's voice was found"
[ ! -e none.json ] || fail "a voice file without a voice"
expect 1 "$THRUM" learn q/w01.wav --json
json '.voice == null and (.heard | type) == "string"'
expect 2 "$THRUM" learn p/lead.wav --voice -
[ ! -e - ] || fail "a file named - was written"

# No sound input: an empty configuration of ALSA, no sound server.
printf 'pcm.!default { type hw card 77 }\n' >none.conf
no_input=(env -u SUDO_USER HOME="$scratch" ALSA_CONFIG_PATH="$scratch/none.conf" JACK_NO_START_SERVER=1 JACK_DEFAULT_SERVER=none-$$)
expect 3 "${no_input[@]}" "$THRUM" inputs
one_line
expect 3 "${no_input[@]}" "$THRUM" round --voice v.json --for 1
[ "$(grep -c '^thrum round: ' err)" -ge 1 ] || fail "no message about the missing input"
grep -qvE '^thrum round: ' err && fail "chatter of the libraries: $(head -n 3 err)"
expect 3 "${no_input[@]}" "$THRUM" learn --from device:probe
expect 0 "${no_input[@]}" "$THRUM" --version

# What cannot be written.
expect 5 "$THRUM" learn p/lead.wav --voice /nowhere/v.json
one_line
expect 5 "$THRUM" practice --seed 1 --write /nowhere/deep/down
one_line
expect 5 "$THRUM" practice --seed 5 --write p
says "--replace"
cp p/lead.wav before.wav
cmp -s p/lead.wav before.wav || fail "a file was replaced unasked"
expect 0 "$THRUM" practice --seed 6 --wires 4 --rate 8000 --write p --replace
cmp -s p/lead.wav before.wav && fail "a file was not replaced"
if [ -e /dev/full ]; then
    "$THRUM" rank --voice v.json --json p/w01.wav >/dev/full 2>err
    is "exit of a full output" "$?" 5
    says "could not be written"
    expect 5 "$THRUM" learn p/lead.wav --voice /dev/full
fi
expect 5 "$THRUM" round --from file:p/walk.wav --voice v.json --record v.json
# Where nothing could be read, nothing is said of the wires.
expect 4 "$THRUM" rank nosuch.wav
prints 'NO PICK: nothing was measured'
grep -qF 'NO TONE' out && fail "no tone, though nothing was heard"
expect 4 "$THRUM" rank --json nosuch.wav
json '.picks[0].outcome == "too-close" and .picks[0].wire == null and .readings == []'
finish
