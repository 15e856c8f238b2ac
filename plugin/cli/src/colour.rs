//! Colours for a terminal. What prints them strips them where the output is none, or where
//! `NO_COLOR` is set; no state is told by colour alone.

use anstyle::{AnsiColor, Style};
use ledgerline_measure::verdict::Severity;

/// Something could not be done.
pub(crate) const ERROR: Style = AnsiColor::Red.on_default().bold();
/// Something deserves attention.
pub(crate) const CAUTION: Style = AnsiColor::Yellow.on_default().bold();
/// Headings.
pub(crate) const HEADING: Style = Style::new().bold();

/// The style of a severity's word.
pub(crate) fn of(severity: Severity) -> Style {
    match severity {
        Severity::Clear => AnsiColor::Green.on_default(),
        Severity::Note => AnsiColor::Cyan.on_default(),
        Severity::Caution => CAUTION,
        Severity::Fault => ERROR,
    }
}
