//! The whole ledger of one file for the terminal, no wider than 100 columns: the sentence first,
//! then what backs it.

use std::io::{Result, Write};

use ledgerline_measure::after_conversion::AfterConversion;
use ledgerline_measure::reading::{BandReading, Levels, Reading};
use ledgerline_measure::words::{self, Lift};
use ledgerline_measure::{Edges, Halves, HalvesRow, Level};

use super::Measurement;
use crate::colour::HEADING;
use crate::text::{self, Table};

/// A row of the ledger: name, unit, and where its level is.
type LevelRow = (&'static str, &'static str, fn(&Levels) -> Level);

const LEVELS: [LevelRow; 8] = [
    ("sample peak", "dBFS", |levels| levels.sample_peak_dbfs),
    ("true peak", "dBTP", |levels| levels.true_peak_dbtp),
    ("RMS", "dBFS", |levels| levels.rms_dbfs),
    ("crest", "dB", |levels| levels.crest_db),
    ("integrated loudness", "LUFS", |levels| levels.integrated_lufs),
    ("loudness range", "LU", |levels| levels.lra_lu),
    ("highest short-term", "LUFS", |levels| levels.short_term_lufs),
    ("highest momentary", "LUFS", |levels| levels.momentary_lufs),
];

/// A column: name, and which levels of a band.
type Signal = (&'static str, fn(&BandReading) -> &Levels);

pub(super) fn print(measurement: &Measurement, edges: Edges, out: &mut dyn Write) -> Result<()> {
    let reading = &measurement.reading;
    let file = &measurement.file;
    writeln!(out, "{HEADING}{}{HEADING:#}", file.path)?;
    writeln!(out, "{}\n", file.facts(&[]).line(file.duration_s))?;
    text::print_findings(reading.findings.as_slice(), out)?;
    writeln!(out)?;
    levels(measurement, edges, out)?;
    if reading.halves != Halves::Mono {
        halves(reading, out)?;
    }
    paragraph(reading.decorrelation_ms.sentence(), out)?;
    room(measurement, out)?;
    causes(reading, out)?;
    paragraph(reading.your_meter.map(|read| read.summary(reading)), out)?;
    paragraph(AfterConversion::of(reading, edges).map(|after| after.sentence()), out)?;
    hidden(measurement, out)
}

/// A sentence with a line before it, where there is one.
fn paragraph(sentence: Option<String>, out: &mut dyn Write) -> Result<()> {
    let Some(sentence) = sentence else { return Ok(()) };
    writeln!(out)?;
    text::print_paragraph(&sentence, out)
}

fn levels(measurement: &Measurement, edges: Edges, out: &mut dyn Write) -> Result<()> {
    let reading = &measurement.reading;
    let mono = reading.halves == Halves::Mono;
    let names = reading.halves.letters();
    let signals: &[Signal] = if mono {
        &[("bus", |band| &band.bus)]
    } else {
        &[
            (names[0], |band| &band.a),
            (names[1], |band| &band.b),
            ("sum", |band| &band.sum),
            ("bus", |band| &band.bus),
        ]
    };
    let mut table = Table::new();
    let bands = [("whole", &reading.whole), ("audible", &reading.audible)];
    let mut heading = vec![String::new(), String::new()];
    for (band, _) in bands {
        heading.extend(signals.iter().map(|(signal, _)| format!("{band}\n{signal}")));
    }
    table.heading(heading);
    let mut row = |name: &str, unit: &str, cell: &dyn Fn(&Levels) -> String| {
        let cells = bands.iter().flat_map(|(_, band)| signals.iter().map(|(_, of)| cell(of(band))));
        table.row([name.to_owned(), unit.to_owned()].into_iter().chain(cells));
    };
    for (name, unit, level) in LEVELS {
        row(name, unit, &|levels| words::level(level(levels), 2));
    }
    row("overs", "", &|levels| words::count(levels.overs));
    table.print(out)?;
    paragraph(text::flat_tops(&reading.damage), out)?;
    paragraph(reading.damage.sentence(), out)?;
    let halves = reading.halves;
    let sum = match halves {
        Halves::LeftRight => format!(" The sum is {} at unity gain.", halves.sum()),
        Halves::MainSidechain => {
            format!(" M is the main input, S the side-chain, the sum {}.", halves.sum())
        }
        Halves::Mono => String::new(),
    };
    let key = format!(
        "Whole band: 0 Hz to {}. Audible band: {} to {}.{sum}",
        words::frequency(reading.sample_rate_hz / 2.0),
        words::frequency(edges.low_hz()),
        words::frequency(edges.high_hz())
    );
    paragraph(Some(key), out)
}

fn halves(reading: &Reading, out: &mut dyn Write) -> Result<()> {
    let mut table = Table::new();
    table.heading(["halves", "", "whole", "audible"]);
    for row in HalvesRow::ALL {
        let [whole, audible] = [&reading.whole, &reading.audible].map(|band| row.write(band, 2));
        table.row([row.word(reading.halves), row.unit().to_owned(), whole, audible]);
    }
    writeln!(out)?;
    table.print(out)
}

fn room(measurement: &Measurement, out: &mut dyn Write) -> Result<()> {
    let (room, limiter) = (&measurement.reading.room, &measurement.reading.limiter);
    let lift_unit = room.lift_unit();
    let ceiling = words::fixed(room.ceiling_db, 1);
    let ceiling = format!("{} under the ceiling of {ceiling} dB", words::ROOM);
    let withheld = words::withheld(room.withheld_db, 2);
    let level = |level| words::level(level, 2);
    let mut table = Table::new();
    table.row([ceiling, "dB".to_owned(), level(room.room_db)]);
    for (name, unit, cell) in [
        (words::AUDIBLE_ROOM, "dB", level(room.true_room_db)),
        (withheld.word, "dB", withheld.number),
    ] {
        table.row([name.to_owned(), unit.to_owned(), cell]);
    }
    for (name, cell) in lifts(&measurement.reading) {
        table.row([name, lift_unit.to_owned(), cell]);
    }
    for (name, unit, cell) in [
        ("limiter at the ceiling, whole band", "dB", level(limiter.whole_db)),
        ("limiter at the ceiling, audible band", "dB", level(limiter.audible_db)),
    ] {
        table.row([name.to_owned(), unit.to_owned(), cell]);
    }
    writeln!(out)?;
    table.print(out)
}

/// How far the level can go: to the target where there is one, else to the ceiling.
fn lifts(reading: &Reading) -> Vec<(String, String)> {
    let room = &reading.room;
    let far = |lift, lift_db, whereto: String| {
        let (name, number) = words::lift(lift, lift_db, 2);
        (name.to_owned() + &whereto, number)
    };
    match room.target {
        Some(target) => vec![
            far(Lift::ToTarget, room.lift_db, format!(" of {}", target.words())),
            far(Lift::Now, reading.lift_now_db, String::new()),
            far(Lift::AfterFilters, room.lift_allowed_db, String::new()),
        ],
        None => vec![
            far(Lift::Now, reading.room_now_db(), ", to the ceiling".into()),
            far(Lift::AfterFilters, room.true_room_db, ", to the ceiling".into()),
        ],
    }
}

/// The account: what lies between the meter's room and the audible room.
fn causes(reading: &Reading, out: &mut dyn Write) -> Result<()> {
    let change = |db: f64| words::change(Level::from_db(db), 2);
    let mut table = Table::new();
    table.heading(["what takes or hides room", "", "price", "alone", "since"]);
    for cause in reading.causes.iter() {
        let since = cause.since_s().map_or_else(|| words::NONE.to_owned(), |s| words::moment(s, 1));
        let (price, alone) = (change(cause.price_db), change(cause.alone_db));
        table.row([cause.word(), "dB".to_owned(), price, alone, since]);
    }
    if reading.fold_down_dbtp.exists() {
        let level = words::level(reading.fold_down_dbtp, 2);
        let empty = String::new;
        table.row([words::FOLD_DOWN.to_owned(), "dBTP".to_owned(), level, empty(), empty()]);
    }
    writeln!(out)?;
    table.print(out)
}

fn hidden(measurement: &Measurement, out: &mut dyn Write) -> Result<()> {
    let hidden = &measurement.reading.hidden;
    let mut table = Table::new();
    table.heading(["hidden", "", "level", "of the energy"]);
    for (name, level, part) in [
        ("above the audible band", hidden.above_dbfs, hidden.above_share),
        ("below it", hidden.below_dbfs, hidden.below_share),
        ("DC", hidden.dc_dbfs, hidden.dc_share),
    ] {
        table.row([name.into(), "dBFS".into(), words::level(level, 2), words::share(part, 1)]);
    }
    for tone in hidden.tones.as_slice() {
        let name = format!("tone at {}", words::frequency(tone.hz));
        table.row([name, "dBFS".into(), words::level(tone.dbfs, 2), String::new()]);
    }
    writeln!(out)?;
    table.print(out)
}
