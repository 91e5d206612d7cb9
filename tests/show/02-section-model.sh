#!/usr/bin/env bash
# The section model, shown: order counts, alignments against pm4py, rules, mutations, broken files, fuzzing. Prints one line a figure
# (name, value, target); exits non-zero where one falls short. Needs a network the first time, for pm4py. FUZZ_SECONDS sets how long the
# reader of section files is fuzzed (60; an hour is on record in DEVELOPERS.md).
. "$(dirname "${BASH_SOURCE[0]}")/common.sh"
fresh; shared
cargo test --release --locked --test suite -- --nocapture section:: review:: rules:: oracle:: broken:: session:: >"$work/log" 2>&1
rc=$?
[ $rc = 0 ] || tail -40 "$work/log"
figure "cargo test: sections, reviews, rules, oracle, broken files, sessions" "exit $rc" "exit 0" $rc
figures=0
while IFS='|' read -r _ name value target met; do
  figures=$((figures + 1))
  figure "$name" "$value" "$target" "$met"
done < <(grep -o 'figure|.*' "$work/log")
figure "figures measured by the tests" "$figures" "at least 40" $([ "$figures" -ge 40 ]; echo $?)

# The reference library and ours on the same cases, one after the other.
python3 -m venv "$work/pm4py" && "$work/pm4py/bin/pip" install --quiet --requirement tests/reference/pm4py.txt || exit 1
answer=$("$work/pm4py/bin/python" tests/reference/alignments.py verify tests/data/alignments.jsonl 2>/dev/null)
ours=$(grep -o 'seconds|alignments|.*' "$work/log" | cut -d'|' -f3)
read -r cases equal theirs ratio < <(python3 -c "
import json, sys
a = json.loads(sys.argv[1]); print(a['cases'], a['equal'], round(a['seconds'], 2), int(a['seconds'] / float(sys.argv[2])))" "$answer" "$ours")
figure "pm4py, now: stored costs and fitness it computes again" "$equal of $cases" "all" $([ "$equal" = "$cases" ]; echo $?)
figure "pm4py's seconds over ours, same cases" "$ratio ($theirs s, $ours s)" "at least 100" $([ "$ratio" -ge 100 ]; echo $?)
for size in "line of 200, 2000 callouts" "width 8" "width 8, shuffled" "width 8 with cross ties, slowest of 40"; do
  took=$(grep -o "seconds|$size|[^|]*$" "$work/log" | cut -d'|' -f3)
  figure "alignment of a $size" "$took s" "under 0.5 s" $(python3 -c "import sys; sys.exit(float(sys.argv[1]) >= 0.5)" "${took:-9}"; echo $?)
done
seconds=${FUZZ_SECONDS:-60}
bash tests/fuzz/run.sh "$seconds" >"$work/fuzz" 2>&1; rc=$?
[ $rc = 0 ] || tail -20 "$work/fuzz"
figure "fuzzing the reader for $seconds s, no panic" "$(grep -o 'Done.*' "$work/fuzz")" "exit 0" $rc
exit $short
