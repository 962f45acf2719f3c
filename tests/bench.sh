#!/bin/sh
# Builds Thrum optimised in build/bench and prints its figures, each beside its limit.
#
#   sh tests/bench.sh              quick, for every day
#   sh tests/bench.sh --full       many more touches and rounds, for a release
#   --seed N                       other sounds; 1 without it
#   --only M6                      the part that works out this figure
#   --curve strength|presence      columns of numbers instead of the table: what tests/curves.sh draws
#
# THRUM_REAL_SOUND=DIR   a folder of real recordings without a sender in them: false alarms are counted on those too
# Exit status 0 when everything ran, whether or not every figure was reached.
set -u
source=$(cd "$(dirname "$0")/.." && pwd) || exit 1
. "$source/tests/tools/packages.sh"
need_packages build tests || exit 1
[ -z "${THRUM_REAL_SOUND:-}" ] || { THRUM_REAL_SOUND=$(cd "$THRUM_REAL_SOUND" && pwd) && export THRUM_REAL_SOUND; }

build=$source/build/bench
mkdir -p "$build" || exit 1
if ! { cmake -G Ninja -S "$source" -B "$build" -DCMAKE_BUILD_TYPE=Release -DTHRUM_BUILD_TESTS=ON &&
    ninja -C "$build" -j "$(jobs_here)" thrum thrum_bench; } >"$build.log" 2>&1; then
    tail -n 40 "$build.log" >&2
    exit 1
fi
THRUM=$build/src/thrum
export THRUM
exec "$build/tests/thrum_bench" "$@"
