#!/usr/bin/env bash
# The main job, shown from a fresh clone: set-up and tests with the registries, then again without any network, and the figures that the
# tests measured. Prints one line a figure (name, value, target); exits non-zero where one falls short. Takes about 20 minutes on 2 cores.
. "$(dirname "${BASH_SOURCE[0]}")/common.sh"
attempt() { # name, then the command
  local name=$1 log=$work/log rc; shift
  "$@" >"$log" 2>&1; rc=$?
  [ $rc = 0 ] || tail -40 "$log"
  figure "$name" "exit $rc" "exit 0" $rc
}
offline() { unshare --map-root-user --net "$@"; }

fresh
attempt "fresh clone: bash models/setup.sh demo" bash models/setup.sh demo
found=$(grep -cE '^  - (Not called: (analyse the skin|toner)\.|Dropped item called at 59 seconds, and hands 4 seconds later;|Out of order: lip colour off, called at 44 seconds\.)' "$work/log")
all=$(grep -c '^  - ' "$work/log")
figure "demo: findings of the script, of all findings" "$found of $all" "4 of 4" $([ "$found $all" = "4 4" ]; echo $?)
figure "demo: bytes of speech written" "$(stat -c %s runs/demo-spoken.wav 2>/dev/null)" "over 1000000" $([ "$(stat -c %s runs/demo-spoken.wav 2>/dev/null || echo 0)" -gt 1000000 ]; echo $?)
attempt "fresh clone: bash models/setup.sh test" bash models/setup.sh test
attempt "network cut: bash models/setup.sh demo" offline bash models/setup.sh demo
attempt "network cut: bash models/setup.sh test" offline bash models/setup.sh test
cargo test --release --locked -- --nocapture >"$work/log" 2>&1
grep '^test result: ok' "$work/log" >/dev/null || tail -40 "$work/log"
figures=0
while IFS='|' read -r _ name value target met; do
  figures=$((figures + 1))
  figure "$name" "$value" "$target" "$met"
done < <(grep -o 'figure|.*' "$work/log")
figure "figures measured by the tests" "$figures" "at least 11" $([ "$figures" -ge 11 ]; echo $?)
exit $short
