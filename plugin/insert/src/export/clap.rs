//! The CLAP entry point, `clap_entry`, as the framework writes it.

// What the macro writes is the framework's to document.
#![allow(missing_docs, clippy::undocumented_unsafe_blocks)]

use crate::Ledgerline;

nice_plug::nice_export_clap!(Ledgerline);
