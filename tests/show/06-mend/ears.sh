# The ears: a second listen that ends in time and says that it is going on.
python3 - "$work/talk.wav" <<'PY'
import random, struct, sys, wave
# Fifteen minutes of talk without a callout: the tool's own demo voice would hold callouts, so syllables are made of the demo's, backwards.
with wave.open("tests/audio/demo.wav") as w:
    x = struct.unpack(f"<{w.getnframes()}h", w.readframes(w.getnframes()))
loud = [k for k in range(0, len(x) - 8000, 8000) if sum(abs(s) for s in x[k:k + 8000:20]) / 400 > 300]
random.seed(1)
with wave.open(sys.argv[1], "wb") as w:
    w.setnchannels(1); w.setsampwidth(2); w.setframerate(16000)
    for _ in range(15 * 60 * 2):
        k = random.choice(loud)
        w.writeframes(struct.pack("<8000h", *x[k:k + 8000][::-1]))
PY
begun=$(date +%s)
"$stepbell" rehearse prompts/skin-care/basic-facial.toml --mic "$work/talk.wav" --voice off --no-questions --runs "$work/talk" >"$work/out" 2>&1; rc=$?
took=$(($(date +%s) - begun))
said=$(grep -c "I listen once more" "$work/out")
figure "15 minutes of talk: the second listen is announced" "$said time(s)" "1" $((said != 1))
figure "15 minutes of talk: the whole run, heard faster than real" "$took s, exit $rc" "<= 240 s" $((took > 240))
