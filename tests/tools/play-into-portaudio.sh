#!/bin/bash
# play-into-portaudio.sh WAV COMMAND [ARG...]
#
# Runs COMMAND with a PortAudio default input device that delivers WAV in real time (silence before and after),
# without sound hardware, kernel modules or root. Exit status: that of COMMAND (124 if LIMIT_S ran out,
# 125 if the set-up failed).
#
# WAV may be "-": no input device, only output (see OUT_WAV).
# Environment:
#   BACKEND   wavio (default): ALSA plugin in the program's own process; sample-exact; faults possible
#             pulse          : private PulseAudio daemon, null sink + paplay, capture from its monitor
#   LEAD_MS   silence between the start of the program's stream and the first sample of WAV   (default 300)
#   OUT_WAV   also give the program an output device and save what it plays there as a WAV file
#   OUT_RATE  rate of that device for BACKEND=pulse (default: that of WAV, else 48000)
#   STRICT=1  wavio only: no automatic conversion; the device has the WAV's rate and channels and nothing else
#   NERVOUS=1 wavio only: like a real card: what COMMAND fetches too late is lost (overrun). Default: the device waits
#             for a COMMAND that is late on a loaded machine and catches up afterwards; nothing is lost
#   SPEED     wavio only: 1 = real time (default), 4 = four times as fast
#   FAULT     wavio: xrun@T stall@T:MS hang@T die@T nostart busy   (see pcm_wavio.c)
#             pulse: die@T:S, the server is killed T seconds after COMMAND began to listen and started again S seconds
#             later; WAV is played anew then
#   LIMIT_S   end COMMAND after this many seconds (default: none)
#   WAVIO_SO  the built plugin (default: built on first use into a private folder under TMPDIR; needs cc, libasound2-dev)
#   KEEP=1    keep the scratch directory and say where it is
#   ALSA_LOG  wavio only: file for the device's diary (prepare, start, overrun, stop)
set -u
me=$(readlink -f "$0"); here=${me%/*}
[ $# -ge 2 ] || { sed -n '2,26s/^# \{0,1\}//p' "$me" >&2; exit 125; }
wav=$1; shift
backend=${BACKEND:-wavio} lead=${LEAD_MS:-300}
die() { echo "play-into-portaudio: $*" >&2; exit 125; }
[ "$wav" = - ] || [ -r "$wav" ] || die "cannot read $wav"

T=$(mktemp -d "${TMPDIR:-/tmp}/pa-card.XXXXXX") || exit 125
pids=()                                            # ours, to be ended at exit: by number only
cleanup() {
    local p
    for p in ${pids[@]+"${pids[@]}"}; do kill "$p" 2>/dev/null; done
    for p in ${pids[@]+"${pids[@]}"}; do
        for _ in $(seq 40); do kill -0 "$p" 2>/dev/null || break; sleep 0.05; done
        kill -9 "$p" 2>/dev/null; wait "$p" 2>/dev/null
    done
    if [ -n "${OUT_WAV:-}" ] && [ -s "$T/out.wav" ]; then cp -f "$T/out.wav" "$OUT_WAV"; fi
    if [ -n "${KEEP:-}" ]; then echo "play-into-portaudio: kept $T" >&2; else rm -rf "$T"; fi
}
trap cleanup EXIT
trap 'exit 129' HUP; trap 'exit 130' INT; trap 'exit 143' TERM

rate=48000 channels=1
if [ "$wav" != - ]; then
    ln -s "$(readlink -f "$wav")" "$T/in.wav"
    [ "$(head -c 4 "$wav")" = RIFF ] || die "$wav is not a WAV file"
    read -r channels rate < <(od -A n -t u2 -j 22 -N 2 "$wav" | tr -d '\n'; od -A n -t u4 -j 24 -N 4 "$wav")
    [ "${rate:-0}" -gt 0 ] && [ "${channels:-0}" -gt 0 ] || die "$wav: no rate or channels in its header"
fi

# What COMMAND sees. ALSA_CONFIG_PATH replaces the whole system configuration, so no real card and none of the usual
# "ALSA lib ..." noise. pcm.!default is compulsory: PortAudio 19.6 aborts when there is no PCM called default or dmix.
child=(ALSA_CONFIG_PATH="$T/asound.conf" JACK_NO_START_SERVER=1 JACK_DEFAULT_SERVER="none-$$")

case $backend in
wavio)
    # the plugin is built into a private scratch folder, never into the source tree
    if [ -z "${WAVIO_SO:-}" ]; then
        built=${TMPDIR:-/tmp}/thrum-wavio-$(id -u)
        mkdir -p -m 700 "$built" && [ -O "$built" ] && [ ! -L "$built" ] || die "cannot use $built"
        WAVIO_SO=$built/libasound_module_pcm_wavio.so
    fi
    so=$WAVIO_SO src=$here/plugin/pcm_wavio.c
    if [ ! -e "$so" ] || [ "$src" -nt "$so" ]; then
        ( flock 9; if [ ! -e "$so" ] || [ "$src" -nt "$so" ]; then
              ${CC:-cc} -shared -fPIC -DPIC -O2 -Wall -o "$so.$$" "$src" -lasound && mv -f "$so.$$" "$so"; fi ) 9>"$so.lock" || die "cannot build $so"
    fi
    in=; [ "$wav" = - ] || in="$T/in.wav"
    out=; [ -z "${OUT_WAV:-}" ] || out="$T/out.wav"
    pcm="type wavio infile \"$in\" outfile \"$out\" log \"${ALSA_LOG:-}\" fault \"${FAULT:-}\" lead_ms $lead patient $([ -n "${NERVOUS:-}" ] && echo 0 || echo 1) speed ${SPEED:-1}"
    { echo "pcm_type.wavio { lib \"$so\" }"
      if [ -n "${STRICT:-}" ]; then echo "pcm.!default { $pcm }"; else echo "pcm.!default { type plug slave.pcm { $pcm } }"; fi
    } > "$T/asound.conf"
    ;;
pulse)
    sock=$T/native
    {   echo "load-module module-native-protocol-unix auth-anonymous=1 socket=$sock"
        # norewinds=1: 50 ms blocks; without it the first data may come 2 s late
        echo "load-module module-cli-protocol-unix"
        echo "load-module module-null-sink sink_name=mic norewinds=1 format=s16le rate=$rate channels=$channels"
        echo "load-module module-null-sink sink_name=spk norewinds=1 format=s16le rate=${OUT_RATE:-$rate} channels=1"
    } > "$T/default.pa"
    printf '%s\n' 'daemonize = no' 'exit-idle-time = -1' 'flat-volumes = no' 'realtime-scheduling = no' 'high-priority = no' \
        "default-sample-rate = $rate" 'resample-method = speex-float-5' > "$T/daemon.conf"
    pulse=(HOME="$T" XDG_RUNTIME_DIR="$T" XDG_CONFIG_HOME="$T" PULSE_RUNTIME_PATH="$T" PULSE_STATE_PATH="$T" PULSE_COOKIE="$T/cookie"
           PULSE_CONFIG="$T/daemon.conf" PULSE_CLIENTCONFIG=/dev/null PULSE_SERVER="unix:$sock" DBUS_SESSION_BUS_ADDRESS=unix:path=/nonexistent)
    start_server() {
        env -u DISPLAY "${pulse[@]}" pulseaudio -n -F "$T/default.pa" --daemonize=no --use-pid-file=yes --exit-idle-time=-1 \
            --disallow-exit --log-target=stderr > "$T/pulse.log" 2>&1 &
        server=$!; pids+=("$server")
        for _ in $(seq 300); do
            env "${pulse[@]}" pactl list short sinks 2>/dev/null | grep -q spk && break
            kill -0 $server 2>/dev/null || { cat "$T/pulse.log" >&2; die "pulseaudio did not start"; }
            sleep 0.05
        done
    }
    start_server
    { echo "pcm.mic { type pulse server \"unix:$sock\" device \"mic.monitor\" }"
      echo "pcm.spk { type pulse server \"unix:$sock\" device \"spk\" }"
      echo "pcm.!default { type asym capture.pcm \"mic\" playback.pcm \"spk\" }"; } > "$T/asound.conf"
    [ "$wav" != - ] || echo 'pcm.!default { type asym playback.pcm "spk" }' >> "$T/asound.conf"
    child+=(PULSE_COOKIE="$T/cookie" PULSE_CLIENTCONFIG=/dev/null PULSE_RUNTIME_PATH="$T")
    if [ -n "${OUT_WAV:-}" ]; then
        env "${pulse[@]}" parec -d spk.monitor --format=s16le --rate="${OUT_RATE:-$rate}" --channels=1 --latency-msec=50 --file-format=wav "$T/out.wav" 2>/dev/null &
        rec=$!; pids=("$rec" "${pids[@]}")
        for _ in $(seq 100); do env "${pulse[@]}" pactl list short source-outputs | grep -q . && break; sleep 0.02; done
        sleep 0.2                                      # the first blocks of a new recording stream can be late
    fi
    ;;
*) die "BACKEND=$backend? (wavio or pulse)";;
esac

limit=(); [ -z "${LIMIT_S:-}" ] || limit=(timeout --foreground -k 5 "$LIMIT_S")
if [ $backend = wavio ] || [ "$wav" = - ]; then
    env "${child[@]}" ${limit[@]+"${limit[@]}"} "$@"; status=$?
else
    # the player starts when COMMAND's capture stream exists, so nothing is lost however slowly COMMAND starts
    wait_for_command() {
        n=0; [ -z "${OUT_WAV:-}" ] || n=1
        while [ "$(env "${pulse[@]}" pactl list short source-outputs 2>/dev/null | wc -l)" -le $n ]; do
            kill -0 $server 2>/dev/null || exit; sleep 0.02
        done
    }
    {   trap cleanup_here EXIT; trap exit TERM
        cleanup_here() { kill ${player:-} ${again:-} 2>/dev/null; }
        play() {
            wait_for_command
            sleep "$(printf '%d.%03d' $((lead / 1000)) $((lead % 1000)))"
            env "${pulse[@]}" paplay -d mic --latency-msec=100 "$T/in.wav" & player=$!
        }
        play
        case ${FAULT:-} in
        die@*:*)
            at=${FAULT#die@}
            sleep "${at%:*}"; kill -9 "$server"; rm -f "$sock"
            sleep "${at#*:}"; pids=(); start_server; again=$server
            play
            ;;
        deaf@*)
            sleep "${FAULT#deaf@}"
            spk=$(env "${pulse[@]}" pactl list short sinks | awk '$2 == "spk" {print $1}')
            client=$(env "${pulse[@]}" pactl list short sink-inputs | awk -v spk="$spk" '$2 == spk {print $3}')
            env "${pulse[@]}" pacmd kill-client "$client" # a stream alone would be opened again, a sink changed for another
            ;;
        esac
        wait "$player"
        [ -z "${again:-}" ] || wait "$again"
    } > "$T/paplay.log" 2>&1 &
    pids=($! "${pids[@]}")
    env "${child[@]}" ${limit[@]+"${limit[@]}"} "$@"; status=$?
fi
[ $backend = pulse ] && [ -n "${OUT_WAV:-}" ] && sleep 0.3        # let the recorder have the last block
exit $status
