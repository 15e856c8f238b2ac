//! The words of a cause.

use super::{Cause, CauseCode};
use crate::finding::thresholds::NOTHING_DB;
use crate::words::{distance, frequency, moment};

/// The cause as a row names it.
pub(super) fn word(cause: &Cause) -> String {
    let tone = cause.tone_hz.map(|hz| format!(", {} tone", frequency(hz))).unwrap_or_default();
    match cause.code {
        CauseCode::InterSample => "inter-sample peak".to_owned(),
        CauseCode::Above => format!("above {}{tone}", frequency(cause.edges.high_hz())),
        CauseCode::Below => format!("below {} and DC{tone}", frequency(cause.edges.low_hz())),
    }
}

/// The cause in plain words.
pub(super) fn of(cause: &Cause) -> String {
    let price_db = cause.price_db;
    if price_db.abs() < NOTHING_DB && cause.alone_db.abs() < NOTHING_DB {
        return format!("The {} costs no room.", noun(cause));
    }
    let since = cause.since_s().map(|s| format!(" since {}", moment(s, 0))).unwrap_or_default();
    let (noun, db) = (noun(cause), distance(price_db));
    let cost = if price_db >= NOTHING_DB {
        format!("The {noun} keeps {db} of room back{since}.")
    } else if price_db > -NOTHING_DB {
        format!("The {noun} costs no room.")
    } else if cause.code == CauseCode::InterSample {
        format!("The {noun} takes {db} of room that a sample-peak meter shows{since}.")
    } else {
        // What is filtered can peak higher than before: then the content itself takes nothing.
        format!("Without the {noun} there is {db} less room{since}.")
    };
    match cause.code {
        CauseCode::InterSample => cost,
        CauseCode::Above => format!("{cost} {}", alone("Low-pass", cause.alone_db)),
        CauseCode::Below => format!("{cost} {}", alone("High-pass", cause.alone_db)),
    }
}

fn noun(cause: &Cause) -> String {
    match cause.code {
        CauseCode::InterSample => "waveform between the samples".to_owned(),
        CauseCode::Above | CauseCode::Below => format!("content {}", word(cause)),
    }
}

/// What a filter alone would do to the true peak.
fn alone(filter: &str, alone_db: f64) -> String {
    if alone_db >= NOTHING_DB {
        format!("{filter} alone: the true peak falls by {}.", distance(alone_db))
    } else if alone_db > -NOTHING_DB {
        format!("{filter} alone: the true peak stays.")
    } else {
        format!("{filter} alone: the true peak rises by {}.", distance(alone_db))
    }
}
