#!/bin/bash
# Voices that are written are learned back, and ranked.
. "$(dirname "$0")/lib.sh"

# What the proposal says is what the learner finds: 0.1 Hz + 50 ppm, 3 ms.
expect 0 "$THRUM" tone --set 8 --mains 60 --write set --for 8 --json
cp out set.json
json '.mains_hz == 60 and (.senders | length) == 8 and (.safety | length) >= 4'
json '.distances_hz.mains >= 8 and .distances_hz.apart >= 100 and .distances_hz.harmonic >= 20 and .distances_hz.mixed >= 20'
for name in a b c d e f g h; do
    expect 0 "$THRUM" learn "set/$name.wav" --json
    jq -e --slurpfile truth "set/$name.json" --arg name "$name" '. as $got | $truth[0] as $t |
        $t.name == $name and (.tones_hz | length) == 1 and (.pattern | length) == 2 and
        (($got.tones_hz[0] - $t.tones_hz[0]) | fabs) < 0.1 + 5e-5 * $t.tones_hz[0] and
        ([range(2) | (($got.pattern[.].s - $t.pattern[.].s) | fabs) < 0.003] | all) and
        ((.level_dbfs - $t.level_dbfs) | fabs) < 0.1' out >/dev/null || { fail "$name is learned as:"; cat out >&2; }
done
jq -e --slurpfile file set/c.json '.senders[2] | del(.file) == $file[0]' set.json >/dev/null || fail "c.json is not what was told"

# A voice file goes in, its sound comes out, and the same voice is learned from it.
echo '{"name":"frost","tones_hz":[700,900],"pattern":[{"tone":0,"s":0.2},{"tone":1,"s":0.15},{"tone":null,"s":0.3}]}' >two.json
expect 0 "$THRUM" tone --voice two.json --out two.wav --for 10 --rate 16000 --level -12
prints "700.0 Hz 0.200 s, 900.0 Hz 0.150 s, 0.300 s off"
prints "isolating clip"
prints "live conductor"
prints "extra-low-voltage"
expect 0 "$THRUM" learn two.wav --json
json '(.tones_hz[0] - 700 | fabs) < 0.15 and (.tones_hz[1] - 900 | fabs) < 0.15 and ([.pattern[].tone] == [0, 1, null])'
json '[.pattern[].s] as $s | ($s[0] - 0.2 | fabs) < 0.003 and ($s[1] - 0.15 | fabs) < 0.003 and ($s[2] - 0.3 | fabs) < 0.003'
json '(.level_dbfs + 12 | fabs) < 0.2'

# The everyday voice, and that rank can read a set.
expect 0 "$THRUM" tone --out "Hollin Fern.wav" --tone 1000 --on 0.5 --off 0.25 --for 2
is "size" "$(stat -c %s "Hollin Fern.wav")" "$((44 + 2 * 48000 * 9 / 4))"
expect 0 "$THRUM" tone --set 2 --mains 50 --write pair --for 6
prints "isolating clip"
prints "--voice pair/b.json"
expect 0 "$THRUM" rank --voice pair/a.json --voice pair/b.json pair/a.wav pair/b.wav --json
json '[.readings[] | [.strength[] | .heard]] == [[true, false], [false, true]]'

# Nothing is written where it is not asked for, and nothing that is there is lost.
expect 0 "$THRUM" tone --set 3 --mains 50
prints "Nothing was written"
before=$(cksum pair/*)
expect 5 "$THRUM" tone --set 2 --mains 60 --write pair
says "pair/a.wav is there already"
is "pair" "$(cksum pair/*)" "$before"
rm pair/a.wav
expect 5 "$THRUM" tone --set 2 --mains 60 --write pair
[ ! -e pair/a.wav ] || fail "half a set was written"
expect 0 "$THRUM" tone --set 2 --mains 60 --write pair --replace --for 2
expect 5 "$THRUM" tone --out two.wav
expect 5 "$THRUM" tone --out nowhere/two.wav
says "nowhere/two.wav cannot be written"
expect 5 "$THRUM" tone --out /dev/full --replace
says "No space left"
[ -c /dev/full ] || fail "/dev/full is gone"

expect 2 "$THRUM" tone
says "--out FILE.wav"
expect 2 "$THRUM" tone --set 4
says "--mains 50 or --mains 60"
expect 2 "$THRUM" tone --set 9 --mains 50
expect 2 "$THRUM" tone --set 4 --mains 50 --tone 1000
expect 2 "$THRUM" tone --set 4 --mains 50 --out x.wav
expect 2 "$THRUM" tone --mains 50 --out x.wav
expect 2 "$THRUM" tone --write dir
expect 2 "$THRUM" tone --tone 200 --out x.wav
expect 2 "$THRUM" tone --out -
expect 2 "$THRUM" tone x.wav
expect 4 "$THRUM" tone --voice two.wav --out x.wav
[ ! -e x.wav ] || fail "x.wav was made although nothing was right"
finish
