//! One run as one HTML page that needs nothing beside it: no script, no font, no picture from elsewhere. It prints, follows the
//! reader's light or dark setting, and can be read with a keyboard and a screen reader.

use super::timeline::{table, timeline};
use super::{
    RunView, away, caution, corrections, count, ending, guess, hygiene, not_reached, section_says, sentence, sheet,
    since,
};
use crate::review::{Finding, score};
use crate::text::upper;
use crate::time::{Ms, SampleIndex, spoken as span};
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// Ours: ink on warm paper, teal for what was called, ochre for the plan, brick for what matters. Every pair of colours used
/// for text is at least 4.5 : 1 (WCAG 2.2, 1.4.3), and of those that touch in the chart 3 : 1 (1.4.11).
const STYLE: &str = "
:root{color-scheme:light dark;--paper:#fbf8f2;--ink:#23211c;--soft:#5b564b;--line:#d9d2c3;--called:#11665f;--plan:#8a5a00;--grave:#9c2a1c;--card:#f3eee3;--edge:#8a816e}
@media(prefers-color-scheme:dark){:root{--paper:#1b1a17;--ink:#ece7dc;--soft:#b5ae9f;--line:#403c34;--called:#6cc5ba;--plan:#e0b25a;--grave:#ff9d8c;--card:#25231f;--edge:#8f8775}}
*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);font:1rem/1.55 Georgia,'Noto Serif',serif}
main,header,footer{max-width:60rem;margin:0 auto;padding:0 1.2rem}
header{padding-top:2rem}h1{margin:0;font-size:1.9rem;line-height:1.2;overflow-wrap:anywhere}h2{margin:2.2rem 0 .6rem;font-size:1.2rem;border-bottom:1px solid var(--line)}
.soft{color:var(--soft)}.lead{font-size:1.25rem;margin:.8rem 0}
ul.findings{list-style:none;padding:0;margin:0}ul.findings>li{background:var(--card);border-left:.35rem solid var(--plan);padding:.6rem .9rem;margin:.5rem 0}
ul.findings>li.grave{border-left-color:var(--grave)}.grave strong{color:var(--grave)}
.scroll{overflow-x:auto;background:linear-gradient(90deg,var(--paper) 40%,transparent) 0 0/2.5rem 100% no-repeat local,linear-gradient(270deg,var(--paper) 40%,transparent) 100% 0/2.5rem 100% no-repeat local,linear-gradient(90deg,var(--edge),transparent) 0 0/1rem 100% no-repeat scroll,linear-gradient(270deg,var(--edge),transparent) 100% 0/1rem 100% no-repeat scroll}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums}
caption{text-align:left;color:var(--soft);padding-bottom:.3rem}caption span{display:inline-block;position:sticky;left:0;max-width:calc(100vw - 3rem)}th,td{padding:.3rem .6rem;text-align:right;vertical-align:top;border-bottom:1px solid var(--line)}td{white-space:nowrap}thead th{vertical-align:bottom}
th:first-child,td:first-child{text-align:left;white-space:normal;overflow-wrap:anywhere;min-width:9rem}th[scope=row]{font-weight:normal}td.grave{color:var(--grave)}
.grid-of th:first-child{position:sticky;left:0;background:var(--paper);border-right:1px solid var(--line)}.sideways{display:none}.blank{min-width:min(10rem,14vw)}
.wide main,.wide header{max-width:80rem}.grid-of td,.grid-of .up{padding:.3rem .35rem;text-align:center}td.words,th.words{white-space:normal;text-align:left;min-width:14rem}
.legend{display:grid;grid-template-columns:max-content 1fr;gap:.15rem .8rem}.legend dd{margin:0}nav a,td a,th a{display:inline-block;min-width:1.5rem;min-height:1.5rem}:focus-visible{outline:.15rem solid var(--called);outline-offset:.1rem}
.ticks td{white-space:normal;overflow-wrap:anywhere}
.chart{display:grid;grid-template-columns:minmax(9rem,17rem) 1fr;column-gap:.7rem;font:.85rem/1.25 system-ui,sans-serif;print-color-adjust:exact}
.chart .name{text-align:right;padding:.25rem 0;overflow-wrap:anywhere}.chart .track{position:relative;min-height:1.7rem}.chart .words{min-height:2rem}.chart svg{position:absolute;inset:0;width:100%;height:100%;overflow:visible}
.unseen{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%);white-space:nowrap}
svg text{fill:var(--soft);font-size:.75rem}svg text.missed{fill:var(--grave);font-size:.8rem}svg .bar{stroke:var(--called);stroke-width:14}svg .late{stroke:var(--grave)}svg .plan{stroke:var(--plan);stroke-width:2.5}svg .edge{stroke:var(--paper);stroke-width:6.5}
svg .mark{stroke:var(--grave);stroke-width:1.5;stroke-dasharray:5 4}svg .grid{stroke:var(--line)}
@media(max-width:40rem){main,header,footer{padding-left:.8rem;padding-right:.8rem}.chart{grid-template-columns:1fr}.chart .name{text-align:left;padding:.35rem 0 0}.chart .track{min-height:1.3rem}.chart .words{min-height:2rem}.chart>.gap{display:none}
table{font-size:.85rem;line-height:1.35}th,td{padding:.25rem .3rem}th:first-child,td:first-child{min-width:6.5rem}table.people th:first-child{min-width:3.5rem}.sideways{display:inline}}
audio{width:100%}footer{padding-bottom:3rem}a{color:var(--called)}
@page class{size:A4 landscape;margin:12mm}
@media print{body.wide{page:class}.wide main,.wide header{max-width:none}.wide table{font-size:8pt}.wide th,.wide td{padding:1pt 2pt}nav{display:none}thead{display:table-header-group}a{color:inherit;text-decoration:none}body{background:#fff;color:#000;font-size:10pt}h2{break-after:avoid}li,tr,.chart,.chart .name,.chart .track{break-inside:avoid}audio{display:none}.scroll{overflow:visible;background:none}}
";

/// The page of a run. `audio` is the name of the recording beside it, where it was kept; its chapters lie in a `.vtt` of the
/// same name.
pub fn page(run: &RunView, audio: Option<&str>) -> String {
    let (section, outcome, review) = (run.section, run.outcome, &run.review);
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            (head(&format!("Run of {}, {}", section.title, day(run.started))))
            body {
                header {
                    h1 { (section.title) }
                    p.soft { (section.board) " · " (section.trade) " · rehearsed " time datetime=(run.started) { (day(run.started)) }
                        @if run.mode == crate::outcome::Mode::Exam { " · exam mode" }
                        @if run.compress > 1 { " · compressed " (run.compress) " times" } }
                    @if !section.drawn.is_empty() {
                        p.soft { "Drawn for this run: " (section.drawn.iter().map(|(name, value)| format!("{value} ({name})")).collect::<Vec<_>>().join("; ")) "." }
                    }
                }
                main {
                    p.lead { (ending(section, outcome)) " " (guess(outcome).unwrap_or_default()) " " (count(section, outcome, review)) }
                    @if let Some(score) = score(section, &outcome.called, review) { p { (sheet::points(&score)) } }
                    @if !review.findings.is_empty() {
                        h2 { "What to look at" }
                        ul.findings {
                            @for finding in &review.findings { (found(run, finding)) }
                        }
                    }
                    @if !outcome.corrections.is_empty() {
                        h2 { "What you said afterwards" }
                        ul { @for correction in corrections(section, outcome) { li { (upper(&correction)) } } }
                        p.soft { "Claimed afterwards, and told as that: what was heard stays as it is in the journal." }
                    }
                    @if let Some(words) = not_reached(section, review, usize::MAX) {
                        p { (words) " The run was cut short, so they are not counted as left out." }
                    }
                    @if outcome.told {
                        h2 { "Told after a silent run" }
                        ol { @for told in &outcome.called { li { (told.say) } } }
                    } @else if !review.steps.is_empty() {
                        h2 { "Steps against the plan" }
                        (timeline(run))
                        div.scroll tabindex="0" role="region" aria-label="Step table" { (table(run)) }
                    }
                    (sheet::table(section, outcome, review))
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
                        @if outcome.masked > Ms(0) { li { "While the proctor spoke, " (span(outcome.masked)) " of sound went unheard." } }
                        @if outcome.pauses.total() > Ms(0) { li { "The clock was held for " (span(outcome.pauses.total())) " on request." } }
                        @for gone in &outcome.away { li { (upper(&away(gone.why, gone.span))) "." } }
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

fn found(run: &RunView, finding: &Finding) -> Markup {
    let grave = finding.critical(run.section);
    let (says, origin) = (section_says(run.section, &run.review, finding), sheet::origin(run.section, finding));
    // Of a pair that protects, both name the source.
    let once = !matches!(finding, Finding::Unsafe { .. }) || origin.is_empty();
    html! {
        li.grave[grave] {
            strong { (sentence(run.section, run.outcome, finding)) } span.soft { (origin) }
            @if once && !says.is_empty() { br; span.soft { (says) } }
        }
    }
}

/// Minutes and seconds since the clock's start.
fn clock(run: &RunView, place: SampleIndex) -> String {
    since(run.outcome, place).to_string()
}

fn ledger(run: &RunView) -> Markup {
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
