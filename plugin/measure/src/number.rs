//! How every number is written in a sentence: so many decimals, a true minus sign (U+2212), no sign
//! on what rounds to zero, and a defined text for silence (`−∞`) and for what does not exist (`–`).

use crate::level::Level;

/// A number with so many decimals: `7.0`, `−0.4`, `0.0`, `−∞`, `–`.
#[must_use]
pub fn fixed(number: f64, decimals: usize) -> String {
    format!("{:.decimals$}", Level::from_db(number))
}

/// The same with a plus where it is positive: `+7.6`, `−0.7`, `0.0`.
#[must_use]
pub fn signed(number: f64, decimals: usize) -> String {
    let text = fixed(number, decimals);
    let rises = number > 0.0 && text.bytes().any(|b| (b'1'..=b'9').contains(&b));
    if rises { format!("+{text}") } else { text }
}

/// A count of things: `1 over`, `3 overs`.
#[must_use]
pub fn counted(count: u64, one: &str, many: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {many}") }
}

/// A frequency in the unit that it is spoken of in: `12 Hz`, `31.3 kHz`.
#[must_use]
pub fn frequency(hz: f64) -> String {
    let (number, unit) = if hz >= 1000.0 { (hz / 1000.0, "kHz") } else { (hz, "Hz") };
    let decimals = usize::from((number - number.round()).abs() >= 0.05);
    format!("{} {unit}", fixed(number, decimals))
}
