#!/bin/bash
# The right wire for every kind of sender, mains and sample rate; a wrong one never.
. "$(dirname "$0")/lib.sh"

round_of() { # SEED OPTION...
    local seed=$1
    shift
    rm -rf p
    "$THRUM" practice --seed "$seed" --wires 12 --ending loaded --write p "$@" 2>/dev/null || { fail "practice $*"; return; }
    "$THRUM" learn p/lead.wav --voice v.json >/dev/null 2>err || { fail "no voice learned with $*"; cat err >&2; return; }
    "$THRUM" rank --voice v.json --json p/w[0-9]*.wav >out 2>err
    got=$(jq -r '.picks[0] | if .outcome == "picked" then .wire else .outcome end' out)
    is "the pick of seed $seed $*" "$got" "$(jq -r .driven p/truth.json)"
}
round_of 1
round_of 5 --alternating
round_of 6 --square
round_of 10 --rate 96000
round_of 11 --drift 0.25 --touch 3
[ -z "${THRUM_LIGHT:-}" ] || finish # under the sanitizers the rest is more of the same
round_of 2 --tone 1000
round_of 3 --mains 60
round_of 4 --mains 60 --tone 1020
round_of 7 --rate 8000
round_of 8 --rate 16000
round_of 9 --rate 44100
round_of 12 --hum 0 --tone 2200
finish
