//! Linux and macOS: modes and owners of files, links, the time asleep.

use rustix::fs::OFlags;
use rustix::time::{ClockId, clock_gettime};
use std::fs::{DirBuilder, File, FileType, Metadata, OpenOptions};
use std::io;
use std::os::unix::fs::{DirBuilderExt, FileTypeExt, MetadataExt, OpenOptionsExt};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// A file made so is its owner's alone; a link is not followed, and a pipe not waited for.
pub(super) fn to_write(options: &mut OpenOptions) {
    options.mode(0o600).custom_flags((OFlags::NOFOLLOW | OFlags::NONBLOCK).bits() as i32);
}

/// Opened so, a pipe isn't waited for.
pub(super) fn to_read(options: &mut OpenOptions) {
    options.custom_flags(OFlags::NONBLOCK.bits() as i32);
}

/// A folder made so is its owner's alone.
pub(super) fn private(folder: &mut DirBuilder) {
    folder.mode(0o700);
}

/// Whether this user alone owns what is known of a folder and can write in it.
pub(super) fn is_own(about: &Metadata) -> bool {
    about.uid() == rustix::process::geteuid().as_raw() && !others_can_write(about)
}

/// Whether others than its owner can write in a folder.
pub(super) fn others_can_write(about: &Metadata) -> bool {
    about.mode() & 0o022 != 0
}

/// What lies there, that is neither file nor folder nor link.
pub(super) fn special(kind: FileType) -> &'static str {
    match () {
        () if kind.is_fifo() => "a pipe",
        () if kind.is_socket() => "a socket",
        () => "a device",
    }
}

/// Whether a name alone means a device: here it never does.
pub(super) fn is_device_name(_: &Path) -> bool {
    false
}

/// Bring the names in a folder to disk.
pub(super) fn sync_folder(folder: &Path) -> io::Result<()> {
    File::open(folder)?.sync_all()
}

/// Make `name` stand for `original`, a file or a folder.
pub(super) fn link(original: &Path, name: &Path) -> io::Result<()> {
    std::os::unix::fs::symlink(original, name)
}

/// How long a clock says that it has run.
fn since(clock: ClockId) -> Duration {
    let at = clock_gettime(clock);
    Duration::new(at.tv_sec.unsigned_abs(), at.tv_nsec.unsigned_abs() as u32)
}

/// How long the computer has slept since it was started: one clock counts sleep, the other doesn't.
#[cfg(target_os = "linux")]
pub(super) fn asleep() -> Duration {
    since(ClockId::Boottime).saturating_sub(since(ClockId::Monotonic))
}

/// How long the computer has slept since this was first asked. Here the monotonic clock counts sleep, and `Instant` doesn't.
#[cfg(not(target_os = "linux"))]
pub(super) fn asleep() -> Duration {
    use std::sync::LazyLock;
    use std::time::Instant;
    static BEGUN: LazyLock<(Duration, Instant)> = LazyLock::new(|| (since(ClockId::Monotonic), Instant::now()));
    let (counting, awake) = *BEGUN;
    since(ClockId::Monotonic).saturating_sub(counting).saturating_sub(awake.elapsed())
}

/// A path without links and detours.
pub(super) fn resolved(path: &Path) -> io::Result<PathBuf> {
    std::fs::canonicalize(path)
}

/// Folders of the person for this program, under those that the system names for data and for what can be made again.
pub(super) fn folder_of(data: PathBuf, cache: PathBuf) -> (PathBuf, PathBuf) {
    (data.join("stepbell"), cache.join("stepbell"))
}

/// Keep what ALSA has to say on this thread from the terminal. It writes what it tried there, past the place that prints; the person
/// needs what came of it.
#[cfg(target_os = "linux")]
pub(super) fn quiet() {
    // It goes to a buffer that the next call replaces. Where there is no memory for one, the lines are seen.
    let _ = alsa::Output::local_error_handler();
}

/// Nothing writes to the terminal here.
#[cfg(not(target_os = "linux"))]
pub(super) fn quiet() {}

/// Terminals here know colours.
pub(super) fn colours() {}

/// Begin the program anew, with the OpenBLAS in libvosk told which kernels fit: it doesn't know processors younger than itself, and
/// takes the slowest for them. It looks while the program is loaded, so nothing less helps. The same kernels everywhere also make the same sums.
/// Gives back where nothing is to be told, or it can't be done.
#[cfg(all(target_arch = "x86_64", not(target_os = "macos")))]
pub(super) fn begin_anew_with_fast_sums() {
    use std::os::unix::process::CommandExt;
    const KERNELS: &str = "OPENBLAS_CORETYPE";
    let fits = std::arch::is_x86_feature_detected!("avx2") && std::arch::is_x86_feature_detected!("fma");
    if !fits || std::env::var_os(KERNELS).is_some() {
        return;
    }
    let mut given = std::env::args_os();
    if let (Ok(program), Some(name)) = (std::env::current_exe(), given.next()) {
        let _ = std::process::Command::new(program).arg0(name).args(given).env(KERNELS, "Haswell").exec();
    }
}

#[cfg(not(all(target_arch = "x86_64", not(target_os = "macos"))))]
pub(super) fn begin_anew_with_fast_sums() {}
