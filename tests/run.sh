#!/bin/sh
# Installs what is needed, builds Thrum three times inside build/, warnings being errors, and runs the tests:
#
#   gcc        optimised: all tests
#   sanitize   address and undefined behaviour, compiled by clang: all tests but the heavy ones
#   threads    data races: the tests of what runs in threads
#
# THRUM_REAL_SOUND=DIR   a folder of real recordings; tests that use them are skipped without it
# THRUM_STEPS="gcc ..."  only these steps
# THRUM_JOBS=N           compilers side by side, and tests half as many more
# Exit status 0 when everything passed.
set -u
source=$(cd "$(dirname "$0")/.." && pwd) || exit 1
. "$source/tests/tools/packages.sh"
need_packages build tests || exit 1
jobs=$(jobs_here)
tests_at_once=$(((jobs * 3 + 1) / 2)) # many wait for sound at real speed
failed=
[ -z "${THRUM_REAL_SOUND:-}" ] || { THRUM_REAL_SOUND=$(cd "$THRUM_REAL_SOUND" && pwd) && export THRUM_REAL_SOUND; }

# build STEP TARGET CMAKE-OPTIONS...
build() {
    step=$1 target=$2
    shift 2
    echo
    echo "== $step: build"
    if cmake -G Ninja -S "$source" -B "$source/build/$step" -DTHRUM_WERROR=ON -DTHRUM_BUILD_TESTS=ON "$@" \
        >"$source/build/$step.log" 2>&1 &&
        ninja -C "$source/build/$step" -j "$jobs" "$target" >>"$source/build/$step.log" 2>&1; then
        tail -n 1 "$source/build/$step.log"
    else
        tail -n 60 "$source/build/$step.log"
        failed="$failed $step:build"
        return 1
    fi
}

# check STEP CTEST-OPTIONS...: all of its output goes to a log; what is shown is what failed and the closing lines.
check() {
    step=$1
    shift
    echo "== $step: tests"
    log=$source/build/$step.tests.log
    if (cd "$source/build/$step" && $without_aslr ctest -j "$tests_at_once" --output-on-failure "$@") >"$log" 2>&1; then
        sed -n '/tests passed/,$p' "$log"
    else
        grep -vE ' Passed |^ *Start ' "$log" | tail -n 200
        failed="$failed $step:tests"
    fi
}

wanted() {
    case " ${THRUM_STEPS:-gcc sanitize threads} " in
    *" $1 "*) return 0 ;;
    esac
    return 1
}

mkdir -p "$source/build" || exit 1
without_aslr=

if wanted gcc; then
    build gcc all -DCMAKE_C_COMPILER="$(command -v gcc || command -v cc)" && check gcc
fi

if wanted sanitize; then
    # Heavy: thousands of rounds, which the optimised build has run already. With -O3 the tests take half the time of -O2,
    # and what clang instruments takes two thirds of what gcc's does.
    clang=$(command -v clang) || echo "== sanitize: clang is not here, its warnings are left out"
    build sanitize all -DCMAKE_C_COMPILER="${clang:-$(command -v cc)}" -DCMAKE_BUILD_TYPE=RelWithDebInfo -DCMAKE_C_FLAGS_RELWITHDEBINFO="-O3 -g1" \
        -DTHRUM_SANITIZE=address,undefined,float-cast-overflow &&
        LSAN_OPTIONS=suppressions=$source/tests/tools/leaks.supp:print_suppressions=0 \
            UBSAN_OPTIONS=print_stacktrace=1 THRUM_LIGHT=1 check sanitize -LE heavy
fi

if wanted threads; then
    # The thread sanitizer of older compilers cannot live with the address layout of newer kernels.
    if command -v setarch >/dev/null 2>&1 && setarch "$(uname -m)" -R true 2>/dev/null; then
        without_aslr="setarch $(uname -m) -R"
    fi
    build threads threads_tests -DCMAKE_BUILD_TYPE=RelWithDebInfo -DTHRUM_SANITIZE=thread &&
        TSAN_OPTIONS=suppressions=$source/tests/tools/races.supp:print_suppressions=0 \
            THRUM_LIGHT=1 check threads -L threads
fi

echo
if [ -n "$failed" ]; then
    echo "FAILED:$failed (logs in $source/build/)"
    exit 1
fi
echo "All passed."
