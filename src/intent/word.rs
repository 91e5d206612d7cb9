//! Words and their forms: what they are short for, and what they have in common.

/// Words that may stand between the words of a name or a turn of phrase.
pub(super) const SMALL: [&str; 9] = ["the", "my", "a", "an", "of", "your", "all", "and", "to"];

/// What "on" and "apply" have in common, so that "gloves on" and "apply the gloves" are one; and "off" and "remove".
pub(super) const ON: &str = "apply";
pub(super) const OFF: &str = "remov";

/// How many words from `at` on the stems `wanted` take up, small words between them passed over; none where they don't follow.
pub(super) fn follows(
    words: &[String],
    stems: &[String],
    at: usize,
    wanted: &[String],
    pass: &[&str],
) -> Option<usize> {
    let mut place = at;
    for (k, stem) in wanted.iter().enumerate() {
        if stem == "_" {
            continue;
        }
        let gap = if k > 0 && wanted[k - 1] == "_" { 2 } else { 0 };
        let mut passed = 0;
        while stems.get(place)? != stem {
            let small = pass.contains(&words[place].as_str());
            if k == 0 || !small && passed >= gap {
                return None;
            }
            passed += usize::from(!small);
            place += 1;
        }
        place += 1;
    }
    Some(place - at)
}

/// What a word is short for.
pub(super) fn expand(word: &str) -> Vec<String> {
    const SHORT: [(&str, &str); 7] = [
        ("n't", " not"),
        ("'s", " is"),
        ("'m", " am"),
        ("'ve", " have"),
        ("'d", " would"),
        ("'ll", " will"),
        ("'re", " are"),
    ];
    let whole = match word {
        "can't" => "can not".to_string(),
        "won't" => "will not".to_string(),
        _ => SHORT
            .iter()
            .find_map(|(short, long)| Some(format!("{}{long}", word.strip_suffix(short)?)))
            .unwrap_or(word.into()),
    };
    whole.split(' ').map(|w| w.replace('\'', "")).collect()
}

/// "Make up" and "sun screen" as one word; a hot towel is a steam towel.
pub(super) fn joined(words: Vec<String>) -> Vec<String> {
    let mut out: Vec<String> = vec![];
    for word in words {
        if word == "towel" && out.last().is_some_and(|w| w == "hot") {
            out.pop();
            out.push("steam".into());
        }
        let whole = match (out.last().map(String::as_str), word.as_str()) {
            (Some("make"), "up") => Some("makeup"),
            (Some("sun"), "screen" | "cream") => Some("sunscreen"),
            _ => None,
        };
        match whole {
            Some(whole) => {
                out.pop();
                out.push(whole.into())
            }
            None => out.push(word),
        }
    }
    out
}

/// "Taking the mask off" as "remove the mask", "the mask coming off" as "the mask off", "putting it on" as "apply it".
pub(super) fn moved(mut words: Vec<String>) -> Vec<String> {
    const TAKE: [&str; 14] = [
        "take", "taking", "took", "taken", "get", "getting", "got", "peel", "peeling", "wipe", "wiping", "wiped",
        "pull", "pulling",
    ];
    const PUT: [&str; 2] = ["put", "putting"];
    const CAME: [&str; 10] = ["come", "comes", "coming", "came", "go", "goes", "going", "went", "is", "was"];
    for (verbs, behind, verb) in [(&TAKE[..], "off", "remove"), (&PUT[..], "on", "apply")] {
        let Some(end) = words.iter().rposition(|w| w == behind) else { continue };
        let before = (end.saturating_sub(5)..end).rev();
        let Some(begin) = before.into_iter().find(|k| verbs.contains(&words[*k].as_str())) else { continue };
        words[begin] = verb.into();
        words.remove(end);
    }
    for behind in ["off", "on"] {
        let Some(end) = words.iter().rposition(|w| w == behind).filter(|end| *end > 0) else { continue };
        if CAME.contains(&words[end - 1].as_str()) {
            words.remove(end - 1);
        }
    }
    words
}

/// A word without its ending: forms of one word have the same.
pub(super) fn stem(word: &str) -> String {
    match word {
        "times" | "_" => return word.into(),
        "on" => return ON.into(),
        "off" => return OFF.into(),
        _ => {}
    }
    let mut s = word.to_string();
    for (british, american) in [
        ("ise", "ize"),
        ("ising", "izing"),
        ("ised", "ized"),
        ("iser", "izer"),
        ("yse", "yze"),
        ("ysing", "yzing"),
        ("ysed", "yzed"),
    ] {
        if s.len() > 5 && s.ends_with(british) {
            s.truncate(s.len() - british.len());
            s += american;
            break;
        }
    }
    if s.len() > 4 {
        s = s.replace("our", "or");
    }
    if s == "removal" {
        s = "remove".into();
    }
    if s == "application" {
        s = "apply".into();
    }
    if s.len() > 3 && s.ends_with('s') && !s.ends_with("ss") && !s.ends_with("us") && !s.ends_with("ies") {
        s.pop();
    }
    for (ending, least, instead) in [("ies", 5, "y"), ("ied", 5, "y"), ("ing", 6, ""), ("ed", 5, "")] {
        if s.len() >= least && s.ends_with(ending) && !s.ends_with("eed") {
            s.truncate(s.len() - ending.len());
            s += instead;
            break;
        }
    }
    if s.len() > 3 && s.ends_with('e') {
        s.pop();
    }
    let last = s.chars().last();
    if s.len() > 3 && last.is_some_and(|c| !"aeiou".contains(c)) && s[..s.len() - 1].chars().last() == last {
        s.pop();
    }
    s
}
