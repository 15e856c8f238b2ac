//! What each frequency counts in the search for a place: nearly the same wherever both files hold
//! sound, so that neither loud bass nor an equaliser in it moves the place.

use crate::compare::median::median;
use crate::compare::spectra::MeanSpectrum;

/// Points of the curve an octave.
const POINTS_AN_OCTAVE: f64 = 6.0;
/// Narrowest band whose power is taken, in Hz.
const NARROWEST_HZ: f64 = 30.0;
/// Power against which the spectra are levelled out: 1 would level them wholly, and give the bands
/// that lossy coding makes up as much to say as all others.
const LEVELLING: f64 = 0.8;
/// Power a Hz that is sound: what 16 bits round off, and 80 dB below the strongest band.
const LEAST_DENSITY: f64 = 1e-14;
const LEAST_SHARE: f64 = 1e-8;

/// Usual density against the highest below which there are but a few tones: that of the floor and a little.
const TONAL_SHARE: f64 = 3.0 * LEAST_SHARE;

/// Amplitude weights over a band.
#[derive(Debug, Clone)]
pub(super) struct Weight {
    band_hz: (f64, f64),
    /// At points of a logarithmic scale that begins at the band's lower edge.
    points: Vec<f64>,
}

impl Weight {
    /// For the mean spectra of the two files.
    pub fn new(spectra: [&MeanSpectrum; 2], band_hz: (f64, f64)) -> Self {
        let count = ((band_hz.1 / band_hz.0).log2() * POINTS_AN_OCTAVE).ceil().max(1.0) as usize;
        let middles: Vec<f64> =
            (0..=count).map(|n| band_hz.0 * 2f64.powf(n as f64 / POINTS_AN_OCTAVE)).collect();
        let densities = spectra.map(|spectrum| -> Vec<f64> {
            let density = |hz: &f64| {
                let half = (hz / POINTS_AN_OCTAVE / 2.0).max(NARROWEST_HZ / 2.0);
                spectrum.power(hz - half, hz + half) / (2.0 * half)
            };
            let found: Vec<f64> = middles.iter().map(density).collect();
            let highest = found.iter().copied().fold(0.0, f64::max);
            let floor = LEAST_DENSITY.max(LEAST_SHARE * highest);
            found.into_iter().map(|density| density + floor).collect()
        });
        // Between a few tones there is nothing to level out but what windows make of them.
        let is_tonal = densities.iter().any(|densities| {
            let highest = densities.iter().copied().fold(0.0, f64::max);
            median(&mut densities.clone()).is_some_and(|usual| usual < TONAL_SHARE * highest)
        });
        let levelling = if is_tonal { 0.0 } else { LEVELLING };
        let points = densities[0]
            .iter()
            .zip(&densities[1])
            .map(|(mix, export)| (mix * export).powf(-levelling / 4.0))
            .collect();
        Self { band_hz, points }
    }

    /// The weight of an amplitude at a frequency: falls to nothing at the end of the band, so that
    /// correlations are smooth.
    pub fn at(&self, hz: f64) -> f64 {
        let (low, high) = self.band_hz;
        if !(low..high).contains(&hz) {
            return 0.0;
        }
        let place = (hz / low).log2() * POINTS_AN_OCTAVE;
        let first = (place as usize).min(self.points.len().saturating_sub(2));
        let share = place - first as f64;
        let next = self.points.get(first + 1).unwrap_or(&self.points[first]);
        let level = self.points[first] * (1.0 - share) + next * share;
        level * (1.0 - (hz / high).powi(8))
    }
}
