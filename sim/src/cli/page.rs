//! `--report` of any command: the file, and what to say where it cannot be.

use std::path::Path;

use anyhow::Context as _;

use crate::report::html::{Report, ReportTarget};

/// The file of a report, where one is asked for.
pub(super) fn opened(path: Option<&Path>) -> anyhow::Result<Option<ReportTarget>> {
    let open = |path: &Path| {
        let file = ReportTarget::create(path);
        file.with_context(|| format!("cannot write the report `{}`", path.display()))
    };
    path.map(open).transpose()
}

/// Writes a report into its file.
pub(super) fn written(target: ReportTarget, report: &Report) -> anyhow::Result<()> {
    target.write(report).context("cannot write the report")
}
