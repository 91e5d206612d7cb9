//! `show FILE`: the order of a section, what to say in it, its numbers, and what to pack.

use super::output::{self, Content};
use super::{Failure, json as answer};
use crate::drawing;
use crate::platform;
use crate::section::{Criterion, Order, Section};
use crate::terminal::{out, outln};
use crate::text::{count, harmless};
use crate::time::{Ms, spoken};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// Sets of done steps looked at while orders are counted: about a second, and 40 MB.
const MOST: usize = 1 << 18;

/// Words a minute at which the voice reads.
const PACE: u64 = 155;

/// Show a section; with `svg`, draw its order there too.
pub fn run(file: &Path, svg: Option<&PathBuf>, seed: u64, as_json: bool) -> Result<(), Failure> {
    if let Some(out) = svg {
        output::free(out, Content::Drawing, "--svg")?;
    }
    let (section, _) = super::section(file, seed)?;
    if as_json {
        answer::print("show", of(&section));
        return draw(&section, svg);
    }
    outln!("{} ({}), {}, edition {}\n", section.title, section.trade, section.board, section.edition);
    out!("{}", drawing::text(&section));
    let orders = Order::of(&section).count(MOST).map_or_else(|| "too many to count".into(), |n| n.to_string());
    outln!("\nallowed orders: {orders}");
    for choice in &section.choices {
        outln!("choice: at least {} of {} ({})", choice.at_least, choice.of.len(), choice.title);
    }
    for callout in &section.events {
        let claims = section.criteria.iter().filter(|c| c.steps.contains(&callout.id)).map(|c| c.id.as_str());
        let claims: Vec<&str> = claims.collect();
        let claims = if claims.is_empty() { String::new() } else { format!("  (for criterion {})", claims.join(", ")) };
        outln!("callout {}{claims}\n       say: {}", callout.id, callout.say.join(", "));
    }
    outln!("to finish\n       say: {}", section.finish.join(", "));
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
        outln!("criterion {}: {} ({})", criterion.id, criterion.text, claimed_by(criterion));
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
    draw(&section, svg)?;
    if let Some(out) = svg {
        outln!("drawn: {}", out.display());
    }
    Ok(())
}

/// What claims a criterion.
fn claimed_by(criterion: &Criterion) -> String {
    let names = criterion.steps.join(", ");
    match criterion.steps.len() {
        0 => "can't be heard: ask an observer".into(),
        all if criterion.at_least < all => format!("claimed by {} of: {names}", criterion.at_least),
        _ => format!("claimed by: {names}"),
    }
}

fn draw(section: &Section, svg: Option<&PathBuf>) -> Result<(), Failure> {
    let Some(out) = svg else { return Ok(()) };
    platform::replace(out, harmless(&drawing::svg(section)).as_bytes()).map_err(|e| {
        Failure::storage(
            format!("{}: {}", out.display(), platform::why(&e)),
            "name a file that can be written with --svg",
        )
    })
}

/// A section as data.
fn of(section: &Section) -> Value {
    let id = |step: &usize| section.steps[*step].id.as_str();
    let steps = section.steps.iter().map(|s| {
        json!({
            "id": s.id, "title": s.title, "phase": section.phases[s.phase].id, "say": s.say,
            "after": s.after.iter().map(id).collect::<Vec<_>>(), "directly_after": s.directly_after.as_ref().map(id),
            "optional": s.optional, "critical": s.critical, "plan_s": s.plan().map(Ms::seconds)
        })
    });
    let phases = section.phases.iter().map(|p| {
        json!({
            "id": p.id, "title": p.title, "limit_s": p.clock.limit.map(Ms::seconds),
            "warning_left_s": p.clock.warning_left.map(Ms::seconds)
        })
    });
    let choices = section
        .choices
        .iter()
        .map(|c| json!({ "title": c.title, "at_least": c.at_least, "of": c.of.iter().map(id).collect::<Vec<_>>() }));
    let safety =
        section.safety.iter().map(|p| json!({ "first": p.first, "then": p.then, "consequence": p.consequence }));
    let callouts = section.events.iter().map(|e| json!({ "id": e.id, "say": e.say }));
    let criteria = section.criteria.iter().map(|c| {
        json!({ "id": c.id, "text": c.text, "heard": !section.unheard(c), "claimed_by": c.steps, "at_least": c.at_least })
    });
    let supplies =
        section.supplies.iter().map(|s| json!({ "name": s.name, "kind": s.kind.in_words(), "label": s.label }));
    json!({
        "section": {
            "id": section.id, "title": section.title, "trade": section.trade, "board": section.board,
            "edition": section.edition, "source": section.source
        },
        "allowed_orders": Order::of(section).count(MOST).map(|n| n.to_string()),
        "reading": { "words": section.reading_words(), "times": section.reading.times },
        "phases": phases.collect::<Vec<_>>(),
        "steps": steps.collect::<Vec<_>>(),
        "choices": choices.collect::<Vec<_>>(),
        "callouts": callouts.collect::<Vec<_>>(),
        "finish": section.finish,
        "drawn": section.drawn.iter().map(|(name, value)| json!({ "name": name, "value": value })).collect::<Vec<_>>(),
        "rules": section.rules.iter().map(|r| json!({ "id": r.id, "message": r.message })).collect::<Vec<_>>(),
        "invariants": section.invariants.iter().map(|i| &i.title).collect::<Vec<_>>(),
        "safety": safety.collect::<Vec<_>>(),
        "criteria": criteria.collect::<Vec<_>>(),
        "supplies": supplies.collect::<Vec<_>>(),
        "cautions": section.cautions
    })
}
