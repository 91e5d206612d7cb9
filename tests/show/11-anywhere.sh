#!/usr/bin/env bash
# On the learner's own computer: what the download holds, and that it rehearses where nothing is installed, on a virtual sound card, and
# alike on other systems. Prints one line a figure (name, value, target); exits non-zero where one falls short.
# Needs root (bare roots are made and entered), what models/setup.sh needs, and a network. Some thirty minutes on two cores.
# TARGETS names what is shown: "x86_64-unknown-linux-gnu aarch64-unknown-linux-gnu x86_64-pc-windows-gnu x86_64-apple-darwin
# aarch64-apple-darwin" where nothing else is said; the first is always needed.
# BUNDLES names a folder that holds bundles already made, and is used as it is; ROOTS one that bare roots are kept in.
. "$(dirname "${BASH_SOURCE[0]}")/common.sh"
fresh; shared
[ "$(id -u)" = 0 ] || { echo "11-anywhere needs root: it makes bare roots and enters them" >&2; exit 1; }
linux=x86_64-unknown-linux-gnu arm=aarch64-unknown-linux-gnu windows=x86_64-pc-windows-gnu
macs="x86_64-apple-darwin aarch64-apple-darwin"
: "${TARGETS:=$linux $arm $windows $macs}" "${ROOTS:=$work/roots}"
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
    case $target in *-apple-darwin) continue ;; esac
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
    for file in stepbell libvosk.so flite; do
      [ -f "$folder/program/$file" ] || continue
      highest=$(objdump -T "$folder/program/$file" | grep -o 'GLIBC_[0-9.]*' | sort -Vu | tail -1)
      figure "$target: newest glibc that $file asks for" "${highest#GLIBC_}" "2.36 (Debian 12) or older" "$([ "$(printf '2.36\n%s\n' "${highest#GLIBC_}" | sort -V | tail -1)" = 2.36 ]; echo $?)"
    done ;;
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
    exec chroot "$in" /usr/bin/env -i HOME=/home/learner PATH=/usr/sbin:/usr/bin:/sbin:/bin XDG_RUNTIME_DIR=/run PULSE_RUNTIME_PATH=/run/pulse PULSE_COOKIE=/run/pulse/cookie \
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

printf '\nthe Debian packages\n'
for arch in amd64 arm64; do
  deb=$BUNDLES/stepbell_${version}_$arch.deb
  [ -f "$deb" ] || continue
  depends=$(dpkg-deb -f "$deb" Depends)
  rm -rf "$work/deb"; dpkg-deb -x "$deb" "$work/deb" || { figure "$arch: $deb" "is damaged" "whole" 1; continue; }
  outside=$(find "$work/deb" ! -type d ! -path "$work/deb/usr/*" | wc -l); writable=$(find "$work/deb" -type f -perm /022 | wc -l)
  lacking=$(readelf -d "$work"/deb/usr/lib/stepbell/{stepbell,libvosk.so} | sed -n 's/.*NEEDED.*\[\(.*\)\]/\1/p' | sort -u | while read -r library; do
    case $library in
    libvosk.so) continue ;; libc.so.6 | libm.so.6 | ld-linux*) package=libc6 ;; libstdc++.so.6) package=libstdc++6 ;;
    libgcc_s.so.1) package=libgcc-s1 ;; libasound.so.2) package=libasound2 ;; libatomic.so.1) package=libatomic1 ;; *) package=$library ;;
    esac
    case ", $depends," in *[,\|]" $package"[,\ ]*) ;; *) echo "$package" ;; esac
  done | tr '\n' ' ')
  figure "$arch: size, files outside /usr, files that others may change, lacking in Depends" "$(($(wc -c <"$deb") / 1000000)) MB, $outside, $writable, ${lacking:-none}" "0, 0, none" "$([ "$outside$writable$lacking" = 00 ]; echo $?)"
done
if [ -f "$BUNDLES/stepbell_${version}_amd64.deb" ]; then
  kept=$ROOTS/deb root_of_it=$work/debian
  [ -d "$kept/usr" ] || mmdebstrap --variant=essential --include=libasound2,libstdc++6,flite --aptopt='APT::Install-Recommends "false"' bookworm "$kept" >"$work/log" 2>&1 || { tail "$work/log"; exit 1; }
  rm -rf "$root_of_it"; cp -a "$kept" "$root_of_it"; mkdir -p "$root_of_it/opt"; cp "$BUNDLES/stepbell_${version}_amd64.deb" "$root_of_it/opt/stepbell.deb"; cp tests/audio/demo.wav "$root_of_it/opt/"
  inside "$root_of_it" dpkg -i /opt/stepbell.deb >"$work/log" 2>&1; rc=$?
  [ $rc = 0 ] || tail -5 "$work/log"
  figure "installed with dpkg: exit, packages half done, files changed" "$rc, $(inside "$root_of_it" dpkg --audit | wc -l), $(inside "$root_of_it" dpkg --verify stepbell | wc -l)" "0, 0, 0" "$((rc + $(inside "$root_of_it" dpkg --verify stepbell | wc -l)))"
  inside "$root_of_it" stepbell rehearse basic-facial --mic /opt/demo.wav --compress 10 --render /home/learner/spoken.wav >"$work/log" 2>&1; rc=$?
  [ $rc = 0 ] || tail -5 "$work/log"
  inside "$root_of_it" stepbell export --format json --out /home/learner/run.json >/dev/null 2>&1
  got=$(findings "$root_of_it/home/learner/run.json")
  figure "its demo: findings, sum of findings, steps and callouts" "$got" "as the bundle's: $reference" "$([ $rc = 0 ] && [ "$got" = "$reference" ]; echo $?)"
  inside "$root_of_it" dpkg -r stepbell >"$work/log" 2>&1; rc=$?
  left=$(find "$root_of_it/usr" -path '*stepbell*' | wc -l); runs_left=$(find "$root_of_it/home/learner" -name '*.journal' | wc -l)
  figure "removed: exit, left under /usr, the person's journals" "$rc, $left, $runs_left" "0, 0, 1" "$([ "$rc$left$runs_left" = 001 ]; echo $?)"
fi

# Only the demo's callouts: a voice that reads more slowly than the demo's begins the clock later.
python3 - tests/audio/demo.wav "$work/calls.wav" <<'PY'
import sys, wave
with wave.open(sys.argv[1]) as whole, wave.open(sys.argv[2], "wb") as rest:
    rest.setparams(whole.getparams())
    whole.setpos(int(66.5 * whole.getframerate()))
    rest.writeframes(whole.readframes(whole.getnframes()))
PY
call() { # say them once the clock starts, as a run's output in this file tells, as long as the run goes on
  until grep -q 'Your time starts now' "$1" || ! kill -0 "$2" 2>/dev/null; do sleep 0.1; done
  timeout 400 bash tests/fixture/vcard.sh say "$card" "$work/calls.wav"
}

printf '\na run on the virtual sound card, from the bare root\n'
bash tests/fixture/vcard.sh start "$card" 560 >/dev/null || exit 1
before=$(newest "$runs")
begun=$(date +%s.%N)
sound=$card inside "$bare" "$at/start.sh" rehearse basic-facial --compress 10 --no-questions >"$work/live" 2>&1 & run=$!
# The first words are out once they are shown; the recording begins with the run.
until grep -q '^  “' "$work/live" || ! kill -0 $run 2>/dev/null; do sleep 0.02; done
word=$(awk "BEGIN{printf \"%.2f\", $(date +%s.%N) - $begun}")
call "$work/live" $run
process=$(pgrep -f "$at/program/stepbell rehearse" | tail -1)
memory=$(awk '/VmHWM/{printf "%d", $2 / 1024}' "/proc/$process/status" 2>/dev/null)
for _ in $(seq 90); do kill -0 $run 2>/dev/null || break; sleep 1; done
kill $run 2>/dev/null; wait $run; rc=$?
bash tests/fixture/vcard.sh stop "$card"
live=$(newest "$runs"); called=$(grep -c '^ \+[0-9]:[0-9][0-9]  [a-z]' "$work/live")
figure "start to first word, announcements kept from the demo" "$word s" "-" 0
figure "most memory that the run held" "${memory:-?} MB" "at most 150 MB" "$([ "${memory:-999}" -le 150 ]; echo $?)"
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
  # Neither .NET nor a browser is asked for.
  export WINEPREFIX=$work/wine WINEDEBUG=-all WINEDLLOVERRIDES='mscoree,mshtml='
  timeout 300 wine wineboot --init >/dev/null 2>&1
  # Every Windows since 7 has this library; Wine 8.0 lacks it. A stand-in of its one function that Rust's std asks for goes into Wine, not into the bundle.
  if [ ! -f /usr/lib/x86_64-linux-gnu/wine/x86_64-windows/bcryptprimitives.dll ]; then
    printf '#include <windows.h>\nBOOLEAN NTAPI SystemFunction036(PVOID, ULONG);\n__declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE to, SIZE_T n) { return SystemFunction036(to, (ULONG)n); }\n' |
      x86_64-w64-mingw32-gcc -shared -xc - -o "$WINEPREFIX/drive_c/windows/system32/bcryptprimitives.dll" -ladvapi32
    printf '  %s\n' "$(wine --version 2>/dev/null) has no bcryptprimitives.dll: one function of it stands in"
  fi
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
  failed=$(for verb in "show basic-facial" sections schema "recap --runs runs" "replay --runs runs" "page --runs runs --out page.html" "export --runs runs --format csv" "export --runs runs --format vtt" \
    "history --runs runs --compress 10" "sheet basic-facial --out sheet.html" "new mine.toml" "check mine.toml" "archive runs --to tables --yes" "completions powershell" manual settings; do
    # shellcheck disable=SC2086
    program $verb >"$work/verb" 2>&1 || { echo "  failed: $verb: $(tail -1 "$work/verb")" >&2; echo "$verb"; }
  done | wc -l)
  figure "further verbs that did not do their work" "$failed" "0" "$failed"
  # A terminal, as script makes one: colours come as escapes, and what is no ASCII as UTF-8.
  script -qec "cd '$place' && wine stepbell/program/stepbell.exe recap --runs runs" /dev/null >"$work/terminal" 2>/dev/null </dev/null
  script -qec "cd '$place' && wine stepbell/program/stepbell.exe check nothing.toml" /dev/null >"$work/coloured" 2>/dev/null </dev/null
  figure "on a terminal: lines with a degree sign in UTF-8, an error in colour" "$(grep -c '°F' "$work/terminal"), $(grep -c $'\033\\[[0-9;]*m' "$work/coloured")" "some, some" "$(grep -q '°F' "$work/terminal" && grep -q $'\033\\[[0-9;]*m' "$work/coloured"; echo $?)"

  # Killed in the middle; a second one meanwhile must not write to the same journal.
  (cd "$place" && exec wine stepbell/program/stepbell.exe rehearse basic-facial --mic demo.wav --compress 10 --voice off --runs killed) >"$work/log" 2>&1 & run=$!
  until [ "$(cat "$place"/killed/*.journal 2>/dev/null | wc -l)" -ge 40 ] || ! kill -0 $run 2>/dev/null; do sleep 0.1; done
  program resume --runs killed --mic demo.wav --voice off >"$work/second" 2>&1; second=$?
  kill -9 $run; wait $run 2>/dev/null; cut=$(cat "$place"/killed/*.journal | wc -l)
  program resume --runs killed --mic demo.wav --voice off >"$work/log" 2>&1; rc=$?
  [ $rc = 0 ] || tail -5 "$work/log"
  program export --runs killed --format json --out killed.json >/dev/null 2>&1; resumed=$(findings "$place/killed.json" 2>/dev/null)
  figure "a second program on a run that goes on: exit, what it says" "$second, $(grep -ci 'in use\|another' "$work/second") line" "4, 1 line" "$([ $second = 4 ] && grep -qi 'in use\|another' "$work/second"; echo $?)"
  figure "killed behind line $cut, resumed: exit, findings, their sum" "$rc, $resumed" "as the whole run's: $got" "$([ $rc = 0 ] && [ "$resumed" = "$got" ]; echo $?)"

  bash tests/fixture/vcard.sh start "$card" 560 >/dev/null || exit 1
  eval "$(bash tests/fixture/vcard.sh env "$card")"
  figure "devices that it sees through Wine" "$(program devices 2>/dev/null | grep -c Virtual)" "2 or more" "$([ "$(program devices 2>/dev/null | grep -c Virtual)" -ge 2 ]; echo $?)"
  begun=$(date +%s.%N)
  (cd "$place" && exec timeout 540 wine stepbell/program/stepbell.exe rehearse basic-facial --compress 10 --no-questions --runs live) >"$work/live" 2>&1 & run=$!
  until grep -q '^  “' "$work/live" || ! kill -0 $run 2>/dev/null; do sleep 0.02; done
  word=$(awk "BEGIN{printf \"%.2f\", $(date +%s.%N) - $begun}")
  timeout 60 parec --device=vspk.monitor --raw --rate=16000 --channels=1 --latency-msec=20 >"$work/heard.raw" 2>/dev/null & recorder=$!
  call "$work/live" $run
  for _ in $(seq 90); do kill -0 $run 2>/dev/null || break; sleep 1; done
  kill $run $recorder 2>/dev/null; wait $run; rc=$?
  bash tests/fixture/vcard.sh stop "$card"
  called=$(grep -c '^ \+[0-9]:[0-9][0-9]  [a-z]' "$work/live"); loudest=$(python3 -c "import sys,struct;d=open(sys.argv[1],'rb').read();d=d[:len(d)//2*2];print(max(map(abs,struct.unpack('<%dh'%(len(d)//2),d)),default=0))" "$work/heard.raw")
  figure "a run through Wine's sound: first word after, loudest sample played" "$word s, $loudest" "more than 1000" "$([ "$loudest" -gt 1000 ]; echo $?)"
  figure "the run: exit, callouts heard, journals" "$rc, $called, $(ls "$place"/live/*.journal | wc -l)" "0, 20 or more, 1" "$([ $rc = 0 ] && [ "$called" -ge 20 ]; echo $?)"
  timeout 30 wineserver -k
fi

printf '\nmacOS: never built nor run, for want of the SDK of Apple; all the Rust is checked without it, the C of zstd is not\n'
for target in $macs; do
  has $target || continue
  checked=$(bash models/bundle/check-macos.sh $target); rc=$?
  figure "cargo check" "$(tail -1 <<<"$checked")" "without an error" $rc
  [ $rc = 0 ] || printf '%s\n' "$checked"
done
exit $short
