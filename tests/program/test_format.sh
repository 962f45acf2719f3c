#!/bin/bash
# Every source file looks as .clang-format says.
. "$(dirname "$0")/lib.sh"
command -v clang-format >/dev/null || skip "clang-format is not here"
cd "$THRUM_SOURCE" || exit 1
find src include tests -name '*.[ch]' ! -path 'tests/tools/*' -print0 | sort -z | xargs -0 clang-format --dry-run -Werror --style=file 2>"$scratch/err" ||
    fail "clang-format -i would change these: $(grep -oE '^[^ :]+\.[ch]:' "$scratch/err" | sort -u | tr -d '\n')"
finish
