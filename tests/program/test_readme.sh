#!/bin/bash
# What README.md shows is exactly what a person sees: every command of its console blocks is run, and the block compared.
# With THRUM_UPDATE_README=1 the file is brought up to date instead.
. "$(dirname "$0")/lib.sh"
mkdir bin && ln -s "$THRUM" bin/thrum && PATH=$scratch/bin:$PATH
readme=$THRUM_SOURCE/README.md

inside=0
while IFS= read -r line; do
    if [ "$line" = '```console' ]; then
        inside=1 first=1
        echo "$line"
    elif [ "$inside" = 1 ] && [ "$line" = '```' ]; then
        inside=0
        echo "$line"
    elif [ "$inside" = 0 ]; then
        echo "$line"
    elif [[ $line == '$ '* ]]; then
        [ "$first" = 1 ] || echo
        first=0
        echo "$line"
        (eval "${line#\$ }") 2>&1 </dev/null
    fi
done <"$readme" >fresh.md
[ "$(grep -c '^\$ thrum' fresh.md)" -ge 4 ] || fail "the example has lost its commands"
if [ -n "${THRUM_UPDATE_README:-}" ]; then
    cp fresh.md "$readme"
    exit 0
fi
cmp -s fresh.md "$readme" || { fail "README.md shows something else than the program does"; diff "$readme" fresh.md | head -n 30; }
for command in 'sh samples/run.sh' 'sh tests/run.sh'; do
    grep -qF "$command" "$readme" || fail "README.md does not show: $command"
done
for file in $(grep -oE '\]\([^)]*\)' "$readme" | tr -d '])(' | grep -v '^http'); do
    [ -e "$THRUM_SOURCE/$file" ] || fail "README.md points to $file, which is not there"
done
finish
