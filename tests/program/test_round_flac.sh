#!/bin/bash
# FLAC copies of a round's recording; and Ctrl-C twice, which ends at once without losing what is written.
. "$(dirname "$0")/lib.sh"

"$THRUM" practice --seed 21 --wires 4 --ending loaded --write p 2>/dev/null || fail "no practice recordings"
expect 0 "$THRUM" learn p/lead.wav --voice v.json
expect 2 "$THRUM" round --from file:p/walk.wav --flac
says "--record"

expect 0 "$THRUM" round --from file:p/walk.wav --voice v.json --hands-free --record r --flac
says "FLAC copy, read back and compared: r/round-"
is "files" "$(ls r | sed 's/.*\.//' | sort | tr '\n' ' ')" "flac wav "
if command -v flac >/dev/null; then
    flac -st r/*.flac || fail "flac finds the copy wrong"
    flac -sd -o back.wav r/*.flac && [ "$(sox back.wav -t s24 - 2>/dev/null | cksum)" = "$(sox r/*.wav -t s24 - 2>/dev/null | cksum)" ] ||
        fail "the copy does not have the same samples"
fi
expect 0 "$THRUM" rank --json r/*.wav
jq -S 'del(.readings[].source)' out >wav.json
expect 0 "$THRUM" rank --json r/*.flac
jq -S 'del(.readings[].source)' out >flac.json
cmp -s wav.json flac.json || fail "the copy ranks otherwise: $(diff wav.json flac.json | head -4)"
json '.readings | length == 4' wav.json

# A disk that stops taking anything after a megabyte.
cat >stall.c <<'C'
#define _GNU_SOURCE
#include <fcntl.h>
#include <sys/syscall.h>
#include <unistd.h>
ssize_t pwrite64(int fd, const void *data, size_t size, off64_t at)
{
    while (at > 1000000) {
        close(creat("hanging", 0600));
        pause();
    }
    return syscall(SYS_pwrite64, fd, data, size, at);
}
C
cc -shared -fPIC -o stall.so stall.c 2>/dev/null || skip "no compiler for a disk that stalls; the copies are right"
export ASAN_OPTIONS=verify_asan_link_order=0:detect_leaks=0
env --default-signal=INT LD_PRELOAD="$PWD/stall.so" "$THRUM" round --from file:p/walk.wav --voice v.json --json --hands-free --record s >told 2>err &
pid=$!
for _ in $(seq 600); do # until it hangs in its writing
    [ -e hanging ] && break
    sleep 0.1
done
[ -e hanging ] || fail "it never wrote so far"
kill -INT $pid # asks; a disk like this never lets it end in good order
for _ in $(seq 100); do
    sleep 0.2
    kill -INT $pid 2>/dev/null || break # insists
done
kill -0 $pid 2>/dev/null && fail "it goes on though asked many times" && kill -9 $pid
wait $pid 2>/dev/null
is "exit" "$?" 130
unset ASAN_OPTIONS
"$THRUM" rank --json s/*.wav >kept.json 2>err
[ "$?" -le 1 ] || fail "what was recorded is not valid: $(cat err)"
json '.readings | length >= 1' kept.json
finish
