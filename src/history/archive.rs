//! Many runs as tables for programs that reckon with more than fits here: a row a run, and a row for each of its steps, findings and
//! criteria. Each row names its run, so that most questions need one table. It knows no file: command/dataset has them.

use super::critical;
use super::table::{Cell, Column, Kind, Rows};
use crate::outcome::{Ending, Fade, Mode, Outcome, Past};
use crate::recap;
use crate::review::{Finding, Review, score, sheet};
use crate::section::Section;
use crate::time::Ms;
use serde::Serialize;

/// Version of the tables: raised whenever a column goes or means something else. A column added at the end raises nothing.
pub const ARCHIVE_VERSION: u32 = 2;

/// Questions to the tables, in SQL that DuckDB and Apache Spark both read: name and text.
pub const QUESTIONS: [(&str, &str); 12] = [
    ("01-omissions-by-step.sql", include_str!("questions/01-omissions-by-step.sql")),
    ("02-omissions-by-month.sql", include_str!("questions/02-omissions-by-month.sql")),
    ("03-criteria-by-school.sql", include_str!("questions/03-criteria-by-school.sql")),
    ("04-time-by-nth-run.sql", include_str!("questions/04-time-by-nth-run.sql")),
    ("05-step-times.sql", include_str!("questions/05-step-times.sql")),
    ("06-readiness-calibration.sql", include_str!("questions/06-readiness-calibration.sql")),
    ("07-worse-before-exams.sql", include_str!("questions/07-worse-before-exams.sql")),
    ("08-classes-shrunk.sql", include_str!("questions/08-classes-shrunk.sql")),
    ("09-fading.sql", include_str!("questions/09-fading.sql")),
    ("10-hygiene-by-school.sql", include_str!("questions/10-hygiene-by-school.sql")),
    ("11-who-needs-help.sql", include_str!("questions/11-who-needs-help.sql")),
    ("12-after-a-break.sql", include_str!("questions/12-after-a-break.sql")),
];

/// A table: its name, and its own columns behind those that all have.
pub struct Table {
    /// Its name, and that of its folder.
    pub name: &'static str,
    /// What a row is.
    pub what: &'static str,
    /// All its columns.
    pub columns: Vec<Column>,
}

const fn column(name: &'static str, kind: Kind, what: &'static str) -> Column {
    Column { name, kind, maybe: false, what }
}

const fn maybe(name: &'static str, kind: Kind, what: &'static str) -> Column {
    Column { name, kind, maybe: true, what }
}

/// What every row of every table begins with.
const OF_THE_RUN: [Column; 11] = [
    column("run", Kind::Text, "the run's id: 32 hex digits, the same for ever"),
    column("person", Kind::Text, "whose run: a name, or an alias where the person shares without a name"),
    maybe("class", Kind::Text, "the class or its instructor, as `archive --class` says"),
    column("edition", Kind::Text, "date of the section's edition, YYYY-MM-DD"),
    column("started", Kind::Moment, "when it began, UTC"),
    column("mode", Kind::Text, "coach or exam"),
    column("compress", Kind::Int, "how far the clock was compressed; 1: not at all"),
    column("fade", Kind::Text, "what was called out: all, hygiene or silent"),
    column("drill", Kind::Truth, "some steps only"),
    column("whole", Kind::Truth, "it ran to its finish or its limit, so that what was not called was left out"),
    column("told", Kind::Truth, "all was told after a silent run, so that the calls have no times"),
];

const RUNS: [Column; 32] = [
    column("trade", Kind::Text, "of the section"),
    column("board", Kind::Text, "whose bulletin the section follows"),
    column("title", Kind::Text, "of the section"),
    column("program", Kind::Text, "version of the program that archived it"),
    column("of_mock", Kind::Truth, "part of a mock exam"),
    column("drops", Kind::Truth, "the proctor made an item drop"),
    maybe("ending", Kind::Text, "finished, timed_out, stopped or microphone_ended; empty: never begun"),
    column("finished", Kind::Truth, "the finish was called in time"),
    maybe("limit_ms", Kind::Long, "time allowed; empty where not every phase is timed"),
    maybe("used_ms", Kind::Long, "from the clock's start to the end, without pauses"),
    maybe("guessed_ms", Kind::Long, "how long the candidate guessed that it took"),
    column("steps_needed", Kind::Int, "steps that may not be left out"),
    column("steps_called", Kind::Int, "of all steps, those called"),
    column("not_called", Kind::Int, "needed steps left out"),
    column("not_reached", Kind::Int, "needed steps that a run cut short never came to"),
    column("perhaps", Kind::Int, "needed steps that were perhaps called"),
    column("findings", Kind::Int, "all findings"),
    column("critical", Kind::Int, "findings that can fail the section; points below the mark count as one"),
    column("hygiene", Kind::Int, "callouts for hand hygiene"),
    column("dropped", Kind::Int, "items dropped"),
    column("pauses", Kind::Int, "how often the clock was held on request"),
    column("paused_ms", Kind::Long, "how long"),
    column("away", Kind::Int, "whiles in which nobody listened"),
    column("unheard_ms", Kind::Long, "time in which the tool spoke, and nothing could be heard"),
    column("unsettled", Kind::Truth, "the cheapest explanation may be another one"),
    maybe("points", Kind::Int, "points called, where the board gives points"),
    maybe("points_of", Kind::Int, "points of all that is needed"),
    maybe("passed", Kind::Truth, "the mark was reached; empty where none is, or an observer decides"),
    maybe("earlier_runs", Kind::Int, "whole runs of the section before this one, as its journal has it"),
    maybe(
        "ready_pct",
        Kind::Int,
        "chance of a good run in percent, told before this one: clean of critical findings, in time",
    ),
    maybe("ready_low_pct", Kind::Int, "lower end of its 90 % interval"),
    maybe("ready_high_pct", Kind::Int, "upper end of its 90 % interval"),
];

const STEPS: [Column; 15] = [
    column("place", Kind::Int, "of the step in its section, from 0"),
    column("step", Kind::Text, "its name"),
    column("base", Kind::Text, "the name it was written with: the same for every turn of a loop"),
    column("title", Kind::Text, "as shown"),
    column("phase", Kind::Text, "the phase it belongs to"),
    column("critical", Kind::Truth, "leaving it out can fail the section"),
    column("needed", Kind::Truth, "it may not be left out, and is none of a choice"),
    column("hygiene", Kind::Truth, "hand hygiene"),
    maybe("plan_ms", Kind::Long, "time planned"),
    column("called", Kind::Truth, "it was called"),
    column("not_reached", Kind::Truth, "the run was cut short before it"),
    column("perhaps", Kind::Truth, "the second listen found something like its callout"),
    maybe("turn", Kind::Int, "of the steps called, this was the nth, from 1"),
    maybe("at_ms", Kind::Long, "when it was called, after the clock's start and without pauses"),
    maybe(
        "took_ms",
        Kind::Long,
        "until the next callout of another step, a mishap or the end of its phase, without pauses",
    ),
];

const FINDINGS: [Column; 9] = [
    column("nth", Kind::Int, "in the order they are told, from 1: harm first"),
    column("kind", Kind::Text, "as `stepbell schema --run` lists them"),
    column("critical", Kind::Truth, "it can fail the section"),
    column(
        "weight",
        Kind::Int,
        "0 an order that protects, 1 critical, 2 scored, 3 published, 4 common practice, 5 advice",
    ),
    maybe("step", Kind::Text, "the step it speaks of"),
    maybe("rule", Kind::Text, "the rule, invariant, pair or callout it speaks of"),
    maybe("at_ms", Kind::Long, "when, after the clock's start and without pauses"),
    maybe("published", Kind::Text, "where its demand is published"),
    column("sentence", Kind::Text, "as told"),
];

const CRITERIA: [Column; 5] = [
    column("number", Kind::Text, "of the criterion in its source"),
    column("text", Kind::Text, "what is looked for"),
    column("claim", Kind::Text, "claimed, not_claimed, not_reached, contradicted or cant_be_heard"),
    column("infection_control", Kind::Truth, "about infection control"),
    column("points", Kind::Int, "what the board gives for it; 0 where it gives none"),
];

/// The tables, that of the runs last: what has a row there is all there.
pub fn tables() -> [Table; 4] {
    let table = |name, what, own: &[Column]| Table { name, what, columns: [&OF_THE_RUN, own].concat() };
    [
        table("steps", "a step of a run", &STEPS),
        table("findings", "a finding of a run", &FINDINGS),
        table("criteria", "a criterion of the board's sheet in a run", &CRITERIA),
        table("runs", "a run that ended", &RUNS),
    ]
}

/// What the tables hold, as JSON for people and programs.
pub fn archive_schema() -> String {
    let kind = |kind| match kind {
        Kind::Text => "text",
        Kind::Long => "int64",
        Kind::Int => "int32",
        Kind::Truth => "boolean",
        Kind::Moment => "timestamp",
    };
    let column =
        |c: &Column| serde_json::json!({"name": c.name, "type": kind(c.kind), "empty": c.maybe, "what": c.what});
    let table = |t: &Table| serde_json::json!({"name": t.name, "row": t.what, "columns": t.columns.iter().map(column).collect::<Vec<_>>()});
    let folders = [
        ("school", "as `archive --school` says"),
        ("section", "the section's name"),
        ("month", "YYYY-MM of the start, UTC"),
    ];
    let folder = |(name, what): (&str, &str)| serde_json::json!({"name": name, "type": "text", "what": what});
    let schema = serde_json::json!({
        "stepbell_archive": ARCHIVE_VERSION,
        "layout": "TABLE/school=…/section=…/month=…/part-….parquet",
        "folders": folders.map(folder),
        "tables": tables().iter().map(table).collect::<Vec<_>>(),
    });
    serde_json::to_string_pretty(&schema).unwrap_or_default() + "\n"
}

/// A run to be archived.
pub struct Archived<'a> {
    /// Its id.
    pub run: &'a str,
    /// Whose it is, as it may be told.
    pub person: &'a str,
    /// The class.
    pub class: Option<&'a str>,
    /// Milliseconds since 1970, UTC.
    pub started: i64,
    /// What was rehearsed.
    pub section: &'a Section,
    /// How it went.
    pub outcome: &'a Outcome,
    /// What there is to say of it.
    pub review: &'a Review,
    /// Coach or exam.
    pub mode: Mode,
    /// How far the clock was compressed.
    pub compress: u32,
    /// What was called out.
    pub fade: Fade,
    /// Whether it was a drill, a part of a mock exam, and one in which an item drops.
    pub kinds: (bool, bool, bool),
    /// What earlier runs had come to.
    pub past: Option<&'a Past>,
}

/// A word as data has it: `timed_out`.
fn word(of: impl Serialize) -> String {
    serde_json::to_value(of).ok().and_then(|v| v.as_str().map(str::to_string)).unwrap_or_default()
}

fn ms(span: Ms) -> i64 {
    span.0.min(i64::MAX as u64) as i64
}

impl Archived<'_> {
    /// Its row in the table of the runs, as name and value, for people.
    pub fn shown(&self) -> Vec<(&'static str, String)> {
        let told = |(column, cell): (&Column, Cell)| match cell {
            Cell::Long(ms) if column.kind == Kind::Moment => {
                (column.name, jiff::Timestamp::from_millisecond(ms).map_or_else(|_| ms.to_string(), |t| t.to_string()))
            }
            cell => (column.name, cell.shown()),
        };
        OF_THE_RUN.iter().chain(&RUNS).zip(self.of_the_run().into_iter().chain(self.whole())).map(told).collect()
    }

    fn of_the_run(&self) -> Vec<Cell> {
        vec![
            self.run.into(),
            self.person.into(),
            self.class.into(),
            self.section.edition.as_str().into(),
            self.started.into(),
            word(self.mode).as_str().into(),
            self.compress.into(),
            word(self.fade).as_str().into(),
            self.kinds.0.into(),
            self.outcome.whole().into(),
            self.outcome.told.into(),
        ]
    }

    /// Add its rows to those of [`tables`].
    pub fn add_to(&self, tables: &mut [Rows; 4]) {
        let of_the_run = self.of_the_run();
        let [steps, findings, criteria, runs] = tables;
        let put = |rows: &mut Rows, own: Vec<Cell>| rows.push(of_the_run.iter().cloned().chain(own).collect());
        (0..self.section.steps.len()).for_each(|place| put(steps, self.step(place)));
        let told = self.review.findings.iter().enumerate();
        told.for_each(|(nth, finding)| put(findings, self.finding(nth, finding)));
        let claims = sheet(self.section, &self.outcome.called, self.review);
        for (c, claim) in self.section.criteria.iter().zip(claims) {
            let own = vec![
                c.id.as_str().into(),
                c.text.as_str().into(),
                word(claim).as_str().into(),
                c.infection.into(),
                c.points.into(),
            ];
            put(criteria, own);
        }
        put(runs, self.whole());
    }

    fn needed(&self, place: usize) -> bool {
        !self.section.steps[place].optional && self.section.choice_of(place).is_none()
    }

    fn perhaps(&self, place: usize) -> bool {
        self.review.findings.iter().any(|f| f.unheard() == Some((place, true)))
    }

    fn whole(&self) -> Vec<Cell> {
        let Archived { section, outcome, review, past, .. } = self;
        let ended = outcome.ended.map(|(_, how)| how);
        let score = score(section, &outcome.called, review);
        let of_kind = |of: fn(&Finding) -> bool| review.findings.iter().filter(|f| of(f)).count();
        let ready = past.and_then(|p| p.ready);
        vec![
            section.trade.as_str().into(),
            section.board.as_str().into(),
            section.title.as_str().into(),
            env!("CARGO_PKG_VERSION").into(),
            self.kinds.1.into(),
            self.kinds.2.into(),
            ended.map(word).as_deref().into(),
            (ended == Some(Ending::Finished)).into(),
            section.limit().map(ms).into(),
            outcome.used().map(ms).into(),
            outcome.guessed.map(ms).into(),
            (0..section.steps.len()).filter(|s| self.needed(*s)).count().into(),
            review.steps.len().into(),
            of_kind(|f| f.unheard().is_some_and(|(_, perhaps)| !perhaps)).into(),
            review.not_reached.len().into(),
            of_kind(|f| f.unheard().is_some_and(|(_, perhaps)| perhaps)).into(),
            review.findings.len().into(),
            critical(section, outcome, review).into(),
            recap::hygiene(section, outcome).len().into(),
            outcome.dropped.len().into(),
            outcome.pauses.iter().count().into(),
            ms(outcome.pauses.total()).into(),
            outcome.away.len().into(),
            ms(outcome.masked).into(),
            review.unsettled.into(),
            score.as_ref().map(|s| s.got).into(),
            score.as_ref().map(|s| s.of).into(),
            score.and_then(|s| s.passed).into(),
            past.map(|p| p.runs).into(),
            ready.map(|r| u32::from(r.0)).into(),
            ready.map(|r| u32::from(r.1)).into(),
            ready.map(|r| u32::from(r.2)).into(),
        ]
    }

    fn step(&self, place: usize) -> Vec<Cell> {
        let step = &self.section.steps[place];
        let turn = self.review.steps.iter().position(|t| t.step == place);
        let time = turn.map(|turn| &self.review.steps[turn]).filter(|_| !self.outcome.told);
        vec![
            place.into(),
            step.id.as_str().into(),
            step.base.as_str().into(),
            step.title.as_str().into(),
            self.section.phases[step.phase].id.as_str().into(),
            step.critical.into(),
            self.needed(place).into(),
            step.hygiene.into(),
            step.plan().map(ms).into(),
            turn.is_some().into(),
            self.review.not_reached.contains(&place).into(),
            self.perhaps(place).into(),
            turn.map(|turn| turn + 1).into(),
            time.map(|t| ms(self.outcome.clock(t.at))).into(),
            time.map(|t| ms(t.took)).into(),
        ]
    }

    fn finding(&self, nth: usize, finding: &Finding) -> Vec<Cell> {
        let section = self.section;
        let (step, rule) = about(section, finding);
        vec![
            (nth + 1).into(),
            recap::kind(finding).into(),
            finding.critical(section).into(),
            u32::from(finding.weight(section)).into(),
            step.map(|step| section.steps[step].id.as_str()).into(),
            rule.into(),
            recap::told_at(self.outcome, finding).map(|at| ms(self.outcome.clock(at))).into(),
            finding.published(section).into(),
            recap::sentence(section, self.outcome, finding).as_str().into(),
        ]
    }
}

/// What a finding speaks of: a step, by place, or a rule or the like, by name.
fn about<'a>(section: &'a Section, finding: &Finding) -> (Option<usize>, Option<&'a str>) {
    match finding {
        Finding::NotCalled { step }
        | Finding::ClaimedAfterwards { step, .. }
        | Finding::Perhaps { step, .. }
        | Finding::OutOfOrder { step, .. }
        | Finding::BeforeCue { step, .. }
        | Finding::TooShort { step, .. } => (Some(*step), None),
        Finding::Extra { .. } | Finding::BeforeStart { .. } | Finding::AfterStop { .. } | Finding::Dropped { .. } => {
            (None, None)
        }
        Finding::TooFew { choice, .. } => (None, Some(&section.choices[*choice].title)),
        Finding::RuleBroken { rule, .. } => (None, Some(&section.rules[*rule].id)),
        Finding::InvariantBroken { invariant, .. } => (None, Some(&section.invariants[*invariant].id)),
        Finding::Unsafe { pair, .. } => (None, Some(&section.safety[*pair].id)),
        Finding::Unanswered { event, .. } => (None, Some(&section.events[*event].id)),
    }
}
