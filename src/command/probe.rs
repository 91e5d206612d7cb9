//! A model folder tried out in a process of its own: libvosk aborts, or worse, on some damaged files.

use super::Failure;
use crate::listen::{Model, identify};
use crate::platform::{self, Writing};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// A model that takes longer to load and to hear one second is broken, or no model for this.
const PATIENCE: Duration = Duration::from_secs(60);

/// Words that an English model knows.
const WORDS: [&str; 3] = ["the", "and", "time"];

/// The hidden verb: end well if the model works.
pub fn run(folder: &Path) -> Result<(), Failure> {
    let refused = |e| Failure::device(e, "");
    let model = Model::load(folder).map_err(refused)?;
    let known: Vec<&str> = WORDS.into_iter().filter(|w| model.knows(w)).collect();
    model.try_out(&known).map_err(refused)
}

/// Try a folder, unless this very model was tried before; gives which one it is.
pub fn tried(folder: &Path) -> Result<String, String> {
    let id = identify(folder).map_err(|e| e.to_string())?;
    let verdict = super::cache().join(format!("model-{id}.works"));
    if verdict.is_file() {
        return Ok(id);
    }
    let program =
        std::env::current_exe().map_err(|e| format!("this program can't be found to try the model with: {e}"))?;
    let mut child = Command::new(program)
        .arg("probe-model")
        .arg(folder)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .map_err(|e| format!("the model can't be tried out: {e}"))?;
    let begun = Instant::now();
    let status = loop {
        match child.try_wait().map_err(|e| e.to_string())? {
            Some(status) => break status,
            None if begun.elapsed() > PATIENCE => {
                let _ = child.kill();
                let _ = child.wait();
                return Err(format!(
                    "the model in {} took more than a minute over one second of sound",
                    folder.display()
                ));
            }
            None => std::thread::sleep(Duration::from_millis(5)),
        }
    };
    if !status.success() {
        return Err(format!(
            "the model in {} is damaged: the recogniser could not work with it ({status})",
            folder.display()
        ));
    }
    // Where this can't be written, the model is tried out every time.
    let _ = platform::folder(&super::cache()).and_then(|()| platform::create(&verdict, Writing::AtTheEnd));
    Ok(id)
}
