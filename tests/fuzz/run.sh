#!/usr/bin/env bash
# Fuzz the reader of section files: run.sh [SECONDS]. Needs the ordinary Rust toolchain, g++, and a set-up that has run.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")"
export RUSTFLAGS="-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 -Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table"
cargo build --release --quiet --target x86_64-unknown-linux-gnu --target-dir ../../target/fuzz
corpus=../../target/fuzz/corpus/section; mkdir -p "$corpus"
exec ../../target/fuzz/x86_64-unknown-linux-gnu/release/section "$corpus" ../../prompts/*/ \
  -max_total_time="${1:-60}" -timeout=20 -rss_limit_mb=2048 -max_len=65536 -dict=section.dict -print_final_stats=1 -artifact_prefix=../../target/fuzz/
