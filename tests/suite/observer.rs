//! Somebody who watches beside the tool.

use crate::kill::stepbell;
use std::fs;

#[test]
fn an_observers_ticks_are_compared_with_the_tools() {
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name).to_str().unwrap().to_string();
    let sheet = stepbell(&["sheet", "prompts/skin-care/basic-facial.toml", "--out", &place("sheet.html")]);
    assert!(sheet.status.success());
    let page = fs::read_to_string(place("sheet.html")).unwrap();
    assert_eq!(
        page.matches("<tr>").count(),
        27 + 2 + 2,
        "a row a step and a criterion that can't be heard, and two of headings"
    );
    for (number, heard) in [("2.1", true), ("2.2", false), ("2.6", true), ("2.8", false), ("2.9", true)] {
        assert_eq!(page.contains(&format!("<td>{number}</td>")), !heard, "{number}");
    }

    // In the run toner and skin analysis were not called. The observer saw the toner, and not the drape.
    let agree = |text: &str| {
        fs::write(place("ticks.csv"), text).unwrap();
        stepbell(&["agree", "tests/data/journals/v2.journal", "--ticks", &place("ticks.csv")])
    };
    let output = agree("step,seen\r\nhands-first,yes\r\ndrape-body,no\r\ntoner,yes\r\nanalyse,no\r\n");
    let told = String::from_utf8(output.stdout).unwrap();
    assert!(told.starts_with("4 steps compared: 1 called and seen, 1 only called, 1 only seen, 1 neither."), "{told}");
    assert!(told.contains("kappa: 0.00") && told.contains("toner: seen, but not called"), "{told}");
    for (text, message) in [
        ("step;seen\n", "there is no column step"),
        ("step,seen\nhands-first,perhaps\n", "line 2: \"perhaps\" is neither yes nor no"),
        ("step,seen\ntoner,yes\ntoner,no\n", "line 3: toner is there twice"),
        ("step,seen\ntoner,yes\nspoon,no\n", "not in the run's section: spoon"),
        ("step,seen\n", "none of its steps"),
    ] {
        let output = agree(text);
        let error = String::from_utf8(output.stderr).unwrap();
        assert!(output.status.code() == Some(1) && error.contains(message), "{text}: {error}");
    }
}
