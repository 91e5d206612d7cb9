//! The recording of a run, kept where the person asked for it: sample n of the file is place n of the run.

use super::{Piece, Source};
use crate::platform::{self, Writing};
use crate::terminal;
use crate::time::{RATE, SampleIndex};
use hound::{SampleFormat, WavSpec, WavWriter};
use std::fs::File;
use std::io::{self, Cursor, Seek, Write};
use std::path::Path;

const SPEC: WavSpec =
    WavSpec { channels: 1, sample_rate: RATE as u32, bits_per_sample: 16, sample_format: SampleFormat::Int };

/// Where the header says how long the file is, and how long the sound in it; it ends behind that.
const LENGTHS: [usize; 2] = [4, 40];
const HEAD: usize = 44;

/// Most samples that the header of a WAV file can count: 37 hours.
const MOST: u64 = (u32::MAX as u64 - HEAD as u64) / 2;

/// The header is made true after this many samples, so that a run cut off leaves a file that players know the end of.
const MEND_EVERY: u64 = 5 * RATE;

/// A source whose sound is also written to a file. Dropped, it makes the header true; where that fails, the samples are there all the
/// same, and the header is a few seconds short.
pub struct Kept {
    inner: Box<dyn Source>,
    /// Without a buffer of its own: what was heard is in the system's hands before the run goes on.
    writer: Option<WavWriter<File>>,
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
        // The header of a run cut off is short of what was kept, so the length comes from the run and not from there.
        file.write_all(&head(at.0)?)?;
        file.set_len(HEAD as u64 + at.0 * 2)?;
        file.rewind()?;
        let writer = Some(WavWriter::new_append(file).map_err(io::Error::other)?);
        Ok(Kept { inner, writer, written: at.0, mended: at.0 })
    }

    fn keep(&mut self, sound: &[f32]) -> io::Result<()> {
        let Some(writer) = &mut self.writer else { return Ok(()) };
        self.written += sound.len() as u64;
        counted(self.written)?;
        let mut samples = writer.get_i16_writer(sound.len() as u32);
        sound.iter().for_each(|s| samples.write_sample((s * 32768.0).round().clamp(-32768.0, 32767.0) as i16));
        samples.flush().map_err(io::Error::other)?;
        if self.written >= self.mended + MEND_EVERY {
            self.mend()?;
        }
        Ok(())
    }

    fn mend(&mut self) -> io::Result<()> {
        self.mended = self.written;
        self.writer.as_mut().map_or(Ok(()), |writer| writer.flush().map_err(io::Error::other))
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
            self.writer = None;
        }
        piece
    }

    fn overflowed(&mut self) -> u64 {
        self.inner.overflowed()
    }
}

fn counted(samples: u64) -> io::Result<()> {
    if samples > MOST { Err(io::Error::other("a WAV file holds 37 hours at most")) } else { Ok(()) }
}

/// The header of a WAV file with this many samples.
fn head(samples: u64) -> io::Result<Vec<u8>> {
    counted(samples)?;
    let mut head = Cursor::new(vec![]);
    WavWriter::new(&mut head, SPEC).and_then(WavWriter::finalize).map_err(io::Error::other)?;
    let mut head = head.into_inner();
    for (at, before) in LENGTHS.into_iter().zip([HEAD as u32 - 8, 0]) {
        head[at..at + 4].copy_from_slice(&(samples as u32 * 2 + before).to_le_bytes());
    }
    Ok(head)
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

    /// What a kill leaves: the samples, and a header that is at most five seconds short of them.
    #[test]
    fn a_run_cut_off_keeps_its_sound() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("run.wav");
        let mut kept = Kept::new(Box::new(Tone(1_000)), &path, SampleIndex(0)).unwrap();
        (0..57).for_each(|_| drop(kept.next()));
        std::mem::forget(kept);
        let length = std::fs::metadata(&path).unwrap().len();
        assert_eq!(length, HEAD as u64 + 57 * super::super::CHUNK as u64 * 2);
        let told = hound::WavReader::open(&path).unwrap().duration();
        assert_eq!(u64::from(told), MEND_EVERY);
        // Gone on with where it was cut off: nothing of it is lost.
        drop(Kept::new(Box::new(Tone(0)), &path, SampleIndex(57 * super::super::CHUNK as u64)).unwrap());
        let (sound, _) = super::super::read_wav(&path).unwrap();
        assert_eq!(sound.len(), 57 * super::super::CHUNK);
        assert!(sound.iter().all(|s| *s == 0.25));
    }

    /// The bytes of a header by the standard (RIFF WAVE, Microsoft and IBM 1991).
    #[test]
    fn a_header_is_the_standards() {
        let head = head(8_000).unwrap();
        assert_eq!((&head[..4], &head[8..16], &head[36..40]), (&b"RIFF"[..], &b"WAVEfmt "[..], &b"data"[..]));
        let number = |at: usize| u32::from_le_bytes(head[at..at + 4].try_into().unwrap());
        assert_eq!((head.len(), number(4), number(24), number(28), number(40)), (44, 16_036, 16_000, 32_000, 16_000));
    }
}
