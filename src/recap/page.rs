//! One run as one HTML page that needs nothing beside it: no script, no font, no picture from elsewhere. It prints, follows the
//! reader's light or dark setting, and can be read with a keyboard and a screen reader.

use super::{Lived, away, caution, count, ending, guess, hygiene, section_says, sentence, since};
use crate::review::{Finding, score};
use crate::time::{Ms, SampleIndex, spoken as span};
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// Ours: ink on warm paper, teal for what was called, ochre for the plan, brick for what matters. Every pair of colours used
/// for text is at least 4.5 : 1 (WCAG 2.2, 1.4.3).
const STYLE: &str = "
:root{color-scheme:light dark;--paper:#fbf8f2;--ink:#23211c;--soft:#5b564b;--line:#d9d2c3;--called:#11665f;--plan:#8a5a00;--grave:#9c2a1c;--card:#f3eee3}
@media(prefers-color-scheme:dark){:root{--paper:#1b1a17;--ink:#ece7dc;--soft:#b5ae9f;--line:#403c34;--called:#6cc5ba;--plan:#e0b25a;--grave:#ff9d8c;--card:#25231f}}
*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);font:1rem/1.55 Georgia,'Noto Serif',serif}
main,header,footer{max-width:60rem;margin:0 auto;padding:0 1.2rem}
header{padding-top:2rem}h1{margin:0;font-size:1.9rem;line-height:1.2}h2{margin:2.2rem 0 .6rem;font-size:1.2rem;border-bottom:1px solid var(--line)}
.soft{color:var(--soft)}.lead{font-size:1.25rem;margin:.8rem 0}
ul.findings{list-style:none;padding:0;margin:0}ul.findings>li{background:var(--card);border-left:.35rem solid var(--plan);padding:.6rem .9rem;margin:.5rem 0}
ul.findings>li.grave{border-left-color:var(--grave)}.grave strong{color:var(--grave)}
.scroll{overflow-x:auto}table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums}
caption{text-align:left;color:var(--soft);padding-bottom:.3rem}caption span{display:inline-block;position:sticky;left:0;max-width:calc(100vw - 3rem)}th,td{padding:.3rem .6rem;text-align:right;border-bottom:1px solid var(--line);white-space:nowrap}
th:first-child,td:first-child{text-align:left;white-space:normal;overflow-wrap:anywhere;min-width:9rem}th[scope=row]{font-weight:normal}
svg{display:block;min-width:38rem;width:100%;height:auto;font:13px system-ui,sans-serif}
svg text{fill:var(--ink)}svg .bar{fill:var(--called)}svg .late{fill:var(--grave)}svg .plan{stroke:var(--plan);stroke-width:2.5}
svg .mark{stroke:var(--grave);stroke-width:1.5;stroke-dasharray:5 4}svg .grid{stroke:var(--line)}svg .small{fill:var(--soft);font-size:12px}
audio{width:100%}footer{padding-bottom:3rem}a{color:var(--called)}
@media print{body{background:#fff;color:#000;font-size:10pt}h2{break-after:avoid}li,tr{break-inside:avoid}audio{display:none}.scroll{overflow:visible}svg{min-width:0}}
";

/// The page of a run. `audio` is the name of the recording beside it, where it was kept; its chapters lie in a `.vtt` of the
/// same name.
pub fn page(run: &Lived, audio: Option<&str>) -> String {
    let (section, outcome, review) = (run.section, run.outcome, &run.review);
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            (head(&format!("Run of {}, {}", section.title, day(run.started))))
            body {
                header {
                    h1 { (section.title) }
                    p.soft { (section.board) " · " (section.trade) " · rehearsed " time datetime=(run.started) { (day(run.started)) }
                        @if run.mode == crate::session::Mode::Exam { " · exam mode" }
                        @if run.compress > 1 { " · compressed " (run.compress) " times" } }
                }
                main {
                    p.lead { (ending(section, outcome)) " " (guess(outcome).unwrap_or_default()) " " (count(review.findings.len())) }
                    @if let Some(score) = score(section, review) {
                        p { "Points called: " (score.got) " of " (score.of) "."
                            @match score.passed {
                                Some(true) => " At or above the board's mark.",
                                Some(false) => " Below the board's mark, or with a critical finding.",
                                None => "",
                            } }
                    }
                    @if !review.findings.is_empty() {
                        h2 { "What to look at" }
                        ul.findings {
                            @for finding in &review.findings { (found(run, finding)) }
                        }
                    }
                    @if outcome.told {
                        h2 { "Told after a silent run" }
                        ol { @for told in &outcome.called { li { (told.say) } } }
                    } @else if !review.steps.is_empty() {
                        h2 { "Steps against the plan" }
                        div.scroll tabindex="0" role="region" aria-label="Timeline" { (timeline(run)) }
                        div.scroll tabindex="0" role="region" aria-label="Step table" { (table(run)) }
                    }
                    @if !outcome.told { (ledger(run)) }
                    @if let Some(name) = audio {
                        h2 { "The recording" }
                        audio controls src=(name) aria-label="Recording of the run" {
                            track kind="chapters" srclang="en" label="Steps called" src=(stem(name));
                        }
                        p.soft { "It lies beside this page as " (name) ", with its chapters in " (stem(name)) "." }
                    }
                    h2 { "What was not heard" }
                    ul {
                        li { "While the proctor spoke, " (span(outcome.masked)) " of sound went unheard." }
                        @if outcome.paused > Ms(0) { li { "The clock was held for " (span(outcome.paused)) " on request." } }
                        @for gone in &outcome.away { li { (capital(&away(gone.why, gone.span))) "." } }
                        @if outcome.lost_samples > 0 { li { (outcome.lost_samples) " samples of sound were lost." } }
                        li { (caution(outcome)) " A callout is a claim; no camera and nobody watched." }
                    }
                    @if !section.cautions.is_empty() {
                        h2 { "Cautions" }
                        ul { @for caution in &section.cautions { li { (caution) } } }
                    }
                }
                footer {
                    h2 { "Where the numbers come from" }
                    p.soft { "Section file of the edition " (section.edition) ". " (section.source) }
                    p.soft { "Local rules, product labels and licensed practice come before anything on this page." }
                }
            }
        }
    };
    markup.into_string()
}

/// The head of every page: whatever a name may hold, nothing is run, and nothing is fetched but a recording beside the page.
pub fn head(title: &str) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; media-src 'self' file:";
            title { (title) }
            style { (PreEscaped(STYLE)) }
        }
    }
}

fn found(run: &Lived, finding: &Finding) -> Markup {
    let grave = finding.critical(run.section);
    let says = section_says(run.section, finding);
    html! {
        li.grave[grave] {
            strong { (sentence(run.section, run.outcome, finding)) }
            @if !says.is_empty() { br; span.soft { (says) } }
        }
    }
}

/// Minutes and seconds since the clock's start.
fn clock(run: &Lived, place: SampleIndex) -> String {
    since(run.outcome, place).to_string()
}

fn table(run: &Lived) -> Markup {
    html! {
        table {
            caption { "Steps that were called. A step lasts until the next callout." }
            thead { tr { th scope="col" { "Step" } th scope="col" { "Called" } th scope="col" { "Took" } th scope="col" { "Plan" } th scope="col" { "Over or under" } } }
            tbody {
                @for time in &run.review.steps {
                    @let step = &run.section.steps[time.step];
                    tr {
                        th scope="row" { (step.title) @if step.critical { " (critical)" } }
                        td { (clock(run, time.at)) } td { (time.took) } td { (step.target) }
                        td { @if time.took >= step.target { "+" (time.took.saturating_sub(step.target)) } @else { "\u{2212}" (step.target.saturating_sub(time.took)) } }
                    }
                }
            }
        }
    }
}

/// A row a step: how long it took, with the plan as an upright stroke; the warning and the limit run through all rows.
fn timeline(run: &Lived) -> Markup {
    let (left, wide, row) = (250.0, 640.0, 24.0);
    let steps = &run.review.steps;
    let last = steps.iter().map(|t| (since(run.outcome, t.at) + t.took).seconds()).fold(0.0, f64::max);
    let begun = run.outcome.phases.iter().zip(&run.section.phases);
    // Where each phase's warning and limit lay, pauses left out.
    let marks: Vec<(f64, &str)> = begun
        .flat_map(|((from, _), part)| {
            let limit = part.clock.limit.map(|limit| *from + limit);
            let warning = limit.zip(part.clock.warning_left).map(|(limit, left)| limit - left);
            [
                warning.map(|at| (since(run.outcome, at).seconds(), "warning")),
                limit.map(|at| (since(run.outcome, at).seconds(), "limit")),
            ]
        })
        .flatten()
        .collect();
    let end = marks.iter().map(|m| m.0).fold(last, f64::max).max(1.0);
    let x = |seconds: f64| left + seconds / end * wide;
    let tall = 44.0 + steps.len() as f64 * row;
    // About six lines of a round number of seconds.
    let pace =
        [5.0, 10.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0].into_iter().find(|p| end / p <= 7.0).unwrap_or(3600.0);
    let n = |value: f64| format!("{value:.1}");
    html! {
        svg viewBox=(format!("0 0 {} {}", left + wide + 30.0, tall + 30.0)) role="img" aria-labelledby="timeline-name timeline-words" {
            title id="timeline-name" { "Timeline of the steps" }
            desc id="timeline-words" { "Each step's bar runs from its callout to the next; an upright stroke shows the plan. The table below holds the same numbers." }
            @for k in 0..=(end / pace) as usize {
                line.grid x1=(n(x(k as f64 * pace))) x2=(n(x(k as f64 * pace))) y1="20" y2=(n(tall)) {}
                text.small x=(n(x(k as f64 * pace))) y=(n(tall + 16.0)) text-anchor="middle" { (Ms((k as f64 * pace * 1000.0) as u64)) }
            }
            @for (at, name) in &marks {
                line.mark x1=(n(x(*at))) x2=(n(x(*at))) y1="20" y2=(n(tall)) {}
                text.small x=(n(x(*at))) y="14" text-anchor="middle" { (name) }
            }
            @for (k, time) in steps.iter().enumerate() {
                @let step = &run.section.steps[time.step];
                @let from = since(run.outcome, time.at).seconds();
                @let y = 26.0 + k as f64 * row;
                text x=(n(left - 10.0)) y=(n(y + 13.0)) text-anchor="end" { (shortened(&step.title)) }
                rect.bar.late[!step.critical && !step.hygiene && time.took > step.target + step.target] x=(n(x(from))) y=(n(y)) width=(n((x(from + time.took.seconds()) - x(from)).max(2.0))) height="15" rx="2" {
                    title { (step.title) ": " (clock(run, time.at)) ", took " (time.took) ", plan " (step.target) }
                }
                line.plan x1=(n(x(from + step.target.seconds()).min(left + wide + 20.0))) x2=(n(x(from + step.target.seconds()).min(left + wide + 20.0))) y1=(n(y - 2.0)) y2=(n(y + 17.0)) {}
            }
        }
        p.soft { "Bars: from a callout to the next. Upright strokes: the plan. Brick bars took more than twice the plan; care, critical or for the hands, is never too slow." }
    }
}

/// What fits in front of a bar; the table has the whole title.
fn shortened(title: &str) -> String {
    if title.chars().count() <= 34 { title.into() } else { title.chars().take(33).chain(['\u{2026}']).collect() }
}

fn ledger(run: &Lived) -> Markup {
    let called = hygiene(run.section, run.outcome);
    html! {
        @if run.section.steps.iter().any(|s| s.hygiene) {
            h2 { "Hand hygiene called" }
            @if called.is_empty() { p { "Never." } }
            @else {
                p { (called.len()) @if called.len() == 1 { " time: " } @else { " times: " }
                    (called.iter().map(|c| format!("{} at {}", c.say, clock(run, c.at))).collect::<Vec<_>>().join(", ")) "." }
            }
        }
    }
}

fn stem(name: &str) -> String {
    format!("{}.vtt", name.rsplit_once('.').map_or(name, |(stem, _)| stem))
}

/// The day and the minute of an RFC 3339 time, as it was written.
fn day(started: &str) -> String {
    let text: String = started.chars().take(16).collect();
    text.replace('T', ", ") + " UTC"
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
