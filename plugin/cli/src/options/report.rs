//! What every task that writes a page takes.

use std::path::PathBuf;

use clap::Args;
use ledgerline_report::Made;

/// Options of a page.
#[derive(Debug, Clone, Args)]
pub struct ReportOptions {
    /// Write a report that any browser shows.
    #[arg(long = "report", value_name = "FILE.html")]
    pub path: Option<PathBuf>,
    /// Who made the report: a name that stands at its head.
    #[arg(long, value_name = "NAME", requires = "path")]
    pub by: Option<String>,
}

impl ReportOptions {
    /// How a page that is written now, by `command`, was made.
    #[must_use]
    pub fn made<'a>(&'a self, command: &'a str) -> Made<'a> {
        Made::now(self.by.as_deref(), Some(command))
    }
}
