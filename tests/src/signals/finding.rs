//! The finding: two noises add like identical signals on a held peak meter and like independent
//! ones in energy. Four rows, each a pair of halves whose sum is the row.

use super::tone::delayed;
use super::{Stereo, amplitude, frames, noise};

/// Sample rate of the four rows, in Hz.
pub const RATE_HZ: f64 = 48_000.0;
/// Sample peak of each noise, in dBFS.
pub const PEAK_DBFS: f64 = -10.0;
/// Length of a row, in seconds.
pub const LENGTH_S: f64 = 20.0;
/// The delay of the fourth row, in seconds: the period of the lowest audible tone.
pub const DELAY_S: f64 = 0.05;

/// One row: what half A and half B play.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Row {
    /// A alone; half B is silent.
    Alone,
    /// A in both halves.
    Identical,
    /// A and an independent noise B.
    Independent,
    /// A, and A 50 ms later.
    Delayed,
}

impl Row {
    /// All four, in the table's order.
    pub const ALL: [Self; 4] = [Self::Alone, Self::Identical, Self::Independent, Self::Delayed];

    /// The row's name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Alone => "one noise, on L",
            Self::Identical => "the same on L and R",
            Self::Independent => "independent on L and R",
            Self::Delayed => "the same, 50 ms late",
        }
    }

    /// Twenty seconds of it.
    #[must_use]
    pub fn play(self) -> Stereo {
        let a = noise_at(1);
        let b = match self {
            Self::Alone => vec![0.0; a.len()],
            Self::Identical => a.clone(),
            Self::Independent => noise_at(2),
            Self::Delayed => delayed(&a, frames(RATE_HZ, DELAY_S)),
        };
        Stereo::new(RATE_HZ, a, b)
    }
}

/// Uniform white noise at the rows' level.
fn noise_at(seed: u64) -> Vec<f32> {
    noise::white(seed, amplitude(PEAK_DBFS), frames(RATE_HZ, LENGTH_S))
}
