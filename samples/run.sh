#!/bin/sh
# The main job on a practice bundle: installs what is needed, builds, and runs. On a terminal the live screen, with a
# simulated bundle as the input; otherwise practice recordings are made, ranked, and the ranking is printed.
#
# THRUM_JOBS=N   jobs side by side
set -u
source=$(cd "$(dirname "$0")/.." && pwd) || exit 1
. "$source/tests/tools/packages.sh"
need_packages build || exit 1

build=$source/build/program
mkdir -p "$build" || exit 1
echo "Building ..." >&2
if ! { cmake -G Ninja -S "$source" -B "$build" -DTHRUM_BUILD_TESTS=OFF &&
    ninja -C "$build" -j "$(jobs_here)" thrum; } >"$build.log" 2>&1; then
    tail -n 40 "$build.log" >&2
    echo "The build failed; all of it is in $build.log" >&2
    exit 1
fi
thrum=$build/src/thrum

if [ -t 0 ] && [ -t 1 ] && [ "${TERM:-dumb}" != dumb ]; then
    exec "$thrum" round --from practice:7
fi

# Hollin Fern House: 24 grey wires, one of them driven.
folder=$(mktemp -d "${TMPDIR:-/tmp}/thrum-practice.XXXXXX") || exit 1
trap 'rm -rf "$folder"' EXIT
trap 'exit 130' INT
trap 'exit 143' TERM
"$thrum" practice --seed 52 --write "$folder/round" || exit
"$thrum" learn "$folder/round/lead.wav" --voice "$folder/voice.json" || exit
echo
"$thrum" rank --voice "$folder/voice.json" "$folder"/round/w[0-9]*.wav
