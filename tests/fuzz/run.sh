#!/usr/bin/env bash
# Fuzz what reads foreign bytes: run.sh [SECONDS] [section|journal|wav|recogniser]. Needs the ordinary Rust toolchain, g++, and a
# set-up that has run.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")"
seconds=${1:-60} target=${2:-section}
vosk=$(cd ../../models/fetched/vosk && pwd)
export RUSTFLAGS="-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 -Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table -Lnative=$vosk -Clink-arg=-Wl,-rpath,$vosk"
cargo build --release --quiet --target x86_64-unknown-linux-gnu --target-dir ../../target/fuzz --bin "$target"
corpus=../../target/fuzz/corpus/$target; mkdir -p "$corpus"
case $target in
section) seeds=(../../prompts/*/) more=(-dict=section.dict) ;;
journal)
  # The shipped journals, and the same without their sums: the target puts those in front again.
  for j in ../data/journals/*.journal; do cp "$j" "$corpus/seed-$(basename "$j")"; cut -c10- "$j" >"$corpus/seed-bare-$(basename "$j")"; done
  seeds=() more=() ;;
wav)
  head -c 4096 ../audio/demo.wav >"$corpus/seed-demo.wav"
  seeds=() more=() ;;
recogniser)
  printf '{"result":[{"conf":1.0,"end":1.2,"start":0.9,"word":"gloves"},{"conf":0.9,"end":1.6,"start":1.25,"word":"on"}],"text":"gloves on"}\n{"text":""}\n' >"$corpus/seed-1"
  seeds=() more=() ;;
esac
exec ../../target/fuzz/x86_64-unknown-linux-gnu/release/"$target" "$corpus" "${seeds[@]}" \
  -max_total_time="$seconds" -timeout=20 -rss_limit_mb=2048 -max_len=65536 "${more[@]}" -print_final_stats=1 -artifact_prefix=../../target/fuzz/
