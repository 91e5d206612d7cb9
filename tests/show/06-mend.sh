#!/usr/bin/env bash
# What use and attack have found, mended: each fault by its own line (what was done, what came out, what must), from a fresh state; then
# kills, simulated seeds and fuzzing as in 03. The pieces lie in 06-mend/, one a part of the program; exits non-zero where one falls short.
# Needs what models/setup.sh needs. SEEDS (10000), KILLS (200), FUZZ_SECONDS (60) can be set; PIECES names the pieces (all).
. "$(dirname "${BASH_SOURCE[0]}")/common.sh"
fresh; shared
cargo build --release --locked --quiet || exit 1
export stepbell=$CARGO_TARGET_DIR/release/stepbell
for piece in ${PIECES:-$(cd tests/show/06-mend && ls ./*.sh)}; do
  printf '\n%s\n' "$(basename "$piece" .sh)"
  # shellcheck disable=SC1090
  . "tests/show/06-mend/$(basename "$piece")"
done
if [ -z "${PIECES:-}" ]; then
  printf '\nas in 03\n'
  SEEDS=${SEEDS:-10000} tests "simulation" --test simulation -- --nocapture
  KILLS=${KILLS:-200} tests "kills" --test suite -- --nocapture kill::
  for target in section journal wav recogniser; do
    bash tests/fuzz/run.sh "${FUZZ_SECONDS:-60}" $target >"$work/fuzz" 2>&1; rc=$?
    [ $rc = 0 ] || tail -20 "$work/fuzz"
    figure "fuzzing $target, no panic" "$(grep -o 'Done.*' "$work/fuzz")" "exit 0" $rc
  done
fi
exit $short
