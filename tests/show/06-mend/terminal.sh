# What is printed: no success that isn't one, nothing that steers the terminal, words that agree. Sourced by 06-mend.sh.
facial=prompts/skin-care/basic-facial.toml
t=$work/terminal; mkdir -p "$t"
is() { [ "$1" = "$2" ]; echo $?; } # 0 where both are equal
run() { # folder, more arguments: the demo, as it is shipped
  local into=$1; shift
  "$stepbell" rehearse $facial --mic tests/audio/demo.wav --compress 10 --no-questions --runs "$into" --render "$into.wav" "$@"
}
left() { # folder: journals, pages and files of sound that a run left there
  printf '%s journal, %s page, %s sound' "$(find "$1" -name '*.journal' | wc -l)" "$(find "$1" -name '*.html' | wc -l)" \
    "$(find "$1.wav" -size +100k 2>/dev/null | wc -l)"
}
whole="1 journal, 1 page, 1 sound"

run "$t/full" >/dev/full 2>"$t/error"; rc=$?
figure "rehearse >/dev/full: exit code" $rc "4" "$(is $rc 4)"
figure "rehearse >/dev/full: left behind" "$(left "$t/full")" "$whole" "$(is "$(left "$t/full")" "$whole")"
run "$t/head" 2>"$t/error" | head -4 >/dev/null; rc=${PIPESTATUS[0]}
figure "rehearse --render | head -4: exit code, and it says so" "$rc, $(grep -c 'nobody read' "$t/error") line" "0, 1 line" \
  "$(is "$rc, $(grep -c 'nobody read' "$t/error") line" "0, 1 line")"
figure "rehearse --render | head -4: left behind" "$(left "$t/head")" "$whole" "$(is "$(left "$t/head")" "$whole")"
wrong=0; quiet=0
for verb in "check $facial" "show $facial" schema --help "recap --runs $t/full" "replay --runs $t/full" "history --runs $t/full" \
  "export --format csv --runs $t/full"; do
  # shellcheck disable=SC2086
  "$stepbell" $verb >/dev/full 2>/dev/null; [ $? = 4 ] || wrong=$((wrong + 1))
  # shellcheck disable=SC2086
  [ "${verb%% *}" = check ] || { "$stepbell" $verb 2>"$t/error" | true; [ ! -s "$t/error" ] || quiet=$((quiet + 1)); }
done
figure "8 verbs that print >/dev/full: not exit 4" $wrong "0" "$(is $wrong 0)"
figure "7 verbs that only print, their reader gone: not quiet" $quiet "0" "$(is $quiet 0)"
"$stepbell" check $facial no-such.toml 2>/dev/null | true; rc=${PIPESTATUS[0]}
figure "check of a missing file, its reader gone: exit code" $rc "1" "$(is $rc 1)"
"$stepbell" rehearse $facial --mic tests/audio/demo.wav --runs "$t/none" --render /dev/full >/dev/null 2>&1; rc=$?
begun=$(find "$t/none" -name '*.journal' 2>/dev/null | wc -l)
figure "--render that can't be written: exit code, runs begun" "$rc, $begun" "4, 0" "$(is "$rc, $begun" "4, 0")"

evil='\\u001b]0;owned\\u0007\\u009b31m\\u202e' # for sed
sed "s/^title = \"Basic facial\"/title = \"Basic $evil facial\"/; s/^source = \"/&$evil/; s/^cautions = \[/&\"$evil\", /" $facial >"$t/evil.toml"
reported=$("$stepbell" check "$t/evil.toml" 2>&1 >/dev/null | grep -c 'S070')
figure "strings with ESC, OSC, C1 and bidirectional controls: reported by check" "$reported" "3" "$(is "$reported" 3)"
"$stepbell" rehearse "$t/evil.toml" --mic tests/audio/demo.wav --compress 10 --no-questions --voice off --runs "$t/evil" >"$t/evil.out" 2>&1
"$stepbell" sheet "$t/evil.toml" --out "$t/evil/sheet.html" >>"$t/evil.out" 2>&1
"$stepbell" show "$t/evil.toml" --svg "$t/evil/order.svg" >>"$t/evil.out" 2>&1
"$stepbell" export --format csv --runs "$t/evil" --out "$t/evil/run.csv" >>"$t/evil.out" 2>&1
for verb in recap replay history ready plan "export --format json"; do
  # shellcheck disable=SC2086
  "$stepbell" $verb --runs "$t/evil" >>"$t/evil.out" 2>&1
done
steers=$(LC_ALL=C.UTF-8 grep -cP '[\x{1}-\x{8}\x{b}\x{c}\x{e}-\x{1f}\x{7f}-\x{9f}\x{202a}-\x{202e}\x{2066}-\x{2069}]' "$t"/evil.out "$t"/evil/*.{html,svg,csv} | awk -F: '{n += $2} END {print n}')
figure "lines of 10 verbs' output and 4 files that hold one" "$steers" "0" "$(is "$steers" 0)"

checked=$("$stepbell" check prompts/mock-exam.toml 2>"$t/error" | tail -1); errors=$(grep -c '^error' "$t/error")
figure "check prompts/mock-exam.toml" "${checked#*: }; $errors errors" "an exam; 0 errors" \
  "$(is "${checked#*: }; $errors" "a mock exam of 6 sections, usable; 0")"
sed 's/^edition = .*/edition = "2026-13-41"/' $facial >"$t/edition.toml"
"$stepbell" check "$t/edition.toml" >/dev/null 2>&1; rc=$?
figure "edition 2026-13-41: exit code of check" $rc "1" "$(is $rc 1)"
mkdir -p "$t/class/one" && cp "$t"/full/*.journal "$t/class/one/"
class=$("$stepbell" class "$t/class" --out "$t/class.html" | cut -d, -f1)
figure "class of one" "$class" "class: 1 person" "$(is "$class" "class: 1 person")"
enrol=$("$stepbell" enrol $facial --only toner --mic tests/audio/demo.wav --voice off --runs "$t/enrol" 2>/dev/null | grep -o 'I name [^.]*' | head -1)
figure "enrol --only toner" "$enrol" "I name 1 callout" "$(is "$enrol" "I name 1 callout")"
taken=0
for verb in page "export --format csv" resume "agree --ticks x.csv"; do
  # shellcheck disable=SC2086
  "$stepbell" $verb --runs "$t/full" --aloud >/dev/null 2>&1; [ $? = 2 ] || taken=$((taken + 1))
done
figure "--aloud taken and ignored, of page, export, resume, agree" $taken "0" "$(is $taken 0)"
alsa=$(PULSE_SERVER=unix:/nonexistent ALSA_CONFIG_PATH=/nonexistent "$stepbell" microphone --runs "$t/enrol" 2>&1 | grep -c ALSA)
figure "lines of ALSA above \"the loudspeaker can't be opened\"" "$alsa" "0" "$(is "$alsa" 0)"
