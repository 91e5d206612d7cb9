//! Any bytes as a WAV file: a message or sound within bounds, never a panic.
#![no_main]
#![allow(dead_code, unused_imports, reason = "the module is the program's, and not all of it is used here")]

#[path = "../../../src/platform/mod.rs"]
mod platform;
#[path = "../../../src/audio/wav.rs"]
mod wav;

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Ok((samples, rate)) = wav::decode_wav(bytes, std::path::Path::new("fuzz")) else { return };
    assert!(!samples.is_empty() && (4_000..=384_000).contains(&rate));
    assert!(samples.iter().all(|s| s.is_finite() && s.abs() <= 1.0));
    assert!(samples.len() <= bytes.len(), "no sample without a byte");
});
