//! How finely numbers are written on a page: two decimals for levels, a tenth of a per cent for
//! shares, tenths or thousandths of a second for moments.

use ledgerline_measure::{Level, words};

/// A level to a hundredth: `−29.04`, `−∞`, `–`.
#[must_use]
pub fn level(level: Level) -> String {
    words::level(level, 2)
}

/// A difference to a hundredth with its sign: `+7.60`, `−0.71`, `0.00`, `−∞`, `–`.
#[must_use]
pub fn difference(difference: Level) -> String {
    words::change(difference, 2)
}

/// Room that is withheld, or missing.
#[must_use]
pub fn withheld(withheld_db: Level) -> words::Withheld {
    words::withheld(withheld_db, 2)
}

/// A share of a whole: `62.1 %`, `0.40 %`, `< 0.01 %`, `–`.
#[must_use]
pub fn share(share: Option<f64>) -> String {
    words::share(share, 1)
}

/// A moment on a clock: `0:07.3`, `59:07.0`, `5:59:59.9`.
#[must_use]
pub fn moment(seconds: f64) -> String {
    words::moment(seconds, 1)
}

/// A moment on a clock to a thousandth of a second: `0:07.312`, `5:59:59.999`.
#[must_use]
pub fn exact_moment(seconds: f64) -> String {
    words::moment(seconds, 3)
}
