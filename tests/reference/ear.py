"""What onnxruntime makes of the shipped ear on a second of a real word: tests/data/acoustic/sound.txt (16 bits a sample) and scores.txt. With the
training's STATE and SHARES (ear_f16.pt, shares.npy) it also holds that against the recipe's own arithmetic.

    pip install onnxruntime==1.32.0 soundfile==0.14.0 numpy; python tests/reference/ear.py [STATE SHARES]
"""
import sys

import numpy as np
import onnxruntime
import soundfile

sys.path.insert(0, "models/recipe")
import ear  # noqa: E402: found by the line above

x = soundfile.read("tests/data/ears/0560.opus", dtype="int16")[0][:16_000]
sound = (x / 32_768).astype("f4")
scores = onnxruntime.InferenceSession("models/english/ear.onnx").run(None, {"sound": sound[None, None]})[0]
np.savetxt("tests/data/acoustic/sound.txt", x[None], fmt="%d")
np.savetxt("tests/data/acoustic/scores.txt", scores, fmt="%.3f")
if len(sys.argv) > 2:
    ours = ear.forward(ear.parts(ear.state(sys.argv[1]), np.load(sys.argv[2])), sound)
    print("greatest difference from numpy in double precision:", np.abs(ours - scores).max())
