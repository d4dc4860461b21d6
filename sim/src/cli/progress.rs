//! A bar on standard error while a file is read; nothing where nobody watches.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// A file that shows how far it has been read.
#[derive(Debug)]
pub(super) struct Watched {
    file: File,
    bar: ProgressBar,
}

impl Watched {
    /// Opens a file; a pipe has no length, so that its bar only counts.
    pub(super) fn open(path: &Path) -> io::Result<Self> {
        let file = File::open(path)?;
        let length = file.metadata().ok().filter(std::fs::Metadata::is_file).map(|data| data.len());
        // Hidden by itself where standard error is no terminal.
        let bar = ProgressBar::with_draw_target(length, ProgressDrawTarget::stderr_with_hz(10));
        if let Ok(style) =
            ProgressStyle::with_template("{wide_bar} {bytes} of {total_bytes}, {eta} left")
        {
            bar.set_style(style);
        }
        Ok(Self { file, bar })
    }
}

impl Read for Watched {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let count = self.file.read(into)?;
        self.bar.inc(u64::try_from(count).unwrap_or(0));
        Ok(count)
    }
}

impl Drop for Watched {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}

/// A bar that shows how far a ride has come.
#[derive(Debug)]
pub(super) struct Ridden {
    bar: ProgressBar,
}

impl Ridden {
    /// A bar of so many metres.
    pub(super) fn new(length_m: Option<f64>) -> Self {
        let target = ProgressDrawTarget::stderr_with_hz(10);
        let bar = ProgressBar::with_draw_target(length_m.map(whole), target);
        if let Ok(style) = ProgressStyle::with_template("{wide_bar} {pos} of {len} m, {eta} left") {
            bar.set_style(style);
        }
        Self { bar }
    }

    /// The board is so far from its start.
    pub(super) fn at(&self, distance_m: f64) {
        self.bar.set_position(whole(distance_m));
    }
}

impl Drop for Ridden {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "held to what a bar can show"
)]
fn whole(metres: f64) -> u64 {
    metres.clamp(0.0, 1e12) as u64
}

/// A bar that counts rides.
pub(super) fn rides(count: u64) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(Some(count), ProgressDrawTarget::stderr_with_hz(10));
    if let Ok(style) = ProgressStyle::with_template("{wide_bar} {pos} of {len} rides, {eta} left") {
        bar.set_style(style);
    }
    bar
}

/// A bar that counts settings that were tried.
pub(super) fn settings(count: u64) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(Some(count), ProgressDrawTarget::stderr_with_hz(10));
    if let Ok(style) =
        ProgressStyle::with_template("{wide_bar} {pos} of {len} settings, {eta} left")
    {
        bar.set_style(style);
    }
    bar
}
