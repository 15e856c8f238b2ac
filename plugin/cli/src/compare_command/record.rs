//! The record of a comparison: one line of JSON.

use ledgerline_measure::compare::Comparison;
use serde::Serialize;

use super::Compared;
use crate::read_command::FileRecord;

/// Which files, what is wrong with them, and what was found.
#[derive(Debug, Serialize)]
pub(super) struct CompareRecord<'a> {
    #[serde(flatten)]
    comparison: &'a Comparison,
    version: &'static str,
    files: Files<'a>,
    warnings: Warnings<'a>,
}

#[derive(Debug, Serialize)]
struct Files<'a> {
    mix: &'a FileRecord,
    export: &'a FileRecord,
}

#[derive(Debug, Serialize)]
struct Warnings<'a> {
    mix: &'a [String],
    export: &'a [String],
}

impl<'a> CompareRecord<'a> {
    pub(super) fn new(compared: &'a Compared) -> Self {
        let [mix, export] = &compared.files;
        Self {
            comparison: &compared.comparison,
            version: env!("CARGO_PKG_VERSION"),
            files: Files { mix, export },
            warnings: Warnings { mix: &compared.warnings[0], export: &compared.warnings[1] },
        }
    }
}
