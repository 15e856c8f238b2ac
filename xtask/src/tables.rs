//! Writes the documents' tables that are made from the code.

use std::fs;

use anyhow::{Context, Result, anyhow};
use ledgerline_tests::tables::TABLES;

use crate::workspace::Workspace;

/// `cargo xtask tables`
///
/// # Errors
///
/// When a document cannot be read or written, or has no place for its table.
pub fn run() -> Result<()> {
    let workspace = Workspace::find()?;
    for table in TABLES {
        let path = workspace.root.join(table.document);
        let text = fs::read_to_string(&path)
            .with_context(|| format!("{} cannot be read", path.display()))?;
        let made = table.within(&text).map_err(|missing| anyhow!(missing))?;
        if made != text {
            fs::write(&path, made)
                .with_context(|| format!("{} cannot be written", path.display()))?;
            println!("{} is written anew", table.document);
        }
    }
    Ok(())
}
