//! Many runs as Apache Parquet, for programs that reckon with more than fits here: a table of runs, and one of their steps.

use super::{History, NOT_CALLED, NOT_REACHED, timed};
use crate::outcome::Fade;
use parquet::basic::Compression;
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DoubleType, Int32Type, Int64Type};
use parquet::errors::Result;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::parser::parse_message_type;
use std::io::Write;
use std::sync::Arc;

/// A row for each run. Times in seconds; `started` in milliseconds since 1970, UTC.
pub const RUNS: &str = "message runs {
  required int64 run;
  required binary person (UTF8);
  required binary section (UTF8);
  required binary edition (UTF8);
  required int32 compress;
  required int64 started (TIMESTAMP(MILLIS,true));
  required binary fade (UTF8);
  required boolean whole;
  required boolean finished;
  required double used_s;
  optional double guessed_s;
  required int32 critical;
  required int32 findings;
  required int32 hygiene;
}";

/// A row for each step of each run; `run` is that of [`RUNS`]. `plan_s` is empty where the section plans no minutes, `took_s` for what was not
/// called, and for what was told afterwards.
pub const STEPS: &str = "message steps {
  required int64 run;
  required int32 place;
  required binary step (UTF8);
  required binary title (UTF8);
  required boolean critical;
  required boolean free;
  optional double plan_s;
  required boolean called;
  optional double took_s;
}";

/// Runs in one row group: of steps that makes some hundred thousand rows.
const GROUP: usize = 20_000;

/// One column of some rows.
enum Column {
    Long(Vec<i64>),
    Int(Vec<i32>),
    Real(Vec<f64>),
    MaybeReal(Vec<Option<f64>>),
    Truth(Vec<bool>),
    Text(Vec<ByteArray>),
}

fn text(text: &str) -> ByteArray {
    ByteArray::from(text.as_bytes().to_vec())
}

fn seconds(ms: u64) -> f64 {
    ms as f64 / 1000.0
}

/// Write both tables of these people's runs, numbered from 0 on through all of them: `runs` and `steps`.
pub fn archive(people: &[(String, &History)], runs: impl Write + Send, steps: impl Write + Send) -> Result<u64> {
    let properties = Arc::new(WriterProperties::builder().set_compression(Compression::SNAPPY).build());
    let mut runs = SerializedFileWriter::new(runs, Arc::new(parse_message_type(RUNS)?), Arc::clone(&properties))?;
    let mut steps = SerializedFileWriter::new(steps, Arc::new(parse_message_type(STEPS)?), properties)?;
    let mut number = 0;
    for (person, history) in people {
        for part in history.runs.chunks(GROUP) {
            group(&mut runs, run_columns(person, history, part, number))?;
            group(&mut steps, step_columns(history, part, number))?;
            number += part.len() as i64;
        }
    }
    runs.close()?;
    steps.close()?;
    Ok(number as u64)
}

fn run_columns(person: &str, history: &History, runs: &[super::Run], first: i64) -> Vec<Column> {
    let about = |r: &super::Run| &history.sections[r.section as usize];
    let fade = |fade: Fade| match fade {
        Fade::All => "all",
        Fade::Hygiene => "hygiene",
        Fade::Silent => "silent",
    };
    vec![
        Column::Long((first..).take(runs.len()).collect()),
        Column::Text(runs.iter().map(|_| text(person)).collect()),
        Column::Text(runs.iter().map(|r| text(&about(r).id)).collect()),
        Column::Text(runs.iter().map(|r| text(&about(r).edition)).collect()),
        Column::Int(runs.iter().map(|r| about(r).compress as i32).collect()),
        Column::Long(runs.iter().map(|r| r.started.saturating_mul(1000)).collect()),
        Column::Text(runs.iter().map(|r| text(fade(r.fade))).collect()),
        Column::Truth(runs.iter().map(|r| r.whole).collect()),
        Column::Truth(runs.iter().map(|r| r.finished).collect()),
        Column::Real(runs.iter().map(|r| r.used.seconds()).collect()),
        Column::MaybeReal(runs.iter().map(|r| r.guessed.map(|g| g.seconds())).collect()),
        Column::Int(runs.iter().map(|r| r.critical as i32).collect()),
        Column::Int(runs.iter().map(|r| r.findings as i32).collect()),
        Column::Int(runs.iter().map(|r| r.hygiene as i32).collect()),
    ]
}

fn step_columns(history: &History, runs: &[super::Run], first: i64) -> Vec<Column> {
    let steps = |r: &super::Run| {
        history.sections[r.section as usize].steps.iter().zip(r.took.clone()).enumerate().collect::<Vec<_>>()
    };
    let rows: Vec<(i64, usize, &super::StepAbout, u32)> = (first..)
        .zip(runs)
        .flat_map(|(number, r)| steps(r).into_iter().map(move |(place, (step, took))| (number, place, step, took)))
        .collect();
    vec![
        Column::Long(rows.iter().map(|r| r.0).collect()),
        Column::Int(rows.iter().map(|r| r.1 as i32).collect()),
        Column::Text(rows.iter().map(|r| text(&r.2.id)).collect()),
        Column::Text(rows.iter().map(|r| text(&r.2.title)).collect()),
        Column::Truth(rows.iter().map(|r| r.2.critical).collect()),
        Column::Truth(rows.iter().map(|r| r.2.free).collect()),
        Column::MaybeReal(rows.iter().map(|r| r.2.plan.map(|p| p.seconds())).collect()),
        Column::Truth(rows.iter().map(|r| ![NOT_CALLED, NOT_REACHED].contains(&r.3)).collect()),
        Column::MaybeReal(rows.iter().map(|r| timed(r.3).map(|ms| seconds(ms as u64))).collect()),
    ]
}

fn group<W: Write + Send>(file: &mut SerializedFileWriter<W>, columns: Vec<Column>) -> Result<()> {
    let mut rows = file.next_row_group()?;
    for column in columns {
        write(&mut rows, column)?;
    }
    rows.close()?;
    Ok(())
}

fn write<W: Write + Send>(rows: &mut SerializedRowGroupWriter<'_, W>, column: Column) -> Result<()> {
    let Some(mut writer) = rows.next_column()? else { return Ok(()) };
    match column {
        Column::Long(values) => writer.typed::<Int64Type>().write_batch(&values, None, None)?,
        Column::Int(values) => writer.typed::<Int32Type>().write_batch(&values, None, None)?,
        Column::Real(values) => writer.typed::<DoubleType>().write_batch(&values, None, None)?,
        Column::Truth(values) => writer.typed::<BoolType>().write_batch(&values, None, None)?,
        Column::Text(values) => writer.typed::<ByteArrayType>().write_batch(&values, None, None)?,
        Column::MaybeReal(values) => {
            let there: Vec<i16> = values.iter().map(|v| i16::from(v.is_some())).collect();
            let values: Vec<f64> = values.into_iter().flatten().collect();
            writer.typed::<DoubleType>().write_batch(&values, Some(&there), None)?
        }
    };
    writer.close()
}
