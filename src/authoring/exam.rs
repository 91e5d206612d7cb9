//! TOML text → a whole exam: its sections in order, and what comes between them. It opens no file.

use serde::Deserialize;

/// Longest time between two sections, in minutes.
const LONGEST: f64 = 60.0;

/// An exam of several sections.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Exam {
    /// Short name.
    pub id: String,
    /// As shown and spoken.
    pub title: String,
    /// Whose exam it is.
    pub board: String,
    /// Where its order comes from.
    pub source: String,
    /// The sections, in order; at least one.
    #[serde(rename = "section")]
    pub sections: Vec<Part>,
}

/// A section of an exam.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// The section's file, from the exam's folder on.
    pub file: String,
    /// What the proctor says before it; nothing where it is empty.
    #[serde(default)]
    pub before: String,
    /// How long the candidate waits, or gets ready, before its instructions are read; 0 to 60.
    #[serde(default)]
    pub minutes_before: f64,
}

/// The exam in `text`; in words what is wrong with it, with its line where that is known.
pub fn exam(text: &str) -> Result<Exam, String> {
    let exam: Exam = toml::from_str(text).map_err(|e| e.to_string().trim_end().to_string())?;
    if exam.sections.is_empty() {
        return Err("it has no [[section]]".into());
    }
    for (place, part) in exam.sections.iter().enumerate() {
        if !(0.0..=LONGEST).contains(&part.minutes_before) {
            return Err(format!(
                "section {}: minutes_before is {}; it goes from 0 to {LONGEST}",
                place + 1,
                part.minutes_before
            ));
        }
    }
    Ok(exam)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_exam_is_whole() {
        let exam = exam(include_str!("../../prompts/mock-exam.toml")).unwrap();
        assert_eq!(exam.sections.len(), 6);
        assert!(exam.sections[1..].iter().all(|p| !p.before.is_empty()));
    }

    #[test]
    fn what_is_wrong_is_said() {
        let head = "id = \"a\"\ntitle = \"A\"\nboard = \"B\"\nsource = \"C\"\n";
        let wrong = |more: &str| exam(&format!("{head}{more}")).unwrap_err();
        assert!(wrong("section = []").contains("no [[section]]"));
        assert!(wrong("[[section]]\nfile = \"a\"\nminutes_before = -1").contains("from 0 to 60"));
        assert!(wrong("[[section]]\nfile = \"a\"\nminutes_before = nan").contains("from 0 to 60"));
        let unknown = wrong("[[section]]\nfil = \"a\"");
        assert!(unknown.contains("line 6") && unknown.contains("fil"), "{unknown}");
    }
}
