//! Readings of a meter as they are typed.

use ledgerline_measure::sum_test::{STEP_NAMES, STEPS, ShownReading, step_named};
use ledgerline_measure::words;

/// A reading: `same=-17.5`, `3=−17.5`, `inverted=-inf`.
pub(crate) fn reading(word: &str) -> Result<ShownReading, String> {
    let Some((step, db)) = word.split_once('=') else {
        return Err(format!("'{word}' is no reading: write same=-17.5, with a decimal point"));
    };
    let step = step.trim();
    let step = step_named(step).ok_or_else(|| {
        format!(
            "'{step}' is no step: write its number, 1 to {}, or its name: {}",
            STEPS.len(),
            words::list(&STEP_NAMES)
        )
    })?;
    // A true minus sign, as typesetting has it, is meant like a hyphen.
    let plain = db.trim().replace('\u{2212}', "-").replace('∞', "inf");
    let shown_db =
        plain.parse().map_err(|_| format!("'{db}' is not a number of decibels: write -17.5"))?;
    Ok(ShownReading { step, shown_db })
}
