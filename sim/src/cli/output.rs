//! What goes to standard output, and what must not be written over.

use std::io::{self, Write as _};
use std::path::Path;

use anyhow::Context as _;

/// Puts `text` on standard output. A reader that has had enough and gone is no error.
pub(super) fn show(text: &str) -> anyhow::Result<()> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        written => written.context("cannot write to standard output"),
    }
}

/// Refuses files to be written that are one and the same, or one of those that are read.
pub(super) fn distinct(inputs: &[&Path], outputs: &[&Path]) -> anyhow::Result<()> {
    let place = |path: &Path| path.canonicalize().unwrap_or_else(|_| path.to_path_buf());
    let is_file = |path: &&&Path| !path.exists() || path.is_file();
    let mut taken: Vec<_> = inputs.iter().map(|path| place(path)).collect();
    for path in outputs.iter().filter(is_file) {
        let place = place(path);
        anyhow::ensure!(
            !taken.contains(&place),
            "`{}` would be written over: name another file",
            path.display()
        );
        taken.push(place);
    }
    Ok(())
}
