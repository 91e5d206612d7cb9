//! Section files: the shipped ones load, their numbers are the published ones, and the order is counted right.

use num_bigint::BigUint;
use std::fs;
use stepbell::authoring;
use stepbell::section::{Done, Order, Section};
use stepbell::time::Ms;

/// Every shipped section: folder and file name, steps with loops unrolled.
pub const SHIPPED: [(&str, usize); 21] = [
    ("skin-care/station-set-up", 13),
    ("skin-care/basic-facial", 27),
    ("skin-care/break-down", 17),
    ("skin-care/brow-wax", 20),
    ("skin-care/make-up", 15),
    ("skin-care/blood", 10),
    ("additional/lip-wax", 17),
    ("additional/lash-bands", 13),
    ("nails/water-manicure", 24),
    ("nails/nail-tip", 9),
    ("barbering/razor-shave", 20),
    ("barbering/blood-own", 7),
    ("hair/thermal-curl", 18),
    ("massage/back", 19),
    ("additional/brow-tint", 14),
    ("additional/microcurrent", 13),
    ("additional/high-frequency", 15),
    ("additional/steam-extraction", 16),
    ("barbering/haircut", 18),
    ("hair/hair-set-up", 15),
    ("hair/color-test", 13),
];

/// A shipped section, by its folder and file name, or by its file name where that is skin care; it has no problem.
pub fn shipped(name: &str) -> Section {
    let folder = if name.contains('/') { "" } else { "skin-care/" };
    let text = fs::read_to_string(format!("prompts/{folder}{name}.toml")).unwrap();
    let (section, problems) = authoring::read(&text);
    assert_eq!(problems, [], "{name} has problems");
    section.unwrap()
}

/// Every file under prompts/ is in the list, so that no section goes untested.
#[test]
fn every_shipped_section_is_listed_and_loads() {
    let mut files: Vec<String> = fs::read_dir("prompts")
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|entry| entry.is_dir())
        .flat_map(|trade| fs::read_dir(trade).unwrap())
        .filter(|f| f.as_ref().unwrap().path().extension().is_some_and(|e| e == "toml"))
        .map(|f| f.unwrap().path().with_extension("").strip_prefix("prompts").unwrap().display().to_string())
        .collect();
    files.sort();
    let mut listed: Vec<&str> = SHIPPED.iter().map(|(name, _)| *name).collect();
    listed.sort_unstable();
    assert_eq!(files, listed);
    let (mut names, mut ids) = (std::collections::BTreeSet::new(), std::collections::BTreeSet::new());
    for (name, steps) in SHIPPED {
        let section = shipped(name);
        assert_eq!(section.steps.len(), steps, "{name}");
        // Sections are named by their files, and their runs by their ids: no two may have one.
        let file = name.split('/').next_back().unwrap();
        assert!(names.insert(file) && ids.insert(section.id.clone()), "{name}: {}", section.id);
    }
}

/// A section whose steps a, b, c … wait for the named ones.
fn poset(steps: &[(&str, &str)]) -> Section {
    let mut text = String::from(
        "id = 'x'\ntitle = 'x'\ntrade = 'x'\nboard = 'x'\nedition = '2026-03-01'\nsource = 'x'\nfinish = ['stepping back']\n\
         [reading]\nsentences = ['x']\nagain = 'x'\nbegin = 'x'\n[clock]\nminutes = 10.0\nstop = 'x'\n",
    );
    for (id, after) in steps {
        let after: Vec<String> = after.split_whitespace().map(|a| format!("'{a}'")).collect();
        text += &format!("[[step]]\nid = '{id}'\ntitle = '{id}'\nsay = ['{id}']\nafter = [{}]\n", after.join(","));
    }
    let (section, problems) = authoring::read(&text);
    section.unwrap_or_else(|| panic!("{problems:?}"))
}

fn orders(section: &Section) -> BigUint {
    Order::of(section).count(1 << 20).unwrap()
}

/// Published: NIC practical bulletins (esthetics rev. 1 Mar 2026; nail technology; barber styling; cosmetology): minutes
/// and minutes left at the one warning, phase by phase; an untimed phase has neither.
#[test]
fn limits_and_warnings_are_the_published_ones() {
    type Minutes = Option<(u64, u64)>;
    let published: [(&str, &[Minutes]); 18] = [
        ("skin-care/station-set-up", &[Some((10, 5))]),
        ("skin-care/basic-facial", &[Some((25, 12))]),
        ("skin-care/break-down", &[Some((15, 7))]),
        ("skin-care/brow-wax", &[None]),
        ("skin-care/make-up", &[Some((20, 10))]),
        ("skin-care/blood", &[Some((10, 5))]),
        ("nails/water-manicure", &[Some((20, 10)), None, Some((5, 2))]),
        ("barbering/razor-shave", &[Some((5, 2)), None, Some((5, 2))]),
        ("hair/thermal-curl", &[Some((10, 5))]),
        ("nails/nail-tip", &[Some((15, 8))]),
        // Two minutes of laying out, without a warning.
        ("additional/lip-wax", &[None, Some((10, 5))]),
        ("additional/lash-bands", &[None, Some((10, 5))]),
        ("barbering/blood-own", &[Some((10, 5))]),
        // Eyelash and eyebrow technician, section 8; esthetics advanced practice, section 8 (both rev. 1 Mar 2026).
        ("additional/brow-tint", &[Some((10, 5))]),
        ("additional/microcurrent", &[Some((10, 5))]),
        // Barber section 2; cosmetology sections 1 and 6.
        ("barbering/haircut", &[Some((40, 20)), None]),
        ("hair/hair-set-up", &[Some((15, 8))]),
        ("hair/color-test", &[Some((10, 5))]),
    ];
    for (name, phases) in published {
        let ours: Vec<Minutes> = shipped(name)
            .phases
            .iter()
            .map(|p| Some((p.clock.limit?.0 / 60_000, p.clock.warning_left?.0 / 60_000)))
            .collect();
        crate::figure(
            &format!("{name}: minutes, and left at the one warning"),
            format!("{ours:?}"),
            &format!("{phases:?}"),
            ours == phases,
        );
    }
    // The timed esthetics sections add up to 80 minutes.
    let esthetics = SHIPPED.iter().filter(|(n, _)| n.starts_with("skin-care/")).filter_map(|(n, _)| shipped(n).limit());
    assert_eq!(esthetics.sum::<Ms>(), Ms(80 * 60_000));
}

/// Published: readings of 32 to 262 words over 122 blocks in 38 bulletins of the same council (counted; median 80).
#[test]
fn readings_have_a_published_length() {
    for (name, _) in SHIPPED {
        let words = shipped(name).reading_words();
        assert!((32..=262).contains(&words), "{name}: {words}");
    }
}

/// A count held against its value.
fn counted(name: &str, section: &Section, expected: u128) {
    let ours = orders(section);
    crate::figure(&format!("allowed orders: {name}"), &ours, &expected.to_string(), ours == BigUint::from(expected));
}

/// The massage alone may be taken in 4! orders, and in 3! without vibration; so the facial has 2 × 2 × 24 = 96.
#[test]
fn the_facial_allows_96_orders() {
    counted("basic facial", &shipped("basic-facial"), 96);
    counted(
        "massage with vibration",
        &poset(&[("e", ""), ("p", "e"), ("f", "e"), ("t", "e"), ("v", "e"), ("g", "p f t v")]),
        24,
    );
    counted("massage without vibration", &poset(&[("e", ""), ("p", "e"), ("f", "e"), ("t", "e"), ("g", "p f t")]), 6);
}

/// The whole set-up with client protection, as one list of 17 steps: 336 orders.
#[test]
fn set_up_with_client_protection_allows_336_orders() {
    let list = [
        ("s1", ""),
        ("s2", "s1"),
        ("s3", "s2"),
        ("s4", "s3"),
        ("s5", "s3 s8"),
        ("s6", "s5"),
        ("s7", "s4"),
        ("s8", ""),
        ("s9", "s6 s7"),
        ("s10", "s6 s7"),
        ("s11", "s8 s9 s10"),
        ("s12", "s11"),
        ("s13", "s12"),
        ("s14", "s13"),
        ("s15", "s13"),
        ("s16", "s13"),
        ("s17", "s14 s15 s16"),
    ];
    counted("set-up, 17 steps", &poset(&list), 336);
}

/// Stanley, Enumerative Combinatorics 1: n free steps n!; chains of 3 and 4: C(7,3) = 35; 2 × n grid = Catalan
/// (OEIS A000108); fence = Euler numbers (OEIS A000111); Boolean lattice (OEIS A046873). Values from memory, recomputed.
#[test]
fn orders_agree_with_the_handbook() {
    let free: Vec<String> = (0..12).map(|k| format!("n{k}")).collect();
    for (n, factorial) in [(1, 1), (4, 24), (8, 40_320), (12, 479_001_600)] {
        let steps: Vec<(&str, &str)> = free[..n].iter().map(|s| (s.as_str(), "")).collect();
        counted(&format!("{n} free steps"), &poset(&steps), factorial);
    }
    let chains = [("a", ""), ("b", "a"), ("c", "b"), ("p", ""), ("q", "p"), ("r", "q"), ("s", "r")];
    counted("chains of 3 and 4", &poset(&chains), 35);
    for (n, catalan) in [(1, 1), (2, 2), (3, 5), (4, 14), (5, 42), (6, 132)] {
        let mut grid = vec![];
        for k in 0..n {
            let before = |row: &str| if k > 0 { format!("{row}{} ", k - 1) } else { String::new() };
            grid.push((format!("a{k}"), before("a")));
            grid.push((format!("b{k}"), format!("{}a{k}", before("b"))));
        }
        let grid: Vec<(&str, &str)> = grid.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
        counted(&format!("2 x {n} grid"), &poset(&grid), catalan);
    }
    for (n, euler) in [(1usize, 1u128), (2, 1), (3, 2), (4, 5), (5, 16), (6, 61), (7, 272)] {
        // f0 < f1 > f2 < f3 …: every second step waits for its neighbours.
        let names: Vec<String> = (0..n).map(|k| format!("f{k}")).collect();
        let waits = |k: usize| match k % 2 {
            1 => [Some(&names[k - 1]), names.get(k + 1)].into_iter().flatten().cloned().collect::<Vec<_>>().join(" "),
            _ => String::new(),
        };
        let fence: Vec<(&str, String)> = (0..n).map(|k| (names[k].as_str(), waits(k))).collect();
        let fence: Vec<(&str, &str)> = fence.iter().map(|(a, b)| (*a, b.as_str())).collect();
        counted(&format!("fence of {n}"), &poset(&fence), euler);
    }
    for (n, orders) in [(0u32, 1u128), (1, 1), (2, 2), (3, 48), (4, 1_680_384)] {
        let name = |set: u32| format!("b{set}");
        let below = |set: u32| {
            (0..n).filter(|k| set >> k & 1 == 1).map(|k| name(set & !(1 << k))).collect::<Vec<_>>().join(" ")
        };
        let cube: Vec<(String, String)> = (0..1u32 << n).map(|set| (name(set), below(set))).collect();
        let cube: Vec<(&str, &str)> = cube.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
        counted(&format!("subsets of {n}"), &poset(&cube), orders);
    }
}

/// Thousands of random small models, counted again by trying every order.
#[test]
fn orders_agree_with_trying_them_all() {
    let mut chance = 88_172_645_463_325_252u64;
    let mut random = |n: u64| {
        // xorshift64 (Marsaglia, J. Stat. Softw. 8 (2003)).
        chance ^= chance << 13;
        chance ^= chance >> 7;
        chance ^= chance << 17;
        chance % n
    };
    let names = ["a", "b", "c", "d", "e", "f", "g"];
    let template = poset(&[("a", "")]);
    let mut equal = 0;
    for _ in 0..5000 {
        let n = 2 + random(6) as usize;
        let mut section = template.clone();
        section.steps = (0..n)
            .map(|k| {
                let mut step = template.steps[0].clone();
                step.id = names[k].into();
                step.after = (0..k).filter(|_| random(3) == 0).collect();
                step
            })
            .collect();
        // One step directly after another, where that leaves no cycle.
        if random(2) == 0 {
            let (a, b) = (random(n as u64) as usize, random(n as u64) as usize);
            if a < b && section.steps[a].after.iter().chain(&section.steps[b].after).all(|&s| s < a) {
                section.steps[b].directly_after = Some(a);
            }
        }
        equal += usize::from(orders(&section) == BigUint::from(tried(&section, &mut vec![])));
    }
    crate::figure("allowed orders equal to trying them all", equal, "5000", equal == 5000);
}

/// Orders by brute force: every permutation, checked against the keys as they are written.
fn tried(section: &Section, taken: &mut Vec<usize>) -> u64 {
    let n = section.steps.len();
    if taken.len() == n {
        let place = |s: usize| taken.iter().position(|t| *t == s).unwrap();
        let fine = (0..n).all(|s| {
            section.steps[s].after.iter().all(|&b| place(b) < place(s))
                && section.steps[s].directly_after.is_none_or(|d| place(d) + 1 == place(s))
        });
        return u64::from(fine);
    }
    let mut sum = 0;
    for s in 0..n {
        if !taken.contains(&s) {
            taken.push(s);
            sum += tried(section, taken);
            taken.pop();
        }
    }
    sum
}

#[test]
fn a_cycle_is_shown_as_a_cycle() {
    let base = fs::read_to_string("prompts/skin-care/station-set-up.toml").unwrap();
    let text = base.replacen("minutes = 0.5\ncritical", "minutes = 0.5\nafter = [\"disinfect\"]\ncritical", 1);
    let (section, problems) = authoring::read(&text);
    assert!(section.is_none());
    assert_eq!(problems[0].code, "S008");
    assert!(problems[0].message.contains("hands-first"), "{}", problems[0].message);
}

#[test]
fn a_mistyped_key_and_step_are_answered_with_the_near_one() {
    let base = fs::read_to_string("prompts/skin-care/station-set-up.toml").unwrap();
    let help = |from: &str, to: &str| authoring::read(&base.replacen(from, to, 1)).1[0].help.clone().unwrap();
    assert_eq!(help("critical = true", "critcal = true"), "did you mean `critical`?");
    assert_eq!(help("after = [\"gloves-on\"]", "after = [\"glove-on\"]"), "did you mean `gloves-on`?");
}

/// The count against every order tried one by one, with steps directly after each other among them; and what falls into parts is
/// counted at any width.
#[test]
fn orders_are_counted_as_trying_them_all_counts() {
    fn tried(order: &Order, done: Done) -> u32 {
        let ready = (0..order.len()).filter(|&s| order.may_follow(&done, s));
        if done.len() == order.len() { 1 } else { ready.map(|s| tried(order, done.with(s))).sum() }
    }
    for seed in 0..200u32 {
        let bit = |k: usize, n: u32| (seed.wrapping_mul(2_654_435_761).rotate_left(k as u32 * 5) >> 3) % n;
        let steps: Vec<(String, String)> = (0..7)
            .map(|k| (format!("s{k}"), (0..k).filter(|&b| bit(k * 7 + b, 4) == 0).map(|b| format!("s{b} ")).collect()))
            .collect();
        let mut section = poset(&steps.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect::<Vec<_>>());
        if seed % 2 == 0 {
            section.steps[4].directly_after = Some(bit(1, 4) as usize);
        }
        let order = Order::of(&section);
        if order.cycle().is_none() {
            assert_eq!(orders(&section), BigUint::from(tried(&order, Done::default())), "{seed}");
        }
    }
    let apart: Vec<String> = (0..160).map(|k| format!("s{k}")).collect();
    let section = poset(&apart.iter().map(|s| (s.as_str(), "")).collect::<Vec<_>>());
    assert_eq!(orders(&section), (1..=160u32).map(BigUint::from).product::<BigUint>());
}

/// The reading's start words begin the first phase, so words of its own would be lost without a word.
#[test]
fn start_words_that_are_never_spoken_are_told() {
    let text = fs::read_to_string("prompts/additional/lip-wax.toml").unwrap();
    let (section, problems) = authoring::read(&text.replacen("[[phase]]\n", "[[phase]]\nbegin = \"Lost.\"\n", 1));
    assert_eq!(problems.iter().map(|p| p.code).collect::<Vec<_>>(), ["S073"]);
    assert_eq!(section.unwrap().phases[0].begin, "Your time starts now.");
}
