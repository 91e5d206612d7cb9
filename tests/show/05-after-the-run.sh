#!/usr/bin/env bash
# After the run, as far as it is built: statistics against scipy and statsmodels, readiness on a made-up school, the pages in Chromium with
# axe-core. Prints one line a figure (name, value, target); exits non-zero where one falls short. Needs a network for set-up, scipy,
# Chromium and two npm packages. SHOTS names a folder that the screenshots are kept in.
. "$(dirname "${BASH_SOURCE[0]}")/common.sh"
fresh; shared
missing=$(for p in chromium nodejs npm; do dpkg-query -W "$p" >/dev/null 2>&1 || echo "$p"; done)
# shellcheck disable=SC2086
[ -z "$missing" ] || { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq $missing >/dev/null; } || exit 1
cargo build --release --locked --quiet || exit 1
stepbell=$CARGO_TARGET_DIR/release/stepbell

cargo test --release --locked --lib --test suite -- --nocapture history:: recap:: page:: drill:: >"$work/log" 2>&1; rc=$?
[ $rc = 0 ] || tail -30 "$work/log"
figures "$work/log"
figure "cargo test: history, recap, page, drills" "exit $rc" "exit 0" $rc
python3 -m venv "$work/stats" && "$work/stats/bin/pip" install --quiet --requirement tests/reference/stats.txt || exit 1
answer=$("$work/stats/bin/python" tests/reference/stats.py verify tests/data/stats.jsonl)
equal=$(python3 -c "import json,sys; a=json.loads(sys.argv[1]); print(a['equal'], 'of', a['cases'])" "$answer")
figure "scipy and statsmodels, now: stored values they compute again" "$equal" "all" "$([ "${equal% of *}" = "${equal#* of }" ]; echo $?)"

SCHOOL=$work/school cargo test --release --locked --test simulation -- --nocapture readiness >"$work/log" 2>&1; rc=$?
grep -E '^  +[0-9f]' "$work/log"
figures "$work/log"
figure "cargo test: readiness on a made-up school" "exit $rc, $(find "$work/school" -name '*.journal' | wc -l) journals" "exit 0, 1200 journals" $rc
mkdir -p "$work/pages" "${SHOTS:=$work/shots}"
"$stepbell" class "$work/school" --out "$work/pages/class.html" >/dev/null
"$stepbell" page tests/data/journals/v2.journal --out "$work/pages/run.html" >/dev/null
cp -r tests/browser "$work/browser" && (cd "$work/browser" && npm ci --silent --no-audit --no-fund >/dev/null) || exit 1
node "$work/browser/look.js" "$SHOTS" "$work/pages/run.html" "$work/pages/class.html" >"$work/look" || exit 1
read -r views violations messages sideways elsewhere < <(python3 - "$work/look" <<'PY'
import json, sys
views = json.load(open(sys.argv[1]))
for view in views:
    for v in view["violations"]: print(view["page"], view["name"], v, file=sys.stderr)
print(len(views), sum(len(v["violations"]) for v in views), sum(len(v["messages"]) for v in views), sum(v["sideways"] > 0 for v in views),
      sum(len(v["elsewhere"]) for v in views))
PY
)
figure "pages in Chromium, $views views: axe-core violations (WCAG 2.2 A, AA)" "$violations" "0" "$violations"
figure "pages in Chromium: console messages, requests elsewhere" "$messages, $elsewhere" "0, 0" $((messages + elsewhere))
figure "pages in Chromium: views that scroll sideways as a whole" "$sideways" "0" "$sideways"
exit $short
