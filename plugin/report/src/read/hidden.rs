//! Tables of what nobody hears, of how the halves add, and of the room.

use ledgerline_measure::Level;
use ledgerline_measure::reading::{BandReading, HalvesReading};
use maud::{Markup, html};

use super::{ReadPage, half_names};
use crate::wide::wide;
use crate::{numbers, page};

/// Room, lift, and what a limiter would do.
pub(super) fn room(file: &ReadPage) -> Markup {
    let reading = file.reading;
    let (room, limiter) = (&reading.room, &reading.limiter);
    let lift_unit = numbers::lift_unit(room.target.kind);
    let level = |text: String, unit: &str| html! { (text) " " span.unit { (unit) } };
    let ceiling = level(numbers::plain(room.ceiling_db, 1), "dBFS and dBTP");
    let target = level(
        numbers::plain(room.target.value, 1),
        &format!("{}, audible band", numbers::target_unit(room.target.kind)),
    );
    let rooms = [
        ("Ceiling", ceiling),
        ("Room (claimed)", level(numbers::level(room.room_db), "dB")),
        ("True room", level(numbers::level(room.true_room_db), "dB")),
        ("Withheld", level(numbers::difference(room.withheld_db), "dB")),
        ("Target", target),
        ("Lift to the target", level(numbers::difference(room.lift_db), lift_unit)),
        ("Lift allowed", level(numbers::difference(room.lift_allowed_db), lift_unit)),
    ];
    let reductions = [
        ("On the whole band", level(numbers::level(limiter.whole_db), "dB")),
        ("On the audible band", level(numbers::level(limiter.audible_db), "dB")),
        ("Spent on hidden content", level(numbers::level(limiter.hidden_db), "dB")),
    ];
    html! {
        h3 { "Room" }
        div.pair {
            (page::facts("Under the ceiling", &rooms))
            (page::facts("Most that a limiter at the ceiling takes down", &reductions))
        }
    }
}

/// Shares of the energy, and tones.
pub(super) fn section(file: &ReadPage) -> Markup {
    let hidden = &file.reading.hidden;
    let edges = file.settings.edges;
    let (low, high) =
        (numbers::chosen_frequency(edges.low_hz()), numbers::chosen_frequency(edges.high_hz()));
    let rows = [
        (format!("Above {high}"), hidden.above_dbfs, hidden.above_share),
        (format!("Below {low}"), hidden.below_dbfs, hidden.below_share),
        ("DC offset".to_owned(), hidden.dc_dbfs, hidden.dc_share),
        (
            format!("Audible, {low} to {high}"),
            file.reading.audible.bus.rms_dbfs,
            hidden.audible_share,
        ),
    ];
    let tones = hidden.tones.as_slice();
    let shares = html! {
            table {
                caption { "RMS level, and share of the energy of the whole band" }
                thead { tr {
                    th.words scope="col" { "Where" }
                    th scope="col" { "Level" span.unit { "dBFS" } }
                    th scope="col" { "Share" span.unit { "of energy" } }
                } }
                tbody { @for (name, level, share) in &rows {
                    tr {
                        th scope="row" { (name) }
                        td { (numbers::level(*level)) }
                        td { (numbers::share(*share)) }
                    }
                } }
            }
    };
    html! {
        h3 { "Hidden content" }
        div.pair {
            (wide("Hidden content", &shares))
            @if tones.is_empty() {
                p { "No steady tone stands out of the hidden content." }
            } @else {
                table {
                    caption { "Steady tones, strongest first" }
                    thead { tr {
                        th scope="col" { "Frequency" span.unit { "Hz" } }
                        th scope="col" { "Level" span.unit { "dBFS" } }
                    } }
                    tbody { @for tone in tones {
                        tr { td { (numbers::hertz(tone.hz)) } td { (numbers::level(tone.dbfs)) } }
                    } }
                }
            }
        }
    }
}

/// A row of the halves: its name, its unit, and how its number is found and written.
type Row = (&'static str, &'static str, fn(&BandReading) -> String);

const ROWS: [Row; 9] = [
    ("Sum gain by energy: sum over power sum", "dB", |band| {
        numbers::difference(band.halves.sum_gain_energy_db)
    }),
    ("Sum gain by peak", "dB", |band| numbers::difference(band.halves.sum_gain_peak_db)),
    ("Apart: peak less energy", "dB", |band| numbers::difference(apart(&band.halves))),
    ("Sum A + B", "dBFS", |band| numbers::level(band.sum.rms_dbfs)),
    ("Sum if A and B were identical", "dBFS", |band| numbers::level(band.halves.coherent_dbfs)),
    ("Sum if A and B were independent", "dBFS", |band| numbers::level(band.halves.power_dbfs)),
    ("Null A − B", "dBFS", |band| numbers::level(band.halves.null_dbfs)),
    ("A over B", "dB", |band| numbers::difference(band.halves.level_difference_db)),
    ("Correlation", "−1 to +1", |band| numbers::correlation(band.halves.correlation)),
];

fn apart(halves: &HalvesReading) -> Level {
    halves.sum_gain_peak_db.minus(halves.sum_gain_energy_db)
}

/// How half A and half B add; nothing of a mono file.
pub(super) fn halves(file: &ReadPage) -> Markup {
    let reading = file.reading;
    let Some((a, b)) = half_names(reading.halves) else { return html! {} };
    let table = html! {
        table {
            caption {
                "How A (" (a) ") and B (" (b) ") add. Sum gain is +3.01 dB for identical halves, \
                 0 dB for independent ones, −∞ where they cancel."
            }
            thead { tr {
                th.words scope="col" { "What" }
                th.words scope="col" { "Unit" }
                th scope="col" { "Whole" }
                th scope="col" { "Audible" }
            } }
            tbody { @for (name, unit, write) in ROWS {
                tr {
                    th scope="row" { (name) }
                    td.words.unit { (unit) }
                    td.is-whole { (write(&reading.whole)) }
                    td.is-audible { (write(&reading.audible)) }
                }
            } }
        }
    };
    html! { h3 { "Halves" } (wide("Halves", &table)) }
}
