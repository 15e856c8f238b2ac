//! How half A and half B relate and how they add.
//!
//! With La and Lb the RMS levels and r the correlation coefficient, mean not removed, the sum's
//! level is `10·log10(10^(La/10) + 10^(Lb/10) + 2·r·10^((La+Lb)/20))`, exactly.

mod rows;

pub use rows::HalvesRow;

use crate::energy::PairEnergies;
use crate::level::Level;
use crate::reading::HalvesReading;

/// Reads the halves from energies over `samples` samples a half and from the peaks of A, B and sum.
/// `rms_offset_db` refers RMS levels to full scale.
pub(crate) fn read(
    energies: &PairEnergies,
    samples: f64,
    [peak_a, peak_b, peak_sum]: [f32; 3],
    rms_offset_db: f64,
) -> HalvesReading {
    let PairEnergies { aa, bb, ab, sum, difference } = *energies;
    let rms = |energy: f64| Level::from_power(energy / samples).plus(rms_offset_db);
    let square = |peak: f32| f64::from(peak) * f64::from(peak);
    let coherent = aa.sqrt() + bb.sqrt();
    let correlation = ab / (aa * bb).sqrt();
    HalvesReading {
        correlation: correlation.is_finite().then(|| correlation.clamp(-1.0, 1.0)),
        sum_gain_energy_db: Level::from_power(sum / (aa + bb)),
        sum_gain_peak_db: Level::from_power(square(peak_sum) / (square(peak_a) + square(peak_b))),
        coherent_dbfs: rms(coherent * coherent),
        power_dbfs: rms(aa + bb),
        null_dbfs: rms(difference),
        level_difference_db: rms(aa).minus(rms(bb)),
    }
}
