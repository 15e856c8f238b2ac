//! Frequencies.

use super::count::count;
use super::number::fixed;

/// A frequency in the unit that it is spoken of in. A whole number of hertz was chosen, and is
/// written out (`20 Hz`, `16 kHz`, `22.05 kHz`); what was measured is rounded to a tenth of its unit
/// (`12.5 Hz`, `31.3 kHz`).
#[must_use]
pub fn frequency(hz: f64) -> String {
    let (number, unit) = if hz.abs() < 999.95 { (hz, "Hz") } else { (hz / 1e3, "kHz") };
    let is_whole = (hz - hz.round()).abs() < 1e-6;
    format!("{} {unit}", trimmed(&fixed(number, if is_whole { 3 } else { 1 })))
}

/// A number without the zeros at the end of its decimals.
fn trimmed(number: &str) -> &str {
    if number.contains('.') { number.trim_end_matches('0').trim_end_matches('.') } else { number }
}

/// A number of hertz in a column of them: tenths below 100 Hz, thousands set apart: `12.0`, `440`,
/// `31 000`.
#[must_use]
pub fn hertz(hz: f64) -> String {
    if hz < 99.95 { fixed(hz, 1) } else { count(Some(hz.round() as u64)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_chosen_is_exact_and_what_was_measured_is_rounded() {
        for (hz, written) in [
            (20.0, "20 Hz"),
            (12.5, "12.5 Hz"),
            (11.97, "12 Hz"),
            (999.97, "1 kHz"),
            (16_000.0, "16 kHz"),
            (15_973.4, "16 kHz"),
            (31_268.3, "31.3 kHz"),
            (22_050.0, "22.05 kHz"),
            (11_025.0, "11.025 kHz"),
            (176_400.0, "176.4 kHz"),
            (100.0, "100 Hz"),
        ] {
            assert_eq!(frequency(hz), written, "{hz}");
        }
    }

    #[test]
    fn columns_of_hertz_have_one_unit() {
        assert_eq!([12.0, 440.2, 31_000.0].map(hertz), ["12.0", "440", "31\u{202f}000"]);
    }
}
