#!/usr/bin/env bash
# The pictures of the documents, made by the program: pictures.sh STEPBELL. Needs chromium, and fetches Pillow to make the page's small.
set -euo pipefail
stepbell=$(realpath "$1")
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"$stepbell" show prompts/skin-care/break-down.toml --svg prompts/pictures/order.svg >/dev/null
"$stepbell" page tests/data/journals/v2.journal --out "$work/page.html" >/dev/null
# The top of the page: what to look at, and the steps against the plan.
"${CHROMIUM:-chromium}" --headless --no-sandbox --disable-gpu --hide-scrollbars --window-size=900,1380 --screenshot="$work/page.png" "file://$work/page.html" 2>/dev/null
python3 -m venv "$work/python" && "$work/python/bin/pip" install --quiet pillow==12.0.0
"$work/python/bin/python" - "$work/page.png" prompts/pictures/page.png <<'PY'
import sys
from PIL import Image
Image.open(sys.argv[1]).convert("RGB").quantize(24, dither=Image.Dither.NONE).save(sys.argv[2], optimize=True)
PY
ls -l prompts/pictures
