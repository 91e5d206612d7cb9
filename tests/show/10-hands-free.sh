#!/usr/bin/env bash
# A whole evening without a keyboard: the desk, a run with mistakes, questions, a drill and good night, on a virtual sound card at real speed. The
# candidate is flite's and espeak-ng's voice, neither of them the proctor's. Then the same behind talk and music 15 dB below the voice.
# QUIET=0 or NOISE=0 leaves one of them out. LOG names a folder in which what was said is kept. Exits non-zero where a figure falls short.
. "$(dirname "${BASH_SOURCE[0]}")/common.sh"
missing=$(for p in flite espeak-ng sox paplay; do command -v $p >/dev/null || echo "$p"; done)
[ -z "$missing" ] || { echo "missing: $missing"; exit 2; }
log=${LOG:-$work}; mkdir -p "$log"
program=${PROGRAM:-$root/target/release/stepbell}
[ -x "$program" ] || { (cd "$root" && cargo build --release --locked --quiet) || exit 1; }
cat > "$work/short.toml" <<'X'
id = "evening"
title = "Evening facial"
trade = "practice"
board = "Tarnmoor (invented)"
edition = "2026-03-01"
source = "made for this script"
cautions = ["Local rules and licensed practice come first."]
finish = ["stepping back"]
[reading]
times = 1
sentences = ["Drape, cleanse, tone, mask and clean up."]
again = "Once more."
begin = "You may begin now."
[clock]
minutes = 4
warning_minutes_left = 2.5
warning = "Two and a half minutes left."
stop = "Stop."
[[step]]
id = "hands"
title = "sanitise hands"
say = ["sanitize hands"]
minutes = 0.2
critical = true
hygiene = true
[[step]]
id = "drape"
title = "drape the body"
say = ["body drape"]
minutes = 0.2
after = ["hands"]
[[step]]
id = "cleanse"
title = "cleanse the face"
say = ["cleanse the face"]
minutes = 0.2
after = ["drape"]
[[step]]
id = "toner"
title = "toner"
say = ["apply toner"]
minutes = 0.2
after = ["cleanse"]
[[step]]
id = "mask"
title = "apply the mask"
say = ["apply the mask"]
minutes = 0.5
after = ["cleanse"]
hint = "Next: the mask, even and away from the eyes."
[[step]]
id = "mask-off"
title = "remove the mask"
say = ["remove the mask"]
minutes = 0.3
after = ["mask"]
[[step]]
id = "towel"
title = "steam towel"
say = ["steam towel"]
minutes = 0.2
after = ["mask-off"]
[[step]]
id = "away"
title = "throw away what was used"
say = ["throw away"]
minutes = 0.2
after = ["mask-off"]
X
k=0; right=0; asked=0
make() { # the sound of a line, by one voice and then by the other
  k=$((k + 1))
  if [ $((k % 2)) = 0 ]; then espeak-ng -v en-us -s 140 -w "$work/raw.wav" "$1"; else flite -voice rms -t "$1" -o "$work/raw.wav"; fi
  sox -q "$work/raw.wav" -r 48000 -c 1 "$work/say.wav" norm -6 pad 0.1 0.3
}
voice() { # it, into the microphone
  paplay --device=vmic_in "$work/say.wav"
  echo "$(date +%T) candidate: $1" >>"$out"
}
sounds() { # whether the loudspeaker sounds
  local level; level=$(timeout 0.3 parec --device=vspk.monitor --raw --format=s16le --rate=8000 --channels=1 --latency-msec=20 2>/dev/null | sox -q -t raw -r 8000 -e signed -b 16 -c 1 - -n stat 2>&1 | awk '/Maximum amplitude/ { print ($3 > 0.004) }')
  [ "${level:-0}" = 1 ]
}
quiet() { # until the proctor has had time for the last line it shows, and then been silent for a second and a half, within 90 s
  local k still=0 words
  words=$(tail -n +"$((mark + 1))" "$out" | grep '^  “' | tail -1 | wc -w)
  sleep "$(awk "BEGIN { print 1 + $words * 0.33 }")"
  for k in $(seq 300); do
    if sounds; then still=0; else still=$((still + 1)); fi
    [ $still -ge 5 ] && return
  done
}
expect() { # a line that must come, seconds
  local k; for k in $(seq $((${2:-20} * 4))); do tail -n +"$((mark + 1))" "$out" | grep -qE "$1" && return 0; sleep 0.25; done
  echo "  not heard within ${2:-20} s: $1"; tail -3 "$out" | cut -c1-160; return 1
}
mark=0
say() { # what, the answer that must come, seconds
  quiet; mark=$(wc -l <"$out"); asked=$((asked + 1))
  make "$1"; voice "$1"; if expect "$2" "${3:-20}"; then right=$((right + 1)); else echo "  after: $1"; fi
}
over() { # a line of the proctor's, what is said while it sounds, the answer that must come
  local i
  make "$2"
  mark=$(wc -l <"$out"); asked=$((asked + 1)); expect "$1" 150 || return
  for i in $(seq 20); do sounds && break; done
  voice "$2" & sleep 1; spoken=no; sounds && spoken=yes; wait $!
  figure "it spoke while \"$2\" was said" "$spoken" "yes" $([ $spoken = yes ]; echo $?)
  if expect "$3" 20; then right=$((right + 1)); else echo "  after: $2, over the warning"; fi
}
evening() { # its name
  out=$log/evening-$1.txt; : >"$out"; right=0; asked=0; mark=0
  PYTHONUNBUFFERED=1 stdbuf -oL "$program" listen "$work/short.toml" --runs "$work/runs-$1" --tells next,pace --sign on >>"$out" 2>&1 </dev/null &
  tool=$!
  expect "SAY A SECTION" 60 || return
  say "check the microphone" "Say a little more|I hear you well|The room|You are"
  say "what is there" "Practice: Evening facial, 4 minutes."
  say "evening facial" "Evening facial, 4 minutes"
  say "exam mode" "“Exam mode"
  say "practice mode" "“Practice mode"
  say "skip the reading" "without the reading"
  say "what are the cautions" "Local rules"
  say "ready" "the clock has started" 40
  # Six mistakes: the drape before the hands, no toner, no towel, no throwing away, an item dropped and not dealt with, the mask taken off late.
  say "body drape" "  body drape"
  say "sanitize hands" "  sanitize hands"
  say "cleanse the face" "  cleanse the face"
  say "dropped item" "  dropped item"
  say "what comes next" "Next: "
  say "apply the mask" "  apply the mask"
  over "“Two and a half minutes left" "remove the mask" "  remove the mask"
  mark=0; expect "By plan now: " 20
  say "stepping back" "Any questions" 90
  say "what did I miss" "Not called: .*toner"
  say "what took longest" "“.*(mask|cleanse)"
  say "was anything critical" "“"
  say "did I call the steam towel" "did not hear steam towel"
  say "when did I call apply the mask" "“Apply the mask, called once"
  say "how often did I sanitize hands" "“(Sanitize hands, called|Hand hygiene called) once"
  say "how much time was left" "left|early|before"
  say "what was out of order" "“.*drape"
  say "explain the toner" "“.*[Tt]oner"
  say "what does the apply the mask need" "even and away from the eyes"
  say "that was the toner" "Noted, as claimed afterwards: toner"
  say "did I call the toner" "You said afterwards that you called it"
  say "undo that" "“Taken back"
  say "I did the toner but I didn't say it" "Noted, as claimed afterwards: toner"
  say "what is the weather like" "I can't answer that"
  say "that's all" "SAY A SECTION" 40
  say "what should I practice" "by .*toner"
  say "drill" "[Aa] drill of"
  say "ready" "the clock has started" 60
  say "apply toner" "  apply toner"
  say "stepping back" "Any questions" 90
  say "no more questions" "SAY A SECTION" 40
  say "next section" "minutes|Evening"
  say "something else" "Say a section"
  say "good night" "Good night"
  for _ in $(seq 40); do kill -0 $tool 2>/dev/null || break; sleep 0.25; done
  kill -0 $tool 2>/dev/null && { echo "  it did not end"; kill $tool; }
  wait $tool; figure "$1: it ended by voice" "exit $?" "exit 0" 0
  figure "$1: answered right of what was said" "$right of $asked" "all" $((right != asked))
}
eval "$(bash "$root/tests/fixture/vcard.sh" start "$work/card" 1700)"
trap 'bash "$root/tests/fixture/vcard.sh" stop "$work/card"; rm -rf "$work"' EXIT
[ "${QUIET:-1}" = 0 ] || evening quiet
if [ "${NOISE:-1}" = 1 ]; then
  # Talk and plucked chords, 15 dB below the candidate's voice.
  flite -voice kal -t "It was raining when the train came in, and nobody on the platform had thought of an umbrella. The old man read his paper, turned a page, and said that the harbour would be closed again by the evening. Somebody laughed. A girl counted the lamps along the wall, and the clock over the door stood still." -o "$work/talk.wav"
  sox -q "$work/talk.wav" -r 48000 -c 1 "$work/talk48.wav" repeat 60 norm -24
  sox -q -n -r 48000 -c 1 "$work/music.wav" synth 0.6 pluck C3 synth 0.6 pluck mix G3 repeat 1500 norm -24 2>/dev/null
  sox -q -m "$work/talk48.wav" "$work/music.wav" "$work/noise.wav" norm -21
  paplay --device=vmic_in "$work/noise.wav" & noise=$!
  evening noise
  kill $noise 2>/dev/null
fi
(cd "$root" && suite "emergency words, every state" emergency:: desk::)
exit $short
