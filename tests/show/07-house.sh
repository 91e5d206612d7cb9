#!/usr/bin/env bash
# A house to live in: sizes, circles, one place that prints and one that knows the system, documents, snapshots, licences, the oldest
# Rust, completions and manual pages; the whole suite at the end. One line a figure; exits non-zero where one falls short. Needs what
# models/setup.sh test needs.
. "$(dirname "${BASH_SOURCE[0]}")/common.sh"
fresh; shared
cargo build --release --locked --quiet || exit 1
stepbell=$CARGO_TARGET_DIR/release/stepbell
house() { # what is checked, then the name of the test in tests/suite/house.rs: 0 where it passes
  cargo test --release --locked --test suite -- --exact "house::$2" >"$work/log" 2>&1; local rc=$?
  grep -q '1 passed' "$work/log" || rc=1
  [ $rc = 0 ] || sed -n '/panicked/,/stack backtrace/p' "$work/log" | head -30
  figure "$1" "$([ $rc = 0 ] && echo 0 || echo 'see above')" 0 $rc
}

printf 'sizes, without unit tests\n'
lines() { # each file of src with its lines, the longest first
  find src -name '*.rs' | while read -r file; do printf '%s %s\n' "$(sed '/^#\[cfg(test)\]/,$d' "$file" | wc -l)" "$file"; done | sort -rn
}
longest=$(lines | head -1)
figure "longest file of src" "${longest% *} lines, ${longest#* }" "at most 400 lines" $([ "${longest%% *}" -le 400 ]; echo $?)
functions() { # each function with its lines, by rustfmt's own indents: from its head to the brace below its first letter
  find src -name '*.rs' | while read -r file; do
    sed '/^#\[cfg(test)\]/,$d' "$file" | awk -v file="$file" '
      !inside && match($0, /^ *(pub(\([a-z]+\))? )?(const )?(async )?fn [a-z_0-9]+/) {
        indent = match($0, /[^ ]/) - 1; name = $0; sub(/^.*fn /, "", name); sub(/[^a-z_0-9].*/, "", name)
        if ($0 ~ /[;}]$/) next
        inside = 1; begin = NR
      }
      inside && match($0, /[^ ]/) - 1 == indent && /^ *}$/ { print NR - begin + 1, name, file; inside = 0 }
      inside && match($0, /[^ ]/) - 1 == indent && /;$/ { inside = 0 }'
  done | sort -rn
}
functions >"$work/functions"
figure "longest function of src" "$(head -1 "$work/functions")" "at most 100 lines" $([ "$(head -1 "$work/functions" | cut -d' ' -f1)" -le 100 ]; echo $?)
count=$(wc -l <"$work/functions"); median=$(sed -n "$((count / 2))p" "$work/functions" | cut -d' ' -f1)
figure "median function of $count" "$median lines" "at most 10 lines" $([ "$median" -le 10 ]; echo $?)

printf '\nthe house rules\n'
house "circles among modules" no_modules_use_each_other_in_a_circle
house "circles among a module's files" no_files_of_a_module_use_each_other_in_a_circle
house "modules that use what the table does not allow" each_module_uses_only_what_the_table_allows
house "prints outside terminal" only_the_terminal_prints
house "cfg and system calls outside platform" only_the_platform_knows_the_system
house "paragraphs over 60 and sentences over 35 words, documents" documents_are_short_enough_to_be_read
suite "help and output of every verb, answers after their schema" snapshot::

printf '\ncrates and compiler\n'
bash tests/audit/audit.sh >"$work/audit" 2>&1; rc=$?
[ $rc = 0 ] || tail "$work/audit"
figure "cargo deny and cargo audit" "$(tail -1 "$work/audit" | cut -c1-38)" "nothing found" $rc
oldest=$(sed -n 's/^rust-version = "\(.*\)"/\1/p' Cargo.toml)
if cargo "+$oldest.0" --version >/dev/null 2>&1; then
  CARGO_TARGET_DIR=$CARGO_TARGET_DIR-$oldest cargo "+$oldest.0" check --release --locked --quiet >"$work/log" 2>&1; rc=$?
  how="cargo +$oldest.0 check"
else
  # Without that toolchain: what std has only since, by clippy's lint; and the crates' own rust-version.
  cargo clippy --release --locked --quiet -- -D clippy::incompatible_msrv >"$work/log" 2>&1; rc=$?
  newer=$(cargo metadata --locked --format-version 1 | python3 -c '
import json, sys
oldest = tuple(map(int, sys.argv[1].split(".")))
newer = [p["name"] for p in json.load(sys.stdin)["packages"] if p["rust_version"] and tuple(map(int, p["rust_version"].split(".")[:2])) > oldest]
print(" ".join(newer))' "$oldest")
  [ -z "$newer" ] || { rc=1; printf 'crates that need a newer Rust: %s\n' "$newer"; }
  how="no $oldest here: clippy's incompatible_msrv, crates"
fi
[ $rc = 0 ] || tail -20 "$work/log"
figure "oldest Rust, $oldest" "$how" "no error" $rc

printf '\nshells and man\n'
shell() { # its name, and the command that tells whether it has taken the completions
  if ! command -v "$1" >/dev/null; then figure "completions in $1" "$1 is not here" "loaded" 1; return; fi
  "$stepbell" completions "$1" >"$work/completions.$1"
  FILE=$work/completions.$1 "$1" -c "$2" >"$work/log" 2>&1; local rc=$?
  [ $rc = 0 ] || tail "$work/log"
  figure "completions in $1" "$([ $rc = 0 ] && echo loaded || echo failed)" "loaded" $rc
}
shell bash 'source "$FILE" && complete -p stepbell'
shell zsh 'autoload -U compinit; compinit -u -D; source "$FILE"; [[ -n ${_comps[stepbell]} ]]'
"$stepbell" manual --to "$work/man" >/dev/null
pages=0; bad=0
for page in "$work"/man/*.1; do
  pages=$((pages + 1))
  MANWIDTH=100 man -l "$page" 2>"$work/man.errors" | col -b | grep -q SYNOPSIS && [ ! -s "$work/man.errors" ] || { bad=$((bad + 1)); cat "$work/man.errors"; }
done
figure "manual pages that man -l renders" "$((pages - bad)) of $pages" "all of over 20" $([ $bad = 0 ] && [ $pages -gt 20 ]; echo $?)

printf '\n'
cargo test --release --locked >"$work/log" 2>&1; rc=$?
[ $rc = 0 ] || tail -30 "$work/log"
passed=$(grep -o '[0-9]* passed' "$work/log" | awk '{ n += $1 } END { print n + 0 }')
figure "the whole test suite: $passed tests passed" "exit $rc" "exit 0" $rc
exit $short
