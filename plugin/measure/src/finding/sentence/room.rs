//! What a meter shows of the room, and what the audible band leaves.

use crate::finding::thresholds::{LEADING_SHARE, NOTHING_DB};
use crate::finding::{Taker, Withheld};
use crate::words::{distance, frequency, moment};

pub(super) fn clean(true_room_db: f64) -> String {
    let clean = "No hidden content matters.";
    match true_room_db {
        room if !room.is_finite() => clean.into(),
        room if room < NOTHING_DB => format!("{clean} No audible room is left."),
        room => format!("{clean} The audible room is {}.", distance(room)),
    }
}

pub(super) fn withheld(withheld: &Withheld) -> String {
    let (takers, since) = match withheld.takes() {
        [true, true] => {
            let takers = format!("{} and {}", above(withheld), lower_case(&below(withheld)));
            let since_s = withheld.above.since_s.min(withheld.below.since_s);
            (format!("{takers} take"), since_s)
        }
        [true, false] => {
            let tone = beside(&withheld.above, withheld.tone_above_hz);
            (format!("{}{tone} takes", above(withheld)), withheld.above.since_s)
        }
        [false, true] => {
            let tone = if is_dc(withheld) {
                String::new()
            } else {
                beside(&withheld.below, withheld.tone_below_hz)
            };
            (format!("{}{tone} takes", below(withheld)), withheld.below.since_s)
        }
        [false, false] => ("Hidden content takes".into(), f64::NAN),
    };
    let prices = [withheld.above, withheld.below].map(|taker| taker.price_db);
    let taken_db: f64 =
        prices.iter().zip(withheld.takes()).filter(|(_, takes)| *takes).map(|(db, _)| db).sum();
    let taken_db = if taken_db > 0.0 { taken_db } else { withheld.withheld_db };
    let since =
        if since.is_finite() { format!(" since {}", moment(since, 0)) } else { String::new() };
    format!("{takers} {} of room{since}.", distance(taken_db))
}

/// The highest true peak above the ceiling, of the whole or of the audible band: who turns down by so
/// much comes out below.
pub(super) fn above_the_ceiling(true_room_db: f64, room_now_db: f64) -> String {
    let (whose, room_db) = if true_room_db < room_now_db - NOTHING_DB {
        ("audible true peak", true_room_db)
    } else {
        ("true peak", true_room_db.min(room_now_db))
    };
    format!("The {whose} is {} above the ceiling", distance(room_db))
}

pub(super) fn overstated(
    withheld_db: f64,
    room_db: f64,
    true_room_db: f64,
    room_now_db: f64,
) -> String {
    if true_room_db > -NOTHING_DB {
        return format!(
            "There is {} less room than a sample-peak meter shows: {}, not {}.",
            distance(withheld_db),
            distance(true_room_db),
            distance(room_db)
        );
    }
    let above = above_the_ceiling(true_room_db, room_now_db);
    if room_db >= NOTHING_DB {
        format!("{above}, where a sample-peak meter shows {} of room.", distance(room_db))
    } else if room_db > -NOTHING_DB {
        format!("{above}, not at it, as a sample-peak meter shows.")
    } else {
        format!("{above}, not {}, as a sample-peak meter shows.", distance(room_db))
    }
}

fn above(withheld: &Withheld) -> String {
    if withheld.above.tone_share >= LEADING_SHARE {
        tone(withheld.tone_above_hz)
    } else {
        format!("Content above {}", frequency(withheld.high_edge_hz))
    }
}

fn below(withheld: &Withheld) -> String {
    if is_dc(withheld) {
        "A DC offset".into()
    } else if withheld.below.tone_share >= LEADING_SHARE {
        tone(withheld.tone_below_hz)
    } else {
        format!("Content below {}", frequency(withheld.low_edge_hz))
    }
}

fn is_dc(withheld: &Withheld) -> bool {
    withheld.dc_share > withheld.below_share
}

/// A tone that is not most of what lies on its side.
fn beside(taker: &Taker, tone_hz: f64) -> String {
    if taker.tone_share < LEADING_SHARE {
        format!(", with {},", lower_case(&tone(tone_hz)))
    } else {
        String::new()
    }
}

fn tone(hz: f64) -> String {
    let hz = frequency(hz);
    // As numbers are spoken: an eight, an eleven, an eighteen, but a hundred and ten.
    let [number, _] = hz.split_once(' ').map_or([hz.as_str(), ""], |(number, unit)| [number, unit]);
    let whole = number.split('.').next().unwrap_or_default();
    let article = if whole.starts_with('8') || ["11", "18"].contains(&whole) { "An" } else { "A" };
    format!("{article} {hz} tone")
}

/// In the middle of a sentence. Names of units and of DC stand further back.
fn lower_case(words: &str) -> String {
    let mut characters = words.chars();
    characters
        .next()
        .map(|first| first.to_lowercase().chain(characters).collect())
        .unwrap_or_default()
}
