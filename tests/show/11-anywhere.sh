#!/usr/bin/env bash
# On the learner's own computer: what the download holds, and that it rehearses where nothing is installed, on a virtual sound card, and
# alike on other systems. Prints one line a figure (name, value, target); exits non-zero where one falls short.
# Needs root (bare roots are made and entered), what models/setup.sh needs, and a network. Some thirty minutes on two cores.
# TARGETS names what is shown: "x86_64-unknown-linux-gnu aarch64-unknown-linux-gnu x86_64-pc-windows-gnu" where nothing else is said.
# BUNDLES names a folder that holds bundles already made, and is used as it is; ROOTS one that bare roots are kept in.
. "$(dirname "${BASH_SOURCE[0]}")/common.sh"
fresh; shared
[ "$(id -u)" = 0 ] || { echo "11-anywhere needs root: it makes bare roots and enters them" >&2; exit 1; }
linux=x86_64-unknown-linux-gnu arm=aarch64-unknown-linux-gnu windows=x86_64-pc-windows-gnu
: "${TARGETS:=$linux $arm $windows}" "${ROOTS:=$work/roots}"
has() { case " $TARGETS " in *" $1 "*) return 0 ;; *) return 1 ;; esac; }
version=$(sed -n 's/^version = "\(.*\)"/\1/p' Cargo.toml | head -1)
card=$work/card
wanted=(mmdebstrap:mmdebstrap pulseaudio:pulseaudio pactl:pulseaudio-utils unshare:util-linux objdump:binutils)
has $arm && wanted+=(aarch64-linux-gnu-gcc:gcc-aarch64-linux-gnu qemu-aarch64-static:qemu-user-static)
has $windows && wanted+=(x86_64-w64-mingw32-gcc:gcc-mingw-w64-x86-64-win32 wine:wine)
missing=$(for p in "${wanted[@]}"; do command -v "${p%:*}" >/dev/null || echo "${p#*:}"; done)
# shellcheck disable=SC2086
[ -z "$missing" ] || { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing >/dev/null; } || exit 1
mkdir -p "$ROOTS" "$work/journals"
if [ -z "${BUNDLES:-}" ]; then
  BUNDLES=$work/bundles
  for target in $TARGETS; do
    more=(); [ $target = $windows ] || more=(--deb)
    bash models/bundle.sh "$target" "${more[@]}" --out "$BUNDLES" >"$work/log" 2>&1 || { tail -20 "$work/log"; figure "bundle for $target" "stopped" "made" 1; }
  done
fi

findings() { # of an exported run: what was found and what each step had, as one line's sum
  python3 - "$1" <<'PY'
import hashlib, json, sys
run = json.load(open(sys.argv[1]))
told = json.dumps([[f["kind"], f["critical"], f["sentence"]] for f in run["findings"]] + run["steps"] + run["callouts"], sort_keys=True)
print(len(run["findings"]), hashlib.sha256(told.encode()).hexdigest()[:16])
PY
}
newest() { find "$1" -name '*.journal' -printf '%T@ %p\n' 2>/dev/null | sort -n | tail -1 | cut -d' ' -f2-; }

printf 'what is in it\n'
for target in $TARGETS; do
  archive=$(ls "$BUNDLES/stepbell-$version-$target".* 2>/dev/null | head -1)
  [ -n "$archive" ] || continue
  mkdir -p "$work/$target"
  case $archive in *.zip) python3 -m zipfile -e "$archive" "$work/$target" ;; *) tar -C "$work/$target" -xzf "$archive" ;; esac
  folder=$work/$target/stepbell-$version-$target
  size=$(wc -c <"$archive")
  figure "$target: size, files" "$((size / 1000000)) MB, $(find "$folder" -type f | wc -l)" "under 150 MB" $((size >= 150000000))
  python3 models/bundle/licences.py write "$folder" "$target" >"$work/log" 2>"$work/problems"; rc=$?
  [ $rc = 0 ] || cat "$work/problems"
  figure "$target: parts, unknown licences, in doubt" "$(sed "s/.*: \([0-9]* parts.*\)/\1/" "$work/log")" "0 unknown" $rc
  sed -n 's/^licences: [^:]*: in doubt: /  in doubt: /p' "$work/problems" | cut -c1-170
  case $target in *linux*)
    for file in stepbell libvosk.so; do
      highest=$(objdump -T "$folder/program/$file" | grep -o 'GLIBC_[0-9.]*' | sort -Vu | tail -1)
      figure "$target: newest glibc that $file asks for" "${highest#GLIBC_}" "2.36 (Debian 12) or older" "$([ "$(printf '2.36\n%s\n' "${highest#GLIBC_}" | sort -V | tail -1)" = 2.36 ]; echo $?)"
    done
    [ ! -f "$BUNDLES"/stepbell_"$version"_*.deb ] || : ;;
  esac
  paths=$(strings -a "$folder"/program/stepbell* | grep -cE "$root|models/fetched/vosk")
  figure "$target: places in the program that name this source tree" "$paths" "0" "$paths"
done

bare=$ROOTS/bare
printf '\na bare root: no compiler, no Python, no network\n'
[ -d "$bare/usr" ] || mmdebstrap --variant=essential --include=libasound2,libstdc++6 --aptopt='APT::Install-Recommends "false"' bookworm "$bare" >"$work/log" 2>&1 || { tail "$work/log"; exit 1; }
inside() { # a root, then what goes on in it: names of its own for everything, no network but the loopback that is down, $sound where it is set
  local in=$1; shift
  mkdir -p "$in/run/pulse" "$in/home/learner"
  unshare --net --mount --pid --fork --mount-proc="$in/proc" bash -c '
    in=$1; shift; mount --bind /dev "$in/dev"
    if [ -n "${sound:-}" ]; then cp "$sound/run/cookie" "$in/run/pulse/cookie"; touch "$in/run/pulse/native"; mount --bind "$sound/run/pulse/native" "$in/run/pulse/native"; fi
    exec chroot "$in" /usr/bin/env -i HOME=/home/learner PATH=/usr/bin:/bin XDG_RUNTIME_DIR=/run PULSE_RUNTIME_PATH=/run/pulse PULSE_COOKIE=/run/pulse/cookie \
      PULSE_SERVER=unix:/run/pulse/native PULSE_SINK=vspk PULSE_SOURCE=vmic "$@"' inside "$in" "$@"
}
tools=$(inside "$bare" sh -c 'for t in cc gcc clang ld cargo rustc python3 python curl wget; do command -v $t; done' | tr '\n' ' ')
figure "compilers, linkers, Pythons, downloaders in it" "${tools:-none}" "none" "$([ -z "$tools" ]; echo $?)"
devices=$(inside "$bare" cat /proc/net/dev | tail -n +3 | grep -cv '^ *lo:')
figure "network devices in it, loopback left out" "$devices" "0" "$devices"
at="/opt/learner's folder/stepbell-$version-$linux"
rm -rf "$bare/opt" "$bare/home"; mkdir -p "$bare/opt/learner's folder" "$bare/home/learner"
cp -r "$work/$linux/stepbell-$version-$linux" "$bare/opt/learner's folder/"; cp tests/audio/demo.wav "$bare/opt/"
chmod -R a-w "$bare$at"
touch "$work/before"; sleep 1
inside "$bare" "$at/start.sh" rehearse basic-facial --mic /opt/demo.wav --compress 10 --render /home/learner/spoken.wav >"$work/demo" 2>"$work/problems"; rc=$?
runs=$bare/home/learner/.local/share/stepbell/runs
journal=$(newest "$runs")
figure "the demo, from a folder with a blank and an apostrophe: exit, findings told" "$rc, $(grep -c '^ *[0-9]:[0-9]' "$work/demo") callouts" "0" $rc
elsewhere=$(find "$bare" -xdev -newer "$work/before" -type f ! -path "$bare/home/learner/.local/share/stepbell/*" ! -path "$bare/home/learner/.cache/stepbell/*" ! -path "$bare/home/learner/spoken.wav" ! -path "$bare/proc/*" ! -path "$bare/run/pulse/*" | wc -l)
figure "files made or changed outside the program's two data folders" "$elsewhere" "0" "$elsewhere"
verbs=0 failed=0
verb() { verbs=$((verbs + 1)); inside "$bare" "$at/program/stepbell" "$@" >"$work/verb" 2>&1 || { failed=$((failed + 1)); printf '  failed: %s: %s\n' "$*" "$(tail -1 "$work/verb")"; }; }
verb check basic-facial; verb show basic-facial; verb sections; verb schema; verb recap; verb replay; verb page --out /home/learner/page.html
verb export --format json --out /home/learner/run.json; verb export --format csv; verb export --format vtt; verb history --compress 10; verb sheet basic-facial --out /home/learner/sheet.html
verb new /home/learner/mine.toml; verb check /home/learner/mine.toml; verb archive /home/learner/.local/share/stepbell/runs --to /home/learner/tables --yes; verb completions bash; verb manual
figure "verbs that did their work there" "$((verbs - failed)) of $verbs" "all" $failed
reference=$(findings "$bare/home/learner/run.json"); cp "$journal" "$work/journals/$linux.journal"
mv "$bare$at/program/models" "$bare$at/program/models.away"; mkdir "$bare$at/program/models"
inside "$bare" "$at/program/stepbell" rehearse basic-facial --mic /opt/demo.wav --compress 10 >/dev/null 2>"$work/problems"; rc=$?
rmdir "$bare$at/program/models"; mv "$bare$at/program/models.away" "$bare$at/program/models"
figure "a part is missing: exit, and what to do" "$rc, $(grep -c 'unpack the download again' "$work/problems") line" "3, 1 line" "$([ $rc = 3 ] && grep -q 'unpack the download again' "$work/problems"; echo $?)"

printf '\na run on the virtual sound card, from the bare root\n'
bash tests/fixture/vcard.sh start "$card" 560 >/dev/null || exit 1
before=$(newest "$runs")
begun=$(date +%s.%N)
sound=$card inside "$bare" "$at/start.sh" rehearse basic-facial --compress 10 --no-questions >"$work/live" 2>&1 & run=$!
# The first words are out once they are shown; the recording begins with the run.
until grep -q '^  “' "$work/live" || ! kill -0 $run 2>/dev/null; do sleep 0.02; done
word=$(awk "BEGIN{printf \"%.2f\", $(date +%s.%N) - $begun}")
timeout 400 bash tests/fixture/vcard.sh say "$card" tests/audio/demo.wav
process=$(pgrep -f "$at/program/stepbell rehearse" | tail -1)
memory=$(awk '/VmHWM/{printf "%d", $2 / 1024}' "/proc/$process/status" 2>/dev/null)
for _ in $(seq 90); do kill -0 $run 2>/dev/null || break; sleep 1; done
kill $run 2>/dev/null; wait $run; rc=$?
bash tests/fixture/vcard.sh stop "$card"
live=$(newest "$runs"); called=$(grep -c '^ \+[0-9]:[0-9][0-9]  [a-z]' "$work/live")
figure "start to first word, announcements kept from the demo" "$word s" "-" 0
figure "most memory that the run held" "${memory:-?} MB" "at most 300 MB" "$([ "${memory:-999}" -le 300 ]; echo $?)"
figure "the run: exit, callouts heard, its own journal" "$rc, $called, $([ "$live" != "$before" ] && echo yes || echo no)" "0, 20 or more, yes" "$([ $rc = 0 ] && [ "$called" -ge 20 ] && [ "$live" != "$before" ]; echo $?)"

if has $arm && [ -d "$work/$arm" ]; then
  printf '\nARM64, under qemu-user: never run on a board\n'
  # Its own children are programs of the other processor too.
  if [ ! -e /proc/sys/fs/binfmt_misc/qemu-aarch64 ]; then
    [ -e /proc/sys/fs/binfmt_misc/register ] || mount -t binfmt_misc none /proc/sys/fs/binfmt_misc
    cat /usr/lib/binfmt.d/qemu-aarch64.conf >/proc/sys/fs/binfmt_misc/register && trap 'echo -1 >/proc/sys/fs/binfmt_misc/qemu-aarch64; rm -rf "$work"' EXIT
  fi
  other=$ROOTS/arm
  [ -d "$other/usr" ] || mmdebstrap --variant=extract --arch=arm64 --include=libasound2,libstdc++6,libc6,libgcc-s1,coreutils --aptopt='APT::Install-Recommends "false"' bookworm "$other" >"$work/log" 2>&1 || { tail "$work/log"; exit 1; }
  mkdir -p "$other"/{opt,proc,dev,tmp}; rm -rf "$other/opt" "$other/home"; mkdir -p "$other/opt" "$other/home/learner"
  cp -r "$work/$arm/stepbell-$version-$arm" "$other/opt/stepbell"; cp tests/audio/demo.wav "$other/opt/"
  mkdir -p "$other/usr/libexec/qemu-binfmt"
  inside "$other" /opt/stepbell/program/stepbell check basic-facial >"$work/log" 2>&1; rc=$?
  figure "check" "$(head -1 "$work/log")" "usable" $rc
  inside "$other" /opt/stepbell/program/stepbell rehearse basic-facial --mic /opt/demo.wav --compress 10 --voice off >"$work/log" 2>&1; rc=$?
  [ $rc = 0 ] || tail -5 "$work/log"
  inside "$other" /opt/stepbell/program/stepbell export --format json --out /home/learner/run.json >/dev/null 2>&1
  cp "$(newest "$other/home/learner")" "$work/journals/$arm.journal"
  # Without a voice the places of callouts differ: the reference without one, too.
  inside "$bare" "$at/program/stepbell" rehearse basic-facial --mic /opt/demo.wav --compress 10 --voice off --runs /home/learner/silent >/dev/null 2>&1
  inside "$bare" "$at/program/stepbell" export --runs /home/learner/silent --format json --out /home/learner/silent.json >/dev/null 2>&1
  silent=$(findings "$bare/home/learner/silent.json"); got=$(findings "$other/home/learner/run.json")
  figure "the demo without a voice: findings, sum of findings, steps and callouts" "$got" "as x86-64: $silent" "$([ $rc = 0 ] && [ "$got" = "$silent" ]; echo $?)"
  cp "$work/journals/$linux.journal" "$other/home/learner/x86.journal"; cp "$work/journals/$arm.journal" "$bare/home/learner/arm.journal"
  a=$(inside "$other" /opt/stepbell/program/stepbell recap /home/learner/x86.journal 2>&1 | sha256sum); b=$(inside "$bare" "$at/program/stepbell" recap /home/learner/x86.journal 2>&1 | sha256sum)
  cp "$work/journals/$linux.journal" "$bare/home/learner/x86.journal"; b=$(inside "$bare" "$at/program/stepbell" recap /home/learner/x86.journal 2>&1 | sha256sum)
  c=$(inside "$other" /opt/stepbell/program/stepbell recap "/home/learner/.local/share/stepbell/runs/$(basename "$(newest "$other/home/learner/.local")")" 2>&1 | sha256sum); d=$(inside "$bare" "$at/program/stepbell" recap /home/learner/arm.journal 2>&1 | sha256sum)
  figure "journals read across: recaps byte for byte, x86-64's there and its own here" "$([ "$a" = "$b" ] && echo equal || echo different), $([ "$c" = "$d" ] && echo equal || echo different)" "equal, equal" "$([ "$a" = "$b" ] && [ "$c" = "$d" ]; echo $?)"
fi

if has $windows && [ -d "$work/$windows" ]; then
  printf '\nWindows, under Wine: never run on Windows\n'
  export WINEPREFIX=$work/wine WINEDEBUG=-all
  timeout 300 wine wineboot --init >/dev/null 2>&1
  place="$work/Ünïcode folder"; mkdir -p "$place"; cp -r "$work/$windows/stepbell-$version-$windows" "$place/stepbell"; cp tests/audio/demo.wav "$place/demo.wav"
  program() { (cd "$place" && timeout 590 wine stepbell/program/stepbell.exe "$@"); }
  program check basic-facial >"$work/log" 2>&1; rc=$?
  figure "check, from a path with a blank and umlauts" "$(head -1 "$work/log" | tr -d '\r')" "usable" $rc
  program rehearse basic-facial --mic demo.wav --compress 10 --voice off --runs runs >"$work/log" 2>&1; rc=$?
  [ $rc = 0 ] || tail -5 "$work/log"
  program export --runs runs --format json --out run.json >/dev/null 2>&1
  [ -n "${silent:-}" ] || { inside "$bare" "$at/program/stepbell" rehearse basic-facial --mic /opt/demo.wav --compress 10 --voice off --runs /home/learner/silent >/dev/null 2>&1
    inside "$bare" "$at/program/stepbell" export --runs /home/learner/silent --format json --out /home/learner/silent.json >/dev/null 2>&1; silent=$(findings "$bare/home/learner/silent.json"); }
  got=$(findings "$place/run.json" 2>/dev/null)
  figure "the demo without a voice: findings, sum of findings, steps and callouts" "$got" "as x86-64 Linux: $silent" "$([ $rc = 0 ] && [ "$got" = "$silent" ]; echo $?)"
  own=$(newest "$place/runs"); cp "$own" "$bare/home/learner/windows.journal" 2>/dev/null; cp "$work/journals/$linux.journal" "$place/x86.journal"; cp "$work/journals/$linux.journal" "$bare/home/learner/x86.journal"
  a=$(program recap x86.journal 2>/dev/null | tr -d '\r' | sha256sum); b=$(inside "$bare" "$at/program/stepbell" recap /home/learner/x86.journal 2>/dev/null | sha256sum)
  c=$(program recap "runs/$(basename "$own")" 2>/dev/null | tr -d '\r' | sha256sum); d=$(inside "$bare" "$at/program/stepbell" recap /home/learner/windows.journal 2>/dev/null | sha256sum)
  figure "journals read across: recaps, Linux's there and its own here" "$([ "$a" = "$b" ] && echo equal || echo different), $([ "$c" = "$d" ] && echo equal || echo different)" "equal, equal" "$([ "$a" = "$b" ] && [ "$c" = "$d" ]; echo $?)"
fi

printf '\nmacOS: never built nor run, for want of the SDK of Apple; what can be checked without it\n'
for target in x86_64-apple-darwin aarch64-apple-darwin; do
  if [ -d "$(rustc --print target-libdir --target $target 2>/dev/null)" ]; then
    cargo check --release --locked --quiet --target $target >"$work/log" 2>&1; rc=$?
    [ $rc = 0 ] || tail -20 "$work/log"
    figure "cargo check --target $target" "exit $rc" "exit 0" $rc
  else
    printf '  %s: not checked, its standard library is not here (rustup target add %s)\n' $target $target
  fi
done
exit $short
