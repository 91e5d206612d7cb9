"""Words and onsets by the reference client: vosk_words.py MODEL WAV GRAMMAR -> JSON [[word, seconds], ...]."""
import json
import sys
import types
import wave

# The package imports these for fetching models and writing subtitles, which are not used here.
for name, members in {"requests": [], "srt": [], "tqdm": ["tqdm"]}.items():
    stand_in = types.ModuleType(name)
    for member in members:
        setattr(stand_in, member, object)
    sys.modules.setdefault(name, stand_in)

import vosk  # noqa: E402

vosk.SetLogLevel(-1)
model, path, grammar = sys.argv[1:]
recogniser = vosk.KaldiRecognizer(vosk.Model(model), 16000, grammar)
recogniser.SetWords(True)
words = []
with wave.open(path) as w:
    while len(chunk := w.readframes(1600)) == 3200:
        if recogniser.AcceptWaveform(chunk):
            words += json.loads(recogniser.Result()).get("result", [])
words += json.loads(recogniser.FinalResult()).get("result", [])
print(json.dumps([[w["word"], w["start"]] for w in words]))
