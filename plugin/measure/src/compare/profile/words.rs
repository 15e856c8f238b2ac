//! How many bits of a sample are used: the coarsest grid on which all samples lie.

/// Steps of the finest grid looked for: 32 bits.
const FINEST_STEPS: f64 = (1u64 << 31) as f64;

/// The grid of all samples taken.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Words {
    /// All bits that any sample has.
    bits: u64,
    /// Whether a sample lies between the steps of the finest grid.
    finer: bool,
}

impl Words {
    pub fn take(&mut self, samples: &[f64]) {
        if self.finer {
            return;
        }
        for &sample in samples {
            let steps = sample * FINEST_STEPS;
            let whole = steps as i64;
            self.bits |= whole.unsigned_abs();
            self.finer |= whole as f64 != steps;
        }
    }

    /// Bits of the coarsest grid; `None` for silence, and where there is none up to 32 bits.
    pub fn bits(&self) -> Option<u32> {
        (!self.finer && self.bits != 0).then(|| 32 - self.bits.trailing_zeros().min(31))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_grid_is_found_whatever_the_container() {
        let bits = |samples: &[f64]| {
            let mut words = Words::default();
            words.take(samples);
            words.bits()
        };
        assert_eq!(bits(&[0.0, 1.0 / 32_768.0, -0.5]), Some(16));
        assert_eq!(bits(&[0.25, -1.0, 3.0 / 8_388_608.0]), Some(24));
        assert_eq!(bits(&[1.0 / 3.0]), None);
        assert_eq!(bits(&[0.0, 0.0]), None);
    }
}
