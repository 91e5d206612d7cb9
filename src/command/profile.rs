//! A person's profile, which `enrol` makes and every run listens with.

use super::Failure;
use crate::listen::{Doubt, Profile, Threshold, VERSION};
use crate::outcome::Outcome;
use crate::platform;
use crate::review::Claimed;
use crate::terminal::outln;
use std::path::{Path, PathBuf};

/// Where a person's profile lies.
pub fn path(runs: &Path) -> PathBuf {
    runs.join("profile.toml")
}

/// The profile in a folder of runs, if there is one; told and left aside where it was made with another model.
pub fn read(runs: &Path, model: &str) -> Result<Profile, Failure> {
    let path = path(runs);
    let failure = |e: &dyn std::fmt::Display| {
        Failure::storage(format!("{}: {e}", path.display()), "mend it, or delete it and enrol again")
    };
    let text = match platform::read_text(&path, super::SMALL) {
        Ok(text) => text,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Profile::default()),
        Err(e) if e.kind() == std::io::ErrorKind::NotADirectory => return Err(super::runs::none(runs)),
        Err(e) => return Err(failure(&e)),
    };
    let profile: Profile = toml::from_str(&text).map_err(|e| {
        let line = e.span().map_or(0, |span| text[..span.start].matches('\n').count()) + 1;
        failure(&format!("line {line}: {}", e.message().trim().lines().next().unwrap_or("not TOML")))
    })?;
    if profile.version != VERSION {
        return Err(failure(&format!("is of version {}, this program reads {VERSION}", profile.version)));
    }
    if profile.model != model {
        outln!("{} was made with another model and is left aside: enrol again.", path.display());
        return Ok(Profile::default());
    }
    // Nothing is that sure, or anything: what was called would be told as not called, or the other way round.
    if let Some(odd) = profile.callouts.iter().find(|c| !(0.0..=1.0).contains(&c.called)) {
        return Err(failure(&format!("`called` of \"{}\" is {:?}; it is 0 to 1", odd.say, odd.called)));
    }
    Ok(profile)
}

/// Keep how sure one was of the callouts that their person says afterwards were called: from now on they count so. `usual`: the threshold of a callout
/// where nobody said anything. Another model's profile is left as it is.
pub fn confirmed(
    runs: &Path,
    model: &str,
    usual: impl Fn(&str) -> f64,
    doubts: &[Doubt],
    outcome: &Outcome,
) -> Result<(), Failure> {
    let claims = outcome.claims();
    let said = doubts.iter().filter(|d| claims.contains(&(d.step, Claimed::Called)));
    let new: Vec<Threshold> = said.filter_map(|d| Threshold::confirmed(&d.say, d.evidence, usual(&d.say))).collect();
    let old = if new.is_empty() { return Ok(()) } else { read(runs, model)? };
    let path = path(runs);
    if old.model.is_empty() && path.exists() {
        return Ok(());
    }
    let says: Vec<&str> = new.iter().map(|n| n.say.as_str()).collect();
    outln!(
        "\nprofile: as you say it, it counts as called from now on: {} (forget --profile ends that)",
        says.join(", ")
    );
    let kept = old.callouts.into_iter().filter(|c| !says.contains(&c.say.as_str()));
    let callouts = kept.chain(new.iter().cloned()).collect();
    let made = jiff::Timestamp::now().to_string();
    let profile = Profile { version: VERSION, model: model.into(), made, callouts, ..old };
    let text = toml::to_string(&profile).expect("a profile is plain");
    platform::replace(&path, text.as_bytes())
        .map_err(|e| Failure::storage(format!("{}: {e}", path.display()), "free some space; the run itself is kept"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outcome::Correction;

    #[test]
    fn a_threshold_out_of_range_is_refused_and_a_broken_profile_says_why() {
        let folder = tempfile::tempdir().unwrap();
        let read = |rest: &str| {
            let text = format!("version = {VERSION}\nmodel = \"ours\"\nmade = \"\"\n{rest}");
            std::fs::write(path(folder.path()), text).unwrap();
            super::read(folder.path(), "ours").map_err(|e| e.message)
        };
        for called in ["1e300", "-5.0", "nan", "1.01"] {
            let told = read(&format!("[[callout]]\nsay = \"toner\"\ncalled = {called}\n"));
            assert!(told.as_ref().is_err_and(|e| e.contains("toner") && e.contains("0 to 1")), "{called}: {told:?}");
        }
        assert_eq!(read("[[callout]]\nsay = \"toner\"\ncalled = 0.6\n").unwrap().callouts.len(), 1);
        let told = read("[[callout]]\nsay = \"toner\"\ncaled = 0.6\n").unwrap_err();
        assert!(told.contains("line 6: ") && told.contains("caled"), "{told}");
    }

    #[test]
    fn what_is_confirmed_counts_from_then_on_and_nothing_else_does() {
        let folder = tempfile::tempdir().unwrap();
        let doubt = |step: usize, say: &str, evidence: f64| Doubt { step, say: say.into(), evidence };
        let doubts = [doubt(0, "toner", 0.65), doubt(1, "mask", 0.65), doubt(2, "steam towel", 0.3)];
        let claim = |step, claimed| Correction::Claim { step, claimed };
        let run = |corrections: Vec<Correction>| {
            let outcome = Outcome { corrections, ..Outcome::default() };
            confirmed(folder.path(), "ours", |_| 0.7, &doubts, &outcome).unwrap();
            read(folder.path(), "ours").unwrap().callouts
        };
        assert!(run(vec![claim(0, Claimed::NotCalled), claim(1, Claimed::Unsaid)]).is_empty());
        assert!(!path(folder.path()).exists());
        let toner = Threshold { say: "toner".into(), called: 0.58 };
        // Of the towel one was so unsure that anything would count.
        assert_eq!(run(vec![claim(0, Claimed::Called), claim(2, Claimed::Called)]), [toner]);
        let text = std::fs::read_to_string(path(folder.path())).unwrap();
        let other = Outcome { corrections: vec![claim(1, Claimed::Called)], ..Outcome::default() };
        confirmed(folder.path(), "another", |_| 0.7, &doubts, &other).unwrap();
        assert_eq!(std::fs::read_to_string(path(folder.path())).unwrap(), text);
    }
}
