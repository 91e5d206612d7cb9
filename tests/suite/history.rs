//! Statistics over many runs against outside references: scipy and statsmodels on random cases, stored by `tests/reference/stats.py`.

use serde_json::Value;
use stepbell::history::{Interval, Shape, beta_interval, fit_as, kappa, percentile, wilson};

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
