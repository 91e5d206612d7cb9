//! Sound against outside references: loudness by an EBU R 128 meter, WAV files by another reader, speech by the clock.

use crate::figure;
use crate::section::shipped;
use hound::{SampleFormat, WavSpec, WavWriter};
use std::collections::BTreeMap;
use std::fs::File;
use std::path::Path;
use std::process::Command;
use stepbell::audio::{Converter, read_wav};
use stepbell::session::Session;
use stepbell::voice::{Cache, PEAK_CEILING, TARGET_LUFS};

pub fn cache() -> Cache {
    let models = stepbell::command::models();
    Cache::new(&models.join("cache"))
}

/// What the tool's voice makes of a text, behind `sound` at 16 kHz, with some seconds of silence behind it.
pub fn say(voice: &mut Cache, text: &str, silence: f64, sound: &mut Vec<f32>) {
    let speech = voice.fixed(text).unwrap();
    let silence = vec![0.0; (f64::from(speech.rate) * silence) as usize];
    Converter::new(speech.rate).unwrap().push(&[speech.samples, silence].concat(), sound);
}

fn loudness(samples: &[f32], rate: u32) -> f64 {
    // Both sides of a stereo pair, as it is played, and silence up to one block of the meter.
    let mut meter = ebur128::EbuR128::new(2, rate, ebur128::Mode::I).unwrap();
    let padded = samples.iter().copied().chain(std::iter::repeat_n(0.0, rate as usize / 2));
    let stereo: Vec<f32> = padded.flat_map(|s| [s, s]).collect();
    meter.add_frames_f32(&stereo).unwrap();
    meter.loudness_global().unwrap()
}

/// Meter: the `ebur128` crate. All prompts within 1 LU of each other and of the target (EBU R 128 allows live programmes ±1 LU).
#[test]
fn all_prompts_have_one_loudness() {
    let mut cache = cache();
    let mut worst = 0f64;
    for name in ["station-set-up", "basic-facial"] {
        for text in Session::announcements(&shipped(name), 1) {
            let speech = cache.fixed(&text).unwrap();
            let measured = loudness(&speech.samples, speech.rate);
            worst = worst.max((measured - TARGET_LUFS).abs());
            assert!(speech.samples.iter().all(|s| s.abs() <= PEAK_CEILING + 0.001), "{text}");
        }
    }
    figure("prompts: loudness off the target, at worst", format!("{worst:.2} LU"), "at most 1 LU", worst <= 1.0);
}

/// Published: radio authors advise 160 to 180 words a minute (Rodero, Text & Talk 32 (2012) 391-411), captions are most
/// comfortable at 145 (Jensema 1998): 130 to 180 is accepted here.
#[test]
fn readings_are_spoken_at_a_listener_s_pace_and_twice_alike() {
    let mut cache = cache();
    for name in ["station-set-up", "basic-facial"] {
        let section = shipped(name);
        let said = Session::announcements(&section, 1);
        let first = cache.fixed(&said[0]).unwrap().length().seconds();
        let again = cache.fixed(&section.reading.again).unwrap().length().seconds();
        let second = cache.fixed(&said[1]).unwrap().length().seconds();
        let pace = section.reading_words() as f64 / first * 60.0;
        let fine = (130.0..=180.0).contains(&pace);
        figure(&format!("{name}: words a minute in the reading"), format!("{pace:.0}"), "130 to 180", fine);
        assert!((second - again - first).abs() <= first * 0.02, "{name}: {first} s and {second} s");
    }
}

/// Reference: `models/english/trade_lexicon.txt`, by whose sounds the ears know the words. flite tells which ones it makes; a weak vowel is a weak vowel.
#[test]
fn words_of_the_trades_are_said_as_the_ears_know_them() {
    let lexicon = std::fs::read_to_string("models/english/trade_lexicon.txt").unwrap();
    let mut ways: BTreeMap<&str, Vec<Vec<&str>>> = BTreeMap::new();
    for line in lexicon.lines() {
        let (word, sounds) = line.split_once(' ').unwrap();
        ways.entry(word).or_default().push(sounds.split(' ').collect());
    }
    let made = |word: &str| {
        let mut flite = Command::new("flite");
        flite.args(["-add_lex", "src/voice/words.txt", "-voice", "rms", "-ps", "-t", word, "-o", "/dev/null"]);
        String::from_utf8(flite.output().unwrap().stdout).unwrap().to_uppercase()
    };
    let weak = |sound: &str| ["AH", "AX", "IH", "UH", "EH"].contains(&sound);
    let alike =
        |a: &[&str], b: &[&str]| a.len() == b.len() && a.iter().zip(b).all(|(a, b)| a == b || weak(a) && weak(b));
    let others: Vec<String> = ways
        .iter()
        .filter_map(|(word, ways)| {
            let made = made(word);
            let sounds: Vec<&str> = made.split_whitespace().filter(|s| *s != "PAU").collect();
            (!ways.iter().any(|way| alike(way, &sounds))).then(|| format!("{word}: {made}"))
        })
        .collect();
    // The lexicon has it without its last sound, as it is said in front of another one.
    let others: Vec<&String> = others.iter().filter(|other| !other.starts_with("finished:")).collect();
    figure(&format!("of {} words of the trades said otherwise", ways.len()), others.len(), "none", others.is_empty());
    assert!(others.is_empty(), "{others:?}");
}

/// Reference reader: the `symphonia` crate.
#[test]
fn wav_files_read_as_another_reader_reads_them() {
    let folder = tempfile::tempdir().unwrap();
    for (bits, format, channels) in [
        (8, SampleFormat::Int, 1),
        (16, SampleFormat::Int, 2),
        (24, SampleFormat::Int, 1),
        (24, SampleFormat::Int, 2),
        (32, SampleFormat::Int, 1),
        (32, SampleFormat::Float, 2),
    ] {
        let path = folder.path().join(format!("{bits}-{channels}-{format:?}.wav"));
        let spec = WavSpec { channels, sample_rate: 44_100, bits_per_sample: bits, sample_format: format };
        let mut writer = WavWriter::create(&path, spec).unwrap();
        for k in 0..4410u32 {
            let value = f64::from(k * 7919 % 2003) / 1001.5 - 1.0;
            match format {
                SampleFormat::Float => writer.write_sample(value as f32).unwrap(),
                SampleFormat::Int => {
                    writer.write_sample((value * (2f64.powi(i32::from(bits) - 1) - 1.0)) as i32).unwrap()
                }
            }
        }
        writer.finalize().unwrap();
        let (ours, rate) = read_wav(&path).unwrap();
        let theirs = reference(&path);
        assert_eq!((ours.len(), rate), (theirs.len(), 44_100), "{path:?}");
        for (a, b) in ours.iter().zip(&theirs) {
            assert!((a - b).abs() < 1e-6, "{path:?}: {a} {b}");
        }
    }
}

/// One channel, averaged, by symphonia.
fn reference(path: &Path) -> Vec<f32> {
    use symphonia::core::audio::SampleBuffer;
    let stream = symphonia::core::io::MediaSourceStream::new(Box::new(File::open(path).unwrap()), Default::default());
    let probed = symphonia::default::get_probe()
        .format(&Default::default(), stream, &Default::default(), &Default::default())
        .unwrap();
    let mut format = probed.format;
    let track = format.default_track().unwrap();
    let channels = track.codec_params.channels.unwrap().count();
    let mut decoder = symphonia::default::get_codecs().make(&track.codec_params, &Default::default()).unwrap();
    let mut samples = vec![];
    while let Ok(packet) = format.next_packet() {
        let decoded = decoder.decode(&packet).unwrap();
        let mut buffer = SampleBuffer::<f32>::new(decoded.capacity() as u64, *decoded.spec());
        buffer.copy_interleaved_ref(decoded);
        samples.extend_from_slice(buffer.samples());
    }
    samples.chunks_exact(channels).map(|f| f.iter().sum::<f32>() / channels as f32).collect()
}

/// A tone keeps its frequency, level and place through any device rate.
#[test]
fn resampling_keeps_a_sound_where_and_as_loud_as_it_was() {
    for rate in [8_000u32, 11_025, 22_050, 44_100, 48_000, 96_000] {
        // Silence, and a tone of 1 kHz from 0.5 s to 1.0 s.
        let sound: Vec<f32> = (0..rate * 3 / 2)
            .map(|k| {
                if (rate / 2..rate).contains(&k) {
                    (k as f32 / rate as f32 * 1000.0 * std::f32::consts::TAU).sin()
                } else {
                    0.0
                }
            })
            .collect();
        let mut out = vec![];
        let mut converter = Converter::new(rate).unwrap();
        sound.chunks(117).for_each(|piece| converter.push(piece, &mut out));
        let onset = out.iter().position(|s| s.abs() > 0.3).unwrap() as f64 / 16_000.0;
        assert!((onset - 0.5).abs() < 0.002, "{rate}: onset at {onset}");
        let middle = &out[10_000..14_000];
        let level = (middle.iter().map(|s| s * s).sum::<f32>() / middle.len() as f32).sqrt();
        assert!((level - 0.5f32.sqrt()).abs() < 0.01, "{rate}: level {level}");
        let crossings = middle.windows(2).filter(|w| w[0] < 0.0 && w[1] >= 0.0).count();
        assert!((249..=251).contains(&crossings), "{rate}: {crossings} periods in a quarter of a second");
    }
}
