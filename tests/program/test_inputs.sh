#!/bin/bash
# thrum inputs says whose sound settings are used, where they may not be the user's own, and works without any.
. "$(dirname "$0")/lib.sh"

# What the sound system's own modules leave allocated is not ours.
export ASAN_OPTIONS="${ASAN_OPTIONS:+$ASAN_OPTIONS:}detect_leaks=0"

# Exit status 3 where the machine has no input; never anything else.
listed() {
    env "$@" "$THRUM" inputs >out 2>err
    local code=$?
    [ "$code" -eq 0 ] || [ "$code" -eq 3 ] || fail "$*: neither a list nor 'no input'"
}

listed -u HOME -u SUDO_USER
says "HOME is not set"
listed -u SUDO_USER HOME="$PWD/none"
says "the home folder $PWD/none cannot be read"
listed HOME="$PWD" SUDO_USER=ada
says "run by sudo: the sound settings in $PWD are used, which may not be those of ada"
listed -u SUDO_USER HOME="$PWD"
grep -qE "settings" err && fail "one's own settings are spoken of"
env -u HOME "$THRUM" inputs --json 2>err >out
[ ! -s out ] || jq -e '.inputs | type == "array"' out >/dev/null || fail "what is said is in the JSON"
finish
