#!/usr/bin/env python3
"""Make demo.wav and demo.tsv: a candidate's whole compressed rehearsal of the basic facial, as a microphone would hear it.

Needs espeak-ng, flite and sox from Debian, and a built `stepbell`. First the tool is run on a quiet room, and its journal says
where the start words end; then each line of SCRIPT is spoken by the next of several voices so many seconds later, cut to its
sounding part (so that demo.tsv holds true onsets) and laid over pink noise at about -54 dBFS.
"""
import array
import glob
import json
import os
import subprocess
import tempfile
import wave

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
RATE, COMPRESS = 16000, 10
VOICES = [("flite", "slt"), ("espeak-ng", "en-us"), ("flite", "rms"), ("flite", "awb"), ("espeak-ng", "en-gb")]
# Seconds after the start words, and what is called. Left out: analyse the skin, toner. Out of order: lip colour (after the exfoliant).
SCRIPT = [
    (3, "sanitize hands"), (8, "body drape"), (13, "head drape"), (18, "sanitize hands"), (23, "eye makeup off"),
    (29, "cleanse the face"), (34, "remove cleanser"), (39, "exfoliate"), (44, "lip color"), (49, "test the towel"),
    (54, "steam towel"), (59, "dropped item"), (63, "sanitize hands"), (67, "remove the towel"), (72, "massage cream"),
    (83, "effleurage"), (88, "petrissage"), (93, "friction"), (98, "tapotement"), (103, "final strokes"),
    (108, "remove massage cream"), (113, "apply the mask"), (119, "remove the mask"), (125, "moisturizer and sunscreen"),
    (131, "undrape and dispose"), (137, "stepping back"),
]


def wav(path):
    with wave.open(path) as w:
        return array.array("h", w.readframes(w.getnframes()))


def sox(*args):
    subprocess.run(["sox", "-R", *map(str, args)], check=True)


def start_of_clock(tmp):
    quiet = os.path.join(tmp, "quiet.wav")
    sox("-n", "-r", RATE, "-b", 16, "-c", 1, quiet, "trim", 0, 150)
    subprocess.run([os.path.join(ROOT, "target/release/stepbell"), "rehearse", os.path.join(ROOT, "prompts/skin-care/basic-facial.toml"),
                    "--mic", quiet, "--compress", str(COMPRESS), "--runs", tmp], check=True, stdout=subprocess.DEVNULL, cwd=ROOT)
    events = [json.loads(line[9:]) for line in open(glob.glob(tmp + "/*.journal")[0], encoding="utf8").read().splitlines()[1:]]
    return next(e["at"] for e in events if e["event"] == {"speech_ended": 2})


def spoken(tmp, engine, voice, text):
    raw, out = os.path.join(tmp, "raw.wav"), os.path.join(tmp, "out.wav")
    command = [engine, "-voice", voice, "-t", text, "-o", raw] if engine == "flite" else [engine, "-v", voice, "-s", "150", "-w", raw, text]
    subprocess.run(command, check=True)
    edge = ["silence", "1", "0.01", "0.5%", "reverse"]
    sox(raw, "-r", RATE, "-c", 1, out, *edge, *edge, "norm", -12)
    return wav(out)


with tempfile.TemporaryDirectory() as tmp:
    start = start_of_clock(tmp)
    noise = os.path.join(tmp, "noise.wav")
    sox("-n", "-r", RATE, "-b", 16, "-c", 1, noise, "synth", start / RATE + 145, "pinknoise", "vol", 0.006)
    track = wav(noise)
    with open(os.path.join(HERE, "demo.tsv"), "w", encoding="utf8") as truth:
        for n, (after, text) in enumerate(SCRIPT):
            at = start + after * RATE
            for k, sample in enumerate(spoken(tmp, *VOICES[n % len(VOICES)], text)):
                track[at + k] = max(-32768, min(32767, track[at + k] + sample))
            truth.write(f"{at / RATE:.3f}\t{text}\t{'/'.join(VOICES[n % len(VOICES)])}\n")
    with wave.open(os.path.join(HERE, "demo.wav"), "wb") as w:
        w.setparams((1, 2, RATE, 0, "NONE", ""))
        w.writeframes(track.tobytes())
