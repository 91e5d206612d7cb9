//! Kaldi's MFCC, which the network was trained on: 40 cepstra of 40 mel bins from 20 to 7600 Hz, 25 ms every 10 ms, Povey's window,
//! pre-emphasis 0.97, lifter 22, no dither, samples at 16-bit scale. The formulas are those of Kaldi's feature library; the
//! test compares with values of the PyPI package kaldi-native-fbank 1.22.

use realfft::{RealFftPlanner, RealToComplex};
use std::f64::consts::PI;
use std::sync::Arc;

/// Cepstra a frame.
pub const CEPSTRA: usize = 40;
/// Samples of one frame, and from one to the next.
pub const FRAME: usize = 400;
/// Samples from one frame to the next: 10 ms.
pub const SHIFT: usize = 160;
const FFT: usize = 512;

/// Turns samples at 16 kHz into frames of cepstra.
pub struct Mfcc {
    window: Vec<f32>,
    /// Per mel bin: its first bin of the spectrum, and the weights from there on.
    banks: Vec<(usize, Vec<f32>)>,
    /// Row k: cepstrum k of the log mel energies, liftered.
    cosines: Vec<f32>,
    fft: Arc<dyn RealToComplex<f32>>,
}

fn mel(hertz: f64) -> f64 {
    1127.0 * (1.0 + hertz / 700.0).ln()
}

impl Default for Mfcc {
    fn default() -> Mfcc {
        let window =
            (0..FRAME).map(|n| (0.5 - 0.5 * (2.0 * PI * n as f64 / (FRAME - 1) as f64).cos()).powf(0.85) as f32);
        let (low, high) = (mel(20.0), mel(7600.0));
        let edge = |b: usize| low + (high - low) * b as f64 / (CEPSTRA + 1) as f64;
        let bank = |b: usize| {
            let (left, centre, right) = (edge(b), edge(b + 1), edge(b + 2));
            let weight = |bin: usize| {
                let m = mel(16_000.0 / FFT as f64 * bin as f64);
                if m <= left || m >= right {
                    0.0
                } else if m <= centre {
                    (m - left) / (centre - left)
                } else {
                    (right - m) / (right - centre)
                }
            };
            let first = (0..FFT / 2).find(|bin| weight(*bin) > 0.0).unwrap_or(0);
            (first, (first..FFT / 2).map(weight).take_while(|w| *w > 0.0).map(|w| w as f32).collect())
        };
        let cosine = |k: usize, m: usize| {
            let scale = if k == 0 { (1.0 / CEPSTRA as f64).sqrt() } else { (2.0 / CEPSTRA as f64).sqrt() };
            let lift = 1.0 + 11.0 * (PI * k as f64 / 22.0).sin();
            (scale * lift * (PI / CEPSTRA as f64 * (m as f64 + 0.5) * k as f64).cos()) as f32
        };
        Mfcc {
            window: window.collect(),
            banks: (0..CEPSTRA).map(bank).collect(),
            cosines: (0..CEPSTRA * CEPSTRA).map(|i| cosine(i / CEPSTRA, i % CEPSTRA)).collect(),
            fft: RealFftPlanner::new().plan_fft_forward(FFT),
        }
    }
}

impl Mfcc {
    /// How many frames so many samples make.
    pub fn frames(samples: usize) -> usize {
        if samples < FRAME { 0 } else { 1 + (samples - FRAME) / SHIFT }
    }

    /// The cepstra of every whole frame, frame after frame; `sound` in -1 to 1.
    pub fn of(&self, sound: &[f32]) -> Vec<f32> {
        let mut out = Vec::with_capacity(Mfcc::frames(sound.len()) * CEPSTRA);
        let (mut padded, mut spectrum) = (self.fft.make_input_vec(), self.fft.make_output_vec());
        for k in 0..Mfcc::frames(sound.len()) {
            let frame: Vec<f32> = sound[k * SHIFT..k * SHIFT + FRAME].iter().map(|s| s * 32_768.0).collect();
            let mean = frame.iter().sum::<f32>() / FRAME as f32;
            padded.fill(0.0);
            for n in 0..FRAME {
                let before = frame[n.saturating_sub(1)] - mean;
                padded[n] = (frame[n] - mean - 0.97 * before) * self.window[n];
            }
            if self.fft.process(&mut padded, &mut spectrum).is_err() {
                return out;
            }
            let power: Vec<f32> = spectrum.iter().map(|c| c.norm_sqr()).collect();
            let logs: Vec<f32> = self
                .banks
                .iter()
                .map(|(first, weights)| {
                    let energy: f32 = weights.iter().zip(&power[*first..]).map(|(w, p)| w * p).sum();
                    energy.max(f32::EPSILON).ln()
                })
                .collect();
            out.extend(self.cosines.chunks(CEPSTRA).map(|row| row.iter().zip(&logs).map(|(c, l)| c * l).sum::<f32>()));
        }
        out
    }
}
