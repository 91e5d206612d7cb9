//! A recording in the microphone's place, as fast as it goes or at the speed it was made. Little of it is held at once.

use super::{CHUNK, Converter, Piece, Source, WavError, WavStream};
use crate::terminal;
use crate::time::{RATE, SampleIndex};
use std::path::Path;
use std::time::{Duration, Instant};

/// Samples of the file that are read in one go.
const PIECE: usize = 1 << 14;

/// A recording that is played into the ears.
pub struct Recording {
    /// None once all of it is read.
    file: Option<WavStream<'static>>,
    rate: u32,
    converter: Converter,
    /// Sound at 16 kHz that is read and not given yet.
    ready: Vec<f32>,
    /// How far it was given, in samples.
    at: usize,
    real_speed: bool,
    /// When the first sample would have been due.
    begun: Option<Instant>,
}

impl Recording {
    /// Of a WAV file; `real_speed` holds each chunk back until it is due.
    pub fn open(path: &Path, real_speed: bool) -> Result<Recording, WavError> {
        let file = WavStream::open(path)?;
        let rate = file.rate();
        let unusable = |_| WavError::Unusable { path: path.to_path_buf(), rate, channels: 1 };
        let converter = Converter::new(rate).map_err(unusable)?;
        Ok(Recording { file: Some(file), rate, converter, ready: vec![], at: 0, real_speed, begun: None })
    }

    /// Samples a second of the file.
    pub fn rate(&self) -> u32 {
        self.rate
    }

    /// Go on from this place; gives the sound in front of it, from `since`, in whole chunks.
    pub fn seek(&mut self, since: SampleIndex, at: SampleIndex) -> Vec<Vec<f32>> {
        let since = since.0 / CHUNK as u64 * CHUNK as u64;
        let mut before = vec![];
        while (self.at + CHUNK) as u64 <= at.0 {
            let from = self.at as u64;
            match self.chunk() {
                Some(chunk) if from >= since => before.push(chunk),
                Some(_) => {}
                None => break,
            }
        }
        before
    }

    fn chunk(&mut self) -> Option<Vec<f32>> {
        while self.ready.len() < CHUNK && self.file.is_some() {
            self.read();
        }
        if self.ready.len() < CHUNK {
            return None;
        }
        self.at += CHUNK;
        Some(self.ready.drain(..CHUNK).collect())
    }

    /// Read a piece more of the file; its end is filled up to a whole chunk.
    fn read(&mut self) {
        let Some(file) = &mut self.file else { return };
        let mut piece = vec![];
        let more = file.read(PIECE, &mut piece);
        self.converter.push(&piece, &mut self.ready);
        if let Ok(true) = more {
            return;
        }
        if let Err(error) = more {
            terminal::warn(error, "nothing; the run goes on as if the recording ended here");
        }
        // The converter works in pieces of 20 ms and has a delay: a little silence brings the last of the sound out.
        self.converter.push(&vec![0.0; self.rate as usize / 10], &mut self.ready);
        self.ready.resize(self.ready.len().next_multiple_of(CHUNK), 0.0);
        self.file = None;
    }
}

impl Source for Recording {
    fn next(&mut self) -> Option<Piece> {
        let chunk = self.chunk()?;
        if self.real_speed {
            let past = Duration::from_secs_f64((self.at - CHUNK) as f64 / RATE as f64);
            let begun = *self.begun.get_or_insert_with(|| Instant::now() - past);
            let due = begun + Duration::from_secs_f64(self.at as f64 / RATE as f64);
            std::thread::sleep(due.saturating_duration_since(Instant::now()));
        }
        Some(Piece::Sound(chunk))
    }
}
