//! `devices`: the microphones and loudspeakers that `--device` can name.

use super::Failure;
use crate::audio;
use crate::terminal::{outln, table};

/// List them.
pub fn run() -> Result<(), Failure> {
    let devices = audio::devices();
    if devices.is_empty() {
        let next = "plug one in, and see that the sound server runs; `--mic` takes a recording instead";
        return Err(Failure::device("no microphone and no loudspeaker was found", next));
    }
    let side = |what: &str, usual: Option<bool>| match usual {
        None => String::new(),
        Some(true) => format!("{what} (usual)"),
        Some(false) => what.into(),
    };
    let row = |d: &audio::Listed| {
        [side("microphone", d.microphone), side("loudspeaker", d.loudspeaker), d.name.clone()].to_vec()
    };
    outln!("{}", table(&devices.iter().map(row).collect::<Vec<_>>()));
    outln!("\nUse one by its name or a part of it, as --device or as device in `stepbell settings`.");
    Ok(())
}
