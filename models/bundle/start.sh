#!/bin/sh
# What a double click starts: the front desk, where all is said and nothing typed, for hands in gloves. Only where that can't be, sections
# are chosen by name. Anything behind its name goes to the program as it is.
here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd) || exit 1
program=$here/program/stepbell
hold() { # a window that closes at once shows nothing
  printf '\nPress Enter to close. '; read -r _ || true
}
if [ ! -t 0 ] && [ $# = 0 ]; then
  # Started without a terminal: open one, where there is one.
  for terminal in x-terminal-emulator gnome-terminal konsole xfce4-terminal xterm; do
    command -v "$terminal" >/dev/null 2>&1 || continue
    case $terminal in gnome-terminal) exec "$terminal" -- sh "$here/start.sh" ;; *) exec "$terminal" -e sh "$here/start.sh" ;; esac
  done
fi
if ! told=$("$program" --version 2>&1); then
  printf 'Stepbell does not start here. The system says:\n  %s\n' "$told"
  case $told in
  *libasound*) echo 'Its sound library is missing. Debian, Ubuntu, Raspberry Pi: sudo apt install libasound2 (libasound2t64 on newer ones). Fedora: sudo dnf install alsa-lib.' ;;
  *libstdc++*) echo 'The C++ library is missing. Debian, Ubuntu, Raspberry Pi: sudo apt install libstdc++6. Fedora: sudo dnf install libstdc++.' ;;
  *GLIBC*) echo 'This system is older than the bundle: it needs glibc 2.35 or newer (Debian 12, Ubuntu 22.04, Raspberry Pi OS 12).' ;;
  *libvosk* | *'not found'* | *'No such file'*) echo 'Unpack the whole download again, and leave its files together.' ;;
  *'xec format'*) echo 'This bundle is for another kind of processor: fetch the one for yours.' ;;
  esac
  hold; exit 1
fi
[ $# = 0 ] || exec "$program" "$@"
echo "$told: rehearse a timed practical exam aloud. It hears what you call, not what you do."
echo
trap : INT # pressed at the desk, it ends the desk alone
"$program" listen && exit 0
trap - INT
printf '\nThe spoken front desk ended with what stands above. Typed, it goes on here:\n\n'
"$program" sections || { hold; exit 1; }
while :; do
  printf '\nName of a section, m to check the microphone, or Enter to end: '
  read -r answer || exit 0
  case $answer in
  '') exit 0 ;;
  m | M) "$program" microphone ;;
  mock*) "$program" mock "$answer" ;;
  *) "$program" rehearse "$answer" ;;
  esac
done
