//! How the halves relate. They are shown as L and R, or as M and S, and never as A and B.

use crate::finding::Misleading;
use crate::finding::thresholds::{COPY, DEEPEST_DB, NOTHING_DB, POWER_SUM_DB};
use crate::level::EQUAL_POWER_SUM_DB;
use crate::settings::Halves;
use crate::words::{distance, fixed, signed};

pub(super) fn cancel(halves: Halves, gain_db: f64) -> String {
    let [a, b] = halves.letters();
    if gain_db == f64::NEG_INFINITY {
        return format!("{a} and {b} cancel completely: their sum is silent.");
    }
    format!(
        "{a} and {b} cancel: their sum gain is {} dB, where independent sounds have {} dB.",
        signed(gain_db + EQUAL_POWER_SUM_DB, 1),
        signed(EQUAL_POWER_SUM_DB, 1)
    )
}

pub(super) fn peaks_mislead(halves: Halves, misleading: &Misleading) -> String {
    let [a, b] = halves.letters();
    let (energy_db, peak_db) = (misleading.sum_gain_energy_db, misleading.sum_gain_peak_db);
    let [energy, peak] = [energy_db, peak_db].map(|db| signed(db + EQUAL_POWER_SUM_DB, 1));
    let gains = format!("{energy} dB by energy, but {peak} dB by peak");
    if let Some(copy) = late_copy([a, b], misleading) {
        return format!("{copy}: sum gain {gains}.");
    }
    let like = if energy_db.abs() < POWER_SUM_DB {
        "like independent sounds"
    } else {
        "more like independent sounds than identical ones"
    };
    format!("{a} and {b} add {like}: {gains}.")
}

/// That one half holds the other again, where that was found.
fn late_copy([a, b]: [&str; 2], misleading: &Misleading) -> Option<String> {
    let delay_ms = misleading.copy_delay_ms;
    if delay_ms.is_nan() {
        return None;
    }
    let (earlier, later) = if delay_ms > 0.0 { (a, b) } else { (b, a) };
    let late = format!("{} ms", fixed(delay_ms.abs(), 1));
    let inverted = if misleading.copy_inverted > 0.0 { "an inverted copy" } else { "a copy" };
    Some(if misleading.copy_correlation.abs() >= COPY {
        format!("{later} is {inverted} of {earlier}, {late} late")
    } else {
        format!("{later} holds some of {earlier} again, {late} late")
    })
}

pub(super) fn identical(
    halves: Halves,
    correlation: f64,
    level_difference_db: f64,
    sides_db: f64,
) -> String {
    let [a, b] = halves.letters();
    let is_mono = halves == Halves::LeftRight;
    let difference_db = level_difference_db.abs();
    if difference_db < NOTHING_DB {
        if sides_db == f64::NEG_INFINITY {
            let mono = if is_mono { ": the bus is mono" } else { "" };
            return format!("{a} and {b} are one signal{mono}.");
        }
        let mono = if is_mono { "mono" } else { "one signal" };
        return format!(
            "All but {mono}: what differs between {a} and {b} lies {} dB down.",
            fixed(-sides_db, 0)
        );
    }
    // For equal levels this is what the difference holds against the sum.
    let apart_db = 10.0 * ((1.0 - correlation * correlation) / 4.0).log10();
    let down = if apart_db > DEEPEST_DB {
        format!("{} dB", fixed(-apart_db, 0))
    } else {
        format!("more than {} dB", fixed(-DEEPEST_DB, 0))
    };
    format!(
        "{a} and {b} are all but one signal at levels {} apart: what else differs lies {down} down.",
        distance(difference_db)
    )
}
