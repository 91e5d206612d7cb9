//! The recording of a run, kept where the person asked for it: sample n of the file is place n of the run.

use super::{Piece, Source};
use crate::platform::{self, Writing};
use crate::terminal;
use crate::time::{RATE, SampleIndex};
use std::fs::File;
use std::io::{self, Seek, SeekFrom, Write};
use std::path::Path;

/// Bytes in front of the samples: RIFF, format and data chunk headers.
const HEAD: u64 = 44;

/// The header is made true after this many samples, so that a run cut off leaves a file that players know the end of.
const MEND_EVERY: u64 = 5 * RATE;

/// A source whose sound is also written to a file.
pub struct Kept {
    inner: Box<dyn Source>,
    file: Option<File>,
    written: u64,
    mended: u64,
}

impl Kept {
    /// Keep what `inner` gives in a WAV file at `path`, 16 bits at 16 kHz, from place `at` on: a shorter file is filled with
    /// silence up to there, a longer one is cut. Only its owner can read it; a link that lies there is refused.
    pub fn new(inner: Box<dyn Source>, path: &Path, at: SampleIndex) -> io::Result<Kept> {
        let mut file = match platform::create(path, Writing::Anywhere) {
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
                platform::open_to_write(path, Writing::Anywhere)?
            }
            created => created?,
        };
        file.set_len(HEAD + at.0 * 2)?;
        file.write_all(&head(at.0))?;
        file.seek(SeekFrom::End(0))?;
        Ok(Kept { inner, file: Some(file), written: at.0, mended: at.0 })
    }

    fn keep(&mut self, sound: &[f32]) -> io::Result<()> {
        let Some(file) = &mut self.file else { return Ok(()) };
        let bytes: Vec<u8> =
            sound.iter().flat_map(|s| ((s * 32768.0).round().clamp(-32768.0, 32767.0) as i16).to_le_bytes()).collect();
        file.write_all(&bytes)?;
        self.written += sound.len() as u64;
        if self.written >= self.mended + MEND_EVERY {
            self.mend()?;
        }
        Ok(())
    }

    fn mend(&mut self) -> io::Result<()> {
        let Some(file) = &mut self.file else { return Ok(()) };
        file.seek(SeekFrom::Start(0))?;
        file.write_all(&head(self.written))?;
        file.seek(SeekFrom::End(0))?;
        self.mended = self.written;
        Ok(())
    }
}

impl Source for Kept {
    fn next(&mut self) -> Option<Piece> {
        let piece = self.inner.next();
        let kept = match &piece {
            Some(Piece::Sound(sound)) => self.keep(sound),
            Some(_) => Ok(()),
            None => self.mend(),
        };
        if let Err(error) = kept {
            terminal::warn(
                format_args!("the recording can't be kept any more: {error}"),
                "nothing; the run goes on without it",
            );
            self.file = None;
        }
        piece
    }

    fn overflowed(&mut self) -> u64 {
        self.inner.overflowed()
    }
}

impl Drop for Kept {
    fn drop(&mut self) {
        // Where this fails, the samples are there all the same, and the header is a few seconds short.
        let _ = self.mend();
    }
}

/// Header of a WAV file with this many samples, one channel of 16 bits (RIFF WAVE, Microsoft and IBM 1991).
fn head(samples: u64) -> Vec<u8> {
    let bytes = u32::try_from(samples * 2).unwrap_or(u32::MAX - HEAD as u32);
    let rate = RATE as u32;
    let mut head = b"RIFF".to_vec();
    head.extend((bytes + HEAD as u32 - 8).to_le_bytes());
    head.extend(b"WAVEfmt ");
    head.extend(
        [16u32.to_le_bytes(), [1, 0, 1, 0], rate.to_le_bytes(), (rate * 2).to_le_bytes(), [2, 0, 16, 0]].concat(),
    );
    head.extend(b"data");
    head.extend(bytes.to_le_bytes());
    head
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Tone(u32);
    impl Source for Tone {
        fn next(&mut self) -> Option<Piece> {
            self.0 = self.0.checked_sub(1)?;
            Some(Piece::Sound(vec![0.25; super::super::CHUNK]))
        }
    }

    #[test]
    fn the_file_lies_on_the_axis_and_is_private() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("run.wav");
        let listen = |at| {
            let mut kept = Kept::new(Box::new(Tone(10)), &path, SampleIndex(at)).unwrap();
            while kept.next().is_some() {}
        };
        listen(0);
        assert_eq!(std::fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
        let (sound, rate) = super::super::read_wav(&path).unwrap();
        assert_eq!((sound.len(), rate), (16_000, 16_000));
        // Gone on with further than was kept: silence in between.
        listen(20_000);
        let (sound, _) = super::super::read_wav(&path).unwrap();
        assert_eq!(sound.len(), 36_000);
        assert_eq!((sound[15_999], sound[16_000], sound[19_999], sound[20_000]), (0.25, 0.0, 0.0, 0.25));
        // Gone on with earlier: what is behind is cut.
        listen(8_000);
        assert_eq!(super::super::read_wav(&path).unwrap().0.len(), 24_000);
    }
}
