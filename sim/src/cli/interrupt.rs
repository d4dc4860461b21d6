//! Ctrl-C as a flag that long runs look at: what is finished gets written.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use anyhow::Context as _;

/// A flag that Ctrl-C sets. A second Ctrl-C ends the program at once.
pub(super) fn flag() -> anyhow::Result<Arc<AtomicBool>> {
    let flag = Arc::new(AtomicBool::new(false));
    let asked = Arc::clone(&flag);
    ctrlc::set_handler(move || {
        if asked.swap(true, Ordering::Relaxed) {
            std::process::exit(130);
        }
    })
    .context("cannot listen for Ctrl-C")?;
    Ok(flag)
}
