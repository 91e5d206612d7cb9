//! Any bytes as a section file: problems or a section, never a panic; and what is read can be reviewed and drawn.
#![no_main]
#![allow(dead_code, unused_imports, reason = "the modules are the program's, and not all of each is used here")]

include!("../pure.rs");

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let (section, problems) = authoring::read_seeded(text, bytes.len() as u64);
    // Every place must lie in the text, on whole letters: the drawing cuts there.
    for problem in &problems {
        assert!(text.get(problem.span.clone()).is_some(), "{problem:?}");
        assert!(authoring::explain(problem.code).is_some(), "{problem:?}");
    }
    let _ = authoring::callout_spans(text);
    let Some(section) = section else { return };
    let _ = callout::Vocabulary::of(&section).words().len();
    // A large poset can take long to explain by its nature; what is fuzzed here is the reader.
    if section.steps.len() <= 12 {
        let _ = review::review(&section, &review::Facts::default());
        let _ = (drawing::text(&section), drawing::svg(&section));
    }
});
