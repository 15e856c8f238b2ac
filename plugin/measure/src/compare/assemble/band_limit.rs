//! Where the export's spectrum ends while the mix's goes on.

use crate::compare::pass::CrossSpectra;
use crate::compare::record::BandLimit;
use crate::compare::spectra::MeanSpectrum;
use crate::level::Level;

/// Width of the bands that are compared, in Hz.
const BAND_HZ: f64 = 150.0;
/// Below this no end is looked for, in Hz.
const LOWEST_HZ: f64 = 1_000.0;
/// Power of a band that holds sound rather than rounding: −110 dBFS.
const LEAST_POWER: f64 = 1e-11;
/// Export against mix at the edge, as a ratio of powers: −3 dB.
const EDGE: f64 = 0.5;
/// Export against mix above it, at most: −9 dB; a gentler slope is an equaliser's.
const ABOVE: f64 = 0.125;
/// An end this near to the end of both is none, as a share.
const NEAR_END: f64 = 0.975;
/// Mix's power above the edge that is worth telling: −100 dBFS.
const WORTH_TELLING: f64 = 1e-10;

/// The end, if there is one. `mix` is the mix's spectrum as stored, `power_gain` what the export
/// makes of its power.
pub(in crate::compare) fn find(
    spectra: &CrossSpectra,
    mix: &MeanSpectrum,
    power_gain: f64,
    export_end_hz: f64,
) -> Option<BandLimit> {
    let mix_end_hz = last_sound_hz(mix)?;
    let common_hz = export_end_hz.min(mix.end_hz());
    let bands = ((common_hz.min(mix_end_hz) - LOWEST_HZ) / BAND_HZ).floor().max(0.0) as usize;
    let edges = |band: usize| {
        let low = LOWEST_HZ + band as f64 * BAND_HZ;
        (low, low + BAND_HZ)
    };
    let ratio = |band: usize| {
        let (low, high) = edges(band);
        let predicted = spectra.power(&spectra.zz, low, high);
        (predicted > LEAST_POWER * power_gain.min(1.0))
            .then(|| spectra.power(&spectra.yy, low, high) / predicted)
    };
    let last = (0..bands).rev().find(|&band| ratio(band).is_some_and(|ratio| ratio >= EDGE))?;
    let (_, mut hz) = edges(last);
    // Between the middles of the last band that holds and the first that does not.
    if let (Some(here), Some(next)) = (ratio(last), ratio(last + 1))
        && next < EDGE
    {
        hz = hz - BAND_HZ / 2.0 + BAND_HZ * ((here - EDGE) / (here - next)).clamp(0.0, 1.0);
    }
    if hz >= NEAR_END * mix_end_hz {
        return None;
    }
    hz = hz.min(export_end_hz);
    // From a band on, so that the edge's own slope does not count.
    let from_hz = (hz + BAND_HZ).min(common_hz);
    let lost = mix.power(hz, mix.end_hz());
    let above_mix = mix.power(from_hz, mix.end_hz()) * power_gain;
    let above = spectra.power(&spectra.yy, from_hz, export_end_hz);
    if lost < WORTH_TELLING || above_mix <= 0.0 || above > ABOVE * above_mix {
        return None;
    }
    Some(BandLimit {
        hz,
        above_db: Level::from_power(above / above_mix),
        lost_dbfs: Level::from_power(lost),
        mix_end_hz,
    })
}

/// Where a spectrum's last band with sound ends, in Hz.
fn last_sound_hz(spectrum: &MeanSpectrum) -> Option<f64> {
    let bands = (spectrum.end_hz() / BAND_HZ).floor() as usize;
    let holds = |band: &usize| {
        let low = *band as f64 * BAND_HZ;
        spectrum.power(low, low + BAND_HZ) > LEAST_POWER
    };
    (0..bands).rev().find(holds).map(|band| (band + 1) as f64 * BAND_HZ)
}
