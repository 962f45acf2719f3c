#!/bin/bash
# A round whose input is dead can always be ended: TERM, INT and HUP while the driver gives nothing more, and the recording is valid.
. "$(dirname "$0")/lib.sh"
echo 'int main(void) { return 0; }' >t.c
cc -o t t.c -lasound 2>/dev/null || skip "the library of ALSA is not here"
export LIMIT_S=60

practice_walk --seed 5011 --wires 2

# Runs the program and says its number, so that the signal goes to it and not to the script around it.
cat >run.sh <<'E2'
echo $$ >pid
exec "$@"
E2

for how in TERM INT HUP; do
    rm -rf r pid
    mkfifo events
    FAULT=hang@1.5 STRICT=1 bash "$play" p/walk.wav bash run.sh "$THRUM" round --voice v.json --hands-free --json \
        --record r >events 2>err &
    round=$!
    exec 3<events
    while IFS= read -r line <&3; do
        [[ $line != *'"state":"lost"'* ]] || break
    done
    kill -s $how "$(cat pid)"
    cat <&3 >rest
    exec 3<&-
    wait "$round"
    status=$?
    rm events
    [ "$status" != 124 ] || fail "$how: it did not end"
    "$THRUM" rank --voice v.json --json r/*.wav >out 2>rank.err
    [ "$?" -le 1 ] || fail "$how: the recording is not valid: $(cat rank.err)"
    frames=$(($(stat -c %s r/*.wav | sort -n | tail -n 1) / 3)) # 24 bits, one channel
    [ "$frames" -gt 60000 ] || fail "$how: only $frames frames of 1.5 s are kept"
done
finish
