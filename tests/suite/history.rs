//! Statistics over many runs against outside references: scipy and statsmodels on random cases, stored by `tests/reference/stats.py`.

use serde_json::Value;
use stepbell::history::{
    About, History, Interval, NOT_CALLED, Run, Shape, StepAbout, UNTIMED, archive, beta_interval, fit_as, kappa,
    percentile, timed, wilson,
};
use stepbell::outcome::Fade;
use stepbell::time::Ms;

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

#[test]
fn intervals_percentiles_kappa_and_curves_are_scipys() {
    let text = std::fs::read_to_string("tests/data/stats.jsonl").unwrap();
    let (mut cases, mut worst) = (0, 0.0f64);
    for line in text.lines() {
        let case: Value = serde_json::from_str(line).unwrap();
        let number = |name: &str| case[name].as_f64().unwrap();
        let ends = |i: Interval| vec![i.low, i.high];
        let found = match case["kind"].as_str().unwrap() {
            "wilson" => ends(wilson(number("hits"), number("of"), number("level"))),
            "jeffreys" => ends(beta_interval(number("hits"), number("of"), number("level"))),
            "percentile" => vec![percentile(&numbers(&case["values"]), number("p")).unwrap()],
            "kappa" => {
                let row = |k: usize| numbers(&case["table"][k]);
                vec![kappa(row(0)[0], row(0)[1], row(1)[0], row(1)[1]).unwrap()]
            }
            "curve" => {
                let shape = match case["shape"].as_str().unwrap() {
                    "Level" => Shape::Level,
                    "Power" => Shape::Power,
                    _ => Shape::Exponential,
                };
                let times = numbers(&case["times"]);
                let curve = fit_as(shape, &times).unwrap();
                vec![curve.start, curve.rate, curve.aicc, curve.within(number("limit"), times.len() as f64 + 1.0)]
            }
            kind => panic!("{kind}"),
        };
        let wanted = numbers(&case["value"]);
        assert_eq!(found.len(), wanted.len());
        for (a, b) in found.iter().zip(&wanted) {
            let off = (a - b).abs() / b.abs().max(1e-3);
            worst = worst.max(off);
            assert!(off < 1e-6, "{a} is not {b}: {line}");
        }
        cases += 1;
    }
    crate::figure(
        "statistics equal to scipy and statsmodels, largest relative difference",
        format!("{worst:.1e} in {cases} cases"),
        "under 1e-6 in 400",
        worst < 1e-6 && cases >= 400,
    );
}

/// A folder of three people with runs of 0, 1 and 60, half of the sections compressed.
fn class() -> Vec<(String, History)> {
    let step = |k: u64| StepAbout {
        id: format!("step-{k}"),
        title: format!("Step \"{k}\", the \u{e9}tude"),
        critical: k == 1,
        free: k == 2,
        plan: (k > 0).then_some(Ms(60_000 * k)),
    };
    let about = |compress| About {
        id: "a-section".into(),
        title: "A section".into(),
        edition: "2026-01-01".into(),
        compress,
        limit: Some(Ms(600_000)),
        steps: (0..4).map(step).collect(),
    };
    let run = |k: u32| Run {
        section: k % 2,
        started: 1_700_000_000 + i64::from(k),
        finished: !k.is_multiple_of(3),
        whole: !k.is_multiple_of(5),
        used: Ms(500_000 + 1_000 * u64::from(k)),
        critical: u32::from(k.is_multiple_of(7)),
        findings: k % 4,
        hygiene: 3,
        fade: if k > 40 { Fade::Silent } else { Fade::All },
        guessed: k.is_multiple_of(2).then_some(Ms(450_500)),
        points: None,
        took: (0..4)
            .map(|s| match (k + s) % 6 {
                0 => NOT_CALLED,
                1 => UNTIMED,
                m => m * 10_000 + k * 37,
            })
            .collect(),
    };
    let history = |runs: u32| History { sections: vec![about(1), about(10)], runs: (0..runs).map(run).collect() };
    [("ann", 0), ("b\u{f6}b", 1), ("cy", 60)].map(|(name, runs)| (name.to_string(), history(runs))).to_vec()
}

/// Outside reference: DuckDB (PyPI duckdb 1.5.6) reads the Parquet tables, and finds in them what went in.
#[test]
fn duckdb_reads_the_tables_of_many_runs() {
    let folder = tempfile::tempdir().unwrap();
    let people = class();
    let named: Vec<(String, &History)> = people.iter().map(|(name, history)| (name.clone(), history)).collect();
    let file = |name: &str| std::fs::File::create(folder.path().join(name)).unwrap();
    assert_eq!(archive(&named, file("runs.parquet"), file("steps.parquet")).unwrap(), 61);
    let output = std::process::Command::new("models/fetched/python/bin/python")
        .args(["tests/reference/archive.py", folder.path().to_str().unwrap()])
        .output()
        .expect("`bash models/setup.sh test` installs the reference");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let told: Value = serde_json::from_slice(&output.stdout).unwrap();
    let whole: Vec<&Run> = people.iter().flat_map(|(_, h)| &h.runs).filter(|r| r.whole).collect();
    let count = |of: &dyn Fn(&Run) -> bool| whole.iter().filter(|r| of(r)).count();
    assert_eq!(told["people"], 1, "the one run of the second person was not a whole one");
    assert_eq!(told["runs"], whole.len());
    assert_eq!(told["finished"], count(&|r| r.finished));
    assert_eq!(told["clean"], count(&|r| r.critical == 0));
    assert_eq!(told["hygiene"], 3 * whole.len());
    assert_eq!(told["types"]["started"], "TIMESTAMP WITH TIME ZONE");
    let steps = told["steps"].as_array().unwrap();
    assert_eq!(steps.len(), 4);
    for (place, step) in steps.iter().enumerate() {
        assert_eq!(step[0], format!("step-{place}"));
        assert_eq!(step[1], count(&|r| r.took[place] == NOT_CALLED));
        let times: Vec<f64> = whole.iter().filter_map(|r| timed(r.took[place])).collect();
        let middle = percentile(&times, 0.5).unwrap() / 1000.0;
        assert!((step[2].as_f64().unwrap() - middle).abs() < 1e-9, "{step} and {middle}");
    }
}
