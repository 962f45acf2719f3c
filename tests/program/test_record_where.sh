#!/bin/bash
# Where recordings go and whose they are: never elsewhere unasked, never root's by accident.
. "$(dirname "$0")/lib.sh"

practice_walk --seed 5009 --wires 3 --rate 16000
round=("$THRUM" round --from "file:$PWD/p/walk.wav" --voice "$PWD/v.json" --json)

# No folder, no place, no permission: said before the round, and nothing is written anywhere else.
expect 5 "${round[@]}" --record a/b/c
says "cannot record to a/b/c"
ln -s /dev/null null
expect 5 "${round[@]}" --record null
says "cannot record to null"
[ -e /dev/full ] && { expect 5 "${round[@]}" --record /dev/full; says "cannot record to /dev/full"; }
mkdir locked
chmod 555 locked
if [ "$(id -u)" != 0 ]; then
    expect 5 "${round[@]}" --record locked
elif command -v setpriv >/dev/null; then
    chmod 755 .
    expect 5 setpriv --reuid 65534 --regid 65534 --clear-groups "${round[@]}" --record locked
fi
says "cannot record to locked"
[ -z "$(ls locked)" ] || fail "something was written"
is "what else was written" "$(ls -d ./*.wav ./*.marks 2>/dev/null)" ""

# Run by sudo, everything belongs to the one who asked; a number that is none gives nothing away.
if [ "$(id -u)" = 0 ]; then
    SUDO_UID=65534 SUDO_GID=65533 expect 0 "${round[@]}" --record mine --flac
    is "owners" "$(stat -c %u:%g mine mine/* | sort -u)" "65534:65533"
    is "files" "$(ls mine | wc -l)" 2
    SUDO_UID=-1 SUDO_GID=x expect 0 "${round[@]}" --record roots
    is "owners" "$(stat -c %u:%g roots roots/* | sort -u)" "0:0"
fi

# Nobody's home, no sound system (the library of PortAudio would abort in this one): what needs no device never starts it.
alone=(env -u XDG_CONFIG_HOME ALSA_CONFIG_PATH=/dev/null HOME=/nonexistent)
expect 0 "${alone[@]}" "$THRUM" --version
expect 0 "${alone[@]}" "${round[@]}" --record alone
expect 0 "${alone[@]}" "$THRUM" rank --voice v.json --json --walk p/walk.wav
expect 0 "${alone[@]}" "$THRUM" learn p/lead.wav
expect 0 "${alone[@]}" "$THRUM" practice --seed 1 --wires 2 --write q
expect 1 "${alone[@]}" "$THRUM" round --from practice:7 --json --for 1
expect 1 "${alone[@]}" "$THRUM" check p/walk.wav
finish
