//! Bugs planted in a copy of the tree, one at a time: the simulation must catch each. A build for each takes half a minute, so
//! this is run on request: `cargo test --release --locked --test simulation -- --ignored --nocapture`.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// What is wrong, the file, the code, and the bug in its place.
const BUGS: [(&str, &str, &str, &str); 8] = [
    (
        "acts before it writes",
        "src/driver/mod.rs",
        "        let digest = self.journal.digest_due()",
        "        for effect in &effects {\n            if let Effect::Show(line) = effect {\n                (self.show)(line);\n            }\n        }\n        \
         let effects: Vec<Effect> = effects.into_iter().filter(|e| !matches!(e, Effect::Show(_))).collect();\n        \
         let digest = self.journal.digest_due()",
    ),
    ("never syncs", "src/journal/store.rs", ".and_then(|()| self.disk.sync())", ""),
    ("skips the digest", "src/driver/mod.rs", "self.journal.digest_due().then(", "false.then("),
    ("forgets the mask", "src/driver/mod.rs", "agenda.voiced.push(Voiced::Begins(at, speech.clone()));", ""),
    (
        "forgets its timers on resume",
        "src/driver/standing.rs",
        "Effect::Arm(timer, when) => agenda.arm(timer, when.max(*at)),",
        "Effect::Arm(..) => {}",
    ),
    (
        "says nothing again on resume",
        "src/session/running.rs",
        "self.unsaid.iter().cloned();",
        "self.unsaid.iter().take(0).cloned();",
    ),
    (
        "takes a wrong sum",
        "src/journal/read.rs",
        "if added(before, json) == sum",
        "if added(before, json) == sum || json.len() % 2 == 0",
    ),
    (
        "warns late",
        "src/session/deadlines.rs",
        "Effect::Arm(Timer::Warning, limit - left)",
        "Effect::Arm(Timer::Warning, limit - left + GAP)",
    ),
];

fn copy(from: &Path, to: &Path) {
    if from.is_dir() {
        fs::create_dir_all(to).unwrap();
        for entry in fs::read_dir(from).unwrap() {
            let entry = entry.unwrap();
            copy(&entry.path(), &to.join(entry.file_name()));
        }
    } else {
        fs::copy(from, to).unwrap();
    }
}

/// Holds the list against the tree without building anything.
#[test]
fn every_planted_bug_has_its_place() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    for (name, file, code, _) in BUGS {
        let sound = fs::read_to_string(root.join(file)).unwrap_or_default();
        assert_eq!(sound.matches(code).count(), 1, "{name}: {file} holds the code once");
    }
}

#[test]
#[ignore = "builds the crate once for each bug"]
fn every_planted_bug_is_caught() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let target = std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| root.join("target"), PathBuf::from);
    // A fixed place, so that a second run builds into the same files.
    let tree = target.join("planted-tree");
    let _ = fs::remove_dir_all(&tree);
    for part in ["Cargo.toml", "Cargo.lock", "src", "prompts", "tests", "models/link.rs"] {
        let to = tree.join(part);
        fs::create_dir_all(to.parent().unwrap()).unwrap();
        copy(&root.join(part), &to);
    }
    std::os::unix::fs::symlink(root.join("models/fetched"), tree.join("models/fetched")).unwrap();
    let mut caught = vec![];
    for (name, file, code, bug) in BUGS {
        let path = tree.join(file);
        let sound = fs::read_to_string(&path).unwrap();
        assert_eq!(sound.matches(code).count(), 1, "{name}: {file} holds the code once");
        let planted = sound.replace(code, bug);
        fs::write(&path, planted).unwrap();
        let output = Command::new("cargo")
            .args([
                "test",
                "--release",
                "--offline",
                "--locked",
                "--test",
                "simulation",
                "--",
                "--nocapture",
                "every_seed",
            ])
            .current_dir(&tree)
            .env("CARGO_TARGET_DIR", &target)
            .env("SEEDS", "300")
            .env_remove("SEED")
            .output()
            .unwrap();
        fs::write(&path, sound).unwrap();
        let told = String::from_utf8_lossy(&output.stdout).into_owned();
        let built = told.contains("seeds in ");
        assert!(built, "{name}: {}", String::from_utf8_lossy(&output.stderr));
        let broke = told.lines().find_map(|l| l.strip_prefix("figure|")).unwrap_or("").to_string();
        println!("{name}: {}", broke.split('|').nth(1).unwrap_or("?"));
        caught.push(!output.status.success());
    }
    let count = caught.iter().filter(|c| **c).count();
    crate::figure(
        "planted bugs that the simulation catches",
        format!("{count} of {}", BUGS.len()),
        "all",
        count == BUGS.len(),
    );
}
