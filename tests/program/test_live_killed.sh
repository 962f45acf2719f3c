#!/bin/bash
# kill -9 at random moments while a round records from a real PortAudio input through a sound server: what was told up to a second
# before is in the recording, sound and readings alike, and it is valid. THRUM_KILLS=200 kills that often; twice without it.
. "$(dirname "$0")/lib.sh"
needs_server
export LIMIT_S=60
kills=${THRUM_KILLS:-2}
RANDOM=${THRUM_KILLS_SEED:-20}

practice_walk --seed 8 --wires 3 --touch 2
walk_s=$(jq '.walk[-1].end_s' p/truth.json)

# Runs a round and kills it so many milliseconds after its input began to tell; what it told until then is in told.
kill_after() {
    mkfifo pipe
    rm -f pid
    bash "$play" p/walk.wav sh -c 'echo $$ >pid; exec "$@"' sh "$THRUM" round --voice v.json --json --hands-free --record r >pipe 2>err &
    local play_pid=$!
    exec 3<pipe
    : >told
    IFS= read -r line <&3 && echo "$line" >>told
    (
        sleep "$(jq -n "$1 / 1000")"
        kill -9 "$(cat pid)" 2>/dev/null
    ) &
    cat <&3 >>told
    exec 3<&-
    wait "$play_pid" 2>/dev/null
    status=$?
    wait
    rm pipe
    head -n "$(wc -l <told)" told >whole_lines # the last one may be cut
}

killed=0 wanted=0
for ((i = 0; i < kills; i++)); do
    rm -rf r
    # 15 bits of chance; over the walk and the second after it, at the last kill late enough for readings
    after_ms=$(jq -n "500 + ($walk_s + 1) * 1000 * $RANDOM / 32768 | floor")
    [ "$i" = $((kills - 1)) ] && [ "$wanted" = 0 ] && after_ms=$(jq -n "$walk_s * 1000 | floor")
    kill_after "$after_ms" 2>/dev/null
    [ "$status" != 125 ] || skip "the sound server does not start: $(cat err)"
    [ "$status" = 137 ] && killed=$((killed + 1))
    told_s=$(jq -s 'map(select(.event == "snapshot") | .time_s) | max // 0' whole_lines)
    [ "$(ls r/*.wav 2>/dev/null | wc -l)" = 1 ] || { fail "kill $i after $after_ms ms: no recording"; continue; }
    rate=$(jq -s '.[0].rate_hz' whole_lines)
    bytes=$(stat -c %s r/*.wav)
    jq -ne "$bytes / 3 / $rate > $told_s - 1.0" >/dev/null || # 24 bits, one channel
        fail "kill $i after $after_ms ms: $bytes bytes, though $told_s s were told"
    "$THRUM" rank --voice v.json --json r/*.wav >rank.json 2>rank.err
    [ "$?" -le 1 ] || fail "kill $i after $after_ms ms: the recording is not valid: $(cat rank.err)"
    # Every reading told over a second before the end is there, all of them at the same distance from where they were told: the
    # recording begins before the round.
    want=$(jq -sc "reduce .[] as \$e ({now: 0, told: []};
        if \$e.event == \"snapshot\" then .now = \$e.time_s
        elif \$e.event == \"reading\" and .now < $told_s - 1.0
        then .told += [[\$e.wire, \$e.start_s, \$e.duration_s]] else . end) | .told" whole_lines)
    [ "$want" = "[]" ] || wanted=$((wanted + 1))
    json "([.readings[] | [.wire, .start_s, .duration_s]]) as \$kept | $want | to_entries |
        map(\$kept[.key] as \$k | \$k[0] == .value[0] and ((\$k[2] - .value[2]) | fabs < 1e-5) and
            ((\$k[1] - .value[1] - (\$kept[0][1] - $want[0][1])) | fabs < 1e-5)) | all" rank.json ||
        fail "kill $i after $after_ms ms"
done
[ "$killed" = "$kills" ] || fail "only $killed of $kills rounds were killed"
echo "$killed of $kills killed, $wanted late enough to lose a reading"
[ "$wanted" -gt 0 ] || fail "no kill came late enough to lose a reading"
finish
