//! Rules: a sentence is a question where one of these has all its signs, and leaves no sign and no word over.

use super::lexicon::{Sign, Sign::*};
use super::{Question, THAT};

/// A sentence as it was taken in.
pub(super) struct Heard {
    /// Its words, "*" for each name.
    pub(super) blank: Vec<String>,
    /// Names of steps, none twice.
    pub(super) named: Vec<String>,
    /// All that each word or turn of phrase may be a sign of.
    pub(super) signs: Vec<Vec<Sign>>,
    /// How many words are neither.
    pub(super) unknown: usize,
}

/// What the rules make of a sentence.
pub(super) enum Ruled {
    /// It asks this.
    Question(Question),
    /// No rule fits; this one leaves least over.
    Not(Option<Question>),
}

impl Ruled {
    pub(super) fn question(&self) -> Option<&Question> {
        if let Ruled::Question(question) = self { Some(question) } else { None }
    }

    /// What is asked, or the nearest to it.
    pub(super) fn nearest(self) -> Option<Question> {
        match self {
            Ruled::Question(question) => Some(question),
            Ruled::Not(nearest) => nearest,
        }
    }
}

/// How a sentence that has all these signs, and so many names, is meant.
struct Rule {
    asks: fn(&[String]) -> Question,
    names: usize,
    /// One of each of these; a sentence has more of a question with more of them.
    need: &'static [&'static [Sign]],
    /// And none but these beside them.
    may: &'static [Sign],
}

/// Signs that change no question.
const ALWAYS: [Sign; 6] = [Filler, That, It, Step, Call, Whether];

fn first(names: &[String]) -> String {
    names.first().cloned().unwrap_or_default()
}

fn two(names: &[String]) -> (String, String) {
    (first(names), names.get(1).cloned().unwrap_or_default())
}

macro_rules! rules {
    ($($names:literal $asks:expr => [$([$($need:expr),*]),*] [$($may:expr),*];)*) => {
        &[$(Rule { asks: $asks, names: $names, need: &[$(&[$($need),*]),*], may: &[$($may),*] }),*]
    };
}

/// In order: the first of those that say most about a sentence counts.
const RULES: &[Rule] = rules! {
    // Wishes.
    0 |_| Question::Repeat => [[Repeat]] [];
    0 |_| Question::Slower => [[Slower]] [Repeat, Read];
    0 |_| Question::Again => [[Again]] [Start, Repeat];
    0 |_| Question::Enough => [[Enough]] [];
    0 |_| Question::Help => [[Help]] [];
    // Two steps.
    2 |n| { let (a, b) = two(n); Question::Order(a, b) } => [[Before, First, After, Order, Left, Following]] [Come, HowDid, Good, Last, Order, First, Before, After, Not];
    2 |n| { let (a, b) = two(n); Question::Between(a, b) } => [[Between]] [HowLong, Time, Took, Compare, HowMany, Finish, Start];
    2 |n| { let (a, b) = two(n); Question::Between(a, b) } => [[HowLong], [Before, After]] [HowLong, Time, Took, Before, After, Come, Following];
    // One step.
    1 |n| Question::HowLong(first(n)) => [[HowLong, Time, Over, Under, Longest, Shortest]] [HowLong, Time, Took, Total, Plan, Over, Under, Finish, Wrong, Start, Need, InTime, Good, HowDid, Should];
    1 |n| Question::Planned(first(n)) => [[Should, Plan, Limit]] [HowLong, Time, Took, Total, Plan];
    1 |n| Question::Planned(first(n)) => [[Should, Limit], [HowLong, Time, Took]] [HowLong, Time, Took, Total, Plan];
    1 |n| Question::Planned(first(n)) => [[Plan], [HowLong, Time]] [HowLong, Time, Took, Should];
    1 |n| Question::When(first(n)) => [[When]] [Start, Took, Come, Time, Finish, HowLong];
    1 |n| Question::HowOften(first(n)) => [[HowOften]] [Total, HowMany, Come];
    1 |n| Question::Called(first(n)) => [[Whether]] [Miss, Good, Not, Finish, Took];
    1 |n| Question::Next(Some(first(n))) => [[Next, Following]] [Come, Should, After, Read];
    1 |n| Question::Next(Some(first(n))) => [[After]] [Come, Should, Next, Need];
    1 |n| Question::Prior(first(n)) => [[Before]] [Come, Should, Need];
    1 |n| Question::Prior(first(n)) => [[Before], [Need, Should, Come]] [Come, Should, Need];
    1 |n| Question::Needs(first(n)) => [[Need, About]] [About, Should, Took, Good, Read];
    1 |n| Question::Caution(Some(first(n))) => [[Caution, Critical]] [About, Need, Should, Read, Took, Caution, When];
    1 |n| Question::Source(Some(first(n))) => [[Source]] [Come, Need, Read, Should, About];
    1 |n| Question::Explain(Some(first(n))) => [[Explain, Wrong, Finding]] [Explain, Wrong, Finding, Order, Miss, Not, Critical, About, Good, Come, Need, Points];
    1 |n| Question::Explain(Some(first(n))) => [[Order]] [Good, Come, Wrong];
    // The run.
    0 |_| Question::Explain(None) => [[Explain]] [Not, Finding, About, Last, First, Wrong, Read];
    0 |_| Question::Explain(None) => [[About], [Finding]] [Last];
    0 |_| Question::Longest => [[Longest]] [Took, Time, HowLong, Need, Finish];
    0 |_| Question::Shortest => [[Shortest]] [Took, Time, HowLong, Need, Finish];
    0 |_| Question::Over => [[Over]] [Plan, Took, Time, HowLong, Ran, Should, Finding];
    0 |_| Question::Over => [[Over], [Plan, Should]] [Plan, Took, Time, HowLong, Ran, Should, Limit];
    0 |_| Question::Under => [[Under]] [Plan, Took, Time, HowLong, Should];
    0 |_| Question::Under => [[Under], [Plan, Should]] [Plan, Took, Time, HowLong, Should, Limit];
    0 |_| Question::Left => [[Left, InTime]] [Time, HowLong, Finish, Over, Limit, Left, Good, Under, HowMany, Start, InTime, Miss, Should, Compare];
    0 |_| Question::Left => [[Finish], [Left, InTime, Limit, Plan]] [Time, HowLong, Over, Before, Under, Should];
    0 |_| Question::Left => [[Over, Under], [Limit, InTime, Total]] [Time, HowLong, Finish, Total, Limit, InTime, Ran];
    0 |_| Question::Left => [[Limit], [Whether]] [Time, HowLong, Finish, Over, Under];
    0 |_| Question::Left => [[Limit], [Miss, Over, Compare]] [Time, HowLong, Finish, Over];
    0 |_| Question::Limit => [[Limit]] [HowLong, Time, Took, Total, Finish, Should];
    0 |_| Question::Limit => [[Should], [HowLong, Time]] [Took, Total, Finish];
    0 |_| Question::Total => [[HowLong, Time]] [Took, Total, Finish, HowMany, Ran, Need];
    0 |_| Question::Total => [[HowLong, Time], [Total]] [Took, Finish, Ran, HowMany, Need];
    0 |_| Question::Misplaced => [[Order]] [Good, Wrong, Not, Finding, Took, Come, Total, Should];
    0 |_| Question::Missed => [[Miss]] [Not, Should, HowMany, Finding, Read];
    0 |_| Question::Missed => [[Miss], [Total, HowMany, Good, Not, Should]] [Not, Total, HowMany, Should];
    0 |_| Question::Missed => [[Not], [Call]] [Should, Total];
    0 |_| Question::Missed => [[Total], [Whether]] [Call, Not];
    0 |_| Question::Hygiene => [[Hygiene]] [HowOften, HowLong, HowMany, Time, Took, HowDid, Good, Need, Miss, Total, About, Caution, Not, Left, Critical];
    0 |_| Question::Critical => [[Critical, Fail]] [Critical, Fail, Finding, Wrong, Miss, Not, HowMany, Total, Took, Good, Caution];
    0 |_| Question::Caution(None) => [[Caution]] [Read, About, Need, Total, Repeat, Should, Took, Good];
    0 |_| Question::Source(None) => [[Source]] [Come, Read, Need, Total];
    0 |_| Question::Findings => [[Finding, Wrong]] [Finding, Wrong, HowMany, Total, Read, Not, Good, Left];
    0 |_| Question::Well => [[Good]] [HowDid, Took];
    0 |_| Question::Summary => [[HowDid]] [Total, Read, Repeat, Good, About, Not];
    0 |_| Question::Points => [[Points]] [HowMany, Total, Took, Good, Left, Miss];
    0 |_| Question::Dropped => [[Drop]] [HowOften, HowMany, Finding, HowDid];
    0 |_| Question::Paused => [[Pause], [HowLong, HowOften, Whether, Time, HowMany]] [HowLong, HowOften, Time, Total, Took, HowMany];
    0 |_| Question::Count => [[HowMany]] [Total, Good, Took, Finish];
    0 |_| Question::First => [[First]] [Start, Come];
    0 |_| Question::First => [[First], [Step, Call, Start]] [Start, Come];
    0 |_| Question::First => [[Start], [Call, Step]] [First, Come];
    0 |_| Question::Last => [[Last]] [Finish, Come];
    0 |_| Question::Last => [[Last], [Step, Call, Finish]] [Finish, Come];
    // Other runs, and those to come.
    // What another run held isn't known here, only how two compare: "what did I miss last time" has no answer.
    0 |_| Question::WithLast => [[LastRun]] [Compare, Under, Over, Good, HowDid, Left, Total, Ran, Finish, Last];
    0 |_| Question::WithLast => [[LastRun], [Compare, Under, Over, HowDid]] [Good, Finding, Time, Wrong, Compare, Under, Over, Time, Took, Good, HowDid, Left, Total, Finding, Miss, Ran, HowMany, Wrong, Last];
    0 |_| Question::WithLast => [[Compare]] [Good, Total, HowDid, HowMany, Time];
    0 |_| Question::WithBest => [[Best]] [Compare, Under, Over, Time, Took, HowDid, Total, Good, Left, Finish];
    0 |_| Question::WithBest => [[Best], [Compare, Under, Over, HowDid]] [Compare, Under, Over, Time, Took, HowDid, Total, Good, HowMany, Finding];
    0 |_| Question::Ready => [[Ready]] [Good, Total, Need, When];
    0 |_| Question::Practise => [[Practise]] [Next, Need, Should, First, Total, Last, Explain, Good, Again, Points, Finding, Took, Time, HowMany];
    0 |_| Question::Practise => [[Practise], [Next, Need, Should]] [Next, Need, Should, First, Total, Good, Time, Took];
    0 |_| Question::Next(None) => [[Next]] [Read, Come, Should, Following];
    0 |_| Question::Next(None) => [[Read, Come], [Next, Following]] [Should];
};

impl Heard {
    fn has(&self, sign: Sign) -> bool {
        self.signs.iter().any(|of| of.contains(&sign))
    }

    /// What the rules say.
    pub(super) fn ruled(&self) -> Ruled {
        let (that, it) = (self.has(That), self.has(It));
        let named = &self.named;
        let tries: Vec<Vec<String>> = match named.len() {
            0 if that && !self.has(Total) => vec![vec![THAT.into()], vec![]],
            0 if that || it => vec![vec![], vec![THAT.into()]],
            1 if that => vec![named.clone(), vec![THAT.into(), named[0].clone()]],
            _ => vec![named.clone()],
        };
        let mut nearest: Option<(usize, Question)> = None;
        for names in tries {
            let mut best: Option<(usize, Question)> = None;
            for rule in RULES.iter().filter(|r| r.names == names.len()) {
                if !rule.need.iter().all(|group| group.iter().any(|s| self.has(*s))) {
                    continue;
                }
                let fits = |s: &Sign| {
                    ALWAYS.contains(s) || rule.may.contains(s) || rule.need.iter().any(|group| group.contains(s))
                };
                let over = self.signs.iter().filter(|of| !of.iter().any(fits)).count() + self.unknown;
                // How much of the sentence is a sign of this.
                let met =
                    self.signs.iter().filter(|of| of.iter().any(|s| rule.need.iter().any(|g| g.contains(s)))).count();
                let met = 2 * rule.need.len() + met;
                if over == 0 && best.as_ref().is_none_or(|(most, _)| met > *most) {
                    best = Some((met, (rule.asks)(&names)));
                }
                if nearest.as_ref().is_none_or(|(least, _)| over < *least) {
                    nearest = Some((over, (rule.asks)(&names)));
                }
            }
            if let Some((_, question)) = best {
                return Ruled::Question(question);
            }
        }
        Ruled::Not(nearest.map(|(_, question)| question))
    }

    /// The question of a kind, about as many of the sentence's names as it can be about.
    pub(super) fn of_kind(&self, wanted: &str) -> Option<Question> {
        let mut names = self.named.clone();
        if names.is_empty() && (self.has(That) || self.has(It)) {
            names.push(THAT.into());
        }
        let most = names.len().min(2);
        let about = |many: usize| {
            let mut asked = RULES.iter().filter(|r| r.names == many).map(|r| (r.asks)(&names[..many]));
            asked.find(|question| question.kind() == wanted)
        };
        (0..=most).rev().find_map(about)
    }
}
