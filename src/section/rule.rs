//! Constraints over callouts, named by their standard templates in declarative process models (Pesic, *Constraint-based
//! workflow management systems*, Eindhoven 2008, from memory; finite-trace reading of De Giacomo & Vardi, IJCAI 2013).

use crate::time::Ms;
use serde::{Deserialize, Serialize};

/// What a rule asks. `a` is its first operand, `b` its second, `n` its count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Template {
    /// `a` at least `n` times.
    Existence,
    /// `a` fewer than `n` times.
    Absence,
    /// `a` exactly `n` times.
    Exactly,
    /// `a` is the first callout.
    Init,
    /// `a` is the last callout.
    End,
    /// `a` or `b`, or both.
    Choice,
    /// `a` or `b`, not both.
    ExclusiveChoice,
    /// Where there is `a`, there is `b`, before or after.
    RespondedExistence,
    /// `a` and `b`, or neither.
    CoExistence,
    /// Not both `a` and `b`.
    NotCoExistence,
    /// After each `a` there is `b`.
    Response,
    /// After each `a` there is `b` before the next `a`.
    AlternateResponse,
    /// Directly after each `a` there is `b`.
    ChainResponse,
    /// Before each `b` there was `a`.
    Precedence,
    /// Before each `b` there was `a`, since the last `b`.
    AlternatePrecedence,
    /// Directly before each `b` there was `a`.
    ChainPrecedence,
    /// Response and precedence.
    Succession,
    /// Alternate response and alternate precedence.
    AlternateSuccession,
    /// Chain response and chain precedence.
    ChainSuccession,
    /// After `a` there is no `b`.
    NotSuccession,
    /// Directly after `a` there is no `b`.
    NotChainSuccession,
}

impl Template {
    /// Every template.
    pub const ALL: [Template; 21] = {
        use Template::*;
        [
            Existence,
            Absence,
            Exactly,
            Init,
            End,
            Choice,
            ExclusiveChoice,
            RespondedExistence,
            CoExistence,
            NotCoExistence,
            Response,
            AlternateResponse,
            ChainResponse,
            Precedence,
            AlternatePrecedence,
            ChainPrecedence,
            Succession,
            AlternateSuccession,
            ChainSuccession,
            NotSuccession,
            NotChainSuccession,
        ]
    };

    /// Its standard name, as files have it.
    pub fn name(self) -> &'static str {
        match self {
            Template::Existence => "existence",
            Template::Absence => "absence",
            Template::Exactly => "exactly",
            Template::Init => "init",
            Template::End => "end",
            Template::Choice => "choice",
            Template::ExclusiveChoice => "exclusive_choice",
            Template::RespondedExistence => "responded_existence",
            Template::CoExistence => "co_existence",
            Template::NotCoExistence => "not_co_existence",
            Template::Response => "response",
            Template::AlternateResponse => "alternate_response",
            Template::ChainResponse => "chain_response",
            Template::Precedence => "precedence",
            Template::AlternatePrecedence => "alternate_precedence",
            Template::ChainPrecedence => "chain_precedence",
            Template::Succession => "succession",
            Template::AlternateSuccession => "alternate_succession",
            Template::ChainSuccession => "chain_succession",
            Template::NotSuccession => "not_succession",
            Template::NotChainSuccession => "not_chain_succession",
        }
    }

    /// What it asks, in one plain sentence of A (`first`), B (`then`) and N (`count`).
    pub fn sentence(self) -> &'static str {
        match self {
            Template::Existence => "A must be called at least N times.",
            Template::Absence => "A must be called fewer than N times.",
            Template::Exactly => "A must be called exactly N times.",
            Template::Init => "A must be the first callout.",
            Template::End => "A must be the last callout.",
            Template::Choice => "A or B must be called, or both.",
            Template::ExclusiveChoice => "A or B must be called, but not both.",
            Template::RespondedExistence => "If A is called, B must be called too, before or after it.",
            Template::CoExistence => "A and B must both be called, or neither.",
            Template::NotCoExistence => "A and B must not both be called.",
            Template::Response => "B must follow A, some time later.",
            Template::AlternateResponse => "B must follow A before A is called again.",
            Template::ChainResponse => "B must follow A, with nothing between.",
            Template::Precedence => "B must not be called before A.",
            Template::AlternatePrecedence => "B must come after A, and needs a new A each time.",
            Template::ChainPrecedence => "B must come right after A, with nothing between.",
            Template::Succession => "B must follow A, and must not be called before it.",
            Template::AlternateSuccession => "A and B must take turns, A first.",
            Template::ChainSuccession => "A and B must come as a pair, A first, with nothing between.",
            Template::NotSuccession => "B must never follow A.",
            Template::NotChainSuccession => "B must not follow A with nothing between.",
        }
    }

    /// Whether it speaks of two callouts.
    pub fn binary(self) -> bool {
        !matches!(self, Template::Existence | Template::Absence | Template::Exactly | Template::Init | Template::End)
    }
}

/// How much breaking a rule matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Worth knowing.
    Advice,
    /// Costs.
    Fault,
    /// Can fail the section.
    Critical,
}

/// A constraint.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Rule {
    /// Short name.
    pub id: String,
    /// What it asks.
    pub template: Template,
    /// `a`: the name of a step or of a named callout, or `any`.
    pub first: String,
    /// `b`, for templates of two.
    pub then: Option<String>,
    /// `n`.
    pub count: u32,
    /// Least time from an `a` to the `b` that answers it.
    pub at_least: Option<Ms>,
    /// How much it matters.
    pub severity: Severity,
    /// What is said where it is broken.
    pub message: String,
    /// Where it is published; none where it is common practice.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub published: Option<String>,
}

/// Something that holds from the start, is broken by one callout and mended by another.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Invariant {
    /// Short name.
    pub id: String,
    /// What holds.
    pub title: String,
    /// Names of the steps or callouts that break it.
    pub broken_by: Vec<String>,
    /// Names of the steps or callouts that mend it.
    pub mended_by: Vec<String>,
    /// Whether it may be broken for a while, as long as it is mended before it is broken again and before the end.
    pub at_end: bool,
}

impl Rule {
    /// What it asks, in a plain sentence with its own names.
    pub fn sentence(&self) -> String {
        let sentence = match (self.template, self.count) {
            (Template::Existence, 1) => "A must be called.",
            (Template::Absence, 1) => "A must not be called.",
            (Template::Exactly, 1) => "A must be called once, and not again.",
            (template, _) => template.sentence(),
        };
        let words = sentence.split_inclusive(|c: char| !c.is_ascii_alphabetic());
        words
            .map(|word| {
                let (word, behind) = word.split_at(word.trim_end_matches(|c: char| !c.is_ascii_alphabetic()).len());
                match word {
                    "A" => format!("`{}`{behind}", self.first),
                    "B" => format!("`{}`{behind}", self.then.as_deref().unwrap_or("any")),
                    "N" => format!("{}{behind}", self.count),
                    _ => format!("{word}{behind}"),
                }
            })
            .collect()
    }
}

/// A rule being judged, callout by callout.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct RuleAutomaton {
    template: Template,
    count: u32,
    seen_a: u32,
    seen_b: bool,
    /// An `a` waits for its `b`; for precedence: an `a` has come since the last `b`.
    open: bool,
    ready: bool,
    any: bool,
    last_a: bool,
    broken: bool,
}

impl RuleAutomaton {
    /// Nothing has been called yet.
    pub fn new(template: Template, count: u32) -> RuleAutomaton {
        RuleAutomaton {
            template,
            count,
            seen_a: 0,
            seen_b: false,
            open: false,
            ready: false,
            any: false,
            last_a: false,
            broken: false,
        }
    }

    /// The next callout, which is an `a`, a `b`, both or neither. Gives whether the rule can still be kept.
    pub fn next(&mut self, a: bool, b: bool) -> bool {
        use Template::*;
        let t = self.template;
        let responds = matches!(t, Response | Succession);
        let alternately = matches!(t, AlternateResponse | AlternateSuccession);
        let chained = matches!(t, ChainResponse | ChainSuccession);
        // What must be true of this callout, given the ones before it.
        self.broken |= match t {
            Init => !self.any && !a,
            NotSuccession => b && (self.seen_a > 0 || a),
            NotChainSuccession => b && self.last_a,
            _ => false,
        };
        self.broken |= matches!(t, Precedence | Succession) && b && self.seen_a == 0 && !a;
        self.broken |= matches!(t, ChainPrecedence | ChainSuccession) && b && !self.last_a;
        if matches!(t, AlternatePrecedence | AlternateSuccession) && b {
            self.broken |= !self.ready && !a;
        }
        self.broken |= chained && self.last_a && !b;
        self.broken |= alternately && self.open && a && !b;
        // What this callout changes.
        if alternately {
            self.open = (self.open && !b) || a;
        } else if responds {
            self.open = (self.open || a) && !b;
        }
        if b {
            self.ready = false;
        }
        if a && !(b && matches!(t, AlternatePrecedence | AlternateSuccession)) {
            self.ready = true;
        }
        self.seen_a = self.seen_a.saturating_add(u32::from(a)).min(self.count.saturating_add(1));
        self.seen_b |= b;
        self.any = true;
        self.last_a = a;
        self.broken |= match t {
            Absence => self.seen_a >= self.count,
            Exactly => self.seen_a > self.count,
            NotCoExistence | ExclusiveChoice => self.seen_a > 0 && self.seen_b,
            _ => false,
        };
        !self.broken
    }

    /// Whether the rule is kept if nothing more is called.
    pub fn kept(&self) -> bool {
        use Template::*;
        let (a, b) = (self.seen_a > 0, self.seen_b);
        !self.broken
            && match self.template {
                Existence | Exactly => self.seen_a >= self.count,
                Init => self.any,
                End => self.last_a,
                Choice | ExclusiveChoice => a || b,
                RespondedExistence => !a || b,
                CoExistence => a == b,
                Response | AlternateResponse | Succession | AlternateSuccession => !self.open,
                ChainResponse | ChainSuccession => !self.last_a,
                Absence | NotCoExistence | Precedence | AlternatePrecedence | ChainPrecedence | NotSuccession
                | NotChainSuccession => true,
            }
    }
}
