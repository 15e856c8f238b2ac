//! The whole ledger of one file for the terminal, no wider than 100 columns: the sentence first,
//! then what backs it.

use std::io::{Result, Write};

use ledgerline_measure::reading::{BandReading, HalvesReading, Levels};
use ledgerline_measure::{Edges, Halves, Level, View};

use ledgerline_report::numbers;

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

/// A row about the halves.
type HalvesRow = (&'static str, &'static str, fn(&HalvesReading) -> Level);

const HALVES: [HalvesRow; 6] = [
    ("sum gain, energy", "dB", |halves| halves.sum_gain_energy_db),
    ("sum gain, peak", "dB", |halves| halves.sum_gain_peak_db),
    ("coherent sum", "dBFS", |halves| halves.coherent_dbfs),
    ("power sum", "dBFS", |halves| halves.power_dbfs),
    ("null", "dBFS", |halves| halves.null_dbfs),
    ("level, first less second half", "dB", |halves| halves.level_difference_db),
];

pub(super) fn print(
    measurement: &Measurement,
    edges: Edges,
    view: &View,
    out: &mut dyn Write,
) -> Result<()> {
    let reading = &measurement.reading;
    let file = &measurement.file;
    writeln!(out, "{HEADING}{}{HEADING:#}", file.path)?;
    writeln!(out, "{}\n", file.facts(&[]).line(file.duration_s))?;
    text::print_findings(reading.findings.as_slice(), out)?;
    writeln!(out)?;
    levels(measurement, edges, out)?;
    if reading.halves != Halves::Mono {
        halves(&reading.whole.halves, &reading.audible.halves, out)?;
    }
    room(measurement, view, out)?;
    hidden(measurement, out)
}

fn levels(measurement: &Measurement, edges: Edges, out: &mut dyn Write) -> Result<()> {
    let reading = &measurement.reading;
    let mono = reading.halves == Halves::Mono;
    let names = if reading.halves == Halves::MainSidechain { ["M", "S"] } else { ["L", "R"] };
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
        row(name, unit, &|levels| format!("{:.2}", level(levels)));
    }
    row("overs", "", &|levels| levels.overs.map_or("–".into(), |overs| overs.to_string()));
    table.print(out)?;
    if let Some(tops) = text::flat_tops(&reading.damage) {
        writeln!(out)?;
        text::print_paragraph(&tops, out)?;
    }
    let key = format!(
        "Whole band: 0 Hz to {}. Audible band: {} to {}.{}",
        numbers::chosen_frequency(reading.sample_rate_hz / 2.0),
        numbers::chosen_frequency(edges.low_hz()),
        numbers::chosen_frequency(edges.high_hz()),
        match reading.halves {
            Halves::LeftRight => " The sum is L + R at unity gain.",
            Halves::MainSidechain => " M is the main input, S the side-chain, the sum M + S.",
            Halves::Mono => "",
        }
    );
    writeln!(out)?;
    text::print_paragraph(&key, out)
}

fn halves(whole: &HalvesReading, audible: &HalvesReading, out: &mut dyn Write) -> Result<()> {
    let mut table = Table::new();
    table.heading(["halves", "", "whole", "audible"]);
    let correlation = |halves: &HalvesReading| numbers::correlation(halves.correlation);
    table.row(["correlation".into(), String::new(), correlation(whole), correlation(audible)]);
    for (name, unit, level) in HALVES {
        let cell = |halves| format!("{:.2}", level(halves));
        table.row([name.into(), unit.into(), cell(whole), cell(audible)]);
    }
    writeln!(out)?;
    table.print(out)
}

fn room(measurement: &Measurement, view: &View, out: &mut dyn Write) -> Result<()> {
    let (room, limiter) = (&measurement.reading.room, &measurement.reading.limiter);
    let target = numbers::target_unit(view.target.kind);
    let mut table = Table::new();
    let cell = |level: Level| format!("{level:.2}");
    let ceiling = format!("room under the ceiling of {:.1} dB", Level::from_db(room.ceiling_db));
    let lift = format!("lift to the target of {:.1} {target}", Level::from_db(view.target.value));
    for (name, level) in [
        (ceiling.as_str(), room.room_db),
        ("true room", room.true_room_db),
        ("withheld", room.withheld_db),
        (&lift, room.lift_db),
        ("lift allowed", room.lift_allowed_db),
        ("limiter at the ceiling, whole band", limiter.whole_db),
        ("limiter at the ceiling, audible band", limiter.audible_db),
    ] {
        table.row([name.to_owned(), "dB".to_owned(), cell(level)]);
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
        table.row([name.into(), "dBFS".into(), format!("{level:.2}"), numbers::share(part)]);
    }
    for tone in hidden.tones.as_slice() {
        let name = format!("tone at {}", numbers::frequency(tone.hz));
        table.row([name, "dBFS".into(), format!("{:.2}", tone.dbfs), String::new()]);
    }
    writeln!(out)?;
    table.print(out)
}
