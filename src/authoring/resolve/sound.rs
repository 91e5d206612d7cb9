//! How words are said.

use super::super::schema::File;
use crate::problem::Problem;
use crate::words::plain;

/// How words are said, in the phones of CMUdict (ARPAbet without stress).
pub(super) fn sounds(file: &File, problems: &mut Vec<Problem>) -> Vec<(String, String)> {
    let mut known = vec![];
    for entry in &file.word {
        let word = plain(entry.word.as_ref());
        if word.is_empty() || word.contains(' ') {
            let problem = Problem::error("S042", entry.word.span(), "this should be one word in letters");
            problems.push(problem.help("write one `[[word]]` for each word of a callout"));
        }
        let sounds = entry.sounds.as_ref().to_uppercase();
        match sounds.split_whitespace().find(|p| !PHONES.contains(p)) {
            None if !sounds.trim().is_empty() => known.push((word, sounds)),
            bad => {
                let message = format!("\"{}\" is no sound", bad.unwrap_or_default());
                let help = format!("write sounds such as \"S T IY M\"; there are {}", PHONES.join(" "));
                problems.push(Problem::error("S042", entry.sounds.span(), message).help(help));
            }
        }
    }
    known
}

/// The phones of CMUdict.
const PHONES: [&str; 39] = [
    "AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY", "F", "G", "HH", "IH", "IY", "JH", "K",
    "L", "M", "N", "NG", "OW", "OY", "P", "R", "S", "SH", "T", "TH", "UH", "UW", "V", "W", "Y", "Z", "ZH",
];
