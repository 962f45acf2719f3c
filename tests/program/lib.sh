# Shared by the whole-program tests: a scratch folder, and checks that say what they saw.
# THRUM is the program, THRUM_SOURCE the source tree; both come from ctest.
set -u
: "${THRUM:?run this through ctest}" "${THRUM_SOURCE:?run this through ctest}"
export LC_ALL=C
scratch=$(mktemp -d "${TMPDIR:-/tmp}/thrum-test.XXXXXX") || exit 1
trap 'rm -rf "$scratch"' EXIT
cd "$scratch" || exit 1
failures=0

fail() {
    echo "FAILED: $*" >&2
    failures=$((failures + 1))
}

# expect CODE COMMAND...: runs it; its output is in $scratch/out, its messages in $scratch/err.
expect() {
    local want=$1 got
    shift
    "$@" >"$scratch/out" 2>"$scratch/err" </dev/null
    got=$?
    [ "$got" = "$want" ] || { fail "exit $got, not $want: $*"; head -qc 600 "$scratch/out" "$scratch/err" >&2; echo >&2; }
}

# says TEXT: the last command's messages hold it, in one line.
says() {
    grep -qF -- "$1" "$scratch/err" || { fail "no message with '$1':"; cat "$scratch/err" >&2; }
}

# one_line: the last command had exactly one message.
one_line() {
    [ "$(wc -l <"$scratch/err")" = 1 ] || { fail "not one line:"; cat "$scratch/err" >&2; }
}

# prints TEXT: the last command's output holds it.
prints() {
    grep -qF -- "$1" "$scratch/out" || { fail "no output with '$1':"; head -n 40 "$scratch/out" >&2; }
}

# json FILTER [FILE]: jq finds it true in the output of the last command.
json() {
    # Of nothing at all jq says yes, so nothing is a no.
    jq -es "if length == 0 then false else (.[] | ($1)) end" "${2:-$scratch/out}" >"$scratch/jq" 2>&1 ||
        { fail "not true: $1"; head -c 600 "${2:-$scratch/out}" >&2; }
}

# is WHAT GOT WANT
is() {
    [ "$2" = "$3" ] || fail "$1 is '$2', not '$3'"
}

# For bash: a command with a PortAudio input that delivers a WAV file, and a terminal program that is driven and photographed.
play=$THRUM_SOURCE/tests/tools/play-into-portaudio.sh
tui=$THRUM_SOURCE/tests/tools/tui.sh

# practice_walk OPTION...: practice recordings in p, among them a walk, and the sender's voice in v.json
practice_walk() {
    "$THRUM" practice --ending loaded --write p "$@" 2>/dev/null || fail "no practice recordings"
    "$THRUM" learn p/lead.wav --voice v.json >/dev/null || fail "no voice"
}

# loaded_bundle SEED WIRES DIR OPTION...: practice recordings of wires that end in a load, in DIR
loaded_bundle() {
    local seed=$1 wires=$2 dir=$3
    shift 3
    "$THRUM" practice --seed "$seed" --wires "$wires" --ending loaded --replace --write "$dir" "$@" 2>/dev/null || fail "practice $*"
}

# told_moved FILE: waits for a running round to write there that the sender has moved
told_moved() {
    local _
    for _ in $(seq 1200); do
        grep -q '"code":"moved"' "$1" && return
        sleep 0.05
    done
    fail "it is not said that the sender moved: $(cat err)"
}

# needs_server: what is played goes through a sound server from here on
needs_server() {
    local tool
    for tool in pulseaudio pactl paplay; do
        command -v $tool >/dev/null || skip "no $tool here: there is no sound server to test with"
    done
    export BACKEND=pulse
}

skip() {
    echo "SKIPPED: $*"
    exit 77
}

finish() {
    [ "$failures" = 0 ] || { echo "$failures failed" >&2; exit 1; }
    exit 0
}
