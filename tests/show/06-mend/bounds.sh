# Limits of time and memory, and a rule that could not be kept: what `check` and `show` take of large files, and what explaining wide runs
# takes beside pm4py. Seconds and MB are the child's own, by getrusage; a second and 200 MB of each `check` are the recogniser's model. Needs a network the first time, for pm4py.
cat >"$work/measured.py" <<'E2'
import os, resource, sys, time
began = time.perf_counter()
out = os.open(sys.argv[1], os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
child = os.posix_spawnp(sys.argv[2], sys.argv[2:], os.environ, file_actions=[(os.POSIX_SPAWN_DUP2, out, 1), (os.POSIX_SPAWN_DUP2, out, 2)])
_, status, used = os.wait4(child, 0)
print(round(used.ru_utime + used.ru_stime, 2), used.ru_maxrss // 1024, os.waitstatus_to_exitcode(status))
E2
measured() { # name, most seconds, most MB, exit code, what must be printed, command: its processor time and memory
  local name=$1 most=$2 mb=$3 code=$4 words=$5 seconds used rc; shift 5
  read -r seconds used rc < <(python3 "$work/measured.py" "$work/said" "$@")
  [ "$rc" = "$code" ] && grep -q -- "$words" "$work/said" && python3 -c "import sys; sys.exit(not ($seconds <= $most and $used <= $mb))"
  figure "$name" "$seconds s, $used MB, exit $rc" "$most s, $mb MB, exit $code, \"$words\"" $?
}
head=$(printf '%s\n' 'id = "x"' 'title = "x"' 'trade = "x"' 'board = "Quillmere Board (invented)"' 'edition = "2026-03-01"' 'source = "x"' \
  'finish = ["stepping back"]' '[reading]' 'sentences = ["x"]' 'again = "x"' 'begin = "x"' '[clock]' 'minutes = 30' 'stop = "stop"')
words() { python3 - "$@" <<'E2' # steps a group, groups, whether turns share callouts
import random, sys
width, groups, shared = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3] == "shared"
chance = random.Random(5)
names = ["alpha", "bravo", "delta", "echo", "golf", "hotel", "india", "lima", "mike", "oscar", "papa", "romeo", "sierra", "tango", "victor", "yankee"]
for group in range(groups):
    for k in range(width):
        after = [f"s{group - 1}-{b}" for b in sorted(chance.sample(range(width), min(3, width)))] if group else []
        say = f"{names[group]} {names[chance.randrange(6)]}" if shared else f"{names[group]} {names[k % 16]} {names[k // 16]}"
        print(f'[[step]]\nid = "s{group}-{k}"\ntitle = "s"\nsay = ["{say}"]\nafter = {after}'.replace("'", '"'))
if not shared and groups == 2:
    print("[[choice]]\ntitle = \"c\"\nat_least = 5\nof = [" + ", ".join(f'"s1-{k}"' for k in range(min(width, 10))) + "]")
E2
}
rules() { for k in $(seq "$1"); do printf '[[rule]]\nid = "r%s"\ntemplate = "%s"\nfirst = "s0-%s"\nthen = "s0-%s"\nseverity = "fault"\nmessage = "m"\n' "$k" "$2" $((k % 12)) $(((k * 5 + 1) % 12)); done; }
section() { printf '%s\n' "$head"; words "$@"; }
{ section 12 1 own; rules 2000 response; } >"$work/rules-2000.toml"
{ section 12 1 own; rules 200 response; } >"$work/rules-200.toml"
{ section 12 1 own; rules 200 precedence; } >"$work/circle-200.toml"
measured "check of 2,000 rules (was 100 s, 650 MB)" 2 300 1 "S050" "$stepbell" check "$work/rules-2000.toml"
measured "check of 200 rules that can be kept" 2 300 0 "usable" "$stepbell" check "$work/rules-200.toml"
measured "check of 200 rules that wait for each other" 3 300 1 "S041" "$stepbell" check "$work/circle-200.toml"
for n in 100 160 256; do
  section "$n" 1 own >"$work/apart-$n.toml"
  measured "show of $n steps in any order (was 13 to 32 s, 450 MB)" 2 300 0 "allowed orders: [1-9]" "$stepbell" show "$work/apart-$n.toml"
done
section 64 4 own >"$work/tied.toml"
measured "show of 4 groups of 64 with cross ties" 4 300 0 "allowed orders: too many" "$stepbell" show "$work/tied.toml"
for n in 16 24; do
  section "$n" 2 own >"$work/groups-$n.toml"
  measured "check of two groups of $n, cross ties, a choice: 10 runs explained" 2 300 0 "usable" "$stepbell" check "$work/groups-$n.toml"
done
section 24 4 shared >"$work/shared.toml"
measured "check of 4 groups of 24 with 6 callouts each, cross ties" 4 300 1 "S054" "$stepbell" check "$work/shared.toml"

# The starter's own example rule, as its user would take its comment signs away.
"$stepbell" new "$work/starter.toml" >/dev/null
python3 - "$work/starter.toml" <<'E2'
import re, sys
text = open(sys.argv[1]).read()
block = re.search(r"(?m)^# \[\[rule\]\](?:.*\n)(?:# .*\n)*", text)
open(sys.argv[1], "w").write(text[:block.start()] + re.sub(r"(?m)^# ", "", block.group()) + text[block.end():])
E2
measured "check of the starter with its example rule (was S041)" 2 300 0 "usable" "$stepbell" check "$work/starter.toml"

# Wide runs, ours and pm4py one after the other.
cargo test --release --locked --test suite --no-run --message-format=json 2>/dev/null \
  | python3 -c "import json, sys; [print(m['executable']) for m in map(json.loads, sys.stdin) if m.get('executable') and m['target']['name'] == 'suite']" >"$work/suite"
measured "the wide runs of tests/data/wide.jsonl, all in one process" 10 300 0 "test result: ok" \
  "$(cat "$work/suite")" --nocapture --test-threads 1 oracle::wide_alignments
figures "$work/said"
python3 -m venv "$work/pm4py" && "$work/pm4py/bin/pip" install --quiet --requirement tests/reference/pm4py.txt || exit 1
"$work/pm4py/bin/python" tests/reference/alignments.py each tests/data/wide.jsonl 2>/dev/null >"$work/theirs"
python3 - "$work/said" "$work/theirs" >"$work/log" <<'E2'
import sys
ours = {w[1]: float(w[2]) for w in (l.strip().split("|") for l in open(sys.argv[1]) if l.startswith("seconds|"))}
theirs = {w[1]: (float(w[2]), w[3]) for w in (l.strip().split("|") for l in open(sys.argv[2]) if l.startswith("each|"))}
for name in ("two groups of 16", "10 of 20"):
    print(f"figure|{name}: seconds, ours and pm4py's|{ours[name]:.4f}, {theirs[name][0]:.3f}|not slower|{int(ours[name] > theirs[name][0])}")
worst = max(ours, key=ours.get)
print(f"figure|slowest of {len(ours)} wide runs|{ours[worst]:.3f} s ({worst})|0.5 s|{int(ours[worst] > 0.5)}")
slower = [n for n in ours if ours[n] > theirs[n][0]]
print(*(f'{n}: {ours[n]:.4f} s, pm4py {theirs[n][0]:.4f} s' for n in slower), sep='\n')
print(f"figure|wide runs on which ours is slower than pm4py|{len(slower)} of {len(ours)} {slower[:3] or ''}|0|{int(bool(slower))}")
print(f"figure|seconds for all of them, ours and pm4py's|{sum(ours.values()):.2f}, {sum(t for t, _ in theirs.values()):.1f}|not slower|{int(sum(ours.values()) > sum(t for t, _ in theirs.values()))}")
equal = sum(e == "equal" for _, e in theirs.values())
print(f"figure|costs that pm4py computes again, now|{equal} of {len(ours)}|all|{int(equal != len(ours))}")
E2
figures "$work/log"
