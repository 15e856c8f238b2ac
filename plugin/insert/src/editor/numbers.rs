//! How finely numbers are written on the screen: one decimal for levels, whole per cents for shares,
//! counts in no more characters than a cell has.

use ledgerline_measure::{Level, words};

/// A level to a tenth: `−29.0`, `−∞`, `–`.
#[must_use]
pub fn level(level: Level) -> String {
    words::level(level, 1)
}

/// A difference to a tenth with its sign: `+7.6`, `−0.7`, `0.0`, `−∞`, `–`.
#[must_use]
pub fn difference(difference: Level) -> String {
    words::change(difference, 1)
}

/// A share of a whole: `62 %`, `0.4 %`, `< 0.1 %`, `–`.
#[must_use]
pub fn share(share: Option<f64>) -> String {
    words::share(share, 0)
}

/// A count in at most six characters: `0`, `1 204`, `12 M`, `–`.
#[must_use]
pub fn count(count: Option<u64>) -> String {
    match count {
        Some(n) if n < 100_000 => words::count(count),
        Some(n) if n < 1_000_000 => format!("{} k", n / 1_000),
        Some(n) if n < 1_000_000_000 => format!("{} M", n / 1_000_000),
        Some(n) => format!("{:.0e}", n as f64),
        None => words::NONE.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_fit_six_characters() {
        for n in [0, 999, 1_204, 99_999, 100_000, 999_999, 1_000_000, 999_949_999, u64::MAX] {
            let text = count(Some(n));
            assert!(text.chars().count() <= 6, "{n} is written {text}");
        }
        assert_eq!(count(Some(1_204)), "1\u{202f}204");
    }
}
