#!/bin/bash
# The page of a round: whole, self-contained, and with the numbers of thrum rank. xmllint is the outside reader.
. "$(dirname "$0")/lib.sh"
command -v xmllint >/dev/null || skip "no xmllint here to read the page with"

xpath() { # FILE EXPRESSION
    xmllint --xpath "$2" "$1" 2>xml.err || { fail "nothing at $2 in $1"; head -n 3 xml.err >&2; }
}
# same_as_rank PAGE ARGUMENT...: the page holds what thrum rank says of the same, in words and in figures
same_as_rank() {
    local page=$1
    shift
    xmllint --noout "$page" 2>xml.err || { fail "$page is no good XML"; head -n 5 xml.err >&2; return; }
    "$THRUM" rank "$@" >rank.txt 2>/dev/null
    xpath "$page" 'string(//*[local-name()="pre"])' >page.txt
    # xmllint ends what it prints with a line end of its own.
    diff <(cat rank.txt; echo) page.txt >diff.txt || { fail "$page says something else than thrum rank"; head diff.txt >&2; }
    "$THRUM" rank --json "$@" 2>/dev/null | jq -r '.readings[] as $r | $r.strength[] | [$r.wire, $r.touch, $r.start_s, $r.duration_s, .sender,
        .dbfs // "no tone", .low_db // "", .high_db // "", $r.hum_dbfs // "none", ($r.faults | join(", ")), $r.source] | @tsv' >want.tsv
    xpath "$page" '//*[@id="touches"]/*[local-name()="tbody"]/*' | sed 's/<td[^>]*\/>/<td><\/td>/g; s/<\/td><td[^>]*>/\t/g; s/<[^>]*>//g; s/ to /\t/; s/below /\t/' |
        sed 's/&lt;/</g; s/&gt;/>/g; s/&quot;/"/g; s/&amp;/\&/g' >got.tsv
    [ -s want.tsv ] || fail "there is nothing to compare"
    paste want.tsv got.tsv | awk -F'\t' 'function same(a, b) {return a == b || (a + 0 != 0 && b + 0 != 0 && (a - b) ^ 2 < 0.0501 ^ 2) || (a == 0 && b + 0 == 0)}
        NF != 22 {print "columns: " NF ": " $0; bad = 1; next}
        {for (i = 1; i <= 11; i++) if (!same($i, $(i + 11))) {print "not the same: " $i " and " $(i + 11) ": " $0; bad = 1}}
        END {exit bad}' >diff.txt || { fail "figures of $page differ from the JSON"; head -n 5 diff.txt >&2; }
    while IFS= read -r verdict; do
        xpath "$page" 'string(//*[local-name()="body"])' | grep -qF -- "$verdict" || fail "no verdict '$verdict'"
    done < <(grep -E '^(PICKED|NO |TOO CLOSE|EVERYWHERE)' rank.txt)
}

# A file per wire, in Hollin Fern House.
"$THRUM" practice --seed 8 --wires 6 --touch 2 --rate 8000 --write p 2>/dev/null
echo '{"name":"a","tones_hz":[1037.0],"pattern":[{"tone":0,"s":0.25},{"tone":null,"s":0.25}]}' >v.json # that of the practice sender
expect 0 "$THRUM" review --voice v.json --page page.html p/w0[126].wav
prints "PICKED: wire w06"
prints "Written to page.html"
same_as_rank page.html --voice v.json p/w0[126].wav
for words in "controller off and unplugged" "rated meter" "live conductor" "battery" "dig by hand" "licensed practice"; do
    grep -q "$words" page.html || fail "the page lacks the safety words: $words"
done
# Nothing is fetched, nothing runs: the only addresses are data inside, and the name of XHTML.
found=$(grep -oiE '(src|href|action|data|poster)="[^"]{0,10}|<(script|link|iframe|object|form)|url\(|@import' page.html | grep -v '^src="data:')
[ -z "$found" ] || fail "the page reaches out: $found"
# The picture is a picture, with words in place of it.
xpath page.html 'string(//*[local-name()="img"]/@src)' | sed 's/^data:image\/svg+xml;base64,//' | base64 -d >picture.svg || fail "the picture is no base64"
xmllint --noout picture.svg || fail "the picture is no good XML"
xpath page.html 'string(//*[local-name()="img"]/@alt)' | grep -qF "PICKED: wire w06" || fail "no words in place of the picture"
is "pictures" "$(grep -o '<img' page.html | wc -l)" 3
# The same round gives the same page.
cp page.html first.html
expect 0 "$THRUM" review --voice v.json --page page.html --replace p/w0[126].wav
cmp -s page.html first.html || fail "the same round gives another page"

# What is there is kept, unless it is to be replaced.
echo mine >kept.html
expect 5 "$THRUM" review --voice v.json --page kept.html p/w01.wav
one_line
says "--replace"
is "the old file" "$(cat kept.html)" mine
expect 1 "$THRUM" review --voice v.json --page kept.html --replace p/w01.wav
grep -q "</html>" kept.html || fail "it was not replaced"
ln -s kept.html link.html
expect 5 "$THRUM" review --voice v.json --page link.html p/w01.wav
says "is there already"
expect 5 "$THRUM" review --voice v.json --page p p/w01.wav
one_line
if [ -e /dev/full ]; then
    expect 5 "$THRUM" review --voice v.json --page /dev/full p/w01.wav
    one_line
    says "No space left"
fi
expect 5 "$THRUM" review --voice v.json --page nowhere/page.html p/w01.wav
one_line
expect 2 "$THRUM" review --voice v.json p/w01.wav
says "--page"
expect 2 "$THRUM" review --voice v.json --page new.html
expect 2 "$THRUM" review --page new.html --walk p/walk.wav p/w01.wav
[ ! -e new.html ] || fail "a page in spite of wrong usage"

# Tags with what HTML is made of, of another alphabet, and of no alphabet at all.
evil='<b>&"x'"'"
expect 0 "$THRUM" review --voice v.json --page evil.html "$evil=p/w06.wav" "grün=p/w02.wav" "$(printf 'a\377b')=p/w01.wav"
xmllint --noout evil.html || fail "tags break the page"
xpath evil.html 'string(//*[@id="touches"]/*[local-name()="tbody"]/*[1]/*[1])' >tag
is "the tag" "$(cat tag)" "$evil"
xpath evil.html 'string(//*[@id="touches"]/*[local-name()="tbody"]/*[2]/*[1])' >tag
is "the tag" "$(cat tag)" "grün"
! grep -q '<b>' evil.html || fail "a tag became markup"

[ -z "${THRUM_LIGHT:-}" ] || finish # under the sanitizers the rest is more of the same
# A walk, a recorded round, several senders, excluded wires, a file that is bad.
"$THRUM" round --from file:p/walk.wav --voice v.json --record rounds --json >/dev/null 2>&1
expect 0 "$THRUM" review --page round.html rounds/*.wav
same_as_rank round.html rounds/*.wav
# It says when it was made and with which input, where the recordings do; and which mains there was.
cells() { xpath "$1" '//*[@id="recordings"]//*[local-name()="td"]//text()' | xargs; }
recording=$(echo rounds/*.wav)
is "origin" "$(cells round.html)" "$recording not known walk.wav"
hum=$("$THRUM" rank --json rounds/*.wav | jq -r '[.readings[].hum_dbfs] | "\(min * 10 | round / 10) to \(max * 10 | round / 10)"')
grep -qE "^<p>Mains: (49\.9|50\.0)[0-9] Hz; hum in the touches $hum dBFS.</p>" round.html || fail "no mains, $hum: $(grep Mains: round.html)"
# (the same length: a start as a live recording has it in place of other facts)
LC_ALL=C sed 's/"round_frame":0,"part":1,"first_frame":0/"start":"2026-05-04T06:07:08.900Z"      /' "$recording" >dated.wav
expect 0 "$THRUM" review --page dated.html dated.wav
is "origin" "$(cells dated.html)" "dated.wav 2026-05-04 06:07:08 UTC walk.wav"
expect 1 "$THRUM" review --voice v.json --page excluded.html --exclude w06 p/w0[126].wav
same_as_rank excluded.html --voice v.json --exclude w06 p/w0[126].wav
grep -q "They do not say when they were made" excluded.html || fail "an origin from nowhere"
grep -q "Excluded: w06" excluded.html || fail "the excluded wire is not told"

# The sound of the page is the sound of the round: ranked, it gives the same pick. Cleaned, the tone is 20 dB louder and hum less.
sound_of() { # PAGE NUMBER: player 1 is raw, 2 is clean
    xpath "$1" "string((//*[local-name()='audio'])[$2]/@src)" | sed 's/^data:audio\/wav;base64,//' | base64 -d
}
sound_of round.html 1 >raw.wav
sound_of round.html 2 >clean.wav
tone_of() { # FILE: wire, strength, hum of the pick in the same touches
    jq -r '.readings[] | [.wire, (.start_s | tostring), (.start_s + .duration_s | tostring)] | join(",")' round.json >marks.csv
    "$THRUM" rank --voice v.json --marks marks.csv --walk "$1" --json 2>/dev/null |
        jq -r '.picks[0].contenders[0] as $w | .readings[] | select(.wire == $w) | "\($w) \(.strength[0].dbfs) \(.hum_dbfs // -200)"'
}
"$THRUM" rank --voice v.json --json rounds/*.wav >round.json 2>/dev/null
read -r wire dbfs hum < <(jq -r '.picks[0].wire as $w | .readings[] | select(.wire == $w) | "\($w) \(.strength[0].dbfs) \(.hum_dbfs)"' round.json)
for row in "raw 0 0.1 1" "clean 20 1 -15"; do
    read -r kind louder within hum_above <<<"$row"
    tone_of $kind.wav | awk -v w="$wire" -v d="$dbfs" -v h="$hum" -v l="$louder" -v t="$within" -v a="$hum_above" \
        '{off = $2 - d - l; if ($1 != w || off > t || off < -t || $3 > h + l + a) {print; bad = 1}} END {exit bad || NR == 0}' >diff.txt ||
        fail "the $kind sound is not that of the round ($wire $dbfs $hum): $(cat diff.txt)"
done
if command -v sox >/dev/null; then
    sox -D -n -r 8000 -b 16 long.wav trim 0 185
    echo "beyond,190,192" >beyond.csv # no touch
    "$THRUM" review --voice v.json --page long.html --marks beyond.csv --walk long.wav >out 2>err
    grep -q "longer than 180 s" long.html || fail "it is not said why there is no sound"
    ! grep -q '<audio' long.html || fail "too long a sound is in the page"

    # Too long a round is heard touch by touch: what is heard there measures as it does in the recording, hum and all.
    sox -D p/walk.wav pad.wav pad 170 0
    "$THRUM" rank --voice v.json --walk p/walk.wav --json 2>/dev/null >walk.json
    jq -r '.readings[] | "\(.wire),\(.start_s + 170),\(.start_s + .duration_s + 170)"' walk.json >marks.csv
    heard_at() { # PAGE: lines of wire and second
        grep -o 'in seconds: .*' "$1" | grep -oE '<bdi>[^<]*</bdi> [0-9]+\.[0-9]' | sed 's/<bdi>//; s/<\/bdi> /,/'
    }
    expect 0 "$THRUM" review --voice v.json --page long.html --replace --marks marks.csv --walk pad.wav
    heard_at long.html | awk -F, '{print $0 "," $2 + 2}' >heard.csv
    is "touches heard" "$(cut -d, -f1 heard.csv | xargs)" "1 2 3 4 5 6"
    is "pictures" "$(grep -o '<img' long.html | wc -l)" 3
    for number in 1 2; do
        sound_of long.html $number >heard.wav
        "$THRUM" rank --voice v.json --marks heard.csv --walk heard.wav --json 2>/dev/null >heard.json
        jq -e -n --argjson louder $((20 * (number - 1))) --slurpfile a walk.json --slurpfile b heard.json '[range(6) as $i | $a[0].readings[$i] as $r |
            $b[0].readings[$i] as $h | select($r.strength[0].heard and $r.strength[0].dbfs > -60) |
            ($h.strength[0].dbfs - $r.strength[0].dbfs - $louder | fabs) < 0.5 and (if $louder == 0 then ($h.hum_dbfs - $r.hum_dbfs | fabs) < 0.5
            else ($h.hum_dbfs // -200) < $r.hum_dbfs + 5 end)] | length > 2 and all' >/dev/null ||
            fail "player $number plays other touches: $(jq -c '.readings[] | [.wire, .strength[0].dbfs, .hum_dbfs]' walk.json heard.json)"
    done
    # No room for all: the wires that can hardly be it are left out.
    seq 0 70 | awk '{printf "dull%d,%.1f,%.1f\n", $1, 2 * $1 + 1, 2 * $1 + 3}' >>marks.csv
    "$THRUM" review --voice v.json --page long.html --replace --marks marks.csv --walk pad.wav >out 2>err
    is "the likeliest heard" "$(heard_at long.html | grep -c ^6,)" 1
    grep -q "For 19 more there was no room" long.html || fail "it is not said what is missing: $(grep -o 'in seconds.*' long.html)"
fi

"$THRUM" practice --seed 5 --wires 2 --senders 2 --rate 8000 --write two 2>/dev/null
"$THRUM" tone --set 2 --mains 50 --write set >/dev/null
"$THRUM" review --voice set/a.json --voice set/b.json --page two.html two/w0[12].wav >out 2>err
same_as_rank two.html --voice set/a.json --voice set/b.json two/w0[12].wav
is "pictures" "$(grep -o '<img' two.html | wc -l)" 5
expect 4 "$THRUM" review --voice v.json --page bad.html p/w06.wav p/w01.wav missing.wav
grep -q "missing.wav" bad.html || fail "the page does not tell of the missing file"
"$THRUM" review --voice v.json --page piped.html - <p/w06.wav >out 2>err
is "pictures" "$(grep -o '<img' piped.html | wc -l)" 1
grep -q "given on standard input" piped.html || fail "it is not said why there is no strength over time"
expect 4 "$THRUM" review --page none.html missing.wav
xmllint --noout none.html || fail "the page of nothing is no good XML"
finish
