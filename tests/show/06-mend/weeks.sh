# Many runs: which of them count, what ready and plan tell, and how a run's page, a class's and the order's picture look on a phone.
made() { python3 tests/show/06-mend/runs.py "$@"; }
has() { # file or text, what it must hold
  grep -qF -- "$2" <<<"$1"
}
weeks=$work/weeks
mkdir -p "$weeks/class" "$weeks/pages" "$weeks/shots"
facial=prompts/skin-care/basic-facial.toml
# Nine whole runs on a clock compressed ten times, the skin not analysed in the first four, and two older ones on a whole clock.
made $facial "$weeks/runs" 10 9 10 analyse:4
made $facial "$weeks/runs" 1 2 1
counted="9 whole runs, compressed 10 times"
silent=("$stepbell" rehearse $facial --voice off --mic /no/such.wav --runs "$weeks/runs")
said=0
for verb in history ready plan; do has "$("$stepbell" $verb --runs "$weeks/runs")" "$counted" && said=$((said + 1)); done
for way in "--fade auto" --weak; do
  # shellcheck disable=SC2086
  has "$("${silent[@]}" $way 2>&1)" "$counted" && said=$((said + 1))
done
cp -r "$weeks/runs" "$weeks/class/ann"
"$stepbell" class "$weeks/class" --out "$weeks/pages/class.html" >/dev/null
page=$(<"$weeks/pages/class.html")
has "$page" "$counted" && has "$page" "The clock was compressed" && said=$((said + 1))
figure "nine compressed runs: verbs and pages that count them and say so" "$said" "6: history ready plan --weak --fade class" "$((said != 6))"
apart=0
for told in "$("$stepbell" history --runs "$weeks/runs")" "$page"; do has "$told" "Kept apart, and not counted here: 2 on a clock" && apart=$((apart + 1)); done
figure "two runs on another clock: told as kept apart, in history and class" "$apart" "2" "$((apart != 2))"

ready=$("$stepbell" ready --runs "$weeks/runs")
chance() { sed -n "s/^$1.*: \([0-9]*\) %.*/\1/p" <<<"$ready"; }
critical=$(chance "Chance that the next run has no critical finding")
all=$(chance "Chance that it has no finding at all")
figure "a step not critical, left out in 4 of 9: chance without critical finding, without any" "$critical %, $all %" "both told, the second well below" "$((critical - all < 15))"
held=$(sed -n '/^What holds it down/,/^It is made/p' <<<"$ready" | grep -c 'left out')
figure "what holds it down: steps listed, and those that were left out" "$held, $(grep -c 'analyse the skin was left out in 4 of 9' <<<"$ready")" "1, 1" "$((held != 1))"

# A section with a step of no minutes, a long title with a drawn finger, and a step that is left out.
cat >"$weeks/table.toml" <<'TOML'
id = "table"
title = "The table"
trade = "nails"
board = "Tarnmoor Board of Personal Care (invented)"
edition = "2026-03-01"
source = "Common practice."
finish = ["stepping back"]
[[parameter]]
id = "finger"
one_of = ["thumb", "index", "middle", "ring", "little"]
[reading]
times = 1
sentences = ["This is the table."]
again = "Once more."
begin = "You may begin now."
[clock]
minutes = 10
warning_minutes_left = 5
warning = "Five minutes left."
stop = "Stop."
[[step]]
id = "tidy"
title = "tidy the table"
say = ["tidy the table"]
minutes = 0.5
[[step]]
id = "coat"
title = "base coat"
say = ["base coat"]
[[step]]
id = "polish"
title = "take all of the coloured polish off the nail plate of the {finger} finger"
say = ["polish off"]
minutes = 1
TOML
made "$weeks/table.toml" "$weeks/table" 1 6 1 tidy:6
plan=$("$stepbell" plan --runs "$weeks/table")
row() { grep -F "$1" <<<"$plan" | awk '{print $2, $3}'; }
figure "plan: planned and usual of a step that was never called" "$(row 'tidy the table')" "0:30 -" "$([ "$(row 'tidy the table')" = "0:30 -" ]; echo $?)"
runs=$("$stepbell" history --runs "$weeks/table" | sed -n '1s/.*: //p')
figure "six runs, five fingers drawn: counted together" "$runs" "6 whole runs." "$([ "$runs" = "6 whole runs." ]; echo $?)"
run=$(find "$weeks/table" -name '*.journal' | sort | head -1)
"$stepbell" page "$run" --out "$weeks/pages/table.html" >/dev/null
read -r names cut missed strokes late dashes < <(python3 - "$weeks/pages/table.html" <<'PY'
import re, sys
page = open(sys.argv[1]).read()
chart, table = page.split('aria-label="Step table"')
names = re.findall(r'<span class="name">(.*?)</span>', chart)
coat = next(r for r in table.split("<tr>") if "base coat" in r)
print(len(names), sum("\u2026" in n for n in names), chart.count(">not called<"), chart.count('class="plan"'), chart.count("bar late"), coat.count("\u2013"))
PY
)
figure "timeline of three steps, one not called: rows, rows not called, titles cut" "$names, $missed, $cut" "3, 1, 0" "$((names != 3 || missed != 1 || cut != 0))"
figure "a step without minutes: strokes of a plan, bars told as late, dashes in its row" "$strokes, $late, $dashes" "1 (the other step's), 0, 2" "$((strokes != 1 || late != 0 || dashes != 2))"
"$stepbell" show "$weeks/table.toml" --seed 4 --svg "$weeks/order.svg" >/dev/null
figure "the picture of the order: titles cut" "$(grep -c '…' "$weeks/order.svg")" "0, the drawn finger is there" "$(grep -q ' finger' "$weeks/order.svg" && ! grep -q '…' "$weeks/order.svg"; echo $?)"

# On a phone, a tablet and a desk, with a class of eight.
for who in bea cy dee eve fay gus hal; do made $facial "$weeks/class/$who" 10 9 10 analyse:2; done
"$stepbell" class "$weeks/class" --out "$weeks/pages/class.html" >/dev/null
"$stepbell" page "$(find "$weeks/runs" -name '*.journal' | sort | head -1)" --out "$weeks/pages/run.html" >/dev/null
"$stepbell" page tests/data/journals/v2.journal --out "$weeks/pages/demo.html" >/dev/null
"$stepbell" sheet $facial --out "$weeks/pages/sheet.html" >/dev/null
missing=$(for p in chromium:chromium node:nodejs npm:npm; do command -v "${p%:*}" >/dev/null || echo "${p#*:}"; done)
# shellcheck disable=SC2086
[ -z "$missing" ] || { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq $missing >/dev/null; }
cp -r tests/browser "$work/browser" && (cd "$work/browser" && npm ci --silent --no-audit --no-fund >/dev/null)
node "$work/browser/look.js" "${SHOTS:-$weeks/shots}" "$weeks"/pages/*.html >"$weeks/look"
read -r views violations messages sideways cut scrolls < <(python3 - "$weeks/look" <<'PY'
import json, sys
views = json.load(open(sys.argv[1]))
for view in views:
    if view["violations"] or view["cut"]: print(view["page"], view["name"], view["violations"], view["cut"], file=sys.stderr)
of = lambda name: sum(len(v[name]) for v in views)
print(len(views), of("violations"), of("messages"), sum(v["sideways"] > 0 for v in views), of("cut"), "+".join(sorted({f'{v["page"]}/{v["name"]}' for v in views if v["scrolls"]})) or "none")
PY
)
figure "pages at 390, 768 and 1280 px, light and dark, $views views: axe-core, console" "${violations:-none}, ${messages:-none}" "0, 0" "$((${violations:-1} + ${messages:-1}))"
figure "pages that scroll sideways, and parts cut off without a sign" "${sideways:-none}, ${cut:-none}" "0, 0" "$((${sideways:-1} + ${cut:-1}))"
figure "regions that scroll, with a shadow at their edge" "${scrolls:-none}" "only a class's, on a phone" "$([ "${scrolls:-}" = class.html/phone ]; echo $?)"
