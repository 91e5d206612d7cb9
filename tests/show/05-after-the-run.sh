#!/usr/bin/env bash
# After the run: statistics against scipy and statsmodels, readiness on a made-up school, the pages in Chromium with
# axe-core. Prints one line a figure (name, value, target); exits non-zero where one falls short. Needs a network for set-up, scipy,
# Chromium and two npm packages. SHOTS names a folder that the screenshots are kept in.
. "$(dirname "${BASH_SOURCE[0]}")/common.sh"
fresh; shared
# By their commands: a Node.js that is no Debian package brings its own npm.
missing=$(for p in chromium:chromium node:nodejs npm:npm; do command -v "${p%:*}" >/dev/null || echo "${p#*:}"; done)
# shellcheck disable=SC2086
[ -z "$missing" ] || { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq $missing >/dev/null; } || exit 1
# What the tests compare with, as `models/setup.sh test` installs it.
models/fetched/python/bin/python -m pip install --quiet --no-deps --require-hashes --requirement tests/reference/requirements.txt || exit 1
cargo build --release --locked --quiet || exit 1
stepbell=$CARGO_TARGET_DIR/release/stepbell

cargo test --release --locked --lib --test suite -- --nocapture history:: recap:: page:: drill:: questions:: mock:: fade:: >"$work/log" 2>&1; rc=$?
[ $rc = 0 ] || tail -30 "$work/log"
figures "$work/log"
figure "cargo test: history, recap, page, drills, questions, mock exam, fading" "exit $rc" "exit 0" $rc
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

# The school's journals under 84 names each: 100,800 runs in one folder.
python3 - "$work/school" "$work/many" <<'PY'
import os, sys
school, many = sys.argv[1:]
os.mkdir(many)
for person in sorted(os.listdir(school)):
    for name in sorted(os.listdir(f"{school}/{person}")):
        if name.endswith(".journal"):
            for k in range(84): os.link(f"{school}/{person}/{name}", f"{many}/{name[:-8]}-{person}-{k:02}.journal")
PY
seconds() { local begun; begun=$(date +%s.%N); "$@" >"$work/told" || exit 1; python3 -c "import time; print(f'{time.time() - $begun:.2f}')"; }
indexing=$(seconds "$stepbell" history --runs "$work/many")
best=99; for _ in 1 2 3; do took=$(seconds "$stepbell" history --runs "$work/many"); best=$(python3 -c "print(min($best, $took))"); done
# An archive holds a run once, whatever its names: each journal under one name.
mkdir "$work/once" && cp -l "$work"/many/*-00.journal "$work/once" || exit 1
"$stepbell" history --runs "$work/once" >"$work/history" && "$stepbell" archive "$work/once" --to "$work/archive" --yes >/dev/null || exit 1
models/fetched/python/bin/python tests/reference/archive.py "$work/archive" >"$work/duckdb" || exit 1
equal=$(python3 - "$work/history" "$work/duckdb" <<'PY'
import json, re, sys
ours = [(int(a), int(b)) for a, b in re.findall(r"^ +(\d+) of (\d+) ", open(sys.argv[1]).read(), re.M)]
theirs = json.load(open(sys.argv[2]))
same = [o == (missed, theirs["runs"]) for o, (_, missed, _) in zip(ours, theirs["steps"])]
print(f"{sum(same)}/{len(theirs['steps'])}")
PY
)
figure "100,800 runs: indexed once" "$indexing s" "-" 0
figure "100,800 runs: history from the index, best of three, with its start" "$best s" "under 2 s" "$(python3 -c "print(int($best >= 2))")"
figure "1,200 runs: steps whose omissions DuckDB counts alike in their archive" "$equal" "all" "$([ "${equal%/*}" = "${equal#*/}" ]; echo $?)"

# The recap, spoken, and heard back by a recogniser that knows nothing of it.
"$stepbell" rehearse prompts/skin-care/basic-facial.toml --mic tests/audio/demo.wav --compress 10 --runs "$work/runs" --render "$work/spoken.wav" >/dev/null || exit 1
"$stepbell" replay --runs "$work/runs" >"$work/replay" || exit 1
python3 -m venv "$work/ears" && "$work/ears/bin/pip" install --quiet --requirement tests/bench/ears/requirements.txt || exit 1
back=$("$work/ears/bin/python" tests/reference/heard_back.py "$work/spoken.wav" "$work/replay") || exit 1
figure "the spoken recap, read back by pocketsphinx with its own language model: words" "$back" "at least 75 %" "$(python3 -c "print(int(eval('$back'.split(' ')[0]) < 0.75))")"
exit $short
