//! The order of a section as a picture: layers in text, boxes and lines in SVG. It decides nothing.

use crate::section::{Order, Section};
use maud::{Markup, html};

/// Width of a box, and the room between two layers, in pixels.
const BOX: (usize, usize) = (168, 34);

/// Height of a box with one line, and of each further line, in pixels.
const LINE: (usize, usize) = (32, 15);

/// Letters of a title in one line of its box.
const LETTERS: usize = 25;

/// For each step, the number of steps that must come before it in a row: its layer.
fn layers(section: &Section) -> Vec<Vec<usize>> {
    let pairs = Order::of(section).covers();
    let mut depth = vec![0usize; section.steps.len()];
    // Each pass settles at least the next layer.
    for _ in 0..section.steps.len() {
        for &(a, b) in &pairs {
            depth[b] = depth[b].max(depth[a] + 1);
        }
    }
    let mut layers = vec![vec![]; depth.iter().max().map_or(0, |d| d + 1)];
    for (step, layer) in depth.into_iter().enumerate() {
        layers[layer].push(step);
    }
    layers
}

/// Layer by layer, each step with what it is called by; where a layer has several steps, each says what it waits for.
pub fn text(section: &Section) -> String {
    let pairs = Order::of(section).covers();
    let mut out = String::new();
    for (number, layer) in layers(section).iter().enumerate() {
        for (k, &step) in layer.iter().enumerate() {
            let s = &section.steps[step];
            let waits: Vec<&str> =
                pairs.iter().filter(|(_, b)| *b == step).map(|(a, _)| section.steps[*a].id.as_str()).collect();
            let lead = if k == 0 { format!("{:>3}", number + 1) } else { "  |".into() };
            let mut marks = vec![];
            marks.extend(s.critical.then(|| "critical".to_string()));
            marks.extend(s.optional.then(|| "optional".to_string()));
            marks.extend(s.gate.as_ref().map(|cue| format!("cue: {cue}")));
            marks.extend(s.directly_after.map(|d| format!("directly after {}", section.steps[d].id)));
            if waits.len() + layer.len() > 2 && !waits.is_empty() {
                marks.push(format!("after {}", waits.join(", ")));
            }
            let marks = if marks.is_empty() { String::new() } else { format!("  ({})", marks.join("; ")) };
            out += &format!("{lead}  {}: {}{marks}\n       say: {}\n", s.id, s.title, s.say.join(", "));
        }
    }
    out
}

/// The same as a stand-alone SVG picture.
pub fn svg(section: &Section) -> String {
    let layers = layers(section);
    let (width, gap) = BOX;
    let titles: Vec<Vec<String>> = section.steps.iter().map(|s| wrapped(&s.title)).collect();
    let widest = layers.iter().map(Vec::len).max().unwrap_or(1);
    let w = (widest * (width + 16) + 32).max(420);
    // Left, top and height of each step's box: as tall as its layer's longest title.
    let mut at = vec![(0, 0, 0); section.steps.len()];
    let mut top = 56;
    for layer in &layers {
        let left = (w - layer.len() * (width + 16) + 16) / 2;
        let lines = layer.iter().map(|step| titles[*step].len()).max().unwrap_or(1);
        let tall = LINE.0 + (lines - 1) * LINE.1;
        for (k, &step) in layer.iter().enumerate() {
            at[step] = (left + k * (width + 16), top, tall);
        }
        top += tall + gap;
    }
    let h = top + 16 - gap / 2;
    let lines = Order::of(section).covers();
    let picture: Markup = html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {w} {h}")) width=(w) height=(h) role="img"
            aria-label=(format!("The order of {}", section.title)) font-family="sans-serif" font-size="12" {
            rect width="100%" height="100%" fill="#ffffff" {}
            text x="16" y="32" font-size="18" fill="#1f2933" { (section.title) }
            @for (a, b) in lines {
                path fill="none" stroke="#7b8794" d=(format!("M{} {} C{} {} {} {} {} {}",
                    at[a].0 + width / 2, at[a].1 + at[a].2, at[a].0 + width / 2, at[a].1 + at[a].2 + 22,
                    at[b].0 + width / 2, at[b].1.saturating_sub(22), at[b].0 + width / 2, at[b].1)) {}
            }
            @for (step, s) in section.steps.iter().enumerate() {
                g {
                    title { (s.title) }
                    rect x=(at[step].0) y=(at[step].1) width=(width) height=(at[step].2) rx="6" stroke-width=(if s.critical { 3 } else { 1 })
                        stroke="#3e4c59" fill=(if s.hygiene { "#dceefb" } else { "#f5f7fa" })
                        stroke-dasharray=(if s.optional { "4 3" } else { "none" }) {}
                    text text-anchor="middle" fill="#1f2933" {
                        @for (k, line) in titles[step].iter().enumerate() {
                            @let middle = at[step].1 + (at[step].2 + 8) / 2 - (titles[step].len() - 1) * LINE.1 / 2;
                            tspan x=(at[step].0 + width / 2) y=(middle + k * LINE.1) { (line) }
                        }
                    }
                }
            }
        }
    };
    picture.into_string()
}

/// A title in lines that fit its box; nothing of it is left out.
fn wrapped(title: &str) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in title.split_whitespace() {
        let letters: Vec<char> = word.chars().collect();
        for (k, piece) in letters.chunks(LETTERS).enumerate() {
            let piece: String = piece.iter().collect();
            let last = lines.len() - 1;
            let line = &mut lines[last];
            let space = usize::from(!line.is_empty());
            if k == 0 && line.chars().count() + space + piece.chars().count() <= LETTERS {
                line.extend((space > 0).then_some(' '));
                line.push_str(&piece);
            } else {
                lines.push(piece);
            }
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::wrapped;

    #[test]
    fn a_title_wraps_and_keeps_every_letter() {
        assert_eq!(wrapped("mask"), ["mask"]);
        assert_eq!(wrapped("take the polish off the ring finger"), ["take the polish off the", "ring finger"]);
        let long = "x".repeat(60);
        assert_eq!(wrapped(&format!("a {long}")).concat(), format!("a{long}"));
        assert!(wrapped(&long).iter().all(|line| line.len() <= 25));
    }
}
