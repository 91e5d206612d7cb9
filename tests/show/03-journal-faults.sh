#!/usr/bin/env bash
# Nothing lost, shown: simulation, planted bugs, kills, disks, clocks, the sound server, hostile input, privacy, durable appends beside
# SQLite. Prints one line a figure (name, value, target); exits non-zero where one falls short. Needs a network for set-up, rusqlite and
# Chromium, and root for the full file system and the empty network. SEEDS (10000), KILLS (200) and FUZZ_SECONDS (60) can be set.
. "$(dirname "${BASH_SOURCE[0]}")/common.sh"
fresh; shared
missing=$(for p in chromium strace pulseaudio pulseaudio-utils libasound2-plugins; do dpkg-query -W "$p" >/dev/null 2>&1 || echo "$p"; done)
# shellcheck disable=SC2086
[ -z "$missing" ] || { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq $missing >/dev/null; } || exit 1
cargo build --release --locked --quiet || exit 1
stepbell=$CARGO_TARGET_DIR/release/stepbell

began=$SECONDS
SEEDS=${SEEDS:-10000} tests "simulation" --test simulation -- --nocapture
grep 'seeds in' "$work/log"
echo "  (with its build $((SECONDS - began)) s)"
tests "planted bugs" --test simulation -- --ignored --nocapture
grep -E '^[a-z ]+: [0-9]+$' "$work/log"
tests "journal, page, disk, clock, models, sockets" --test suite -- --nocapture page:: journals:: faults::
KILLS=${KILLS:-200} tests "kills" --test suite -- --nocapture kill::
tests "sound server" --test live -- --nocapture a_sound_server

# A real file system of three pages, which the journal fills.
facial="prompts/skin-care/basic-facial.toml --mic tests/audio/demo.wav --compress 10 --seed 1 --headset"
mkdir "$work/tiny" "$work/runs"
# shellcheck disable=SC2086
unshare --mount bash -c "mount -t tmpfs -o size=12k tmpfs '$work/tiny' && '$stepbell' rehearse $facial --runs '$work/tiny' >'$work/told' 2>'$work/error'
  echo \$? >'$work/rc'; cp '$work/tiny/'*.journal '$work/runs/'"
figure "a file system that is full" "exit $(cat "$work/rc"), $(grep -o 'No space left on device' "$work/error")" "exit 4, No space left on device" \
  $([ "$(cat "$work/rc")" = 4 ] && grep -q 'No space left' "$work/error"; echo $?)
"$stepbell" replay --runs "$work/runs" >"$work/replay" 2>&1
lost=$(grep -F '“' "$work/told" | grep -v "can't be written" | while read -r line; do grep -qF "$line" "$work/replay" || echo "$line"; done | wc -l)
figure "a file system that is full: announced lines lost" "$lost" "0" "$lost"
"$stepbell" resume --runs "$work/runs" --mic tests/audio/demo.wav >"$work/resumed" 2>&1; rc=$?
figure "a file system that was full: resumed, with its recap" "exit $rc, $(grep -c 'I heard what you called' "$work/resumed") recaps" "exit 0" $rc

# No network at all: an empty network namespace.
# shellcheck disable=SC2086
unshare --net "$stepbell" rehearse $facial --runs "$work/offline" >"$work/told" 2>&1; rc=$?
figure "a run in an empty network namespace" "exit $rc, $(grep -c '^  - ' "$work/told") findings" "exit 0, 4 findings" \
  $([ $rc = 0 ] && [ "$(grep -c '^  - ' "$work/told")" = 4 ]; echo $?)

# Hostile names in a real browser: the title stays, nothing runs, nothing is fetched.
"$stepbell" rehearse tests/data/hostile.toml --mic tests/audio/demo.wav --headset --keep-audio --runs "$work/hostile" >/dev/null 2>&1
page=$(ls "$work/hostile/"*.html)
chromium --headless --no-sandbox --disable-gpu --enable-logging=stderr --v=0 --virtual-time-budget=3000 --dump-dom "file://$page" >"$work/dom" 2>"$work/console"
read -r taken elements < <(python3 - "$work/dom" <<'PY'
import html.parser, sys
class Look(html.parser.HTMLParser):
    bad, all, title, inside = 0, 0, "", False
    def handle_starttag(self, tag, attributes):
        self.all += 1
        self.inside = tag == "title" and not self.title
        self.bad += tag in ("script", "img", "iframe", "object", "embed", "form", "a") + tuple()
        self.bad += any(k.startswith("on") for k, _ in attributes)
    def handle_data(self, data):
        if self.inside: self.title += data
    def handle_endtag(self, tag): self.inside = False
look = Look(); look.feed(open(sys.argv[1]).read())
print(look.bad + (not look.title.startswith("Run of <script>")), look.all)
PY
)
figure "hostile names in Chromium: elements or handlers that don't belong" "$taken of $elements" "0" "$([ "$taken" = 0 ] && [ "$elements" -gt 50 ]; echo $?)"
errors=$(grep -c 'CONSOLE' "$work/console")
figure "hostile names in Chromium: console messages" "$errors" "0" "$errors"

for target in section journal wav recogniser; do
  bash tests/fuzz/run.sh "${FUZZ_SECONDS:-60}" $target >"$work/fuzz" 2>&1; rc=$?
  [ $rc = 0 ] || tail -20 "$work/fuzz"
  figure "fuzzing $target, no panic" "$(grep -o 'Done.*' "$work/fuzz")" "exit 0" $rc
done
(cd tests/bench && CARGO_TARGET_DIR=$root/target/bench cargo build --release --locked --quiet) || exit 1
LD_LIBRARY_PATH=$root/models/fetched/vosk "$root/target/bench/release/journal" "$root/target" >"$work/log"
figures "$work/log"
exit $short
