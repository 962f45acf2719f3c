#!/bin/bash
# The arrows go one way: each folder includes only what it may, and the pure ones touch no file, clock, thread or device.
. "$(dirname "$0")/lib.sh"
source=$THRUM_SOURCE/src

# Other folders that each may include.
declare -A may=(
    [base]=""
    [signal]="base"
    [listen]="base signal"
    [bundle]="base"
    [round]="base listen bundle round"
    [practice]="base"
    [sound]="base"
    [screen]="base listen bundle round"
    [paper]="base bundle round"
    [commands]="base signal listen bundle round practice sound screen paper"
)
# Public headers by the folder that fulfils them.
folder_of_public() {
    case $1 in
    status | units | voice | reading) echo base ;;
    learn | listen) echo listen ;;
    pick) echo bundle ;;
    round) echo round ;;
    practice) echo practice ;;
    *) echo "nobody" ;;
    esac
}

allowed() { # FOLDER OTHER
    [[ $1 == "$2" || " ${may[$1]} " == *" $2 "* ]]
}

# The top level holds what a newcomer needs to find, and nothing that came by chance.
if top=$(git -C "$THRUM_SOURCE" ls-files 2>/dev/null) && [ -n "$top" ]; then
    for name in $(cut -d/ -f1 <<<"$top" | sort -u); do
        case $name in
        .* | README.md | DEVELOPERS.md | CMakeLists.txt | LICENSE | src | include | tests | samples | docs) ;;
        *) fail "$name does not belong on the top level" ;;
        esac
    done
fi

for folder in "${!may[@]}"; do
    [ -d "$source/$folder" ] || { fail "no folder src/$folder"; continue; }
    for name in $(sed -n 's/^ *# *include "\([^"]*\)".*/\1/p' "$source/$folder"/*.[ch] | sort -u); do
        other=${name%%/*}
        if [ "$other" = thrum ]; then
            public=${name#thrum/}
            other=$(folder_of_public "${public%.h}")
        fi
        allowed "$folder" "$other" || fail "src/$folder includes $name"
    done
done

for folder in "$source"/*/; do
    name=$(basename "$folder")
    [[ -v may[$name] ]] || fail "src/$name has no place in the order"
done

pure='assert.h complex.h errno.h float.h inttypes.h limits.h math.h stdalign.h stdbool.h stddef.h stdint.h stdlib.h string.h kiss_fft.h kiss_fftr.h'
for folder in base signal listen bundle round practice; do
    for name in $(sed -n 's/^ *# *include <\([^>]*\)>.*/\1/p' "$source/$folder"/*.[ch] | sort -u); do
        [[ " $pure " == *" $name "* ]] || fail "src/$folder includes <$name>"
    done
done

# A dependency lives where it is said to.
only_in() { # HEADER FOLDER
    grep -lE "# *include <(kissfft/)?$1" "$source"/*/*.[ch] | grep -v "^$source/$2/" | while read -r file; do echo "$file"; done
}
for pair in kiss_fft:signal sndfile:sound portaudio:sound ncurses:screen curses:screen jansson:commands cairo:paper pango:paper; do
    found=$(only_in "${pair%%:*}" "${pair##*:}")
    [ -z "$found" ] || fail "$found includes ${pair%%:*}"
done
found=$(grep -lE '# *include <kiss' "$source"/signal/*.[ch])
[ "$(echo "$found" | wc -l)" -le 1 ] || fail "the transform is included in several places: $found"
found=$(grep -hE '# *include <' "$THRUM_SOURCE"/include/thrum/*.h | grep -vE '<std(bool|def|int)\.h>')
[ -z "$found" ] || fail "public headers include $found"

# What the built library calls.
library=$(dirname "$THRUM")/libthrum.a
if command -v nm >/dev/null && [ -e "$library" ]; then
    called=$(nm -u "$library" 2>/dev/null | awk '$1 == "U" {print $2}' | sort -u |
        grep -E '^(printf|fprintf|puts|putchar|fputs|fopen|open|read|write|close|exit|abort|time|clock|clock_gettime|gettimeofday|nanosleep|usleep|pthread_.*|thrd_.*|mtx_.*|getenv|signal|rand|srand|localtime.*|setlocale|strtok|system|kill)$')
    [ -z "$called" ] || fail "the library calls: $called"
else
    fail "libthrum.a is not beside the program, or nm is missing"
fi
finish
