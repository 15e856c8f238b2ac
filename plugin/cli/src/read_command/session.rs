//! Logs of the plugin: what an instance wrote while it ran, summed up. A log is known by its first
//! line, whatever its name.

mod clock;
mod entry;
mod findings;
mod gather;
mod lines;
mod moment;
mod overs;
mod record;
mod text;

use std::io::Read;

use anyhow::{Context, Result, bail};
use ledgerline_measure::words;
use ledgerline_report::session::InstanceLog;
use serde_json::Value;

use gather::Gather;
use lines::{Line, Lines};

pub(super) use record::SessionRecord;
pub(super) use text::print;

/// The first line of a log.
const LOG_SCHEMA: &str = "ledgerline.log/1";
/// A second.
const ROW_SCHEMA: &str = "ledgerline.row/1";
/// Everything at one moment.
const READING_SCHEMA: &str = "ledgerline.reading/1";
/// A reset was undone.
const UNDO_SCHEMA: &str = "ledgerline.undo/1";
/// An entry that has ended.
const ENTRY_SCHEMA: &str = "ledgerline.entry/1";

/// Whether bytes from the start of a file are those of a log, or of another record of ours.
pub(super) fn is_record(head: &[u8]) -> bool {
    let first = head.split(|byte| *byte == b'\n').next().unwrap_or_default();
    first.starts_with(b"{")
        && serde_json::from_slice(first).is_ok_and(|line| schema(&line).starts_with("ledgerline."))
}

fn schema(line: &Value) -> &str {
    line["schema"].as_str().unwrap_or_default()
}

/// Reads a log to its end. Lines that say nothing to this command are passed over, and a warning says
/// how many.
///
/// # Errors
///
/// When it cannot be read, is another record than a log, or holds no second of audio.
pub(super) fn read(source: impl Read, path: String) -> Result<InstanceLog> {
    let mut lines = Lines::new(source);
    let mut passed = PassedOver::default();
    let first = match lines.next().with_context(|| path.clone())? {
        Some(Line::Whole(line)) => line,
        _ => Value::Null,
    };
    if schema(&first) != LOG_SCHEMA {
        bail!(
            "{path} begins with the record {} and not with the first line of a log, {LOG_SCHEMA}: \
             name the log itself, whole",
            schema(&first)
        );
    }
    let mut gather = Gather::new(&first);
    while let Some(line) = lines.next().with_context(|| path.clone())? {
        let is_taken = match &line {
            Line::Damaged => false,
            Line::Torn => {
                passed.torn = true;
                continue;
            }
            Line::Whole(line) => match schema(line) {
                ROW_SCHEMA => gather.row(line),
                READING_SCHEMA => gather.reading(line),
                ENTRY_SCHEMA => gather.entry(line),
                UNDO_SCHEMA => gather.undo(line),
                LOG_SCHEMA => {
                    passed.second_log = true;
                    break;
                }
                _ => {
                    passed.unknown += 1;
                    continue;
                }
            },
        };
        passed.damaged += u64::from(!is_taken);
    }
    let Some(mut log) = gather.finish(path.clone()) else {
        bail!("{path} is a log that holds no second of audio");
    };
    log.warnings.splice(0..0, passed.warnings());
    Ok(log)
}

/// Lines that were passed over.
#[derive(Default)]
struct PassedOver {
    damaged: u64,
    unknown: u64,
    torn: bool,
    second_log: bool,
}

impl PassedOver {
    fn warnings(&self) -> Vec<String> {
        let lines = |count: u64| {
            let were = if count == 1 { "was" } else { "were" };
            format!("{} {were} passed over", words::counted(count, "line", "lines"))
        };
        let mut warnings = Vec::new();
        if self.damaged > 0 {
            warnings.push(format!("{}: damaged.", lines(self.damaged)));
        }
        if self.unknown > 0 {
            warnings.push(format!("{}: of a kind that is not known here.", lines(self.unknown)));
        }
        if self.torn {
            warnings.push(
                "The last line is not whole and was passed over: the log is still being written, \
                 or broke off."
                    .to_owned(),
            );
        }
        if self.second_log {
            warnings.push(
                "A second log begins within it; that and what follows was passed over. Name each \
                 log by itself."
                    .to_owned(),
            );
        }
        warnings
    }
}

/// The words under a key, without what a terminal would act on; empty where there are none.
fn text(of: &Value) -> String {
    let text = of.as_str().unwrap_or_default();
    text.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect()
}

/// The number under a key where it is finite.
fn number(of: &Value) -> Option<f64> {
    of.as_f64().filter(|number| number.is_finite())
}
