//! A file's keys and the types of its values, held against the schema: every mistake at once, where a deserialiser
//! stops at the first. The schema is the one that editors get.

use super::{SCHEMA, nearest};
use crate::problem::Problem;
use serde_json::Value;
use std::ops::Range;
use toml::de::{DeInteger, DeTable, DeValue};

/// Most problems reported of one file.
const MOST: usize = 100;

/// Every mistake in the keys and types of `text`, or in its syntax.
pub(super) fn check(text: &str) -> Vec<Problem> {
    let (table, errors) = DeTable::parse_recoverable(text);
    let mut problems: Vec<Problem> = errors
        .iter()
        .map(|e| {
            let span = e.span().unwrap_or(0..0);
            let span = span.start.min(text.len())..span.end.min(text.len());
            Problem::error("S022", span, e.message().trim().lines().next().unwrap_or("this is not TOML"))
        })
        .collect();
    if problems.is_empty() {
        let schema: Value = serde_json::from_str(SCHEMA).expect("the schema that is built in is JSON");
        keys(table.get_ref(), 0..0, &schema, &mut problems);
    }
    problems.sort_by_key(|p| p.span.start);
    problems.truncate(MOST);
    problems
}

fn keys(table: &DeTable, at: Range<usize>, schema: &Value, problems: &mut Vec<Problem>) {
    let Some(known) = schema["properties"].as_object() else { return };
    let mut meant = vec![];
    for (key, value) in table.iter() {
        match known.get(key.get_ref().as_ref()) {
            Some(schema) => values(value.get_ref(), value.span(), schema, problems),
            None => {
                let problem = Problem::error("S002", key.span(), format!("`{}` is not known here", key.get_ref()));
                let near = nearest(key.get_ref(), known.keys().map(String::as_str));
                meant.extend(near);
                problems.push(match near {
                    Some(near) => problem.help(format!("did you mean `{near}`?")),
                    None => {
                        problem.help(format!("known here: {}", known.keys().cloned().collect::<Vec<_>>().join(", ")))
                    }
                });
            }
        }
    }
    for name in schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str) {
        // A mistyped key is not missing too, and an absent `step` gets a message of its own.
        if name != "step" && !meant.contains(&name) && !table.keys().any(|k| k.get_ref() == name) {
            let problem = Problem::error("S003", at.clone(), format!("`{name}` is missing"));
            problems.push(problem.help(format!("add a line `{name} = …` here")));
        }
    }
}

fn values(value: &DeValue, span: Range<usize>, schema: &Value, problems: &mut Vec<Problem>) {
    // Words, alone or each with its description.
    let words = schema["enum"].as_array().or(schema["oneOf"].as_array());
    let (fits, wanted) = match schema["type"].as_str() {
        Some("string") => (value.is_str(), "a text in quotation marks"),
        Some("boolean") => (value.is_bool(), "true or false"),
        Some("integer") => (value.is_integer(), "a whole number"),
        Some("number") => (value.is_integer() || value.is_float(), "a number"),
        Some("array") => (value.is_array(), "a list in square brackets"),
        Some("object") => (value.is_table(), "a table"),
        None if words.is_some() => (value.is_str(), "a word in quotation marks"),
        _ => (true, ""),
    };
    if !fits {
        problems.push(Problem::error("S015", span, format!("this should be {wanted}")));
        return;
    }
    if let (DeValue::Array(items), Some(_)) = (value, schema.get("items")) {
        items.iter().for_each(|item| values(item.get_ref(), item.span(), &schema["items"], problems));
    }
    if let DeValue::Table(table) = value {
        keys(table, span.clone(), schema, problems);
    }
    if let (DeValue::Integer(number), Some("integer")) = (value, schema["type"].as_str()) {
        integer(number, span.clone(), schema, problems);
    }
    if let (DeValue::String(text), Some(words)) = (value, words) {
        let words: Vec<&str> = words.iter().filter_map(|w| w.as_str().or(w["const"].as_str())).collect();
        if !words.contains(&text.as_ref()) {
            let problem = Problem::error("S002", span, format!("`{text}` is not known here"));
            problems.push(match nearest(text, words.iter().copied()) {
                Some(near) => problem.help(format!("did you mean `{near}`?")),
                None => problem.help(format!("known here: {}", words.join(", "))),
            });
        }
    }
}

/// A whole number that its field has no room for: other ones out of range get messages of their own once the file is read.
fn integer(number: &DeInteger, span: Range<usize>, schema: &Value, problems: &mut Vec<Problem>) {
    let least = schema["minimum"].as_i64().unwrap_or(0);
    let most = schema["maximum"].as_i64().unwrap_or(u32::MAX.into());
    let read = i64::from_str_radix(&number.as_str().replace('_', ""), number.radix());
    if !read.is_ok_and(|n| (0..=255).contains(&n) || (least..=most).contains(&n)) {
        let message = format!("this should be a whole number from {least} to {most}");
        problems.push(Problem::error("S015", span, message));
    }
}
