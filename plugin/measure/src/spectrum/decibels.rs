//! Levels of many powers at once, as exact as a drawing needs them.

use std::f32::consts::{FRAC_1_SQRT_2, LN_10};

use pulp::{Arch, NullaryFnOnce};

/// Bits of the fraction of a number in single precision.
const FRACTION_BITS: u32 = 23;
/// Powers below this have no level.
const LEAST: f32 = f32::MIN_POSITIVE;

/// Puts the levels in dB of some powers in their place, to 0.0001 dB; −∞ for what is no normal number
/// above zero.
pub(super) fn put_levels(powers: &mut [f32]) {
    Arch::new().dispatch(PutLevels(powers));
}

struct PutLevels<'a>(&'a mut [f32]);

impl NullaryFnOnce for PutLevels<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        self.0.iter_mut().for_each(|power| *power = level(*power));
    }
}

/// With x = m·2ᵉ and m from √½ to √2, ln x is e·ln 2 + 2·artanh((m − 1)/(m + 1)), whose series ends
/// here behind the seventh power: what is left out is below 10⁻⁷. Without a branch or a call, so that
/// a processor works out as many at once as its vectors hold.
#[inline(always)]
fn level(power: f32) -> f32 {
    let least_bits = FRAC_1_SQRT_2.to_bits();
    let bits = power.to_bits().wrapping_sub(least_bits);
    let exponent = (bits.cast_signed() >> FRACTION_BITS) as f32;
    let fraction = (bits & ((1 << FRACTION_BITS) - 1)) + least_bits;
    let m = f32::from_bits(fraction);
    let x = (m - 1.0) / (m + 1.0);
    let square = x * x;
    let series = 1.0 + square * (1.0 / 3.0 + square * (1.0 / 5.0 + square * (1.0 / 7.0)));
    let logarithm = exponent * std::f32::consts::LN_2 + 2.0 * x * series;
    if power >= LEAST { 10.0 / LN_10 * logarithm } else { f32::NEG_INFINITY }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_are_those_of_the_logarithm() {
        let ratio = 1.000_37f64;
        let mut power = f64::from(LEAST) * 1.5;
        let mut powers = Vec::new();
        while power < f64::from(f32::MAX) {
            powers.push(power as f32);
            power *= ratio;
        }
        let mut levels = powers.clone();
        put_levels(&mut levels);
        for (power, level) in powers.iter().zip(levels) {
            let expected = 10.0 * f64::from(*power).log10();
            assert!((f64::from(level) - expected).abs() < 1e-4, "{level} of {power}");
        }
        assert!(powers.len() > 400_000);
    }

    #[test]
    fn nothing_has_no_level() {
        let mut powers = [0.0, -0.0, 1.0, 1e-40, f32::MIN_POSITIVE];
        put_levels(&mut powers);
        assert_eq!(powers[..4], [f32::NEG_INFINITY, f32::NEG_INFINITY, 0.0, f32::NEG_INFINITY]);
        assert!((powers[4] + 379.297_8).abs() < 1e-3, "{}", powers[4]);
    }
}
