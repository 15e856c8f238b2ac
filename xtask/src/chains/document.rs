//! The table in the documents.

use std::fs;

use anyhow::{Context, Result};
use ledgerline_tests::tables::END;

use crate::workspace::Workspace;

/// The document, from the workspace's root.
const DOCUMENT: &str = "docs/chains.md";
/// What stands before the table.
const BEGINNING: &str = "<!-- answers -->";

/// Puts a table into its place.
///
/// # Errors
///
/// When the document cannot be read or written, or has no place for it.
pub fn write(workspace: &Workspace, table: &str) -> Result<()> {
    let path = workspace.root.join(DOCUMENT);
    let text = fs::read_to_string(&path).with_context(|| format!("{DOCUMENT} cannot be read"))?;
    let missing = || format!("{DOCUMENT} has no place for the table");
    let (before, rest) = text.split_once(BEGINNING).with_context(missing)?;
    let (_, after) = rest.split_once(END).with_context(missing)?;
    fs::write(&path, format!("{before}{BEGINNING}\n{table}\n{END}{after}"))
        .with_context(|| format!("{DOCUMENT} cannot be written"))
}
