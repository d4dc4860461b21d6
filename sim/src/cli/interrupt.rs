//! Ctrl-C as a flag that long runs look at: what is finished gets written.

use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use anyhow::Context as _;

/// The status of a program that Ctrl-C ended, as shells have it: 128 and the signal's number.
const INTERRUPTED: u8 = 130;

/// The status of a run: success, unless it was cut short.
pub(super) fn status(flag: &AtomicBool) -> ExitCode {
    if flag.load(Ordering::Relaxed) { ExitCode::from(INTERRUPTED) } else { ExitCode::SUCCESS }
}

/// A flag that Ctrl-C sets. A second Ctrl-C ends the program at once.
pub(super) fn flag() -> anyhow::Result<Arc<AtomicBool>> {
    let flag = Arc::new(AtomicBool::new(false));
    let asked = Arc::clone(&flag);
    ctrlc::set_handler(move || {
        if asked.swap(true, Ordering::Relaxed) {
            std::process::exit(INTERRUPTED.into());
        }
    })
    .context("cannot listen for Ctrl-C")?;
    Ok(flag)
}
