#!/bin/bash
# The live screen as a person has it: the real program in a real terminal (tmux), keys in, screen out. Whatever ends or
# stops the program, the terminal is as it was before, and what was recorded is there. Everything is waited for by
# looking, never by time; the limit only ends a hung test.
. "$(dirname "$0")/lib.sh"
# Under the address sanitizer, too, a crash is the program's own.
export ASAN_OPTIONS="${ASAN_OPTIONS:+$ASAN_OPTIONS:}handle_segv=0"
command -v tmux >/dev/null || skip "tmux is not here"
limit_s=240

"$THRUM" learn --from practice:7 --voice v.json >/dev/null || fail "no voice"
# run.sh NAME OPTIONS...: the program as a job of a terminal; how it ended and the terminal's modes before and after are
# kept. The terminal sends INT and QUIT to the whole job: this part of it lives on.
cat >run.sh <<'RUN'
trap : INT QUIT
name=$1
shift
stty -g >"$name.before"
sh -c 'echo $$ >"$0.pid"; exec "$@"' "$name" "$THRUM" round --from practice:7 --voice v.json --record "$name" "$@"
echo $? >"$name.ended"
stty -g >"$name.after"
RUN
export THRUM scratch

# terminal NAME COLS ROWS COMMAND...
terminal() {
    d=$scratch/tui-$1
    LC_ALL=C.UTF-8 bash "$tui" start "$d" "$2" "$3" env -C "$scratch" "${@:4}" || fail "no terminal"
}
# round NAME COLS ROWS OPTIONS...: on a terminal that stays when it has ended
round() {
    name=$1
    terminal "$1" "$2" "$3" sh -c 'trap : INT QUIT; sh run.sh "$@"; exec cat' sh "$1" "${@:4}"
}
keys() {
    bash "$tui" keys "$d" "$@"
}
# paste TEXT: as from another window, told apart from keys only where the program has asked for that
paste() {
    tmux -S "$d/tmux" set-buffer -b pasted "$1"
    tmux -S "$d/tmux" paste-buffer -p -b pasted -t tui
}
# sees REGEX: until the screen shows it
sees() {
    bash "$tui" wait "$d" "$1" "$limit_s" || { fail "$name: the screen never showed '$1':"; bash "$tui" text "$d" >&2; }
}
wait_file() {
    for _ in $(seq $((limit_s * 20))); do
        [ -s "$1" ] && return
        sleep 0.05
    done
    fail "$1 was never written"
}
# grows FILE BYTES: until it has grown by so much
grows() {
    local from
    from=$(wc -c <"$1")
    for _ in $(seq $((limit_s * 20))); do
        [ "$(wc -c <"$1")" -ge $((from + $2)) ] && return
        sleep 0.05
    done
    fail "$1 does not grow"
}
# until_is WHAT WANT COMMAND...: until it prints that
until_is() {
    local got
    for _ in $(seq $((limit_s * 20))); do
        got=$("${@:3}")
        [ "$got" = "$2" ] && return
        sleep 0.05
    done
    fail "$1 is '$got', not '$2'"
}
# state: of the program, as one letter
state() {
    ps -o stat= -p "$(cat "$name.pid")" | cut -c 1
}
# given_back: the program has ended; modes, cursor and the shell's picture are those of before
given_back() {
    wait_file "$name.after"
    is "$name: the terminal's modes" "$(cat "$name.after")" "$(cat "$name.before")"
    until_is "$name: alternate picture and cursor" "0 1" \
        tmux -S "$d/tmux" display-message -p -t tui '#{alternate_on} #{cursor_flag}'
    bash "$tui" stop "$d"
}
recording_holds() {
    "$THRUM" rank --voice v.json --json "$name"/*.wav >"$name.json" 2>"$name.err"
    [ "$?" -le 1 ] || fail "$name: the recording is not whole: $(cat "$name.err")"
}

# --- Keys in, screen out, at three sizes -------------------------------------------------------------------------
touches() {
    round "at-$1x$2" "$1" "$2"
    sees 'NO PICK YET'
    sees 'PRACTICE'
    keys Space
    sees 'HOLD (ON )?[0-9]+ s'
    sees 'ENOUGH'
    keys Space
    sees 'NO PICK YET.* 1(/| of )24'
    sees '^ *2 |Wire 2'
    keys 1 4 Enter
    sees '^ *14 |Wire 14'
    keys Space
    sees 'HOLD'
    keys Space
    sees 'NO PICK YET.* 2(/| of )24'
    paste 'q f q'
    sees 'PASTE IGNORED'
    keys h
    sees 'begin a touch'
    keys h z z u
    sees 'NO PICK YET.* 1(/| of )24'
    sees '^ *14 |Wire 14'
    keys q
    given_back
    is "$name: status" "$(cat "$name.ended")" 1
    recording_holds
    json '[.readings[].wire] == ["1"]' "$name.json"
}

# --- Every way to end --------------------------------------------------------------------------------------------
ends() {
    round "ends-by-$1" 80 24
    sees 'recording 0:0[1-9]'
    case $1 in
    q | Q | C-c) keys "$1" ;;
    *) kill -s "$1" "$(cat "$name.pid")" ;;
    esac
    wait_file "$name.ended"
    case $1 in
    SEGV | ABRT | QUIT) [ "$(cat "$name.ended")" -gt 128 ] || fail "$1 was swallowed: $(cat "$name.ended")" ;;
    *) is "$name: status" "$(cat "$name.ended")" 1 ;;
    esac
    given_back
    recording_holds
}

# --- Stopped, and brought back -----------------------------------------------------------------------------------
stops() {
    name=stops
    terminal stops 80 24 bash --norc --noprofile -i
    bash "$tui" type "$d" 'PS1="> "; sh run.sh stops'
    keys Enter
    sees 'recording 0:0[1-9]'
    keys C-z
    until_is "a stopped program" T state
    until_is "the picture of a stopped program" "0 1" \
        tmux -S "$d/tmux" display-message -p -t tui '#{alternate_on} #{cursor_flag}'
    bash "$tui" type "$d" 'jobs >stops.jobs; stty -a >stops.modes'
    keys Enter
    wait_file stops.modes
    grep -q Stopped stops.jobs || fail "the shell does not know of a stopped job: $(cat stops.jobs)"
    grep -q ' icanon' stops.modes && grep -q ' echo ' stops.modes || fail "no modes of a shell: $(cat stops.modes)"
    bash "$tui" type "$d" 'fg'
    keys Enter
    sees 'recording'
    keys n
    sees 'Wire 2'
    keys q
    wait_file stops.ended
    given_back
    recording_holds
}

# --- A storm of sizes, and a terminal that takes no more -----------------------------------------------------------
storm() {
    round storm 80 24
    sees 'recording 0:0[1-9]'
    for i in $(seq 40); do
        bash "$tui" size "$d" $((20 + i * 37 % 180)) $((5 + i * 13 % 50))
    done
    bash "$tui" size "$d" 1 1
    bash "$tui" size "$d" 20 5
    sees 'NO PICK YET'
    bash "$tui" size "$d" 100 30
    sees 'Wire 1'
    keys C-s
    grows "$(echo storm/*.wav)" 180000 # two more seconds although nothing can be drawn
    keys C-q q
    given_back
    recording_holds
}

# --- Libraries that complain without end -----------------------------------------------------------------------------
# What they write to standard error, 20 lines a second and then 3 MB at once, comes into the list behind the key l and
# nowhere else; keys and pictures go on, and the file behind the list stays small.
noisy() {
    round "noisy-$1x$2" "$1" "$2"
    sees 'NO PICK YET'
    wait_file "$name.pid"
    local log=/proc/$(cat "$name.pid")/fd/2 i
    (
        trap - EXIT
        for i in $(seq 2000); do
            echo "SCROLLS ACROSS no. $i" >>"$log" || break
            sleep 0.05
        done 2>/dev/null
    ) &
    local writer=$!
    keys l
    sees 'SCROLLS ACROSS no\. [0-9]+'
    sees '█'
    sees 'l goes back'
    keys l
    until_is "$name: lines that scroll across" 0 scrolled
    keys Space
    sees 'ENOUGH'
    keys Space
    sees 'NO PICK YET.* 1(/| of )24'
    seq 250000 | sed 's/^/SCROLLS ACROSS /' >>"$log"
    until_is "$name: a small file behind the list" small log_size "$log"
    keys l
    sees 'SCROLLS ACROSS'
    keys l n
    sees '^ *3 |Wire 3'
    is "$name: lines that scroll across" "$(scrolled)" 0
    keys q
    given_back
    kill "$writer" 2>/dev/null
    wait "$writer" 2>/dev/null
    recording_holds
}
scrolled() {
    bash "$tui" text "$d" | grep -c SCROLLS
}
log_size() {
    [ "$(stat -L -c %s "$1")" -le 300000 ] && echo small || stat -L -c %s "$1"
}

# --- Terminals that cannot place their cursor: the same in lines ----------------------------------------------------
dumb() {
    name=dumb-$1
    terminal "$name" 80 24 sh -c 'TERM=$2 sh run.sh "$1" --for 1 >"$1.lines" 2>&1; exec cat' sh "$name" "$1"
    given_back
    grep -q 'PRACTICE' "$name.lines" || fail "$name: no lines: $(head -c 400 "$name.lines")"
    grep -q $'\x1b' "$name.lines" && fail "$name: control sequences"
}

# --- Lines on a terminal that could do more, for who listens to them: keys are lines, too -------------------------------
plain() {
    round plain 200 30 --plain
    sees 'wire 1: '
    keys Enter
    sees 'HOLD ON [0-9]+ s'
    is "the picture" "$(tmux -S "$d/tmux" display-message -p -t tui '#{alternate_on} #{cursor_flag}')" "0 1"
    keys 1 7 Enter
    sees 'wire 17: '
    keys q Enter
    given_back
    is "$name: status" "$(cat "$name.ended")" 1
    recording_holds
}

# --- A remote line: no more than it is sure to carry, or keys would be answered behind seconds of old pictures ----------
slow() {
    name=slow
    command -v script >/dev/null || return
    SSH_TTY=1 TERM=xterm-256color script -qec "stty cols 200 rows 60; exec '$THRUM' round --from practice:7 --voice v.json --for 5" \
        slow.bytes </dev/null >/dev/null
    [ "$(wc -c <slow.bytes)" -lt 18000 ] || # 6 s of 2000 bytes a second, the first picture and the findings; 30000 and more without
        fail "slow: $(wc -c <slow.bytes) bytes for 5 s"
    grep -q PRACTICE slow.bytes || fail "slow: no picture"
}

# beside SCENE...: each SCENE is "FUNCTION ARGUMENTS", all of them at once.
beside() {
    local pids=() scene
    for scene in "$@"; do
        (
            trap - EXIT
            failures=0
            $scene
            exit $((failures > 0))
        ) &
        pids+=($!)
    done
    for pid in "${pids[@]}"; do
        wait "$pid" || failures=$((failures + 1))
    done
}
leave() {
    for d in tui-*; do
        [ -d "$d" ] && bash "$tui" stop "$d"
    done
    rm -rf "$scratch"
}
trap leave EXIT

beside "touches 20 5" "touches 80 24" "touches 120 40"
beside "ends q" "ends C-c" "ends TERM" "ends HUP"
beside "ends Q" "ends SEGV" "ends ABRT" "ends QUIT"
beside "noisy 20 5" "noisy 80 24"
beside stops storm slow plain "dumb dumb" "dumb nosuchterm"
finish
