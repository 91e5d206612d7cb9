//! What libvosk answered, as words on the session's axis.

use crate::time::SampleIndex;
use crate::words::Word;

/// The words of a result, whose times count from `offset`.
pub fn words(result: &vosk::CompleteResult, offset: SampleIndex) -> Vec<Word> {
    let vosk::CompleteResult::Single(single) = result else { return vec![] };
    let place = |seconds: f32| SampleIndex(offset.0.saturating_add(SampleIndex::from_seconds(f64::from(seconds)).0));
    let word = |w: &vosk::Word| Word {
        text: w.word.to_string(),
        start: place(w.start),
        end: place(w.end.max(w.start)),
        confidence: w.conf,
    };
    single.result.iter().map(word).collect()
}
