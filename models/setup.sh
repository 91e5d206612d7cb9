#!/usr/bin/env bash
# Set Stepbell up on a machine that has a Rust toolchain:
#   bash models/setup.sh demo    install, then rehearse the shipped recording
#   bash models/setup.sh test    install, then pass the tests
#   bash models/setup.sh         install only
#   bash models/setup.sh sums    write english.sha256 anew, after the recipe or its word lists were changed on purpose
# Everything fetched or written is checked against SHA-256 sums kept in this folder. A second run needs no network.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(dirname "$here")
fetched=$here/fetched
say() { printf 'set-up: %s\n' "$*"; }
die() { printf 'set-up stopped: %s\n' "$*" >&2; exit 1; }

packages() { # the Debian packages named that are not installed yet
  for p in "$@"; do dpkg-query -W -f='${Status}' "$p" 2>/dev/null | grep -q 'ok installed' || printf '%s ' "$p"; done
}

system() { # install the Debian packages named, where they are missing
  local missing sudo=()
  command -v dpkg-query >/dev/null || { say "this is no Debian; you need the equivalents of: $*"; return; }
  missing=$(packages "$@")
  [ -n "$missing" ] || return 0
  say "installing the system packages ${missing}"
  if [ "$(id -u)" != 0 ]; then
    command -v sudo >/dev/null || die "run this once as root, or have someone install: ${missing}"
    sudo=(sudo)
  fi
  "${sudo[@]}" apt-get update -qq || die "the Debian package registry can't be reached; still missing: ${missing}"
  # shellcheck disable=SC2086
  DEBIAN_FRONTEND=noninteractive "${sudo[@]}" apt-get install -y -qq $missing >/dev/null || die "apt-get could not install: ${missing}"
}

right() { (cd "$fetched" 2>/dev/null && sha256sum --check --status "$here/$1" 2>/dev/null); } # a list of sums
changed() { (cd "$fetched" && sha256sum --check "$here/$1" 2>/dev/null | sed -n 's/: FAILED.*//p' | tr '\n' ' '); }
written() { (cd "$fetched" && find english unigrams.txt -type f ! -path english/stamp | LC_ALL=C sort); } # what english() writes
# No file more either: libvosk takes up some by their names.
english_right() { right english.sha256 && [ "$(written)" = "$(cut -c67- "$here/english.sha256" | LC_ALL=C sort)" ]; }

wheels() { # the recogniser's library, out of its PyPI wheel
  right fetched.sha256 && { say "the recogniser's library is here and its sum is right"; return; }
  [ ! -d "$fetched/vosk" ] || say "not as it was fetched: $(changed fetched.sha256)"
  say "fetching the recogniser's library (7 MB) from PyPI"
  local w; w=$(mktemp -d)
  "$python" -m pip download --quiet --no-deps --require-hashes --dest "$w" --requirement "$here/requirements.txt" ||
    die "PyPI could not be reached, or a file there has another sum than models/requirements.txt asks for; try again with a network"
  mkdir -p "$fetched/vosk"
  "$python" - "$w" "$fetched" <<'PY'
import glob, os, sys, zipfile
src, dst = sys.argv[1:]
with zipfile.ZipFile(glob.glob(os.path.join(src, "vosk-*.whl"))[0]) as z, open(os.path.join(dst, "vosk/libvosk.so"), "wb") as f:
    f.write(z.read("vosk/libvosk.so"))
PY
  rm -rf "$w"
  right fetched.sha256 || die "what was fetched has the wrong SHA-256 sums: delete $fetched and try again"
}

english() { # the acoustic model's folder, written from our own network and word lists
  local stamp; stamp=$(cat "$here"/english/*.txt "$here"/english/{net.npz,ear.onnx} "$here"/recipe/*.py "$here/setup.sh" | sha256sum | cut -d' ' -f1)
  if [ "$(cat "$fetched/english/stamp" 2>/dev/null)" = "$stamp" ]; then
    [ "${1:-}" = anew ] || ! english_right || { say "the English model is written and its sums are right"; return; }
    [ "${1:-}" = anew ] || say "the English model is not as it was written: $(changed english.sha256)"
  fi
  say "writing the English model (a few seconds)"
  (cd "$here/english" && sha256sum --check --status SHA256SUMS) || die "a file in $here/english has another sum than SHA256SUMS there: $(cd "$here/english" && sha256sum --check SHA256SUMS 2>/dev/null | grep -v ': OK')"
  "$python" -c 'import numpy' 2>/dev/null ||
    "$python" -m pip install --quiet --require-hashes --requirement "$here/recipe/requirements.txt" ||
    die "numpy 2.2.6 could not be installed from PyPI; the model is written with it"
  rm -rf "$fetched/english.new"; mkdir -p "$fetched/english.new"
  "$python" "$here/recipe/lexicon.py" unigrams "$fetched/unigrams.txt"
  "$python" "$here/recipe/make_vosk_model.py" --net "$here/english/net.npz" --lex "$here/english/lexicon.txt" \
    --lm "$fetched/unigrams.txt" --out "$fetched/english.new" --acoustic-scale 1.0 --unk-loop 1,1.6,1 --endpoint 0.06,0.4,0.8 >/dev/null
  cp "$here/english/ear.onnx" "$fetched/english.new/am/ear.onnx"
  echo "$stamp" >"$fetched/english.new/stamp"
  rm -rf "$fetched/english"; mv "$fetched/english.new" "$fetched/english"
  [ "${1:-}" = anew ] || english_right ||
    die "the English model came out otherwise than models/english.sha256 has it: $(changed english.sha256); if the recipe was changed on purpose, run 'models/setup.sh sums'"
}

install() {
  [ "$(uname -sm)" = "Linux x86_64" ] || die "the recogniser's library is fetched for x86-64 Linux only; this is $(uname -sm)"
  command -v cargo >/dev/null || die "no Rust toolchain found; install Rust 1.94 or newer, then run this again"
  # flite is the voice.
  system libasound2-dev pkg-config gcc flite
  command -v python3 >/dev/null || system python3
  mkdir -p "$fetched"
  if [ ! -x "$fetched/python/bin/python" ]; then
    python3 -c 'import ensurepip, venv' 2>/dev/null || system python3-venv
    python3 -m venv "$fetched/python" || die "python3 could not make a virtual environment under $fetched"
  fi
  python=$fetched/python/bin/python
  wheels
  english "${1:-}"
}

cd "$root"
case "${1:-}" in
demo)
  install
  say "building (the first time takes a few minutes)"
  cargo build --release --locked --quiet || die "the build failed; cargo's message is above"
  say "rehearsing the basic facial, ten times compressed, with tests/audio/demo.wav as the microphone"
  cargo run --release --locked --quiet -- rehearse prompts/skin-care/basic-facial.toml \
    --mic tests/audio/demo.wav --compress 10 --runs runs --render runs/demo-spoken.wav
  say "saying the recap aloud"
  cargo run --release --locked --quiet -- recap --runs runs --aloud >/dev/null 2>&1 ||
    say "no loudspeaker could be opened here; runs/demo-spoken.wav holds all that was spoken"
  ;;
test)
  install
  system pulseaudio pulseaudio-utils libasound2-plugins strace
  if ! "$python" -c 'import cffi, importlib.util as u; assert u.find_spec("vosk") and u.find_spec("duckdb")' 2>/dev/null; then
    say "installing the reference recogniser and the database that the tests compare with"
    "$python" -m pip install --quiet --no-deps --require-hashes --requirement tests/reference/requirements.txt ||
      die "what the tests compare with could not be installed from PyPI"
  fi
  if ! cmp -s tests/audit/requirements.txt "$fetched/python/audit.txt"; then
    say "installing what holds the crates against known vulnerabilities and allowed licences"
    "$python" -m pip install --quiet --no-deps --require-hashes --requirement tests/audit/requirements.txt ||
      die "what checks the crates could not be installed from PyPI"
    cp tests/audit/requirements.txt "$fetched/python/audit.txt"
  fi
  bash tests/audit/audit.sh "$fetched/python/bin"
  "$python" models/bundle/licences.py check
  cargo fmt --check
  cargo clippy --release --locked --all-targets --quiet -- -D warnings
  bash models/bundle/check-macos.sh
  exec cargo test --release --locked
  ;;
sums)
  install anew
  (cd "$fetched" && written | tr '\n' '\0' | xargs -0 sha256sum) >"$here/english.sha256"
  say "written: models/english.sha256; git diff shows what is new"
  ;;
"") install; say "done; now: cargo run --release -- --help" ;;
*) die "say 'demo', 'test', 'sums', or nothing; not '$1'" ;;
esac
