#!/usr/bin/env bash
# Make what a learner unpacks and starts: program, recogniser, ears, voice, sections, and every part's licence.
#   bash models/bundle.sh TARGET [--voice flite | none] [--deb] [--out DIR]
# TARGET: x86_64-unknown-linux-gnu, aarch64-unknown-linux-gnu, x86_64-pc-windows-gnu, x86_64-apple-darwin, aarch64-apple-darwin
# (the last two on a Mac, and never run so far). Needs `bash models/setup.sh` first; what is fetched for a target is held against the sums
# in models/bundle. Cross building needs the target's Rust std (rustup target add TARGET), gcc and ALSA for it, or mingw-w64.
# --voice: flite, where nothing else is said (bundle/flite.sh builds it; a Debian package asks for Debian's), or none.
# The same sources, compiler and cargo home give the same archive, byte for byte.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(dirname "$here")
say() { printf 'bundle: %s\n' "$*"; }
die() { printf 'bundle stopped: %s\n' "$*" >&2; exit 1; }

target=${1:-}; [ -n "$target" ] || die "name a target: bash models/bundle.sh x86_64-unknown-linux-gnu"
shift
voice=flite; deb=no; out=$root/target/bundle
while [ $# -gt 0 ]; do
  case $1 in
  --voice) voice=${2:?--voice needs flite or none}; shift 2 ;;
  --deb) deb=yes; shift ;;
  --out) out=${2:?--out needs a folder}; shift 2 ;;
  *) die "'$1' is not known; the top of this file says what is" ;;
  esac
done
case $target in
x86_64-unknown-linux-gnu) platform=manylinux2014_x86_64 wheel=vosk/libvosk.so library=libvosk.so tools='' arch=amd64 ;;
aarch64-unknown-linux-gnu) platform=manylinux2014_aarch64 wheel=vosk/libvosk.so library=libvosk.so tools=aarch64-linux-gnu- arch=arm64 ;;
x86_64-pc-windows-gnu) platform=win_amd64 wheel='vosk/*.dll' library=libvosk.dll tools=x86_64-w64-mingw32- arch='' ;;
*-apple-darwin) platform=macosx_10_6_universal2 wheel=vosk/libvosk.dyld library=libvosk.dylib tools='' arch='' ;;
*) die "no bundle is known for '$target'" ;;
esac
[ "$(uname -m)-$target" != aarch64-aarch64-unknown-linux-gnu ] || tools=
[ "$deb" = no ] || [ -n "$arch" ] || die "a Debian package is for Linux targets only"

# What set-up made, as it made it.
cd "$root"
(cd models/fetched 2>/dev/null && sha256sum --check --status "$here/english.sha256" "$here/fetched.sha256") || die "run 'bash models/setup.sh' first; it says what is missing"
case $voice in none | flite) ;; *) die "the voice is flite or none, not '$voice'" ;; esac
[ -d "$(rustc --print target-libdir --target "$target" 2>/dev/null)" ] || die "no Rust standard library for $target: rustup target add $target"
version=$(sed -n 's/^version = "\(.*\)"/\1/p' Cargo.toml | head -1)
name=stepbell-$version-$target
work=$out/work/$target
# One moment for every file in it: when what was committed last was.
export SOURCE_DATE_EPOCH=${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct 2>/dev/null || echo 1767225600)}
export TZ=UTC LC_ALL=C
umask 022
python=$(command -v "$here/fetched/python/bin/python" || command -v python3) || die "python3 is needed"

# libvosk for the target.
vosk=$work/vosk
if [ ! -f "$vosk/$library" ]; then
  if [ "$target" = x86_64-unknown-linux-gnu ]; then
    mkdir -p "$vosk"; cp "$here/fetched/vosk/libvosk.so" "$vosk/"
  else
    say "fetching libvosk for $target from PyPI"
    list=requirements.txt; case $target in *-apple-darwin) list=requirements-macos.txt ;; esac
    rm -rf "$work/wheel"; mkdir -p "$work/wheel"
    "$python" -m pip download --quiet --no-deps --only-binary=:all: --platform "$platform" --require-hashes --dest "$work/wheel" \
      --requirement "$here/bundle/$list" || die "PyPI could not be reached, or the wheel has another sum than models/bundle/$list asks for"
    "$python" - "$work"/wheel/vosk-*.whl "$wheel" "$vosk" <<'PY'
import fnmatch, os, sys, zipfile
wheel, wanted, out = sys.argv[1:]
os.makedirs(out, exist_ok=True)
with zipfile.ZipFile(wheel) as z:
    for name in z.namelist():
        if fnmatch.fnmatch(name, wanted):
            with open(os.path.join(out, os.path.basename(name).replace(".dyld", ".dylib")), "wb") as f:
                f.write(z.read(name))
PY
  fi
fi
[ -f "$vosk/$library" ] || die "the wheel held no $library"

# The program.
say "building for $target"
export STEPBELL_BUNDLE=1 VOSK_LIB_DIR=$vosk
arguments=(--release --locked)
# A folder of its own: a program without the library's path in it is no use in the source tree.
export CARGO_TARGET_DIR=${CARGO_TARGET_DIR:-$root/target/bundle/build}
folder=$CARGO_TARGET_DIR
case $target in
"$(rustc -vV | sed -n 's/^host: //p')") built=$folder/release ;;
*)
  arguments+=(--target "$target"); built=$folder/$target/release
  case $target in
  aarch64-unknown-linux-gnu)
    command -v ${tools}gcc >/dev/null || die "no cross compiler: apt-get install gcc-aarch64-linux-gnu"
    export CARGO_TARGET_AARCH64_UNKNOWN_LINUX_GNU_LINKER=${tools}gcc PKG_CONFIG_ALLOW_CROSS=1
    # ALSA for the target, and the libatomic that libvosk needs there: Debian's packages, unpacked in a folder of their own.
    alsa=$work/alsa
    if [ ! -f "$alsa/usr/lib/aarch64-linux-gnu/libatomic.so.1" ]; then
      say "fetching ALSA and libatomic for $target from Debian's packages"
      mkdir -p "$alsa/lists/partial" "$alsa/debs"
      apt=(-o APT::Architecture=arm64 -o APT::Architectures::=arm64 -o Dir::State::Lists="$alsa/lists" -o Dir::Cache::pkgcache= -o Dir::Cache::srcpkgcache= -o APT::Sandbox::User=root)
      apt-get "${apt[@]}" update -qq || die "the Debian package registry can't be reached"
      (cd "$alsa/debs" && apt-get "${apt[@]}" download -qq libasound2:arm64 libasound2-dev:arm64 libatomic1:arm64) || die "libasound2-dev and libatomic1 for arm64 could not be fetched"
      for p in "$alsa"/debs/*.deb; do dpkg -x "$p" "$alsa"; done
    fi
    export PKG_CONFIG_LIBDIR=$alsa/usr/lib/aarch64-linux-gnu/pkgconfig PKG_CONFIG_SYSROOT_DIR=$alsa
    ;;
  x86_64-pc-windows-gnu) command -v ${tools}gcc >/dev/null || die "no cross compiler: apt-get install gcc-mingw-w64-x86-64-win32" ;;
  *-apple-darwin) [ "$(uname)" = Darwin ] || die "Apple's linker and frameworks are on a Mac only: run this there" ;;
  esac
  ;;
esac
cargo build "${arguments[@]}" --bin stepbell || die "the build failed; cargo's message is above"

# All of it in one folder.
stage=$work/$name
rm -rf "$stage"; mkdir -p "$stage/program/models" "$stage/program/prompts" "$stage/licences"
case $target in
*windows*)
  cp "$built/stepbell.exe" "$vosk"/*.dll "$stage/program/"; strip=(${tools}strip "$stage"/program/stepbell.exe "$stage"/program/libvosk.dll "$stage"/program/libstdc++-6.dll)
  sed 's/$/\r/' "$here/bundle/start.bat" >"$stage/start.bat"
  ;;
*-apple-darwin) cp "$built/stepbell" "$vosk/$library" "$stage/program/"; strip=(strip "$stage/program/stepbell"); cp "$here/bundle/start.sh" "$stage/start.command" ;;
*)
  cp "$built/stepbell" "$vosk/$library" "$stage/program/"; strip=(${tools}strip "$stage/program/stepbell")
  cp "$here/bundle/start.sh" "$here/bundle/Stepbell.desktop" "$stage/"
  # Raspberry Pi OS has it, a bare Debian has not.
  [ "$arch" != arm64 ] || cp -L "$alsa/usr/lib/aarch64-linux-gnu/libatomic.so.1" "$stage/program/"
  ;;
esac
"${strip[@]}"
cp "$here/bundle/first-five-minutes.html" "$stage/"
cp -r models/fetched/english "$stage/program/models/"; rm -f "$stage/program/models/english/stamp"
case $voice in
none) ;;
flite)
  exe=; case $target in *windows*) exe=.exe ;; esac
  [ -f "$work/flite/flite$exe" ] || { say "building flite for $target"; bash "$here/bundle/flite.sh" "$work/flite" "$tools" "$work/flite/flite$exe" || die "flite could not be fetched or built; the lines above say why"; }
  cp "$work/flite/flite$exe" "$stage/program/"
  ;;
esac
(cd prompts && find . -name '*.toml' -print0 | tar -cf - --null -T -) | tar -xf - -C "$stage/program/prompts"
"$python" "$here/bundle/licences.py" write "$stage" "$target" || die "a part's licence is unknown, or not one that may be passed on; the lines above say which"
find "$stage" -type d -exec chmod 755 {} +; find "$stage" -type f -exec chmod 644 {} +
chmod 755 "$stage"/program/stepbell* "$stage"/program/flite* "$stage"/start.* "$stage"/*.desktop 2>/dev/null || true
find "$stage" -exec touch -h -d "@$SOURCE_DATE_EPOCH" {} +

case $target in
*windows*)
  archive=$out/$name.zip
  "$python" - "$stage" "$archive" <<'PY'
import os, pathlib, sys, time, zipfile
stage, archive = map(pathlib.Path, sys.argv[1:])
when = time.gmtime(int(os.environ["SOURCE_DATE_EPOCH"]))[:6]
with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as z:
    for path in sorted(p for p in stage.rglob("*") if p.is_file()):
        entry = zipfile.ZipInfo(str(path.relative_to(stage.parent)), when)
        entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
        z.writestr(entry, path.read_bytes())
PY
  ;;
*)
  archive=$out/$name.tar.gz
  tar --sort=name --mtime="@$SOURCE_DATE_EPOCH" --owner=0 --group=0 --numeric-owner --format=gnu -C "$work" -cf - "$name" | gzip -9n >"$archive"
  ;;
esac
size=$(wc -c <"$archive")
say "made $archive: $(awk "BEGIN{printf \"%.1f\", $size / 1e6}") MB, sha256 $(sha256sum "$archive" | cut -d' ' -f1)"
[ "$size" -lt 150000000 ] || die "it has more than 150 MB"

if [ "$deb" = yes ]; then
  # Program under /usr; runs and what can be made again lie in the users' own folders.
  tree=$work/deb; rm -rf "$tree"
  mkdir -p "$tree/DEBIAN" "$tree/usr/bin" "$tree/usr/lib/stepbell" "$tree/usr/share/stepbell" "$tree/usr/share/doc/stepbell" "$tree/usr/share/applications" "$tree/usr/share/man/man1"
  cp "$stage/program/stepbell" "$stage/program/$library" "$tree/usr/lib/stepbell/"
  ln -s ../lib/stepbell/stepbell "$tree/usr/bin/stepbell"
  # The voice is the system's, found beside the program.
  [ "$voice" != flite ] || ln -s ../../bin/flite "$tree/usr/lib/stepbell/flite"
  cp -r "$stage/program/models" "$stage/program/prompts" "$tree/usr/share/stepbell/"
  cp -r "$stage/licences" "$stage/first-five-minutes.html" "$tree/usr/share/doc/stepbell/"
  { echo "Every part's licence is in the folder licences beside this file; licences/parts.tsv lists them. The program itself:"; echo; cat LICENSE; } >"$tree/usr/share/doc/stepbell/copyright"
  printf 'stepbell (%s) unstable; urgency=low\n\n  * See the project itself.\n\n -- The Stepbell authors <stepbell@example.invalid>  %s\n' "$version" "$(date -R -d "@$SOURCE_DATE_EPOCH")" | gzip -9n >"$tree/usr/share/doc/stepbell/changelog.gz"
  sed -e 's/^Exec=.*/Exec=sh -c "stepbell sections; exec sh"/' "$here/bundle/Stepbell.desktop" >"$tree/usr/share/applications/stepbell.desktop"
  if [ "$arch" = "$(dpkg --print-architecture 2>/dev/null)" ]; then "$stage/program/stepbell" manual | gzip -9n >"$tree/usr/share/man/man1/stepbell.1.gz"; else rm -r "$tree/usr/share/man"; fi
  cat >"$tree/DEBIAN/control" <<X
Package: stepbell
Version: $version
Architecture: $arch
Maintainer: The Stepbell authors <stepbell@example.invalid>
Installed-Size: $(du -sk --apparent-size "$tree/usr" | cut -f1)
Depends: libc6 (>= 2.35), libstdc++6, libgcc-s1,$([ "$arch" != arm64 ] || echo " libatomic1,") libasound2 | libasound2t64$([ "$voice" != flite ] || echo ", flite")
Recommends: libasound2-plugins
Section: education
Priority: optional
Description: spoken proctor for rehearsing a timed practical exam alone
 It reads the instructions, starts the clock, listens to the steps that are
 called out, and recaps aloud what was left out or out of order. It needs no
 network. It hears claims, not actions.
X
  (cd "$tree" && find usr -type f -print0 | sort -z | xargs -0 md5sum >DEBIAN/md5sums)
  find "$tree" -type d -exec chmod 755 {} +; find "$tree" -type f ! -path '*/lib/stepbell/stepbell' -exec chmod 644 {} +
  find "$tree" -exec touch -h -d "@$SOURCE_DATE_EPOCH" {} +
  dpkg-deb -Zgzip --root-owner-group --build "$tree" "$out/stepbell_${version}_$arch.deb" >/dev/null
  say "made $out/stepbell_${version}_$arch.deb: $(awk "BEGIN{printf \"%.1f\", $(wc -c <"$out/stepbell_${version}_$arch.deb") / 1e6}") MB"
fi
