#!/usr/bin/env python3
"""Write tests/data/acoustic/features.txt: 60 frames of tests/audio/demo.wav from second 40, by PyPI kaldi-native-fbank 1.22.3."""
import wave
import kaldi_native_fbank as knf
import numpy as np

with wave.open("tests/audio/demo.wav") as wav:
    x = np.frombuffer(wav.readframes(wav.getnframes()), np.int16)[40 * 16000:42 * 16000].astype(np.float32)
o = knf.MfccOptions()
o.frame_opts.samp_freq, o.frame_opts.dither, o.frame_opts.snip_edges = 16000, 0.0, True
o.frame_opts.preemph_coeff, o.frame_opts.window_type = 0.97, "povey"
o.mel_opts.num_bins, o.mel_opts.low_freq, o.mel_opts.high_freq = 40, 20, 7600
o.num_ceps, o.use_energy, o.cepstral_lifter, o.htk_compat = 40, False, 22.0, False
f = knf.OnlineMfcc(o)
f.accept_waveform(16000, x.tolist())
with open("tests/data/acoustic/features.txt", "w") as out:
    out.writelines(" ".join("%.4f" % v for v in f.get_frame(k)) + "\n" for k in range(60))
