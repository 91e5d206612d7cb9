//! Where things lie: what the program comes with, and what it can make again.
//!
//! A copy that is installed, or only unpacked, has its models and sections beside it or in `share/stepbell`; it keeps nothing there.
//! In a source tree they are what set-up fetched.

use crate::platform;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// What a copy of the program comes with.
struct Home {
    /// Ears, voice and what is kept of both.
    models: PathBuf,
    /// The shipped sections.
    prompts: PathBuf,
    /// Whether it is a copy for learners, not a source tree.
    installed: bool,
}

/// The folder of an installed copy's data, seen from the program's: in it, or in a `share` nearby. The last is the person's own.
fn shares() -> Vec<PathBuf> {
    let program = platform::program_folder();
    let near = program.iter().flat_map(|p| [p.clone(), p.join("../share/stepbell"), p.join("../../share/stepbell")]);
    near.chain(platform::own_folders().map(|(data, _)| data)).collect()
}

/// Look for it; what lies beside the program comes first, so that an unpacked copy uses its own parts wherever it is called.
fn found() -> Home {
    if let Some(share) =
        shares().into_iter().find(|share| share.join("models").is_dir() && share.join("prompts").is_dir())
    {
        let share = platform::resolved(&share).unwrap_or(share);
        return Home { models: share.join("models"), prompts: share.join("prompts"), installed: true };
    }
    // The source tree is the folder one stands in, or one that the program was built in.
    let program = platform::program_folder().unwrap_or_default();
    let tree = |part: &str| {
        let built = program.ancestors().map(|folder| folder.join(part)).find(|p| p.is_dir());
        Some(PathBuf::from(part)).filter(|here| here.is_dir()).or(built).unwrap_or_else(|| PathBuf::from(part))
    };
    Home { models: tree("models/fetched"), prompts: tree("prompts"), installed: false }
}

/// The ears and the voice: `$STEPBELL_MODELS`, or what this copy comes with.
pub fn models() -> PathBuf {
    std::env::var_os("STEPBELL_MODELS").map(PathBuf::from).unwrap_or_else(|| home().models.clone())
}

/// The shipped sections.
pub fn prompts() -> PathBuf {
    home().prompts.clone()
}

/// What can be made again: spoken announcements, and which models were tried. An installed copy keeps it where the system wants it.
pub fn cache() -> PathBuf {
    let own = || platform::own_folders().filter(|_| home().installed).map(|(_, cache)| cache);
    if std::env::var_os("STEPBELL_MODELS").is_some() { None } else { own() }.unwrap_or_else(|| models().join("cache"))
}

/// Whether one stands in the source tree that this program was built from, or one like it.
pub fn in_source_tree() -> bool {
    !home().installed && Path::new("models/setup.sh").is_file()
}

fn home() -> &'static Home {
    static HOME: OnceLock<Home> = OnceLock::new();
    HOME.get_or_init(found)
}

/// What to do where a part of the program is missing.
pub fn mend() -> String {
    let Home { models, installed, .. } = home();
    let folder = models.parent().unwrap_or(Path::new(".")).display();
    if *installed {
        return format!("unpack the download again, all of it: a part of {folder} is missing or damaged");
    }
    "run `bash models/setup.sh` in the source tree; of a download, unpack all, so that `models` lies beside the program"
        .into()
}
