//! Questions and guesses: sentences that are listened for instead of callouts.

use super::endpoint::front;
use super::own::LOUDER;
use super::{BEHIND, Ears};
use crate::acoustic::phrase::Pronunciation;
use crate::callout::{Heard, Meaning};
use crate::time::Ms;
use crate::words::Word;

/// Words that mean nothing give way to an expected sentence of so much of their likelihood ratio. Misheard ones come to 0.86 and more of it, 15 dB over
/// talk and music; what somebody says that is no question, to 0.55 at most.
const NEARLY: f32 = 0.75;

/// What an expected sentence must exceed to be taken in place of words of this likelihood ratio.
fn to_beat(own: f32, understood: bool) -> f32 {
    if understood { own } else { own.min(own * NEARLY) }
}

impl Ears {
    /// The sentence that was said, where sentences are listened for: libvosk's words, or one of those expected, whichever the wide ear finds likelier.
    pub(super) fn sentence(&mut self, words: &[Word]) -> Vec<Heard> {
        let theirs = self.vocabulary.find(words);
        let (Some(weighing), Some(heard)) = (&self.weighing, theirs.first()) else { return theirs };
        let from = front(&self.levels, self.fed, words[0].start).max(self.remembered()).max(self.found);
        let until = (heard.end + BEHIND).min(self.fed);
        if until <= from {
            return vec![];
        }
        let scores = self.scores(&weighing.verifier, from, until);
        let all = (0, scores.frames());
        let llr = |pronunciations: &[Vec<Pronunciation>]| {
            weighing.verifier.weigh(&scores, all, pronunciations, &weighing.talk, std::iter::empty()).map(|s| s.llr)
        };
        let said: Vec<&str> = words.iter().map(|w| w.text.as_str()).filter(|w| *w != crate::words::FILLER).collect();
        let pronunciations = weighing.verifier.pronunciations([said.join(" ")]);
        let own = pronunciations.first().and_then(|pronunciations| llr(pronunciations));
        let expected = weighing.found(&scores, from).into_iter();
        let expected = expected.filter_map(|(f, _)| Some((llr(&weighing.pronunciations[f.hit.phrase])?, f)));
        let understood = !matches!(heard.meaning, Meaning::Asked { question: None, .. });
        let beaten = |found: f32| own.is_none_or(|own| found > to_beat(own, understood));
        let best = expected.max_by(|a, b| a.0.total_cmp(&b.0)).filter(|(found, _)| beaten(*found));
        let heard = match best {
            Some((_, f)) => self.vocabulary.understood(Heard {
                meaning: self.vocabulary.meaning(f.hit.phrase),
                start: f.start,
                end: f.end,
                confidence: heard.confidence,
            }),
            None => heard.clone(),
        };
        // Over the tool's own voice only a command counts, and only somebody else's: what is left of an answer is no question.
        let place = (heard.start, heard.end);
        let command = matches!(heard.meaning, Meaning::Command(_));
        let likely = own.unwrap_or(f32::MIN);
        let held =
            || pronunciations.first().is_some_and(|said| self.holds(weighing, std::iter::once(said), place, likely));
        if self.gate.speaks(heard.start, heard.start + Ms(1))
            && (!command || self.left(place.0, place.1) < LOUDER || held())
        {
            return vec![];
        }
        self.found = self.found.max(heard.end);
        vec![heard]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ratios heard on 29 November 2026: "i did the to learner but didn't say it", 96.1 beside 85.1 for what was said; "that was nice long walk", 90.1 beside
    /// 30.4; "how long is of sir i didn't down", 90.9 beside 49.0.
    #[test]
    fn only_words_that_mean_nothing_give_way_and_only_to_what_is_nearly_as_likely() {
        assert!(85.1 > to_beat(96.1, false) && 85.1 < to_beat(96.1, true));
        assert!(30.4 < to_beat(90.1, false) && 49.0 < to_beat(90.9, false));
        assert!(to_beat(-8.0, false) <= -8.0, "what is unlikely itself is no harder to beat");
    }
}
