//! How words are spelt in their other forms: verbs with -s, -ing and -ed, one and more of a thing. Rules and three small tables, and no dictionary.
//!
//! The rules are those of Quirk, Greenbaum, Leech and Svartvik, *A Comprehensive Grammar of the English Language* (1985), 3.5 to 3.10 for verbs and
//! 5.79 to 5.81 for plurals, from memory.

/// Verbs that follow no rule: base, past and participle. Of those in common use, the ones that somebody may do with hands, things and clients.
pub const IRREGULAR: [(&str, &str, &str); 38] = [
    ("begin", "began", "begun"),
    ("bend", "bent", "bent"),
    ("bind", "bound", "bound"),
    ("break", "broke", "broken"),
    ("bring", "brought", "brought"),
    ("build", "built", "built"),
    ("choose", "chose", "chosen"),
    ("cut", "cut", "cut"),
    ("dig", "dug", "dug"),
    ("do", "did", "done"),
    ("draw", "drew", "drawn"),
    ("feel", "felt", "felt"),
    ("find", "found", "found"),
    ("get", "got", "got"),
    ("give", "gave", "given"),
    ("go", "went", "gone"),
    ("grind", "ground", "ground"),
    ("hang", "hung", "hung"),
    ("hold", "held", "held"),
    ("keep", "kept", "kept"),
    ("lay", "laid", "laid"),
    ("leave", "left", "left"),
    ("let", "let", "let"),
    ("make", "made", "made"),
    ("put", "put", "put"),
    ("read", "read", "read"),
    ("set", "set", "set"),
    ("shake", "shook", "shaken"),
    ("show", "showed", "shown"),
    ("shut", "shut", "shut"),
    ("slide", "slid", "slid"),
    ("spread", "spread", "spread"),
    ("stick", "stuck", "stuck"),
    ("sweep", "swept", "swept"),
    ("take", "took", "taken"),
    ("throw", "threw", "thrown"),
    ("unwind", "unwound", "unwound"),
    ("wind", "wound", "wound"),
];

/// Verbs that follow the rules and are known as verbs without a word behind them that says so.
pub const REGULAR: [&str; 42] = [
    "add",
    "apply",
    "attach",
    "blot",
    "check",
    "clean",
    "cleanse",
    "clear",
    "clip",
    "close",
    "cover",
    "disinfect",
    "dispose",
    "drape",
    "dry",
    "exfoliate",
    "look",
    "moisturize",
    "open",
    "pat",
    "place",
    "press",
    "pull",
    "push",
    "remove",
    "rub",
    "sanitize",
    "secure",
    "sharpen",
    "shape",
    "soak",
    "sterilize",
    "stop",
    "test",
    "tie",
    "trim",
    "tweeze",
    "turn",
    "undrape",
    "wash",
    "wipe",
    "wrap",
];

/// Plurals that follow no rule.
const PLURALS: [(&str, &str); 8] = [
    ("foot", "feet"),
    ("half", "halves"),
    ("knife", "knives"),
    ("leaf", "leaves"),
    ("man", "men"),
    ("shelf", "shelves"),
    ("tooth", "teeth"),
    ("woman", "women"),
];

/// A verb's forms: with -s, with -ing, its past and its participle.
pub fn conjugated(base: &str) -> Vec<String> {
    let past: Vec<String> = match IRREGULAR.iter().find(|(b, ..)| *b == base) {
        Some((_, past, participle)) => vec![past.to_string(), participle.to_string()],
        None => vec![with_ed(base)],
    };
    [base.to_string(), with_s(base), with_ing(base)].into_iter().chain(past).collect()
}

fn vowel(c: char) -> bool {
    matches!(c, 'a' | 'e' | 'i' | 'o' | 'u')
}

/// A consonant and y at the end: "dry", not "spray".
fn soft_y(word: &str) -> Option<&str> {
    word.strip_suffix('y').filter(|rest| rest.chars().last().is_some_and(|c| !vowel(c)))
}

/// Whether the last consonant is doubled before a vowel: one syllable, one vowel, one consonant, behind "un" and "re" too.
fn doubles(word: &str) -> bool {
    let word = word.strip_prefix("un").or(word.strip_prefix("re")).filter(|w| w.len() > 2).unwrap_or(word);
    let letters: Vec<char> = word.chars().collect();
    let [before @ .., v, last] = &letters[..] else { return false };
    let single = before.last().is_none_or(|c| !vowel(*c)) || before.ends_with(&['q', 'u']);
    let one_syllable =
        !before.iter().enumerate().any(|(k, c)| vowel(*c) && !(*c == 'u' && k > 0 && before[k - 1] == 'q'));
    vowel(*v) && !vowel(*last) && !matches!(last, 'w' | 'x' | 'y') && single && one_syllable
}

fn with_s(word: &str) -> String {
    match soft_y(word) {
        Some(rest) => format!("{rest}ies"),
        None if ["s", "x", "z", "ch", "sh"].iter().any(|end| word.ends_with(end)) => format!("{word}es"),
        None if word == "do" || word == "go" => format!("{word}es"),
        None => format!("{word}s"),
    }
}

fn with_ing(word: &str) -> String {
    if let Some(rest) = word.strip_suffix("ie") {
        return format!("{rest}ying");
    }
    let silent = word.strip_suffix('e').filter(|r| r.len() > 1 && !r.ends_with(['e', 'o', 'y']));
    match silent {
        Some(rest) => format!("{rest}ing"),
        None if doubles(word) => format!("{word}{}ing", word.chars().last().unwrap_or_default()),
        None => format!("{word}ing"),
    }
}

fn with_ed(word: &str) -> String {
    match soft_y(word) {
        Some(rest) => format!("{rest}ied"),
        None if word.ends_with('e') => format!("{word}d"),
        None if doubles(word) => format!("{word}{}ed", word.chars().last().unwrap_or_default()),
        None => format!("{word}ed"),
    }
}

/// The base of a form with -ing: the doubled consonant undone, the silent e given back where the spelling wants one.
pub fn stem(word: &str) -> Option<String> {
    let rest = word.strip_suffix("ing").filter(|r| r.len() > 1 && r.chars().any(|c| vowel(c) || c == 'y'))?;
    let irregular = IRREGULAR.iter().map(|(b, ..)| *b).chain(REGULAR).find(|b| with_ing(b) == word);
    if let Some(base) = irregular {
        return Some(base.to_string());
    }
    let letters: Vec<char> = rest.chars().collect();
    let twice = letters.len() > 2 && letters[letters.len() - 1] == letters[letters.len() - 2];
    if twice && !rest.ends_with("ss") && !rest.ends_with("ll") && !rest.ends_with("ff") && !rest.ends_with("zz") {
        return Some(rest[..rest.len() - 1].to_string());
    }
    // "Shap", "strok" and "cur" would have been doubled; "lather" and "open" would not, since their last syllable is weak.
    let weak = ["er", "en", "on", "or", "el", "al", "it", "et", "ow"].iter().any(|end| rest.ends_with(end));
    let wants = (doubles(rest) && !weak)
        || rest.ends_with(['v', 'z', 'c'])
        || ["iat", "ur", "ns", "dg", "ag"].iter().any(|e| rest.ends_with(e));
    Some(if wants { format!("{rest}e") } else { rest.to_string() })
}

/// One of a thing for more of it, and the other way round.
pub fn other_number(word: &str) -> Option<String> {
    if let Some((one, more)) = PLURALS.iter().find(|(one, more)| *one == word || *more == word) {
        return Some(if *one == word { more } else { one }.to_string());
    }
    if let Some(rest) = word.strip_suffix("ies").filter(|r| r.len() > 1) {
        return Some(format!("{rest}y"));
    }
    if let Some(rest) =
        word.strip_suffix("es").filter(|r| ["s", "x", "z", "ch", "sh"].iter().any(|end| r.ends_with(end)))
    {
        return Some(rest.to_string());
    }
    match word.strip_suffix('s') {
        Some(_) if word.ends_with("ss") || word.ends_with("us") || word.ends_with("is") => Some(with_s(word)),
        Some(rest) => Some(rest.to_string()),
        None => Some(with_s(word)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verbs_are_spelt_by_the_rules() {
        // Examples of the sections named above, and words of the trades.
        for (base, s, ing, ed) in [
            ("apply", "applies", "applying", "applied"),
            ("trim", "trims", "trimming", "trimmed"),
            ("strip", "strips", "stripping", "stripped"),
            ("unwrap", "unwraps", "unwrapping", "unwrapped"),
            ("wipe", "wipes", "wiping", "wiped"),
            ("press", "presses", "pressing", "pressed"),
            ("tie", "ties", "tying", "tied"),
            ("dye", "dyes", "dyeing", "dyed"),
            ("agree", "agrees", "agreeing", "agreed"),
            ("soak", "soaks", "soaking", "soaked"),
            ("wax", "waxes", "waxing", "waxed"),
            ("spray", "sprays", "spraying", "sprayed"),
            ("wash", "washes", "washing", "washed"),
            ("open", "opens", "opening", "opened"),
            ("quiz", "quizes", "quizzing", "quizzed"),
        ] {
            assert_eq!((with_s(base), with_ing(base), with_ed(base)), (s.into(), ing.into(), ed.into()));
        }
        assert_eq!(conjugated("take"), ["take", "takes", "taking", "took", "taken"]);
        for (ing, base) in [
            ("shaping", "shape"),
            ("trimming", "trim"),
            ("lathering", "lather"),
            ("removing", "remove"),
            ("kneading", "knead"),
            ("stroking", "stroke"),
            ("exfoliating", "exfoliate"),
            ("cleansing", "cleanse"),
            ("curling", "curl"),
            ("buffing", "buff"),
            ("putting", "put"),
            ("applying", "apply"),
        ] {
            assert_eq!(stem(ing).as_deref(), Some(base));
        }
    }

    #[test]
    fn one_and_many() {
        for (one, many) in
            [("towel", "towels"), ("lash", "lashes"), ("supply", "supplies"), ("foot", "feet"), ("brush", "brushes")]
        {
            assert_eq!(other_number(one).as_deref(), Some(many));
            assert_eq!(other_number(many).as_deref(), Some(one));
        }
    }
}
