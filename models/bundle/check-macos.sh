#!/usr/bin/env bash
# Check all the Rust for macOS without Apple's SDK: check-macos.sh [TARGET...]. The C of zstd is not compiled: a compiler that leaves empty files
# stands in, since nothing is linked in a check. Prints a line a target; exits non-zero where one has an error. A target whose standard library is
# not here and can't be had is named and left out.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
[ $# -gt 0 ] || set -- x86_64-apple-darwin aarch64-apple-darwin
empty=$(mktemp -d); trap 'rm -rf "$empty"' EXIT
printf '#!/bin/sh\nwhile [ $# -gt 0 ]; do [ "$1" != -o ] || : >"$2"; shift; done\n' >"$empty/cc"
printf '#!/bin/sh\nfor a; do case $a in *.a) : >"$a" ;; esac; done\n' >"$empty/ar"
chmod +x "$empty/cc" "$empty/ar"
wrong=0
for target; do
  has() { [ -d "$(rustc --print target-libdir --target "$target" 2>/dev/null)" ]; }
  has || timeout 120 rustup target add "$target" >/dev/null 2>&1 || true
  has || { echo "$target: not checked, its standard library is not here (rustup target add $target)"; continue; }
  of=${target//-/_}
  if env "CC_$of=$empty/cc" "AR_$of=$empty/ar" cargo check --release --locked --quiet --target "$target" >"$empty/log" 2>&1; then
    echo "$target: checked without an error"
  else
    wrong=1; tail -20 "$empty/log"; echo "$target: has an error"
  fi
done
exit $wrong
