#!/usr/bin/env bash
# A school, a chain of schools: twelve questions with equal answers from DuckDB, Apache Spark and the journals themselves; growth; object
# storage; a class's page in Chromium; a forgotten run that is in no file. Prints one line a figure (name, value, target); exits non-zero
# where one falls short. Needs a network for set-up, Java (17 or newer), Chromium, PyPI and npm, and some 12 GB of disk.
# GROWTH names the sizes ("10000 100000 1000000 10000000"), BIG the one that Spark is asked about, too; SHOTS keeps screenshots, PYTHON names
# an interpreter that has tests/reference/school.txt already.
. "$(dirname "${BASH_SOURCE[0]}")/common.sh"
fresh; shared
: "${GROWTH:=10000 100000 1000000 10000000}" "${BIG:=1000000}" "${SHOTS:=$work/shots}"
missing=$(for p in java:default-jre-headless chromium:chromium node:nodejs npm:npm; do command -v "${p%:*}" >/dev/null || echo "${p#*:}"; done)
# shellcheck disable=SC2086
[ -z "$missing" ] || { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing >/dev/null; } || exit 1
if [ -z "${PYTHON:-}" ]; then
  PYTHON=$work/python/bin/python
  python3 -m venv "$work/python" && "$work/python/bin/pip" install --quiet --requirement tests/reference/school.txt || exit 1
fi
models/fetched/python/bin/python -m pip install --quiet --no-deps --require-hashes --requirement tests/reference/requirements.txt || exit 1
cargo build --release --locked --quiet || exit 1
stepbell=$CARGO_TARGET_DIR/release/stepbell
ask() { nice -n 15 "$PYTHON" tests/reference/school.py "$@"; }
of() { "$PYTHON" -c "import json,sys; a=json.load(open(sys.argv[1])); print(eval(sys.argv[2]))" "$1" "$2"; }
alike() { # name, two answers
  local told; told=$(ask same "$2" "$3"); figure "$1" "$told equal" "12 of 12" $?
}
seconds() { local begun; begun=$(date +%s.%N); "$@" >"$work/told" || { cat "$work/told"; exit 1; }; python3 -c "import time; print(f'{time.time() - $begun:.2f}')"; }

suite "the archive: what goes in, what is appended, what comes out" archive:: forget:: class::

# A chain of schools, carried out by the real driver, and archived school by school.
CHAIN=$work/chain PEOPLE=5 RUNS=50 cargo test --release --locked --test simulation -- a_chain >"$work/log" 2>&1 || { tail -20 "$work/log"; exit 1; }
journals=$(find "$work/chain" -name '*.journal' | wc -l)
for person in "$work"/chain/*/*/*; do "$stepbell" consent named --runs "$person" >/dev/null || exit 1; done
for class in "$work"/chain/*/*; do
  "$stepbell" archive "$class" --school "$(basename "$(dirname "$class")")" --class "$(basename "$class")" --to "$work/archive" --yes >>"$work/told" || exit 1
done
figure "runs of the chain, carried out and archived" "$journals, $(grep -o '^archive: [0-9]*' "$work/told" | awk '{n += $2} END {print n}')" "1000, 1000" $((journals != 1000))
ask duckdb "$work/archive" "$work/duckdb.json" && ask spark "$work/archive" "$work/spark.json" 2>"$work/log" && ask journals "$stepbell" "$work/chain" "$work/journals.json" || { tail -20 "$work/log"; exit 1; }
alike "1,000 runs: DuckDB and the journals" "$work/duckdb.json" "$work/journals.json"
alike "1,000 runs: Spark and the journals" "$work/spark.json" "$work/journals.json"
alike "1,000 runs: DuckDB and Spark" "$work/duckdb.json" "$work/spark.json"
workers=$(of "$work/spark.json" "a['workers']")
figure "Spark: worker processes; questions with a shuffle between them" "$workers, $(of "$work/spark.json" "sum(n > 0 for n in a['shuffles'].values())")" "2, 12" $((workers != 2))
opened=$(of "$work/spark.json" "a['files_opened']") there=$(of "$work/spark.json" "a['files_there']")
figure "Spark: files of steps opened for one section and two months" "$opened of $there" "fewer" $((opened >= there))
echo "  $(of "$work/spark.json" "a['partition_filters'][0]")"

# A run forgotten is in no file; the others' rows are what they were.
one=$(find "$work/chain/north/monday" -name '*.journal' | sort | head -1)
id=$(grep -F "$(basename "$one")" "$(dirname "$one")/.archived" | cut -f1)
"$stepbell" forget "$(basename "$one" .journal)" --runs "$(dirname "$one")" >"$work/told" || exit 1
left=$("$PYTHON" - "$work/archive" "$id" <<'PY'
import duckdb, glob, sys
files = glob.glob(f"{sys.argv[1]}/*/*/*/*/*.parquet")
rows = sum(duckdb.execute("SELECT count(*) FROM read_parquet(?) WHERE run = ?", [f, sys.argv[2]]).fetchone()[0] for f in files)
print(rows, sum(sys.argv[2].encode() in open(f, "rb").read() for f in files), len(files))
PY
)
read -r rows bytes files <<<"$left"
figure "a forgotten run: rows of it, files whose bytes name it" "$rows, $bytes of $files files" "0, 0" $((rows + bytes))
ask duckdb "$work/archive" "$work/after.json" && ask journals "$stepbell" "$work/chain" "$work/left.json" || exit 1
alike "999 runs, after that: DuckDB and the journals" "$work/after.json" "$work/left.json"

# Growth, and both engines on a big one.
for runs in $GROWTH; do
  made=$(ask grow "$work/archive" "$work/grown" "$runs") || exit 1
  ask duckdb "$work/grown" "$work/grown-$runs.json" || exit 1
  figure "$runs runs, $(of "$work/grown-$runs.json" "a['steps']") steps, $(python3 -c "print(f'{$(echo "$made" | python3 -c "import json,sys; print(json.load(sys.stdin)['bytes'])") / 1e6:.0f}')") MB: twelve questions by DuckDB" \
    "$(of "$work/grown-$runs.json" "f\"{sum(a['seconds'].values()):.1f} s, {a['most_bytes'] / 1e6:.0f} MB; longest {max(a['seconds'].values()):.1f} s\"")" "-" 0
  if [ "$runs" = "$BIG" ]; then
    ask spark "$work/grown" "$work/big.json" 2>"$work/log" || { tail -20 "$work/log"; exit 1; }
    alike "$BIG runs: DuckDB and Spark" "$work/grown-$runs.json" "$work/big.json"
    figure "$BIG runs: twelve questions by Spark" "$(of "$work/big.json" "f\"{sum(a['seconds'].values()):.0f} s\"")" "-" 0
  fi
  rm -rf "$work/grown"
done

# Object storage: the archive behind a URL, on a server of this machine.
told=$(nice -n 15 "$PYTHON" tests/reference/object_store.py "$work/archive" "$work/stored.json" 2>"$work/log") || { tail -5 "$work/log"; told="stopped"; }
alike "from s3:// ($told): DuckDB, and from the folder" "$work/stored.json" "$work/after.json"

# A class of forty.
mkdir -p "$work/class" "$SHOTS"
CHAIN=$work/forty PEOPLE=10 RUNS=25 cargo test --release --locked --test simulation -- a_chain >"$work/log" 2>&1 || exit 1
for person in "$work"/forty/*/*/*; do cp -r "$person" "$work/class/$(basename "$person")"; done
first=$(seconds "$stepbell" class "$work/class" --section basic-facial --out "$work/class/class.html" --csv "$work/class/marks.csv")
best=99; for _ in 1 2 3; do took=$(seconds "$stepbell" class "$work/class" --section basic-facial --out "$work/class/class.html" --csv "$work/class/marks.csv"); best=$(python3 -c "print(min($best, $took))"); done
figure "a class's page and gradebook: $(head -1 "$work/told" | cut -d, -f1), best of three" "$best s (the first time, with 1,000 journals and all pages led to: $first s)" "under 2 s" "$(python3 -c "print(int($best >= 2))")"
broken=$(python3 - "$work/class" <<'PY'
import os, re, sys, urllib.parse
links = [urllib.parse.unquote(l) for l in re.findall(r'href="([^"#]+)"', open(f"{sys.argv[1]}/class.html").read())]
print(len(links), sum(not os.path.isfile(f"{sys.argv[1]}/{l}") for l in links))
PY
)
figure "links from the page to runs, and those that lead nowhere" "${broken/ /, }" "0 nowhere" "${broken#* }"
cp -r tests/browser "$work/browser" && (cd "$work/browser" && npm ci --silent --no-audit --no-fund >/dev/null) || exit 1
node "$work/browser/look.js" "$SHOTS" "$work/class/class.html" >"$work/look" && node "$work/browser/keys.js" "$work/class/class.html" >"$work/keys" || exit 1
read -r views violations messages sideways cut < <(python3 - "$work/look" <<'PY'
import json, sys
views = json.load(open(sys.argv[1]))
for view in views:
    for v in view["violations"] + view["cut"]: print(view["name"], v, file=sys.stderr)
of = lambda key: sum(len(v[key]) for v in views)
print(len(views), of("violations"), of("messages") + of("elsewhere"), sum(v["sideways"] > 0 for v in views), of("cut"))
PY
)
figure "the page in Chromium at three widths and in the dark, $views views: axe-core violations" "$violations" "0" "$violations"
figure "the page in Chromium: messages or requests; views wider than the window; cut off" "$messages, $sideways, $cut" "0, 0, 0" $((messages + sideways + cut))
of_keys() { python3 -c "import json; print(json.load(open('$work/keys'))['$1'])"; }
figure "the page by the keyboard alone: stops, not reached, without a sign of focus" "$(of_keys stops), $(of_keys unreached), $(of_keys unseen)" "some, 0, 0" $(($(of_keys unreached) + $(of_keys unseen)))
figure "Enter on a cell leads to" "$(of_keys led)" "Run of …" "$([[ $(of_keys led) = "Run of "* ]]; echo $?)"
exit $short
