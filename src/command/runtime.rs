//! What carries a run out, and the keyboard that ends it or leaves it as it stands.

use super::Failure;
use crate::driver::{Interrupt, Press};
use crate::journal::JournalError;
use crate::session::Session;
use std::path::Path;
use tokio::runtime::{Builder, Runtime};

/// Presses so close together end a run; one alone leaves it as it stands.
const TWICE: std::time::Duration = std::time::Duration::from_secs(2);

/// Carry a run out, to its end or to Ctrl-C. A run that was left as it stands, in the journal at `path`, is a failure: it isn't over.
pub fn carry_out<F>(path: &Path, run: impl FnOnce(Interrupt) -> F) -> Result<Session, Failure>
where
    F: Future<Output = Result<Session, JournalError>>,
{
    let session = attended(run)?.map_err(|e| {
        Failure::storage(e, "free some space, then `stepbell resume` goes on where it was; what was announced is kept")
    })?;
    if session.closed() {
        return Ok(session);
    }
    Err(Failure::left(
        format!("left as it stands, with the clock held: {}", path.display()),
        "`stepbell resume` and this name go on with it; with --close they end it with its recap",
    ))
}

/// Carry something out that is told what is asked for at the keyboard.
pub fn attended<F: Future>(run: impl FnOnce(Interrupt) -> F) -> Result<F::Output, Failure> {
    Ok(runtime()?.block_on(async {
        let (presses, interrupt) = tokio::sync::mpsc::unbounded_channel();
        tokio::spawn(keyboard(presses));
        run(interrupt).await
    }))
}

/// What Ctrl-C means. Without a handler for the key the program ends at once, and the journal holds the run all the same.
async fn keyboard(presses: tokio::sync::mpsc::UnboundedSender<Press>) {
    while tokio::signal::ctrl_c().await.is_ok() && presses.send(Press::Hold).is_ok() {
        let press = tokio::select! {
            Ok(()) = tokio::signal::ctrl_c() => Press::End,
            () = tokio::time::sleep(TWICE) => Press::Leave,
        };
        if presses.send(press).is_err() {
            return;
        }
    }
}

/// Let so much time go by; false where the person asked to end at the keyboard.
pub fn wait(time: std::time::Duration) -> Result<bool, Failure> {
    Ok(runtime()?.block_on(async {
        tokio::select! {
            () = tokio::time::sleep(time) => true,
            Ok(()) = tokio::signal::ctrl_c() => false,
        }
    }))
}

/// One thread: the ears have their own.
fn runtime() -> Result<Runtime, Failure> {
    let runtime = Builder::new_current_thread().enable_all().build();
    runtime.map_err(|e| Failure::device(e, "free some file handles and try again"))
}
