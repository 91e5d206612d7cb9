//! How people with another first language say a word: the lexicon's pronunciation, and beside each of its phones what is often said in its place, by
//! the rules of `models/english/accents.txt`, which names their sources. Each costs what it is rarer, so that natives lose nothing.

use super::phones::{Phone, SPEECH};
use super::phrase::{Pronunciation, Substitution};

/// The rules that are shipped.
const RULES: &str = include_str!("../../models/english/accents.txt");
/// A word keeps at least so many sounds: what is left of a shorter one is found in all talk.
const LEAST: usize = 3;

#[derive(Clone, Copy, Debug, PartialEq)]
enum Where {
    Any,
    First,
    Last,
}

#[derive(Clone, Debug, PartialEq)]
struct Rule {
    from: Phone,
    to: Vec<Phone>,
    place: Where,
    cost: f32,
}

/// The rules, in the phones of a model.
#[derive(Clone, Debug, Default)]
pub struct Accents {
    rules: Vec<Rule>,
}

impl Accents {
    /// The shipped rules for a model with these phones; those that name a phone it lacks are left out.
    pub fn new(names: &[String]) -> Accents {
        Accents::parse(RULES, names)
    }

    fn parse(text: &str, names: &[String]) -> Accents {
        let phone = |name: &str| (SPEECH..names.len()).find(|p| names[*p] == name);
        let rule = |line: &str| -> Option<Rule> {
            let mut parts = line.split('|').map(str::trim);
            let (from, to) = parts.next()?.split_once('>')?;
            let place = match parts.next()? {
                "any" => Where::Any,
                "first" => Where::First,
                "last" => Where::Last,
                _ => return None,
            };
            let to = to.split_whitespace().map(phone).collect::<Option<Vec<Phone>>>()?;
            let cost = parts.next()?.parse::<f32>().ok()?;
            Some(Rule { from: phone(from.trim())?, to, place, cost })
        };
        let rules = text.lines().filter(|l| !l.starts_with('#')).filter_map(rule).collect();
        Accents { rules }
    }

    /// A word's phones, with what is often said in their place.
    pub fn widen(&self, phones: Vec<Phone>) -> Pronunciation {
        let (last, count) = (phones.len().saturating_sub(1), phones.len());
        let mut substitutions = vec![];
        for (at, phone) in phones.iter().enumerate() {
            for rule in self.rules.iter().filter(|r| r.from == *phone) {
                let here = match rule.place {
                    Where::Any => true,
                    Where::First => at == 0,
                    Where::Last => at == last,
                };
                if !here {
                    continue;
                }
                if !rule.to.is_empty() {
                    substitutions.push(Substitution { at, of: 1, said: rule.to.clone(), cost: rule.cost });
                } else if count > LEAST {
                    // A sound is dropped behind the one before it.
                    substitutions.push(Substitution { at: at - 1, of: 2, said: vec![phones[at - 1]], cost: rule.cost });
                }
            }
        }
        Pronunciation { phones, substitutions }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names() -> Vec<String> {
        "SIL SPN AA AE B D EH IY K M S T TH V W Z".split(' ').map(str::to_string).collect()
    }

    fn said(way: &Pronunciation) -> Vec<String> {
        let name = |p: &Phone| names()[*p].clone();
        let one = |i: &Substitution| {
            let whole = [&way.phones[..i.at], &i.said, &way.phones[i.at + i.of..]].concat();
            whole.iter().map(name).collect::<Vec<_>>().join(" ")
        };
        way.substitutions.iter().map(one).collect()
    }

    #[test]
    fn sounds_are_put_in_the_place_of_others_where_a_rule_says_so() {
        let accents = Accents::parse(
            "# th\nTH > T | any | 1\nD > T | last | 2\nD > | last | 1\nB > V W | first | 1\nQ > K | any | 1\n",
            &names(),
        );
        let word = |s: &str| {
            let phone = |n: &str| names().iter().position(|m| m == n).unwrap();
            accents.widen(s.split(' ').map(phone).collect())
        };
        assert_eq!(said(&word("TH AA TH")), ["T AA TH", "TH AA T"]);
        assert_eq!(said(&word("D AA D")), ["D AA T"]);
        assert_eq!(said(&word("B T AA D")), ["V W T AA D", "B T AA T", "B T AA"]);
        assert_eq!(said(&word("S AA K")), [""; 0]);
        assert_eq!(word("D AA D").substitutions[0].cost, 2.0);
    }

    /// Every line of the shipped file is a rule that the shipped phones can follow.
    #[test]
    fn the_shipped_rules_are_all_read() {
        let names: Vec<String> =
            include_str!("../../models/english/phones.txt").split_whitespace().map(str::to_string).collect();
        let lines = RULES.lines().filter(|l| l.contains('>')).count();
        assert!(lines > 30 && Accents::new(&names).rules.len() == lines);
    }
}
