//! The ledger as text: both halves, sum and bus, whole band beside audible band.

use std::fmt::Write;

use ledgerline_measure::reading::Levels;
use ledgerline_measure::words::{self, Lift};
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
    let [first, second] = reading.halves.letters();
    let rows = [
        (first, &reading.whole.a, &reading.audible.a),
        (second, &reading.whole.b, &reading.audible.b),
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
    let ceiling = words::fixed(room.ceiling_db, 1);
    let withheld = words::withheld(room.withheld_db, 2);
    let level = |level| words::level(level, 2);
    // The demo aims at no level.
    let (now, lift_now) = words::lift(Lift::Now, reading.room_now_db(), 2);
    let (after, lift_after) = words::lift(Lift::AfterFilters, room.true_room_db, 2);
    let lines = [
        (format!("{} under the ceiling of {ceiling} dB", words::ROOM), level(room.room_db), "dB"),
        (words::AUDIBLE_ROOM.into(), level(room.true_room_db), "dB"),
        (withheld.word.into(), withheld.number, "dB"),
        (now.into(), lift_now, "dB"),
        (after.into(), lift_after, "dB"),
        ("hidden above the audible band".into(), level(hidden.above_dbfs), "dBFS"),
        ("hidden below the audible band".into(), level(hidden.below_dbfs), "dBFS"),
        ("gain reduction spent on hidden content".into(), level(limiter.hidden_db), "dB"),
    ];
    let tones = hidden.tones.as_slice().iter().map(|tone| {
        (format!("hidden tone at {}", words::frequency(tone.hz)), level(tone.dbfs), "dBFS")
    });
    let mut text = String::new();
    for (name, number, unit) in lines.into_iter().chain(tones) {
        let _ = writeln!(text, "{name:<40}{number:>8} {unit}");
    }
    text
}
