#!/usr/bin/env bash
# Build the program flite 2.2 with the two voices that the proctor has of it, for a bundle: flite.sh WORK TOOLS OUT
# WORK keeps the sources and what is built; TOOLS is the prefix of the compiler's name (aarch64-linux-gnu-, x86_64-w64-mingw32- or nothing);
# OUT is the program's file. The sources are the unchanged archive that Debian keeps, with the only sum accepted.
set -euo pipefail
work=$1 tools=$2 out=$3
archive=flite_2.2.orig.tar.gz
sum=ab1555fe5adc3f99f1d4a1a0eb1596d329fd6d74f1464a0097c81f53c0cf9e5c
mkdir -p "$work"; cd "$work"
right() { printf '%s  %s\n' "$sum" "$archive" | sha256sum --check --status 2>/dev/null; }
if ! right; then
  mirror=$(apt-get indextargets --format '$(SITE)' 2>/dev/null | grep -m 1 '/debian$') || mirror=http://deb.debian.org/debian
  from=$mirror/pool/main/f/flite/$archive
  # apt's own downloader knows the proxies that apt was told of; a Mac has none.
  if [ -x /usr/lib/apt/apt-helper ]; then /usr/lib/apt/apt-helper -o APT::Sandbox::User=root download-file "$from" "$archive" >/dev/null; else curl -fsSLo "$archive" "$from"; fi
  right || { echo "$from has another sum than this script asks for" >&2; exit 1; }
fi
rm -rf flite-2.2; tar -xzf "$archive"; cd flite-2.2
# Nothing that is built says where or when.
export CFLAGS="-O2 -ffile-prefix-map=$PWD=." LC_ALL=C
printf 'LEXES = cmulex\nLANGS = usenglish\nVOXES = cmu_us_rms cmu_us_slt\nEXTRABINS =\n' >config/stepbell.lv
host=(); [ -z "$tools" ] || host=("--host=${tools%-}")
./configure "${host[@]}" --with-audio=none --with-langvox=stepbell >configure.log 2>&1 || { tail configure.log >&2; exit 1; }
# Its settings for Windows name a compiler of long ago, would make the program a library, and lack a function that is there by now.
# Without sound of its own it still asks for the sound library of the machine that builds, which another target hasn't got.
sed -i -e "s/i386-mingw32-/$tools/" -e 's/ -shared / -Dc99_snprintf=snprintf /' -e 's/^AUDIOLIBS .*/AUDIOLIBS =/' config/config
make >make.log 2>&1 || { tail -20 make.log >&2; exit 1; }
program=bin/flite; [ -f "$program" ] || program=bin/flite.exe
"${tools}strip" -o "$out" "$program"
