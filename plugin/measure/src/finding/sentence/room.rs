//! What a meter shows of the room, and what the audible band leaves.

use crate::finding::Withheld;
use crate::finding::thresholds::{LEAST_FURTHER_SHARE, LEAST_LIFT_DB, LEAST_SHARE, NOTHING_DB};
use crate::words::{distance, frequency, list, share};

pub(super) fn clean(true_room_db: f64) -> String {
    let clean = "Meter and ear agree: nothing hidden counts.";
    match true_room_db {
        room if !room.is_finite() => clean.into(),
        room if room < NOTHING_DB => format!("{clean} No audible room is left."),
        room => format!("{clean} The audible room is {}.", distance(room)),
    }
}

pub(super) fn withheld(withheld: &Withheld) -> String {
    let (cause, cure) = hidden_cause(withheld);
    let then = match withheld.lift_allowed_db {
        lift if lift >= LEAST_LIFT_DB => format!(", then lift by up to {}", distance(lift)),
        _ => String::new(),
    };
    format!(
        "{}, but {}: {} are withheld for {cause}. {cure}, measure again{then}.",
        meter_shows(withheld.room_db),
        audible_room(withheld.true_room_db),
        distance(withheld.withheld_db)
    )
}

pub(super) fn overstated(withheld_db: f64, room_db: f64, true_room_db: f64) -> String {
    format!(
        "There is {} less room than your meter shows: the audible waveform rises above the largest \
         sample. {}; {}.",
        distance(withheld_db),
        meter_shows(room_db),
        audible_room(true_room_db)
    )
}

fn meter_shows(room_db: f64) -> String {
    if room_db >= NOTHING_DB {
        format!("Your meter shows {} of room", distance(room_db))
    } else if room_db > -NOTHING_DB {
        "Your meter shows no room".into()
    } else {
        format!("Your meter shows peaks {} above the ceiling", distance(room_db))
    }
}

fn audible_room(true_room_db: f64) -> String {
    if true_room_db >= NOTHING_DB {
        format!("the audible room is {}", distance(true_room_db))
    } else if true_room_db > -NOTHING_DB {
        "no audible room is left".into()
    } else {
        format!("the audible true peak lies {} above the ceiling", distance(true_room_db))
    }
}

/// What takes the room, strongest first, and what to do about it.
fn hidden_cause(withheld: &Withheld) -> (String, String) {
    let (low, high) = (frequency(withheld.low_edge_hz), frequency(withheld.high_edge_hz));
    let mut causes = [
        (withheld.above_share, format!("above {high}"), withheld.tone_above_hz),
        (withheld.below_share, format!("below {low}"), withheld.tone_below_hz),
        (withheld.dc_share, "DC".to_string(), f64::NAN),
    ];
    causes.sort_by(|x, y| y.0.total_cmp(&x.0));
    let named: Vec<_> = causes
        .iter()
        .zip([LEAST_SHARE, LEAST_FURTHER_SHARE, LEAST_FURTHER_SHARE])
        .filter(|((share, ..), least)| share >= least)
        .map(|(cause, _)| cause)
        .collect();
    let words: Vec<String> = named
        .iter()
        .enumerate()
        .map(|(index, (part, what, tone_hz))| {
            let of_what = if index == 0 { " of the energy" } else { "" };
            format!("{what} ({}{of_what}{})", share(Some(*part), 0), tone(*tone_hz))
        })
        .collect();
    if words.is_empty() {
        return ("peaks outside the audible band".into(), "Band-limit the bus".into());
    }
    let is_named = |part: &str| named.iter().any(|(_, what, _)| what.starts_with(part));
    // A high-pass takes DC as well.
    let cure = match (is_named("above"), is_named("below") || is_named("DC")) {
        (true, true) => "Low-pass and high-pass",
        (true, false) => "Low-pass",
        _ => "High-pass",
    };
    (format!("inaudible content, {}", list(&words)), cure.into())
}

fn tone(hz: f64) -> String {
    if hz.is_finite() { format!(", a tone at {}", frequency(hz)) } else { String::new() }
}
