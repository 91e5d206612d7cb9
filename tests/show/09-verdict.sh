#!/usr/bin/env bash
# An examiner's verdict: what protects is told first, every published criterion is on the sheet, and the content is the bulletins'.
# One line a figure (what was done, what came out, what must); exits non-zero where one falls short. Needs what models/setup.sh needs.
. "$(dirname "${BASH_SOURCE[0]}")/common.sh"
fresh; shared
cargo build --release --locked --quiet || exit 1
stepbell=$CARGO_TARGET_DIR/release/stepbell

printf 'what protects, scores, planted faults\n'
suite "safety pairs, sheets and scores" verdict::
suite "a wait that was long enough is announced, one cut short is told" session::a_wait bulletin::a_wait
printf '\nthe content beside its sources\n'
suite "each fact with its source" bulletin::
printf '\nreviews, rules and pm4py as before\n'
suite "alignments equal to pm4py's, mutations, rules" oracle:: review:: rules::
suite "old journals and observers" journals:: observer::

printf '\nby the program itself\n'
for file in prompts/*/*.toml; do
  "$stepbell" check "$file" >"$work/check" 2>"$work/problems"; rc=$?
  [ -s "$work/problems" ] && rc=1
  figure "check ${file#prompts/}" "$(sed -n 's/^  steps: \([^;]*\);.*/\1/p' "$work/check")" "no problem" $rc
done
"$stepbell" rehearse prompts/skin-care/basic-facial.toml --mic tests/audio/demo.wav --voice off --compress 10 --runs "$work/runs" >"$work/told" 2>&1; rc=$?
sheet=$(grep -o '^Criteria claimed: [0-9]* of [0-9]*' "$work/told")
figure "the demo's sheet" "$sheet" "Criteria claimed: 6 of 9" $([ $rc = 0 ] && [ "$sheet" = "Criteria claimed: 6 of 9" ]; echo $?)
"$stepbell" sheet prompts/skin-care/basic-facial.toml --out "$work/sheet.html" >/dev/null
seen=$(grep -oE '<td>2\.[0-9]</td>' "$work/sheet.html" | tr -dc '0-9.\n' | tr '\n' ' ')
figure "the observer's sheet has the criteria that can't be heard" "$seen" "2.2 2.8" $([ "$seen" = "2.2 2.8 " ]; echo $?)
printf 'step,seen,in_place,remarks\r\nlips,yes,no,late\r\ncleanse,yes,yes,\r\n2.2,yes,,\r\n2.8,no,,came off\r\n' >"$work/ticks.csv"
"$stepbell" agree --runs "$work/runs" --ticks "$work/ticks.csv" >"$work/agree" 2>&1; rc=$?
lines=$(grep -cE 'for their place|by the observer|remark: (late|came off)' "$work/agree")
figure "agree compares every column: places, criteria, remarks" "$lines lines" "5 lines" $([ $rc = 0 ] && [ "$lines" = 5 ]; echo $?)
exit $short
