#!/bin/bash
# Help fits a small terminal; wrong usage is told from right.
. "$(dirname "$0")/lib.sh"

fits() { # NAME: the last output fits 24 lines of 80 columns
    [ "$(wc -l <out)" -le 24 ] || fail "help of $1 has $(wc -l <out) lines"
    awk -v name="$1" 'length > 80 {print name ": " $0; bad = 1} END {exit bad}' out >&2 || fail "help of $1 is too wide"
    [ -s out ] || fail "no help for $1"
}
expect 0 "$THRUM" --help
fits thrum
for command in inputs check learn rank review round practice tone; do
    prints "  $command "
done
for command in inputs check learn rank review round practice tone; do
    expect 0 "$THRUM" "$command" --help
    fits "$command"
    prints "Usage: thrum $command"
    prints "Exit status"
    expect 2 "$THRUM" "$command" --nonsense
    says "there is no option '--nonsense'"
    says "Try 'thrum $command --help'."
done
expect 0 "$THRUM" --version
is "version" "$(head -n 1 out)" "thrum $(sed -n 's/^project(thrum VERSION \([0-9.]*\).*/\1/p' "$THRUM_SOURCE/CMakeLists.txt")"
# The formats it names are read, as another program writes them.
if command -v sox >/dev/null; then
    "$THRUM" practice --seed 4 --wires 2 --write p 2>/dev/null
    sed -n 's/^sound files: //p' out | sed 's/, /\n/g' >formats
    for pair in WAV:wav AIFF:aiff AU:au FLAC:flac "Ogg Vorbis:ogg"; do
        grep -qx "${pair%:*}" formats || continue
        sox p/lead.wav "lead.${pair#*:}" 2>/dev/null || continue
        "$THRUM" learn "lead.${pair#*:}" --json >learned 2>err || fail "${pair%:*} is not read: $(cat err)"
    done
    grep -qx FLAC formats || [ ! -s lead.flac ] || fail "FLAC is not named"
fi
grep -q '^libraries: libsndfile-.*PortAudio' out || fail "no word of the libraries: $(cat out)"
expect 0 "$THRUM" round --help
prints "SAFETY: controller off and unplugged"
prints "rated meter"

expect 2 "$THRUM"
expect 2 "$THRUM" rnak
says "did you mean 'rank'"
expect 2 "$THRUM" rank --jsno x.wav
says "did you mean '--json'"
expect 2 "$THRUM" rank
expect 2 "$THRUM" rank --voice
says "--voice wants a value"
expect 2 "$THRUM" rank --json=yes x.wav
expect 2 "$THRUM" practice --seed 5O --write there
says "not '5O'"
expect 2 "$THRUM" practice --seed 1 --write there --mains 50,0
says "decimal point"
expect 2 "$THRUM" practice --seed 1 --write there --wires 2.5
expect 2 "$THRUM" practice --seed 1 --write there --wires 1
expect 2 "$THRUM" practice --seed 1 --write there --ending loose
expect 2 "$THRUM" practice --seed 1
says "round --from practice:1"
expect 2 "$THRUM" practice --write there
[ ! -e there ] || fail "a folder was made although the usage was wrong"
expect 2 "$THRUM" round --from nowhere:1
expect 2 "$THRUM" round --from practice:seven
expect 2 "$THRUM" round --from practice:1 --for 0
finish
