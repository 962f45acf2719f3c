# What a machine needs, and getting it. Read by samples/run.sh and tests/run.sh; plain POSIX shell.
#
#   need_packages build         to build and run the program
#   need_packages build tests   to run all tests as well
#
# Where there is apt-get, what is missing is installed (with sudo unless we are root). Elsewhere it is named, and we
# go on if the libraries and tools that the build cannot do without are there.

packages_build="gcc libc6-dev cmake ninja-build pkg-config libkissfft-dev libsndfile1-dev portaudio19-dev
libncurses-dev libjansson-dev libcairo2-dev libpango1.0-dev"
packages_tests="clang clang-format libcmocka-dev libfftw3-dev libgsl-dev libasound2-dev jq flac sox tmux locales
pulseaudio pulseaudio-utils libasound2-plugins sonic-pi-samples alsa-utils libxml2-utils librsvg2-bin"

modules_build="kissfft-float sndfile portaudio-2.0 ncursesw jansson cairo-svg pangocairo"
modules_tests="cmocka fftw3 gsl"
tools_build="cmake ninja pkg-config"
tools_tests="bash jq"

# Debian's own name for "installed and in order".
package_is_there() {
    [ "$(dpkg-query -W -f '${db:Status-Status}' "$1" 2>/dev/null)" = installed ]
}

packages_missing() {
    for package in "$@"; do
        case $package in
        pkg-config) command -v pkg-config >/dev/null 2>&1 && continue ;; # on newer systems another package brings it
        esac
        package_is_there "$package" || printf '%s ' "$package"
    done
}

as_root() {
    if [ "$(id -u)" = 0 ]; then
        "$@"
    elif command -v sudo >/dev/null 2>&1; then
        sudo "$@"
    else
        echo "Neither root nor sudo here: please let an administrator install: $missing" >&2
        return 1
    fi
}

apt_install() {
    missing=$(packages_missing "$@")
    [ -n "$missing" ] || return 0
    echo "Installing: $missing"
    as_root env DEBIAN_FRONTEND=noninteractive apt-get -q update </dev/null || return 1
    # shellcheck disable=SC2086 # a list of names
    as_root env DEBIAN_FRONTEND=noninteractive apt-get -q -y install --no-install-recommends $missing </dev/null
}

# Names what the build cannot do without and is not there.
parts_missing() {
    for tool in $1; do
        command -v "$tool" >/dev/null 2>&1 || printf '%s ' "$tool"
    done
    command -v "${CC:-cc}" >/dev/null 2>&1 || command -v gcc >/dev/null 2>&1 || printf 'a C compiler '
    for module in $2; do
        pkg-config --exists "$module" 2>/dev/null || printf '%s ' "$module"
    done
}

need_packages() {
    wanted= tools= modules=
    for part in "$@"; do
        case $part in
        build) wanted="$wanted $packages_build" tools="$tools $tools_build" modules="$modules $modules_build" ;;
        tests) wanted="$wanted $packages_tests" tools="$tools $tools_tests" modules="$modules $modules_tests" ;;
        esac
    done
    if command -v apt-get >/dev/null 2>&1 && command -v dpkg-query >/dev/null 2>&1; then
        # shellcheck disable=SC2086 # a list of names
        apt_install $wanted || echo "Not everything could be installed; going on with what is there." >&2
    fi
    lacking=$(parts_missing "$tools" "$modules")
    [ -n "$lacking" ] || return 0
    echo "Missing here (tools, and libraries by their pkg-config names): $lacking" >&2
    echo "On Debian and Ubuntu the packages are:" $wanted >&2
    echo "Install what corresponds to them on this system, then run this again." >&2
    return 1
}

# How many jobs to run side by side.
jobs_here() {
    echo "${THRUM_JOBS:-$(getconf _NPROCESSORS_ONLN 2>/dev/null || echo 2)}"
}
