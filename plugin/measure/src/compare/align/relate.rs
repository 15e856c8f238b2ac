//! How the export's sound comes from the mix's once both are laid over each other: which channels,
//! and through what linear filter, found from cross-spectra (Welch's method) over windows spread over
//! the whole file.
//!
//! A filter of its own for each export channel is what any equaliser, converter or speaker is; only
//! what no such filter explains is noise, distortion, coding or another sound. So this is known before
//! anything is called an edit or a change of gain.

mod bands;
mod gather;
mod map;
mod phase;
mod taps;
mod tone;

pub(in crate::compare) use bands::Band;
pub(in crate::compare) use tone::Tone;

use super::mapping::Mapping;
use crate::compare::Source;
use crate::compare::play::{Failed, Reel};
use crate::compare::spectra::transform_frames;
use crate::compare::timeline::Timeline;
use gather::{Gathered, Windows};

/// A filter has to leave over less than this share of what gains alone do.
const BETTER: f64 = 0.5;
/// What a filter has to leave over at most to be believed by that, and otherwise against gains: a gain that
/// moves is explained by a filter in part.
const WELL: f64 = 1e-3;
const MUCH_BETTER: f64 = 0.2;
/// Where gains alone leave over no more than this share of the export, nothing else is looked for.
const EXACT_SHARE: f64 = 1e-6;
/// Windows that a filter needs.
const LEAST_WINDOWS: usize = 8;
/// What a simpler time may leave over against another one: as a ratio, and as a share of the export.
const AS_GOOD_RATIO: f64 = 1.5;
const AS_GOOD_SHARE: f64 = 1e-7;
/// And in how many of the other's windows it has to hold.
const AS_MANY: f64 = 0.95;
/// Coherence of a band whose phase is clear, and sine of a phase that is none.
const CLEAR: f64 = 0.9;
const IN_PHASE: f64 = 0.1;
/// Rounds in which windows are chosen.
const MOST_ROUNDS: usize = 3;

/// What was found.
pub(in crate::compare) struct Related {
    pub mapping: Mapping,
    /// Whether frequency-independent gains explain as much as filters between all channels do.
    pub matrix_holds: bool,
    /// Taps by export channel, where a filter explains significantly more than gains.
    pub filters: Option<Vec<Vec<f64>>>,
    /// The response by export channel and third-octave, against unity gains of the map.
    pub bands: Vec<Vec<Band>>,
    /// What filters delay by export channel beyond their level's own phase, in frames of the export;
    /// empty where there are none.
    pub excess: Vec<f64>,
    /// Share of what the response leaves over that is still left when each band has its own gain in every
    /// window.
    pub own_gain_left: f64,
    /// How what is left follows the sound of the same band and moment: correlation and slope.
    pub left_follows: Option<(f64, f64)>,
    /// Mean square of each channel of the mix.
    pub mix_powers: Vec<f64>,
    /// Share of what gains leave over that filters leave over as well.
    pub filters_leave: f64,
    /// Share of the export's power that filters leave over.
    pub filtered_left: f64,
    /// Windows that it was found in.
    pub windows: usize,
}

impl Related {
    /// Share of the export's power that neither filters nor gains of moments make of the mix.
    pub fn foreign_share(&self) -> f64 {
        self.filtered_left * self.own_gain_left
    }

    /// What the response is.
    pub fn tone(&self) -> Tone {
        tone::find(self)
    }

    /// Polarity of each export channel, 1 or −1: what most bands say. Where the phase is turned, none
    /// is inverted.
    pub fn signs(&self, is_turned: bool) -> Vec<f64> {
        let sign = |bands: &Vec<Band>| {
            let inverted =
                bands.iter().map(|band| band.coherence * band.phase.cos()).sum::<f64>() < 0.0;
            if inverted && !is_turned { -1.0 } else { 1.0 }
        };
        self.bands.iter().map(sign).collect()
    }

    /// Whether all that is clear lies in phase with the mix, or against it.
    pub fn turns_no_phase(&self) -> bool {
        let clear = self.bands.iter().flatten().filter(|band| band.coherence >= CLEAR);
        clear.into_iter().all(|band| band.phase.sin().abs() < IN_PHASE)
    }

    /// Whether it explains what another relation does, or hardly less.
    pub fn is_as_good_as(&self, other: &Self) -> bool {
        let as_much = self.windows as f64 >= AS_MANY * other.windows as f64;
        as_much && self.filtered_left <= AS_GOOD_RATIO * other.filtered_left + AS_GOOD_SHARE
    }
}

/// Finds out, along a timeline. `mapping` is what is known of the channels.
pub(in crate::compare) fn relate<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    timeline: &Timeline,
    mapping: &Mapping,
    late: &[f64],
    rates_hz: [f64; 2],
) -> Result<Option<Related>, Failed<M::Error, X::Error>> {
    let mut mapping = mapping.clone();
    let mut gains = mapping.gains.clone();
    let frames = 2 * transform_frames(rates_hz[1]);
    let channels = [gains.first().map_or(0, Vec::len), gains.len()];
    let mut windows = Windows::new(timeline, late, channels, frames, rates_hz[1]);
    let mut kept: Option<Vec<bool>> = None;
    let mut round = 0;
    loop {
        let gathered = windows.gather(mix, export, kept.as_deref(), &gains)?;
        if gathered.count == 0 {
            return Ok(None);
        }
        round += 1;
        let chosen = map::choose(&gathered, &mapping);
        let is_other = chosen.mapping.gains != gains;
        let wanted = gathered.steady();
        let is_done = round == MOST_ROUNDS || (!is_other && kept.as_ref() == Some(&wanted));
        let all = kept.is_none() && wanted.iter().all(|kept| *kept);
        mapping = chosen.mapping.clone();
        if is_done || (all && !is_other) {
            return Ok(Some(conclude(&gathered, chosen, frames)));
        }
        gains.clone_from(&mapping.gains);
        kept = Some(wanted);
    }
}

fn conclude(gathered: &Gathered, chosen: map::Chosen, frames: usize) -> Related {
    let total: f64 = gathered.heard_power();
    let share = |left: f64| if total > 0.0 { (left / total).max(0.0) } else { 0.0 };
    let plain_left = share(gathered.left_by_gains(&chosen.mapping.gains));
    let filtered_left = share(gathered.left_by_filters(&chosen.patterns));
    let filtered = gathered.count >= LEAST_WINDOWS
        && plain_left > EXACT_SHARE
        && filtered_left < BETTER * plain_left
        && (filtered_left < WELL || filtered_left < MUCH_BETTER * plain_left)
        && chosen.has_name;
    let (mut filters, mut excess) = (None, Vec::new());
    if filtered {
        let mut taps = Vec::new();
        for (channel, pattern) in chosen.patterns.iter().enumerate() {
            let response = gathered.response(channel, pattern);
            let coherence = gathered.coherence(channel, pattern);
            excess.push(phase::late(&response, &coherence));
            taps.push(taps::of(&response, &coherence, frames / 2));
        }
        filters = Some(taps);
    }
    let bands = (0..gathered.export_channels())
        .map(|channel| bands::of(gathered, channel, &chosen.patterns[channel]))
        .collect();
    Related {
        mapping: chosen.mapping,
        matrix_holds: chosen.matrix_holds,
        filters,
        bands,
        excess,
        own_gain_left: gathered.own_gain_left(),
        left_follows: gathered.left_follows(),
        mix_powers: gathered.mix_powers(),
        filters_leave: if plain_left > 0.0 { filtered_left / plain_left } else { 1.0 },
        filtered_left,
        windows: gathered.count,
    }
}
