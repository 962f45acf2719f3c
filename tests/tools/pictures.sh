#!/bin/bash
# Photographs the live screen in a real practice round, as docs/screen.md shows it. Takes some five minutes. Needs what tui.sh
# needs (Debian: tmux xvfb xterm xdotool imagemagick fonts-dejavu-core) and pngquant.
#
#   tests/tools/pictures.sh THRUM DOCS    the program, and the folder that the pictures go into
set -u
thrum=$(realpath "${1:?the program}")
docs=$(realpath "${2:?the folder of the pictures}")
tui=$(dirname "$(realpath "$0")")/tui.sh
work=$(mktemp -d) || exit 1
trap 'rm -rf "$work"' EXIT
cd "$work" || exit 1
"$thrum" learn --from practice:21 --voice v.json >/dev/null || exit 1

# picture NAME COLS ROWS REGEX OPTION...: the screen when it first matches
picture() {
    local name=$1 cols=$2 rows=$3 when=$4
    shift 4
    LC_ALL=C.UTF-8 bash "$tui" start "$work/$name" "$cols" "$rows" "$thrum" round --from practice:21 --voice v.json "$@"
    bash "$tui" wait "$work/$name" "$when" 300 || { bash "$tui" text "$work/$name" >&2; echo "$name: never showed '$when'" >&2; }
    bash "$tui" shot "$work/$name" "$name.png"
    bash "$tui" stop "$work/$name"
    pngquant --force --output "$docs/$name.png" 16 "$name.png"
}
# led NAME COLS ROWS REGEX OPTION...: the same on 14 wires, led by keys up to the pick and into the touch after it
led() {
    local name=$1 cols=$2 rows=$3 when=$4
    shift 4
    LC_ALL=C.UTF-8 bash "$tui" start "$work/$name" "$cols" "$rows" "$thrum" round --from practice:21 --wires 14 --voice v.json "$@"
    for wire in $(seq 14); do
        bash "$tui" keys "$work/$name" Space
        bash "$tui" wait "$work/$name" 'ENOUGH' 60
        bash "$tui" keys "$work/$name" Space
        bash "$tui" wait "$work/$name" "(Wire |^)$((wire + 1))( |$)" 20
    done
    bash "$tui" wait "$work/$name" 'PICK:? ' 20
    bash "$tui" keys "$work/$name" 9 Enter Space
    bash "$tui" wait "$work/$name" "$when" 60 || { bash "$tui" text "$work/$name" >&2; echo "$name: never showed '$when'" >&2; }
    bash "$tui" shot "$work/$name" "$name.png"
    bash "$tui" stop "$work/$name"
    pngquant --force --output "$docs/$name.png" 16 "$name.png"
}
picture screen 80 24 '(HOLD ON 1 s more|ENOUGH): -4[0-3]' --hands-free
led screen-large 120 40 'HOLD ON 1 s' --look cellar
led screen-small 20 5 'HOLD 1 s'
led screen-sun 80 24 'ENOUGH' --look sun
