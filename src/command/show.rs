//! `show FILE`: the order of a section, its numbers, and what to pack.

use super::Failure;
use crate::drawing;
use crate::platform;
use crate::section::Order;
use crate::terminal::{out, outln};
use crate::text::{count, harmless};
use crate::time::{Ms, spoken};
use std::path::{Path, PathBuf};

/// Sets of done steps looked at while orders are counted: about a second, and 40 MB.
const MOST: usize = 1 << 18;

/// Words a minute at which the voice reads.
const PACE: u64 = 155;

/// Show a section; with `svg`, draw its order there too.
pub fn run(file: &Path, svg: Option<&PathBuf>, seed: u64) -> Result<(), Failure> {
    let (section, _) = super::section(file, seed)?;
    outln!("{} ({}), {}, edition {}\n", section.title, section.trade, section.board, section.edition);
    out!("{}", drawing::text(&section));
    let orders = Order::of(&section).count(MOST).map_or_else(|| "too many to count".into(), |n| n.to_string());
    outln!("\nallowed orders: {orders}");
    for choice in &section.choices {
        outln!("choice: at least {} of {} ({})", choice.at_least, choice.of.len(), choice.title);
    }
    for (place, phase) in section.phases.iter().enumerate() {
        let planned: Ms = section.steps.iter().filter(|s| s.phase == place && !s.optional).map(|s| s.target).sum();
        let limit = phase.clock.limit.map_or_else(|| "untimed".into(), |l| format!("of {l}"));
        let warning = phase.clock.warning_left.map_or_else(String::new, |w| format!(", one warning with {w} left"));
        outln!("{}: {planned} planned {limit}{warning}", phase.title);
    }
    let once = Ms(section.reading_words() as u64 * 60_000 / PACE);
    outln!(
        "reading: {}, about {}, read {}",
        count(section.reading_words(), "word"),
        spoken(once),
        count(section.reading.times as usize, "time")
    );
    for (name, value) in &section.drawn {
        outln!("drawn this time: {name} = {value}");
    }
    for rule in &section.rules {
        outln!("rule {}: {}", rule.id, rule.message);
    }
    for invariant in &section.invariants {
        outln!("always: {}", invariant.title);
    }
    for pair in &section.safety {
        outln!("protects: {} before {}. {}", pair.first, pair.then.join(", "), pair.consequence);
    }
    for criterion in &section.criteria {
        let heard = if section.unheard(criterion) { " (can't be heard: ask an observer)" } else { "" };
        outln!("criterion {}: {}{heard}", criterion.id, criterion.text);
    }
    if !section.supplies.is_empty() {
        outln!("\npack:");
    }
    for supply in &section.supplies {
        let label = supply.label.as_ref().map_or_else(String::new, |l| format!(", labelled \"{l}\""));
        outln!("  [ ] {} ({}{label})", supply.name, supply.kind.in_words());
    }
    for caution in &section.cautions {
        outln!("Caution: {caution}");
    }
    if let Some(out) = svg {
        platform::replace(out, harmless(&drawing::svg(&section)).as_bytes()).map_err(|e| {
            Failure::storage(format!("{}: {e}", out.display()), "name a file that can be written with --svg")
        })?;
        outln!("drawn: {}", out.display());
    }
    Ok(())
}
