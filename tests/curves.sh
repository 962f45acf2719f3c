#!/bin/sh
# Draws the two curves of docs/measuring.md anew: how far strengths are off beside the Cramer-Rao limit, and how often a
# tone is heard beside the non-coherent bound. Needs gnuplot (Debian: gnuplot-nox), and some ten minutes.
#
#   sh tests/curves.sh [--seed N]
set -eu
source=$(cd "$(dirname "$0")/.." && pwd)
command -v gnuplot >/dev/null || { echo "gnuplot is not here; on Debian: apt-get install gnuplot-nox" >&2; exit 1; }
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
trap 'exit 1' HUP INT TERM
for curve in strength presence; do
    sh "$source/tests/bench.sh" --curve $curve "$@" >"$work/$curve"
done

# Colours that most colour-blind readers tell apart; every curve has its own mark as well.
cat >"$work/look" <<'END'
set terminal svg size 720,440 font "sans-serif,13" background "white"
set grid lc rgb "#dddddd"
set border 3 lc rgb "#444444"
set tics nomirror
set xlabel "10 lg of tone energy over noise density in the whole touch (eta N_{on}), dB"
END

gnuplot <<END
load "$work/look"
set output "$source/docs/strength.svg"
set logscale y
set ylabel "RMS error of strength, dB"
set key top right
plot "$work/strength" using 1:5 with lines lw 2 lc rgb "#222222" title "Cramer-Rao limit, white noise", \
     "" using 1:2 with linespoints pt 6 lc rgb "#0072b2" title "white noise", \
     "" using 1:3 with linespoints pt 4 lc rgb "#d55e00" title "hum 20 dB up, tone 3.5 Hz off a harmonic", \
     "" using 1:4 with linespoints pt 8 lc rgb "#009e73" title "hum 20 dB up, tone on a harmonic"
END
gnuplot <<END
load "$work/look"
set output "$source/docs/presence.svg"
set ylabel "share of touches heard"
set yrange [0:1]
set key bottom right
plot for [i=0:2] "$work/presence" using 1:(column(3 + 2 * i)) with lines lw 2 dt i + 1 lc rgb "#222222" \
         title sprintf("bound, %s beeps", word("2 6 20", i + 1)), \
     for [i=0:2] "" using 1:(column(2 + 2 * i)) with linespoints pt 4 + 2 * i \
         lc rgb word("#0072b2 #d55e00 #009e73", i + 1) title sprintf("heard, %s beeps", word("2 6 20", i + 1))
END
echo "Drawn: docs/strength.svg docs/presence.svg"
