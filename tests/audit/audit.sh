#!/usr/bin/env bash
# Hold every Cargo.lock against known vulnerabilities, and the program's crates against what is allowed: audit.sh [FOLDER OF THE TOOLS].
# Non-zero where something is found. Needs no network once the crates are there.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd); cd "$here/../.."
tools=${1:-models/fetched/python/bin}
snapshots=("$here"/rustsec-*.tar.xz)
advisories=$(mktemp -d); trap 'rm -rf "$advisories"' EXIT
tar -C "$advisories" -xf "${snapshots[-1]}"
for lock in Cargo.lock tests/fuzz/Cargo.lock tests/bench/Cargo.lock; do
  # A crate that nobody maintains is told; one with a hole stops.
  "$tools/cargo-audit" audit --quiet --no-fetch --stale --db "$advisories" --file "$lock" ||
    { printf 'audit: %s holds a crate with a known vulnerability; the lines above say which, and from which version it is mended\n' "$lock" >&2; exit 1; }
done
"$tools/cargo-deny" --locked --log-level error --config .deny.toml check --hide-inclusion-graph licenses bans sources ||
  { printf 'audit: a crate has a licence or a source that .deny.toml does not allow; the lines above say which\n' >&2; exit 1; }
printf 'audit: no known vulnerability as of %s, licences and sources as allowed\n' "$(basename "${snapshots[-1]}" .tar.xz)"
