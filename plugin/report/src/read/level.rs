//! How far the level can go: as the mix stands, and once what is hidden is filtered away. No number
//! here is unsafe to follow: where there is nothing left it says by how much to turn down.

use ledgerline_measure::reading::Levels;
use ledgerline_measure::{Level, words};
use maud::{Markup, html};

use super::ReadPage;
use crate::{numbers, page};

/// A large number.
struct Tile {
    class: &'static str,
    name: String,
    number: String,
    unit: &'static str,
    of: String,
}

/// Now, and after filters.
pub(super) fn tiles(file: &ReadPage) -> Markup {
    let reading = file.reading;
    let room = &reading.room;
    let now = over(file).unwrap_or_else(|| {
        tile(file, "now", reading.lift_now_db, &reading.whole.bus, "of the whole band")
    });
    let filtered =
        tile(file, "after filters", room.lift_allowed_db, &reading.audible.bus, "that is audible");
    html! {
        dl.tiles {
            @for tile in [now, filtered] {
                div class=(tile.class) {
                    dt { (tile.name) }
                    dd {
                        (tile.number) " " span.unit { (tile.unit) }
                        span.of { (page::kept_together(&tile.of)) }
                    }
                }
            }
        }
    }
}

/// What takes the place of the lift where full scale is reached.
fn over(file: &ReadPage) -> Option<Tile> {
    let reading = file.reading;
    let overs = reading.whole.bus.overs.filter(|overs| *overs > 0)?;
    let peak = words::spoken(reading.whole.bus.true_peak_dbtp, "dBTP");
    let times = words::counted(overs, "over", "overs");
    let first = first_over_s(file).map(|s| format!(", first at {}", numbers::moment(s)));
    // Who follows the number comes out under the ceiling.
    let down_db = -reading.room_now_db().finite()?;
    Some(Tile {
        class: "is-over",
        name: "Over: turn down by".into(),
        number: words::fixed(down_db.max(0.0), 1),
        unit: "dB",
        of: format!("{times}{}, up to {peak}", first.unwrap_or_default()),
    })
}

/// When the first over came: where all moments are kept, else in the course over time.
fn first_over_s(file: &ReadPage) -> Option<f64> {
    if let Some(first_s) = file.reading.first_over_s() {
        return Some(first_s);
    }
    let kept = file.reading.windows.over_times_s;
    let kept = kept.as_slice();
    // A row ends its tenth of a second.
    let is_over = |level: Level| level.finite().is_some_and(|db| db >= 0.0);
    let first = file.history.iter().find(|row| is_over(row.whole.sample_peak_dbfs))?;
    Some((first.time_s - 0.1).max(0.0)).filter(|s| kept.first().is_none_or(|oldest| s <= oldest))
}

/// How far the level may go, `lift_db` where there is a target, and what limits it.
fn tile(file: &ReadPage, when: &str, lift_db: Level, bus: &Levels, whose: &str) -> Tile {
    let room = &file.reading.room;
    let ceiling = words::fixed(room.ceiling_db, 1);
    let left_db = Level::from_db(room.ceiling_db).minus(bus.true_peak_dbtp);
    // Without a target, or a level to hold against it, the ceiling alone tells.
    let (db, is_target) = match (lift_db.finite(), left_db.finite()) {
        (Some(lift), Some(left)) => (Some(lift), lift < left),
        (None, left) => (left, false),
        (Some(lift), None) => (Some(lift), true),
    };
    let target = room.target.map(|target| target.words()).unwrap_or_default();
    let peak = words::spoken(bus.true_peak_dbtp, "dBTP");
    let falls = db.is_some_and(|db| words::fixed(db, 1).starts_with('−'));
    let of = match (db, is_target, falls) {
        (None, ..) => "no signal to tell it from".into(),
        (_, true, false) => format!("to the target of {target}"),
        (_, true, true) => format!("to meet the target of {target}"),
        (_, false, false) => {
            format!("to the ceiling of {ceiling} dBTP, from the true peak {whose}, {peak}")
        }
        (_, false, true) => {
            format!("to stay under the ceiling of {ceiling} dBTP; the true peak {whose} is {peak}")
        }
    };
    let verb = if falls { "Turn down" } else { "Lift" };
    Tile {
        class: if when == "now" { "is-whole" } else { "is-audible" },
        name: match when {
            "now" => format!("{verb} now"),
            _ if falls => format!("{}: turn down", page::capital(when)),
            _ => page::capital(when),
        },
        number: db.map_or_else(|| words::NONE.into(), |db| words::fixed(db.abs(), 1)),
        unit: "dB",
        of,
    }
}
