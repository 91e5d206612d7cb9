//! Section files: the shipped ones load, their numbers are the published ones, and the order is counted right.

use std::fs;
use stepbell::authoring;
use stepbell::section::{Order, Section};
use stepbell::time::Ms;

/// Every shipped section: folder and file name, steps with loops unrolled.
pub const SHIPPED: [(&str, usize); 10] = [
    ("skin-care/station-set-up", 12),
    ("skin-care/basic-facial", 26),
    ("skin-care/break-down", 14),
    ("skin-care/brow-wax", 19),
    ("skin-care/make-up", 12),
    ("skin-care/blood", 10),
    ("nails/water-manicure", 23),
    ("barbering/razor-shave", 19),
    ("hair/thermal-curl", 17),
    ("massage/back", 19),
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
        .flat_map(|trade| fs::read_dir(trade.unwrap().path()).unwrap())
        .map(|f| f.unwrap().path().with_extension("").strip_prefix("prompts").unwrap().display().to_string())
        .collect();
    files.sort();
    let mut listed: Vec<&str> = SHIPPED.iter().map(|(name, _)| *name).collect();
    listed.sort_unstable();
    assert_eq!(files, listed);
    for (name, steps) in SHIPPED {
        assert_eq!(shipped(name).steps.len(), steps, "{name}");
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

fn orders(section: &Section) -> u128 {
    Order::of(section).count(1 << 20).unwrap()
}

/// Published: NIC practical bulletins (esthetics rev. 1 Mar 2026; nail technology; barber styling; cosmetology): minutes
/// and minutes left at the one warning, phase by phase; an untimed phase has neither.
#[test]
fn limits_and_warnings_are_the_published_ones() {
    type Minutes = Option<(u64, u64)>;
    let published: [(&str, &[Minutes]); 9] = [
        ("skin-care/station-set-up", &[Some((10, 5))]),
        ("skin-care/basic-facial", &[Some((25, 12))]),
        ("skin-care/break-down", &[Some((15, 7))]),
        ("skin-care/brow-wax", &[None]),
        ("skin-care/make-up", &[Some((20, 10))]),
        ("skin-care/blood", &[Some((10, 5))]),
        ("nails/water-manicure", &[Some((20, 10)), None, Some((5, 2))]),
        ("barbering/razor-shave", &[Some((5, 2)), None, Some((5, 2))]),
        ("hair/thermal-curl", &[Some((10, 5))]),
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

/// The massage alone may be taken in 4! orders, so the facial has 2 × 2 × 24 = 96.
#[test]
fn the_facial_allows_96_orders() {
    assert_eq!(orders(&shipped("basic-facial")), 96);
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
    assert_eq!(orders(&poset(&list)), 336);
}

/// Stanley, Enumerative Combinatorics 1: n free steps n!; chains of 3 and 4: C(7,3) = 35; 2 × n grid = Catalan
/// (OEIS A000108); fence = Euler numbers (OEIS A000111); Boolean lattice of 2^3: 48 (OEIS A046873). Values from memory, recomputed.
#[test]
fn orders_agree_with_the_handbook() {
    assert_eq!(orders(&poset(&[("a", ""), ("b", ""), ("c", ""), ("d", "")])), 24);
    let chains = [("a", ""), ("b", "a"), ("c", "b"), ("p", ""), ("q", "p"), ("r", "q"), ("s", "r")];
    assert_eq!(orders(&poset(&chains)), 35);
    for (n, catalan) in [(1, 1), (2, 2), (3, 5), (4, 14), (5, 42), (6, 132)] {
        let mut grid = vec![];
        for k in 0..n {
            let before = |row: &str| if k > 0 { format!("{row}{} ", k - 1) } else { String::new() };
            grid.push((format!("a{k}"), before("a")));
            grid.push((format!("b{k}"), format!("{}a{k}", before("b"))));
        }
        let grid: Vec<(&str, &str)> = grid.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
        assert_eq!(orders(&poset(&grid)), catalan, "2 x {n}");
    }
    for (n, euler) in [(2usize, 1u128), (3, 2), (4, 5), (5, 16), (6, 61)] {
        let names: Vec<String> = (0..n).map(|k| format!("f{k}")).collect();
        let fence: Vec<(&str, String)> = (0..n)
            .map(|k| {
                let next = names.get(k + 1).filter(|_| k % 2 == 1).cloned().unwrap_or_default();
                let last = if k % 2 == 1 { names[k - 1].clone() } else { String::new() };
                (names[k].as_str(), format!("{last} {next}"))
            })
            .collect();
        let fence: Vec<(&str, &str)> = fence.iter().map(|(a, b)| (*a, b.as_str())).collect();
        assert_eq!(orders(&poset(&fence)), euler, "fence {n}");
    }
    let cube = [
        ("n", ""),
        ("x", "n"),
        ("y", "n"),
        ("z", "n"),
        ("xy", "x y"),
        ("xz", "x z"),
        ("yz", "y z"),
        ("xyz", "xy xz yz"),
    ];
    assert_eq!(orders(&poset(&cube)), 48);
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
