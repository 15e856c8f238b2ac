//! The columns of the ledger: what each is called, in which unit it stands, and where it is found
//! in a reading.

use ledgerline_measure::reading::{Levels, WindowLevels};
use ledgerline_measure::{Level, RmsReference, RmsWindow, words};

use crate::editor::numbers;

/// What stands in a cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cell {
    /// A level or a ratio.
    Level(Level),
    /// A number of events.
    Count(Option<u64>),
}

impl Cell {
    /// The cell with its unit, as it is spoken.
    #[must_use]
    pub fn spoken(self, unit: &str) -> String {
        match self {
            Self::Level(level) => words::spoken(level, unit),
            Self::Count(None) => words::spoken(Level::NONE, unit),
            Self::Count(count) => words::count(count),
        }
    }

    /// The cell as it is written.
    #[must_use]
    pub fn text(self) -> String {
        match self {
            Self::Level(level) => numbers::level(level),
            Self::Count(count) => numbers::count(count),
        }
    }
}

/// Whole less audible, for one column.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// As it is written, with its sign.
    pub text: String,
    /// In decibels, where it has a finite number of them.
    pub db: Option<f64>,
}

/// Whole less audible.
#[must_use]
pub fn difference(whole: Cell, audible: Cell) -> Difference {
    match (whole, audible) {
        (Cell::Level(whole), Cell::Level(audible)) => {
            let level = whole.minus(audible);
            Difference { text: numbers::difference(level), db: level.finite() }
        }
        (Cell::Count(Some(whole)), Cell::Count(Some(audible))) => {
            let more = whole as i64 - audible as i64;
            Difference { text: words::signed_count(Some(more), numbers::count), db: None }
        }
        _ => Difference { text: words::NONE.into(), db: None },
    }
}

/// One column.
pub struct Column {
    /// Name in the heading.
    pub name: &'static str,
    /// Unit in the heading.
    pub unit: &'static str,
    /// What it is, for whoever points at the heading.
    pub explanation: &'static str,
    /// Where it is found.
    pub cell: fn(&Levels, &WindowLevels) -> Cell,
}

/// Columns of one kind under a common heading.
pub struct Group {
    /// The common heading.
    pub name: &'static str,
    /// Width of each of its columns against the others.
    pub weight: f32,
    /// The columns, left to right.
    pub columns: &'static [Column],
}

/// The RMS column, whose heading depends on what is chosen.
pub const RMS: &str = "RMS";

/// All columns, left to right.
pub const GROUPS: &[Group] = &[
    Group {
        name: "Peak",
        weight: 1.0,
        columns: &[
            Column {
                name: "Sample",
                unit: "dBFS",
                explanation: "Highest sample since reset",
                cell: |levels, _| Cell::Level(levels.sample_peak_dbfs),
            },
            Column {
                name: "True",
                unit: "dBTP",
                explanation: "Highest peak of the waveform between the samples since reset",
                cell: |levels, _| Cell::Level(levels.true_peak_dbtp),
            },
            Column {
                name: "Overs",
                unit: "count",
                explanation: "Runs of samples at or over full scale since reset",
                cell: |levels, _| Cell::Count(levels.overs),
            },
        ],
    },
    Group {
        name: "Energy",
        weight: 1.0,
        columns: &[
            Column {
                name: RMS,
                unit: "dBFS",
                explanation: "RMS over the window that the settings name",
                cell: |_, window| Cell::Level(window.rms_dbfs),
            },
            Column {
                name: "Crest",
                unit: "dB",
                explanation: "Highest sample over the RMS of the whole time since reset",
                cell: |levels, _| Cell::Level(levels.crest_db),
            },
        ],
    },
    Group {
        name: "Loudness",
        weight: 1.16,
        columns: &[
            Column {
                name: "Momentary",
                unit: "LUFS",
                explanation: "Momentary loudness: the latest 400 ms",
                cell: |levels, _| Cell::Level(levels.momentary_lufs),
            },
            Column {
                name: "Short-term",
                unit: "LUFS",
                explanation: "Short-term loudness: the latest 3 s",
                cell: |levels, _| Cell::Level(levels.short_term_lufs),
            },
            Column {
                name: "Integrated",
                unit: "LUFS",
                explanation: "Integrated loudness: since reset, gated",
                cell: |levels, _| Cell::Level(levels.integrated_lufs),
            },
            Column {
                name: "Range",
                unit: "LU",
                explanation: "Loudness range (LRA) since reset",
                cell: |levels, _| Cell::Level(levels.lra_lu),
            },
        ],
    },
];

/// Heading of the RMS column: its window, and what it refers to.
#[must_use]
pub fn rms_heading(window_s: Option<f64>, reference: RmsReference) -> (String, &'static str) {
    let name = window_s.map_or(format!("RMS {}", RmsWindow::SinceReset.short()), |seconds| {
        format!("RMS {} s", words::plain(seconds))
    });
    let unit = match reference {
        RmsReference::FullScaleSquare => "dBFS",
        RmsReference::FullScaleSine => "dBFS sine",
    };
    (name, unit)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_difference_with_nothing_does_not_exist() {
        let silent = Cell::Level(Level::SILENCE);
        assert_eq!(difference(Cell::Level(Level::from_db(-3.0)), silent).text, "–");
        assert_eq!(difference(Cell::Count(Some(3)), Cell::Count(None)).text, "–");
    }

    #[test]
    fn differences_keep_their_sign() {
        let (high, low) = (Cell::Level(Level::from_db(-0.3)), Cell::Level(Level::from_db(-7.9)));
        assert_eq!(difference(high, low).text, "+7.6");
        assert_eq!(difference(low, high).text, "−7.6");
        assert_eq!(difference(Cell::Count(Some(2)), Cell::Count(Some(14))).text, "−12");
    }
}
