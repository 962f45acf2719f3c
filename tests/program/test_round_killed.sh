#!/bin/bash
# kill -9 while a round is recorded: what was told up to a second before is in the recording, sound and readings alike.
# THRUM_KILLS=200 kills that often; 4 times without it.
. "$(dirname "$0")/lib.sh"
kills=${THRUM_KILLS:-4}
RANDOM=${THRUM_KILLS_SEED:-20}

practice_walk --seed 31 --wires 6
"$THRUM" round --from file:p/walk.wav --voice v.json --json --hands-free >whole 2>err
lines=$(wc -l <whole)
[ "$lines" -gt 60 ] || fail "only $lines events in a whole round"

# Runs a round and kills it once it has told so many lines; what it told is in told.
kill_after() {
    mkfifo pipe
    "$THRUM" round --from file:p/walk.wav --voice v.json --json --hands-free --record r >pipe 2>err &
    local pid=$! n=0
    exec 3<pipe
    : >told
    while [ "$n" -lt "$1" ] && IFS= read -r line <&3; do
        echo "$line" >>told
        n=$((n + 1))
    done
    kill -9 "$pid" 2>/dev/null
    cat <&3 >>told
    exec 3<&-
    wait "$pid" 2>/dev/null
    status=$?
    rm pipe
    head -n "$(wc -l <told)" told >whole_lines # the last one may be cut
}

killed=0 wanted=0
for ((i = 0; i < kills; i++)); do
    rm -rf r
    kill_after $((20 + RANDOM % (lines - 40))) 2>/dev/null
    [ "$status" = 137 ] && killed=$((killed + 1))
    told_s=$(jq -s 'map(select(.event == "snapshot") | .time_s) | max // 0' whole_lines)
    [ "$(ls r/*.wav | wc -l)" = 1 ] || fail "kill $i: no recording"
    bytes=$(($(stat -c %s r/*.wav)))
    # 24 bits, one channel
    jq -ne "$bytes / (3 * $(jq -s '.[0].rate_hz' whole)) > $told_s - 1.0" >/dev/null ||
        fail "kill $i: $bytes bytes, though $told_s s were told"
    "$THRUM" rank --voice v.json --json r/*.wav >rank.json 2>rank.err
    [ "$?" -le 1 ] || fail "kill $i: the recording is not valid: $(cat rank.err)"
    # every reading that was told over a second before the end is there, and at its place
    want=$(jq -sc "reduce .[] as \$e ({now: 0, told: []};
        if \$e.event == \"snapshot\" then .now = \$e.time_s
        elif \$e.event == \"reading\" and .now < $told_s - 1.0
        then .told += [[\$e.wire, \$e.start_s, \$e.duration_s]] else . end) | .told" whole_lines)
    [ "$want" = "[]" ] || wanted=$((wanted + 1))
    json "([.readings[] | [.wire, .start_s, .duration_s]] as \$kept | $want - \$kept | length) == 0" rank.json
done
[ "$killed" -gt $((kills / 2)) ] || fail "only $killed of $kills rounds were killed before their end"
echo "$killed of $kills killed on the way"
[ "$wanted" -gt 0 ] || fail "no kill came late enough to lose a reading"
finish
