#!/bin/bash
# Keys where there is no screen: lines of standard input, each answered by a line; nothing is waited for by time.
. "$(dirname "$0")/lib.sh"
limit_s=240

"$THRUM" learn --from practice:7 --voice v.json >/dev/null || fail "no voice"
mkfifo keys
"$THRUM" round --from practice:7 --voice v.json --keys --take-key b --record r <keys >lines 2>err &
round=$!
exec 9>keys
# answers KEYS REGEX: types the line and waits for a line of output that begins after it
answers() {
    local from
    from=$(wc -l <lines)
    [ "$1" = nothing ] || echo "$1" >&9
    for _ in $(seq $((limit_s * 20))); do
        tail -n +$((from + 1)) lines | grep -qE "$2" && return
        sleep 0.05
    done
    fail "no answer to '$1' with '$2': $(tail -n 3 lines)"
}
answers nothing 'wire 1: .*NO PICK YET: no wire has been touched'
answers '' 'wire 1: .*HOLD ON [0-9]+ s more'
answers nothing 'wire 1: .*HOLD ON [0-9]+ s more: '
answers '' 'wire 2: .*1 of 24 touched'
answers 17 'wire 17: .*Touch wire 17'
answers b 'wire 17: .*HOLD ON'
answers b 'wire 18: .*2 of 24 touched'
answers '<' 'wire 17: '
answers gw5 'wire w5: '
answers u 'wire 16: .*1 of 24 touched'
# a touch from before the last one is dropped, and gone from the recording too
answers 3 'wire 3: '
answers b 'wire 3: .*HOLD ON'
answers b 'wire 4: .*2 of 24 touched'
answers b 'wire 4: .*HOLD ON'
answers b 'wire 5: .*3 of 24 touched'
answers 3 'wire 3: '
answers d 'wire 3: .*2 of 24 touched'
echo d >&9
answers n 'wire 4: '
grep -q 'this wire has not been touched' lines err || fail "nothing is said of a touch that is not there"
echo zz >&9
answers p 'wire 3: '
says "'zz' is no key"
echo f >&9
wait $round
is "exit" "$?" 1
exec 9>&-
grep -q '^The sender drove wire 8' lines || fail "the truth is not told after practice"
prints_in() { grep -qF "$1" lines || fail "no '$1' in the lines"; }
prints_in 'NO PICK YET: 22 of 24 wires have not been touched'
"$THRUM" rank --voice v.json --json r/*.wav >out 2>err
json '[.readings[].wire] == ["1", "4"]'
grep -q $'\033' lines && fail "escape sequences where there is no screen"

# The end of the lines ends what would not end by itself; standard input that is wanted twice is refused.
"$THRUM" round --from practice:7 --voice v.json --keys </dev/null >lines 2>err
is "exit without keys" "$?" 1
grep -q '^NO PICK YET: 24 of 24 wires' lines || fail "a round without a touch says: $(tail -n 8 lines)"
expect 2 "$THRUM" round --from - --keys
says "--keys needs standard input"

# Keys that have ended are not asked for again, however they ended, and the round goes on to the end of its sound: a program
# that asks without end reads some 100000 times a second (counted by the system: proc(5), syscr).
"$THRUM" practice --seed 7 --wires 4 --write p 2>/dev/null || fail "no practice recordings"
reads() { # KEYS: reads of a round with such keys, when three seconds of it have been told
    local round n
    case $1 in
    open) "$THRUM" round --from file:p/walk.wav --voice v.json --keys <keys >"reads-$1" 2>/dev/null & ;;
    ended) "$THRUM" round --from file:p/walk.wav --voice v.json --keys <empty >"reads-$1" 2>/dev/null & ;;
    null) "$THRUM" round --from file:p/walk.wav --voice v.json --keys </dev/null >"reads-$1" 2>/dev/null & ;;
    closed) "$THRUM" round --from file:p/walk.wav --voice v.json --keys <&- >"reads-$1" 2>/dev/null & ;;
    folder) "$THRUM" round --from file:p/walk.wav --voice v.json --keys <p >"reads-$1" 2>/dev/null & ;;
    unreadable) "$THRUM" round --from file:p/walk.wav --voice v.json --keys 0>written >"reads-$1" 2>/dev/null & ;;
    esac
    round=$!
    for _ in $(seq $((limit_s * 20))); do
        [ "$(wc -l <"reads-$1")" -ge 4 ] && break
        sleep 0.05
    done
    n=$(sed -n 's/^syscr: //p' /proc/$round/io)
    kill $round
    wait $round
    echo "$n"
}
if [ -r /proc/self/io ]; then
    : >empty
    exec 9<>keys
    most=$(($(reads open) + 300))
    exec 9>&-
    for how in ended null closed folder unreadable; do
        n=$(reads $how)
        [ "${n:-$most}" -lt "$most" ] || fail "keys $how: ${n:-unknown} reads; while keys may come, at most $most"
    done
fi
# Nothing that the program opens takes the place of a standard stream that was closed.
"$THRUM" round --from file:p/walk.wav --voice v.json --keys --record closed <&- >begun 2>&- &
round=$!
for _ in $(seq $((limit_s * 20))); do
    [ -s begun ] && break
    sleep 0.05
done
is "standard input" "$(readlink /proc/$round/fd/0)" /dev/null
readlink /proc/$round/fd/2 | grep -q 'wav$' && fail "what libraries complain of goes into $(readlink /proc/$round/fd/2)"
kill $round
wait $round

# The three rounds that teach are offered, each can be begun, and what really was is told after it.
expect 0 "$THRUM" practice
for lesson in easy neighbours harmonic; do
    prints "thrum practice $lesson"
    "$THRUM" practice "$lesson" --keys </dev/null >lesson 2>err
    is "exit of $lesson" "$?" 1
    grep -q '^The sender drove wire [1-8]' lesson || fail "$lesson: no truth: $(cat lesson err)"
    grep -q '^No wire was touched' lesson || fail "$lesson: no word on what was done"
done
expect 2 "$THRUM" practice esay
# played by itself, the easy one is picked right
truth=$(sed -n 's/^The sender drove wire \([0-9]*\).*/\1/p' <("$THRUM" practice easy --keys </dev/null 2>err))
expect 0 "$THRUM" round --from practice:easy --json
json "select(.event == \"pick\" and .final) | .outcome == \"picked\" and .wire == \"$truth\""
finish
