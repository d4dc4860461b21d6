//! The workbench: a page on this machine for tuning a board by hand, and the server behind it.
//!
//! ```text
//! page ─► routes ─► bench ─► candidate (tuning) ─► kept: the candidate's file
//!           │         └────► feeling (feel): what the feet feel of both
//!           └─► stream ─► riding (world): the board, ridden in real time
//! ```
//!
//! `guard` lets pages of this server in and no others; the page itself is in `page/`, and `docs/workbench.md`
//! tells what it shows. No physics here. Started by `cli`.

mod allowed;
mod bench;
mod board_watch;
mod candidate;
mod error;
mod feeling;
mod files;
mod guard;
mod kept;
mod page_files;
mod riding;
mod routes;
mod stream;
mod wire;

pub use error::WorkbenchError;

use std::future::IntoFuture as _;
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use bench::Bench;

/// Tried first where no port is named: a page finds its server again at the same address. No source; not
/// registered for anything (IANA's list of service names, from memory).
const USUAL_PORT: u16 = 7351;

/// So many are tried before any that is free.
const PORTS_TRIED: u16 = 10;

/// Pages that do not go by themselves are left after so long.
const LEAVES_WITHIN: Duration = Duration::from_secs(2);

/// A workbench with its board and its port, ready to be served.
#[derive(Debug)]
pub struct Workbench {
    bench: Arc<Bench>,
    listener: TcpListener,
    port: u16,
}

impl Workbench {
    /// Opens the board file, the candidate that was kept for it, and the port; any free one where none is
    /// named.
    ///
    /// # Errors
    /// [`WorkbenchError`]: the board file, a candidate that cannot even be put aside, a port that is taken.
    pub fn open(board: &Path, port: Option<u16>) -> Result<Self, WorkbenchError> {
        let listener = listener(port)?;
        let bench = Arc::new(Bench::open(board)?);
        let port = listener.local_addr().map_err(WorkbenchError::Serve)?.port();
        Ok(Self { bench, listener, port })
    }

    /// Where the page is.
    #[must_use]
    pub fn url(&self) -> String {
        format!("http://127.0.0.1:{}/", self.port)
    }

    /// Where the candidate is kept.
    #[must_use]
    pub fn candidate_path(&self) -> PathBuf {
        self.bench.candidate_path()
    }

    /// What was found at the start and cannot be used, in words.
    #[must_use]
    pub fn set_aside(&self) -> Option<&str> {
        self.bench.aside()
    }

    /// Serves until Ctrl-C, then tells the pages and ends.
    ///
    /// # Errors
    /// [`WorkbenchError::Serve`].
    pub fn serve(self) -> Result<(), WorkbenchError> {
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .enable_all()
            .build()
            .map_err(WorkbenchError::Serve)?;
        let served = runtime.block_on(serve(self.bench, self.listener, self.port));
        // An answer that is still being worked out is wanted by nobody.
        runtime.shutdown_timeout(Duration::from_millis(100));
        served.map_err(WorkbenchError::Serve)
    }
}

async fn serve(bench: Arc<Bench>, listener: TcpListener, port: u16) -> std::io::Result<()> {
    listener.set_nonblocking(true)?;
    let listener = tokio::net::TcpListener::from_std(listener)?;
    let watcher = tokio::spawn(Arc::clone(&bench).watch());
    let server = axum::serve(listener, routes::routes(Arc::clone(&bench), port))
        .with_graceful_shutdown(bench.stopped());
    let mut server = tokio::spawn(server.into_future());
    tokio::select! {
        ended = &mut server => return ended.map_err(std::io::Error::other)?,
        asked = tokio::signal::ctrl_c() => asked?,
    }
    bench.stop();
    // Pages hold connections open; those that stay are cut.
    if tokio::time::timeout(LEAVES_WITHIN, &mut server).await.is_err() {
        server.abort();
    }
    watcher.abort();
    Ok(())
}

fn listener(port: Option<u16>) -> Result<TcpListener, WorkbenchError> {
    let bind = |port| TcpListener::bind(SocketAddr::from((Ipv4Addr::LOCALHOST, port)));
    if let Some(port) = port {
        return bind(port).map_err(|source| WorkbenchError::Port { port, source });
    }
    let tried = (USUAL_PORT..USUAL_PORT + PORTS_TRIED).chain([0]);
    let mut bound = tried.map(|port| bind(port).map_err(WorkbenchError::Serve));
    bound.find(Result::is_ok).unwrap_or_else(|| bind(0).map_err(WorkbenchError::Serve))
}
