//! What there is to say of a run, one kind a finding.

use crate::section::DropAnswer;
use crate::time::{Ms, SampleIndex};

/// Something worth saying about a run.
#[derive(Clone, Debug, PartialEq)]
pub enum Finding {
    /// A needed step was not called.
    NotCalled {
        /// The step, by place.
        step: usize,
    },
    /// A needed step was not heard, but the second listen found something like its callout.
    Perhaps {
        /// The step, by place.
        step: usize,
        /// Where that was.
        at: SampleIndex,
    },
    /// A needed step was not heard, and the candidate claims it afterwards.
    ClaimedAfterwards {
        /// The step, by place.
        step: usize,
        /// Whether they say that it was called; otherwise that it was gone through without a callout.
        called: bool,
        /// Where the second listen found something like its callout.
        perhaps: Option<SampleIndex>,
    },
    /// A step was called, but not where the section has it.
    OutOfOrder {
        /// The step, by place.
        step: usize,
        /// When it was called.
        at: SampleIndex,
    },
    /// A callout for which the section has no more steps.
    Extra {
        /// Its words.
        say: String,
        /// When it was called.
        at: SampleIndex,
    },
    /// Fewer steps of a choice were called than it needs.
    TooFew {
        /// The choice, by place.
        choice: usize,
        /// How many were called.
        called: usize,
    },
    /// A callout came before the start words ended.
    BeforeStart {
        /// Its words.
        say: String,
        /// When it was called.
        at: SampleIndex,
    },
    /// A callout came after the stop.
    AfterStop {
        /// Its words.
        say: String,
        /// When it was called.
        at: SampleIndex,
    },
    /// A step was called before its cue.
    BeforeCue {
        /// The step, by place.
        step: usize,
        /// When it was called.
        at: SampleIndex,
    },
    /// A rule was broken.
    RuleBroken {
        /// The rule, by place.
        rule: usize,
        /// The callout at which it could no longer be kept; the first of two that came too close; the end of the run where something
        /// was still missing.
        at: SampleIndex,
    },
    /// An invariant did not hold.
    InvariantBroken {
        /// The invariant, by place.
        invariant: usize,
        /// When it was broken.
        at: SampleIndex,
    },
    /// What should protect somebody was called, but too late, or was taken away before what it protects.
    Unsafe {
        /// The safety pair, by place.
        pair: usize,
        /// When the thing to be protected was called.
        at: SampleIndex,
        /// Whether the protection had been there, and was taken away.
        undone: bool,
    },
    /// A step that takes its time got less than its least time.
    TooShort {
        /// The step, by place.
        step: usize,
        /// When it was called.
        at: SampleIndex,
        /// How long until the next callout.
        took: Ms,
    },
    /// An item was dropped, and not all that answers it was called.
    Dropped {
        /// When it was called.
        at: SampleIndex,
        /// How long until hands were called, where they were called before the next step.
        hands_after: Option<Ms>,
        /// What else answers it, and was not called.
        missing: Vec<DropAnswer>,
    },
    /// A mishap was called, and not all that answers it.
    Unanswered {
        /// The named callout, by place.
        event: usize,
        /// When it was called.
        at: SampleIndex,
        /// The name of the first answer that did not follow.
        missing: String,
    },
}

impl Finding {
    /// The needed step, by place, that it says was not heard for sure, and whether it may have been called all the same: something like its callout was
    /// found, and nobody says otherwise.
    pub fn unheard(&self) -> Option<(usize, bool)> {
        match self {
            Finding::NotCalled { step } => Some((*step, false)),
            Finding::Perhaps { step, .. } => Some((*step, true)),
            Finding::ClaimedAfterwards { step, called, perhaps } => Some((*step, *called && perhaps.is_some())),
            _ => None,
        }
    }

    /// When what it speaks of was called, or where it was broken; none where nothing was called.
    pub fn at(&self) -> Option<SampleIndex> {
        match self {
            Finding::NotCalled { .. } | Finding::TooFew { .. } => None,
            Finding::ClaimedAfterwards { perhaps, .. } => *perhaps,
            Finding::Perhaps { at, .. }
            | Finding::OutOfOrder { at, .. }
            | Finding::Extra { at, .. }
            | Finding::BeforeStart { at, .. }
            | Finding::AfterStop { at, .. }
            | Finding::BeforeCue { at, .. }
            | Finding::RuleBroken { at, .. }
            | Finding::InvariantBroken { at, .. }
            | Finding::Unsafe { at, .. }
            | Finding::TooShort { at, .. }
            | Finding::Dropped { at, .. }
            | Finding::Unanswered { at, .. } => Some(*at),
        }
    }

    /// Whether it says that the section has no more room for the callout in this place.
    pub(super) fn is_extra(&self, place: SampleIndex) -> bool {
        matches!(self, Finding::Extra { at, .. } if *at == place)
    }
}
