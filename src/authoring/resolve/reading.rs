//! What the proctor reads aloud.

use super::super::names::Names;
use super::super::schema::File;
use crate::problem::Problem;
use crate::section::Reading;

pub(super) fn reading(file: &File, names: &Names, problems: &mut Vec<Problem>) -> Reading {
    let keys = &file.reading;
    if !(1..=5).contains(&keys.times) {
        problems.push(Problem::error(
            "S012",
            0..0,
            format!("the reading is read {} times; 1 to 5 are possible", keys.times),
        ));
    }
    if keys.sentences.is_empty() {
        problems.push(
            Problem::error("S024", 0..0, "the reading has no sentences")
                .help("write what the proctor reads in `sentences`"),
        );
    }
    let mut sentences: Vec<String> =
        keys.sentences.iter().map(|s| names.fill(s.as_ref(), None, s.span(), problems)).collect();
    for extra in &keys.extra {
        let condition = extra.when.as_ref().split_once('=').map(|(name, value)| (name.trim(), value.trim()));
        let possible = condition.is_some_and(|(name, value)| {
            file.parameter.iter().any(|p| p.id.as_ref() == name && p.one_of.iter().any(|v| v == value))
        });
        if !possible {
            let problem = Problem::error("S025", extra.when.span(), "this condition can never hold");
            problems.push(problem.help("write `parameter=value`, with a value of that parameter's `one_of`"));
        }
        let holds = condition.is_some_and(|(name, value)| names.drawn.iter().any(|(n, v)| n == name && v == value));
        let say = names.fill(extra.say.as_ref(), None, extra.say.span(), problems);
        sentences.extend(holds.then_some(say));
    }
    Reading {
        sentences,
        times: keys.times,
        again: names.filled(&keys.again, None, problems),
        begin: names.fill(&keys.begin, None, 0..0, problems),
    }
}
