# What the show scripts share: a fresh clone in $work with this tree's set-up, and lines of figures. $short is 1 once one fell short.
set -uo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
short=0
figure() { # name, value, target, and whether it is met (0)
  printf '%-74s %-40s %s\n' "$1" "$2" "$3"
  [ "$4" = 0 ] || { short=1; printf '  ^ falls short; what was printed is above\n'; }
}
figures() { # the figures that a log holds
  local name value target met
  while IFS='|' read -r _ name value target met; do figure "$name" "$value" "$target" "$met"; done < <(grep -o 'figure|.*' "$1")
}
fresh() { # a clone of what is committed, in which the command goes on
  git clone --quiet "$root" "$work/clone" && cd "$work/clone" || exit 1
}
shared() { # what set-up fetches and builds is shared with the tree this was called in; the sources and the results are fresh
  bash "$root/models/setup.sh" >/dev/null && mkdir -p models && ln -s "$root/models/fetched" models/fetched
  export CARGO_TARGET_DIR=$root/target/show
}
tests() { # what is tested, then arguments of cargo test
  local name=$1; shift
  cargo test --release --locked "$@" >"$work/log" 2>&1; local rc=$?
  [ $rc = 0 ] || tail -30 "$work/log"
  figures "$work/log"
  figure "cargo test: $name" "exit $rc" "exit 0" $rc
}
suite() { # one after the other, with how many passed: what is tested, then the tests' names
  local name=$1 rc; shift
  cargo test --release --locked --test suite -- --nocapture --test-threads 1 "$@" >"$work/log" 2>&1; rc=$?
  [ $rc = 0 ] || tail -30 "$work/log"
  figures "$work/log"
  figure "cargo test: $name, $(grep -o '[0-9]* passed' "$work/log" | tail -1)" "exit $rc" "exit 0" $rc
}
