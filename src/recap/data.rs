//! A run as data: JSON after `run.schema.json`, CSV after RFC 4180, chapters after WebVTT.

use super::{RunView, since};
use crate::outcome::{Absence, Correction, Ending, Mode, Outcome};
use crate::review::{Claimed, Finding};
use crate::time::{Ms, SampleIndex};
use serde::Serialize;

/// The JSON Schema of [`json`].
pub const SCHEMA: &str = include_str!("run.schema.json");

#[derive(Serialize)]
struct RunData<'a> {
    stepbell_run: u32,
    started: &'a str,
    section: SectionData<'a>,
    mode: Mode,
    compress: u32,
    seed: u64,
    ending: Option<Ending>,
    /// Seconds since the microphone was opened, of the start words' end; the base of all other times.
    clock_started_s: Option<f64>,
    used_s: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    guessed_s: Option<f64>,
    phases: Vec<PhaseData<'a>>,
    steps: Vec<Taken<'a>>,
    findings: Vec<FindingData<'a>>,
    not_reached: Vec<&'a str>,
    callouts: Vec<CalloutData<'a>>,
    hygiene: Vec<CalloutData<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    corrections: Vec<CorrectionData<'a>>,
    points: Option<Points>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    sheet: Vec<super::sheet::CriterionData<'a>>,
    away: Vec<Gone>,
    paused_s: f64,
    pauses: Vec<PauseData>,
    unheard_s: f64,
    lost_samples: u64,
    cautions: &'a [String],
    claim: &'static str,
}

#[derive(Serialize)]
struct SectionData<'a> {
    id: &'a str,
    title: &'a str,
    trade: &'a str,
    board: &'a str,
    edition: &'a str,
    source: &'a str,
}

#[derive(Serialize)]
struct PhaseData<'a> {
    id: &'a str,
    begun_s: f64,
    ended_s: Option<f64>,
    ending: Option<Ending>,
    limit_s: Option<f64>,
}

#[derive(Serialize)]
struct Taken<'a> {
    id: &'a str,
    title: &'a str,
    called_s: f64,
    took_s: f64,
    /// None where the section plans no minutes.
    plan_s: Option<f64>,
}

#[derive(Serialize)]
struct FindingData<'a> {
    kind: &'static str,
    critical: bool,
    at_s: Option<f64>,
    sentence: String,
    published: Option<&'a str>,
    section_says: String,
}

#[derive(Serialize)]
struct CalloutData<'a> {
    say: &'a str,
    at_s: f64,
}

/// What was said afterwards: of a step, or of a callout that was heard.
#[derive(Serialize)]
#[serde(untagged)]
enum CorrectionData<'a> {
    Claim { said: Claimed, step: &'a str },
    Struck { said: &'static str, heard: CalloutData<'a> },
}

#[derive(Serialize)]
struct Points {
    called: u64,
    of: u64,
    unheard: u64,
    passed: Option<bool>,
}

/// A pause: no section time goes by in it, but the recording goes on.
#[derive(Serialize)]
struct PauseData {
    at_s: f64,
    length_s: f64,
}

#[derive(Serialize)]
struct Gone {
    at_s: f64,
    why: Absence,
    span_s: Option<f64>,
}

/// Name of a kind of finding, as data has it.
pub fn kind(finding: &Finding) -> &'static str {
    match finding {
        Finding::NotCalled { .. } => "not_called",
        Finding::Perhaps { .. } => "perhaps_called",
        Finding::ClaimedAfterwards { .. } => "claimed_afterwards",
        Finding::OutOfOrder { .. } => "out_of_order",
        Finding::Extra { .. } => "extra",
        Finding::TooFew { .. } => "too_few",
        Finding::BeforeStart { .. } => "before_start",
        Finding::AfterStop { .. } => "after_stop",
        Finding::BeforeCue { .. } => "before_cue",
        Finding::RuleBroken { .. } => "rule_broken",
        Finding::InvariantBroken { .. } => "invariant_broken",
        Finding::Unsafe { .. } => "unsafe_order",
        Finding::TooShort { .. } => "too_short",
        Finding::Unanswered { .. } => "unanswered",
        Finding::Dropped { .. } => "dropped",
    }
}

/// When what a finding speaks of was called; what is told after a silent run has no times.
pub fn told_at(outcome: &Outcome, finding: &Finding) -> Option<SampleIndex> {
    finding.at().filter(|_| !outcome.told)
}

/// The run as JSON, pretty-printed, times in seconds after the clock's start.
pub fn json(run: &RunView) -> String {
    let (section, outcome, review) = (run.section, run.outcome, &run.review);
    let at = |place: SampleIndex| since(outcome, place).seconds();
    let said = |say, place| CalloutData { say, at_s: at(place) };
    let score = crate::review::score(section, &outcome.called, review);
    let data = RunData {
        stepbell_run: 1,
        started: run.started,
        section: SectionData {
            id: &section.id,
            title: &section.title,
            trade: &section.trade,
            board: &section.board,
            edition: &section.edition,
            source: &section.source,
        },
        mode: run.mode,
        compress: run.compress,
        seed: run.seed,
        ending: outcome.ended.map(|(_, how)| how),
        clock_started_s: outcome.started.map(|s| s.since(SampleIndex(0)).seconds()),
        used_s: outcome.ended.map(|(end, _)| at(end)),
        guessed_s: outcome.guessed.map(Ms::seconds),
        phases: section
            .phases
            .iter()
            .zip(&outcome.phases)
            .map(|(part, (from, end))| PhaseData {
                id: &part.id,
                begun_s: at(*from),
                ended_s: end.map(|(end, _)| at(end)),
                ending: end.map(|(_, how)| how),
                limit_s: part.clock.limit.map(Ms::seconds),
            })
            .collect(),
        steps: review
            .steps
            .iter()
            .map(|time| Taken {
                id: &section.steps[time.step].id,
                title: &section.steps[time.step].title,
                called_s: at(time.at),
                took_s: time.took.seconds(),
                plan_s: section.steps[time.step].plan().map(Ms::seconds),
            })
            .collect(),
        findings: review
            .findings
            .iter()
            .map(|finding| FindingData {
                kind: kind(finding),
                critical: finding.critical(section),
                at_s: told_at(outcome, finding).map(at),
                sentence: super::sentence(section, outcome, finding),
                published: finding.published(section),
                section_says: super::section_says(section, review, finding),
            })
            .collect(),
        not_reached: review.not_reached.iter().map(|s| section.steps[*s].id.as_str()).collect(),
        callouts: outcome.called.iter().map(|c| said(c.say.as_str(), c.at)).collect(),
        hygiene: super::hygiene(section, outcome).into_iter().map(|c| said(c.say.as_str(), c.at)).collect(),
        corrections: outcome
            .corrections
            .iter()
            .map(|correction| match correction {
                Correction::Claim { step, claimed } => {
                    CorrectionData::Claim { said: *claimed, step: &section.steps[*step].id }
                }
                Correction::Struck(called) => {
                    CorrectionData::Struck { said: "no_callout", heard: said(&called.say, called.at) }
                }
            })
            .collect(),
        points: score.map(|s| Points { called: s.got, of: s.of, unheard: s.unheard, passed: s.passed }),
        sheet: super::sheet::lines(section, outcome, review),
        away: outcome
            .away
            .iter()
            .map(|gone| Gone { at_s: at(gone.at), why: gone.why, span_s: gone.span.map(Ms::seconds) })
            .collect(),
        paused_s: outcome.pauses.total().seconds(),
        pauses: outcome
            .pauses
            .iter()
            .map(|(from, until)| PauseData { at_s: at(from), length_s: until.since(from).seconds() })
            .collect(),
        unheard_s: outcome.masked.seconds(),
        lost_samples: outcome.lost_samples,
        cautions: &section.cautions,
        claim: super::caution(outcome),
    };
    // Text, numbers and lists only: nothing here can fail to be written.
    serde_json::to_string_pretty(&data).unwrap_or_default() + "\n"
}

/// The run as CSV: a header, then a row a step called, a finding, a step not reached and a callout. Lines end in CRLF, and a cell that a
/// spreadsheet would take for a formula has an apostrophe in front.
pub fn csv(run: &RunView) -> String {
    let (section, outcome) = (run.section, run.outcome);
    let at = |place: SampleIndex| format!("{:.3}", since(outcome, place).seconds());
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(vec![]);
    let mut row = |cells: [&str; 9]| {
        // Written to memory, and every row has as many cells: neither can fail.
        let _ = writer.write_record(cells.map(cell));
    };
    row(["run", "section", "row", "name", "text", "at_s", "took_s", "plan_s", "critical"]);
    for time in &run.review.steps {
        let step = &section.steps[time.step];
        let took = format!("{:.3}", time.took.seconds());
        let plan = step.plan().map_or_else(String::new, |plan| format!("{:.3}", plan.seconds()));
        let critical = if step.critical { "yes" } else { "no" };
        row([run.started, &section.id, "step", &step.id, &step.title, &at(time.at), &took, &plan, critical]);
    }
    for finding in &run.review.findings {
        let critical = if finding.critical(section) { "yes" } else { "no" };
        let sentence = super::sentence(section, outcome, finding);
        let at = told_at(outcome, finding).map_or_else(String::new, at);
        row([run.started, &section.id, "finding", kind(finding), &sentence, &at, "", "", critical]);
    }
    for step in run.review.not_reached.iter().map(|s| &section.steps[*s]) {
        let critical = if step.critical { "yes" } else { "no" };
        row([run.started, &section.id, "not_reached", &step.id, &step.title, "", "", "", critical]);
    }
    for called in &outcome.called {
        row([run.started, &section.id, "callout", "", &called.say, &at(called.at), "", "", ""]);
    }
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}

/// A cell that no spreadsheet takes for a formula: those begin with one of these, whatever quotes stand around it. Nor does it
/// steer a terminal.
pub fn cell(cell: &str) -> String {
    let cell = crate::text::harmless(cell);
    let formula =
        cell.trim_start_matches([' ', '\u{a0}']).starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '|', '%']);
    // A number stays a number.
    if formula && cell.parse::<f64>().is_err() { format!("'{cell}") } else { cell.into_owned() }
}

/// A chapter a step called, in WebVTT, on the recording's axis.
pub fn webvtt(run: &RunView) -> String {
    let stamp = |place: SampleIndex| {
        let ms = place.since(SampleIndex(0)).0;
        format!("{:02}:{:02}:{:02}.{:03}", ms / 3_600_000, ms / 60_000 % 60, ms / 1_000 % 60, ms % 1_000)
    };
    let mut out = String::from("WEBVTT\n");
    for time in &run.review.steps {
        // A cue must end after it begins.
        let end = time.until.max(time.at + Ms(1));
        let title = run.section.steps[time.step].title.split_whitespace().collect::<Vec<_>>().join(" ");
        let title = title.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
        out += &format!("\n{} --> {}\n{title}\n", stamp(time.at), stamp(end));
    }
    out
}
