//! Why there can be no workbench, or no other board on it.
//!
//! Made by `bench` and by whoever starts the server; told by `cli` and, where it runs already, to the page.

use std::io;
use std::path::PathBuf;

use crate::feel::FeelError;

/// Why there can be no workbench.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WorkbenchError {
    /// The board file cannot be read.
    #[error("the board file `{}` cannot be read: {source}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// It is no legal board file.
    #[error("{}: {why}", path.display())]
    BoardFile {
        /// The file.
        path: PathBuf,
        /// Every fault.
        why: String,
    },
    /// What was tuned cannot ride on it.
    #[error("{}: what was tuned does not fit what it says now: {why}", path.display())]
    Tuned {
        /// The file.
        path: PathBuf,
        /// Every fault.
        why: String,
    },
    /// No such board can be.
    #[error("nothing can be felt on this board")]
    Feel(#[from] FeelError),
    /// A candidate that cannot be used cannot be put aside either.
    #[error("the candidate `{}` cannot be used and cannot be put aside: {source}", path.display())]
    Aside {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The port is somebody else's.
    #[error("port {port} cannot be had: {source}; name another one with --port, or none")]
    Port {
        /// The port.
        port: u16,
        /// What the system said.
        source: io::Error,
    },
    /// The server cannot run.
    #[error("the server cannot run")]
    Serve(#[source] io::Error),
}
