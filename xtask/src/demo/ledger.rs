//! The ledger as text: half A, half B, sum and bus, whole band beside audible band.

use std::fmt::Write;

use ledgerline_measure::reading::Levels;
use ledgerline_measure::{Level, Reading};

/// A column: heading, unit, and where its level is.
type Column = (&'static str, &'static str, fn(&Levels) -> Level);

const COLUMNS: [Column; 5] = [
    ("sample peak", "dBFS", |levels| levels.sample_peak_dbfs),
    ("true peak", "dBTP", |levels| levels.true_peak_dbtp),
    ("RMS", "dBFS", |levels| levels.rms_dbfs),
    ("crest", "dB", |levels| levels.crest_db),
    ("integrated", "LUFS", |levels| levels.integrated_lufs),
];

/// Width of a column, as wide as its longest heading.
const WIDTH: usize = 12;
/// Width of the rows' names.
const NAME_WIDTH: usize = 6;

/// The table.
#[must_use]
pub fn table(reading: &Reading) -> String {
    let rows = [
        ("A", &reading.whole.a, &reading.audible.a),
        ("B", &reading.whole.b, &reading.audible.b),
        ("sum", &reading.whole.sum, &reading.audible.sum),
        ("bus", &reading.whole.bus, &reading.audible.bus),
    ];
    let mut text = line("", &["whole band", "audible band"].map(band_title).concat());
    let cells = |cell: fn(&Column) -> String| {
        let band = COLUMNS.iter().map(cell).collect::<String>();
        format!("{band} |{band}")
    };
    text += &line("", &cells(|(heading, ..)| format!("{heading:>WIDTH$}")));
    text += &line("", &cells(|(_, unit, _)| format!("{unit:>WIDTH$}")));
    for (name, whole, audible) in rows {
        let band = |levels: &Levels| -> String {
            COLUMNS.iter().map(|(.., level)| format!("{:WIDTH$.2}", level(levels))).collect()
        };
        text += &line(name, &format!("{} |{}", band(whole), band(audible)));
    }
    text
}

fn band_title(title: &str) -> String {
    // The bar between the bands takes two characters.
    format!("{title:^width$}", width = WIDTH * COLUMNS.len() + 2)
}

fn line(name: &str, cells: &str) -> String {
    format!("{name:<NAME_WIDTH$}{cells}").trim_end().to_owned() + "\n"
}

/// Room, hidden content and limiter, a line each.
#[must_use]
pub fn room(reading: &Reading) -> String {
    let (room, hidden, limiter) = (&reading.room, &reading.hidden, &reading.limiter);
    let lines = [
        (format!("room below the ceiling of {} dB", room.ceiling_db), room.room_db, "dB"),
        ("true room".into(), room.true_room_db, "dB"),
        ("withheld for what nobody hears".into(), room.withheld_db, "dB"),
        ("lift to the target".into(), room.lift_db, "dB"),
        ("lift allowed".into(), room.lift_allowed_db, "dB"),
        ("hidden above the audible band".into(), hidden.above_dbfs, "dBFS"),
        ("hidden below the audible band".into(), hidden.below_dbfs, "dBFS"),
        ("gain reduction spent on hidden content".into(), limiter.hidden_db, "dB"),
    ];
    let mut text = String::new();
    for (name, level, unit) in lines {
        let _ = writeln!(text, "{name:<40}{level:>8.2} {unit}");
    }
    for tone in hidden.tones.as_slice() {
        let name = format!("hidden tone at {:.1} Hz", tone.hz);
        let _ = writeln!(text, "{name:<40}{:>8.2} dBFS", tone.dbfs);
    }
    text
}
