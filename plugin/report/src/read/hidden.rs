//! Tables of hidden content, of how the halves add, and of the room.

use ledgerline_measure::after_conversion::AfterConversion;
use ledgerline_measure::{Halves, HalvesRow, Level, words};
use maud::{Markup, html};

use super::ReadPage;
use crate::wide::wide;
use crate::{numbers, page};

/// Room, lift, and what a limiter would do.
pub(super) fn room(file: &ReadPage) -> Markup {
    let reading = file.reading;
    let (room, limiter) = (&reading.room, &reading.limiter);
    let lift_unit = room.lift_unit();
    let level = |text: String, unit: &str| html! { (text) " " span.unit { (unit) } };
    let ceiling = level(words::fixed(room.ceiling_db, 1), "dBFS and dBTP");
    let target = room.target.map_or_else(
        || level("none".into(), ""),
        |target| {
            let unit = format!("{}, audible band", target.kind.unit());
            level(words::fixed(target.value, 1), &unit)
        },
    );
    let withheld = numbers::withheld(room.withheld_db);
    let rooms = [
        ("ceiling", ceiling),
        (words::ROOM, level(numbers::level(room.room_db), "dB")),
        (words::AUDIBLE_ROOM, level(numbers::level(room.true_room_db), "dB")),
        (withheld.word, level(withheld.number, "dB")),
        ("target", target),
        (words::LIFT, level(numbers::difference(room.lift_db), lift_unit)),
        (words::LIFT_NOW, level(numbers::difference(reading.lift_now_db), lift_unit)),
        (words::LIFT_ALLOWED, level(numbers::difference(room.lift_allowed_db), lift_unit)),
    ];
    let reductions = [
        ("on the whole band", level(numbers::level(limiter.whole_db), "dB")),
        ("on the audible band", level(numbers::level(limiter.audible_db), "dB")),
        ("spent on hidden content", level(numbers::level(limiter.hidden_db), "dB")),
    ];
    html! {
        h3 { "Room" }
        div.pair {
            (page::facts("Under the ceiling", &rooms))
            (page::facts("Most that a limiter at the ceiling takes down", &reductions))
        }
        (account(file))
        @if let Some(after) = AfterConversion::of(reading, file.settings.edges) {
            p { (page::kept_together(&after.sentence())) }
        }
    }
}

/// What lies between the meter's room and the audible room.
fn account(file: &ReadPage) -> Markup {
    let causes: Vec<_> = file.reading.causes.iter().collect();
    if causes.is_empty() {
        return html! {};
    }
    let change = |db: f64| numbers::difference(Level::from_db(db));
    let since = |s: Option<f64>| s.map_or_else(|| words::NONE.to_owned(), numbers::moment);
    let table = html! {
        table {
            caption { "What takes or hides room, in dB" }
            thead {
                tr {
                    th scope="col" { "cause" } th scope="col" { "price" }
                    th scope="col" { "alone" } th scope="col" { "since" }
                }
            }
            tbody {
                @for cause in &causes {
                    tr {
                        th scope="row" { (page::kept_together(&cause.word())) }
                        td { (change(cause.price_db)) } td { (change(cause.alone_db)) }
                        td { (since(cause.since_s())) }
                    }
                }
            }
        }
    };
    html! {
        (wide("What takes or hides room", &table))
        ul { @for cause in &causes { li { (page::kept_together(&cause.sentence())) } } }
    }
}

/// Shares of the energy, and tones.
pub(super) fn section(file: &ReadPage) -> Markup {
    let hidden = &file.reading.hidden;
    let edges = file.settings.edges;
    let (low, high) = (words::frequency(edges.low_hz()), words::frequency(edges.high_hz()));
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
                        tr { td { (words::hertz(tone.hz)) } td { (numbers::level(tone.dbfs)) } }
                    } }
                }
            }
        }
    }
}

/// How half A and half B add; nothing of a mono file.
pub(super) fn halves(file: &ReadPage) -> Markup {
    let reading = file.reading;
    let halves = reading.halves;
    if halves == Halves::Mono {
        return html! {};
    }
    let ([first, second], [left, right]) = (halves.letters(), halves.names());
    let unit =
        |row: HalvesRow| if row == HalvesRow::Correlation { "−1 to +1" } else { row.unit() };
    let table = html! {
        table {
            caption {
                "How " (first) " (" (left) ") and " (second) " (" (right) ") add. Sum gain is against \
                 one of two equal halves: +6.02 dB identical, +3.01 dB independent, −∞ cancelling; \
                 none where they differ by more than 10 dB."
            }
            thead { tr {
                th.words scope="col" { "What" }
                th.words scope="col" { "Unit" }
                th scope="col" { "Whole" }
                th scope="col" { "Audible" }
            } }
            tbody { @for row in HalvesRow::ALL {
                tr {
                    th scope="row" { (page::capital(&row.word(halves))) }
                    td.words.unit { (unit(row)) }
                    td.is-whole { (row.write(&reading.whole, 2)) }
                    td.is-audible { (row.write(&reading.audible, 2)) }
                }
            } }
        }
    };
    html! { h3 { "Halves" } (wide("Halves", &table)) }
}
