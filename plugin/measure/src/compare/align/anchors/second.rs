//! Second round: what is left of delay and gain where the timeline puts the windows.

use std::ops::Range;

use realfft::num_complex::Complex64;

use super::left_over::Sums;
use super::{Anchor, Centre, LEAST_PAIR, LEAST_PAIRS, MOST_CHANNELS, Plan, Round, quiet};
use crate::compare::Source;
use crate::compare::align::mapping::Covariance;
use crate::compare::median::median;
use crate::compare::play::{Failed, Path, Player, Reel, in_parts, mapped};
use crate::compare::spectra::WindowedTransform;
use crate::compare::timeline::Timeline;

/// How many errors, and how many frames, a channel's delay has to lie from none.
const LATE_ERRORS: f64 = 5.0;
const LEAST_LATE: f64 = 0.004;

/// Anchors where the timeline puts them, each with what is left of delay and gain
/// against the prediction by `path`, and the covariances anew, of those that leave over no more than
/// `most_left` of their power.
pub(in crate::compare) fn tune<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    timeline: &Timeline,
    path: &Path,
    plan: &Plan,
    most_left: f64,
) -> Result<Round, Failed<M::Error, X::Error>> {
    let channels = [mix.channels().min(MOST_CHANNELS), export.channels().min(MOST_CHANNELS)];
    let player = Player::exact(timeline.step);
    let each = in_parts(
        mix,
        export,
        &plan.parts(timeline),
        || Tuner::new(plan, path, channels, &player),
        |tuner, mix, export, windows| {
            let window = |at| tuner.window(mix, export, timeline, path, most_left, at);
            windows.iter().map(window).collect::<Result<Vec<_>, _>>()
        },
    )?;
    let mut covariances = Vec::new();
    let mut anchors = Vec::new();
    let mut apart: Vec<Vec<f64>> = vec![Vec::new(); channels[1]];
    for window in each.into_iter().flatten().flatten() {
        if let Some(covariance) = window.covariance {
            covariances.push((window.anchor.gain, covariance));
        }
        for (apart, own) in apart.iter_mut().zip(window.apart) {
            apart.extend(own);
        }
        anchors.push(window.anchor);
    }
    let late = apart.iter_mut().map(|apart| settled(apart)).collect();
    Ok(Round { anchors, covariance: Covariance::of_windows(channels, covariances), late })
}

/// What lays windows over their prediction.
struct Tuner {
    transform: WindowedTransform,
    /// Export channels that are equally late.
    groups: Vec<Group>,
    /// Which of these an export channel belongs to.
    own: Vec<usize>,
    heard: Vec<Vec<f64>>,
    plain: Vec<Vec<f64>>,
    /// Of the export, by channel.
    spectra: Vec<Vec<Complex64>>,
    predicted: Vec<Complex64>,
    bins: Range<usize>,
    weights: Vec<f64>,
    centre: Centre,
}

/// The mix as late as some export channels are: its channels, and their spectra.
struct Group {
    late: f64,
    player: Player,
    played: Vec<Vec<f64>>,
    spectra: Vec<Vec<Complex64>>,
}

/// A window that was laid over its prediction.
struct Tuned {
    anchor: Anchor,
    /// Where it leaves over little enough.
    covariance: Option<Covariance>,
    /// By export channel: by how many frames of the mix it is later than all together.
    apart: Vec<Option<f64>>,
}

impl Tuner {
    fn new(plan: &Plan, path: &Path, channels: [usize; 2], player: &Player) -> Self {
        let transform = WindowedTransform::new(plan.frames);
        let bins = plan.bins();
        let bin_hz = plan.rates_hz[1] / plan.frames as f64;
        let mut groups: Vec<Group> = Vec::new();
        let mut own = Vec::new();
        for &late in path.late.iter().take(channels[1]) {
            own.push(groups.iter().position(|group| group.late == late).unwrap_or(groups.len()));
            if own.last() == Some(&groups.len()) {
                groups.push(Group {
                    late,
                    player: player.clone(),
                    played: vec![vec![0.0; plan.frames]; channels[0]],
                    spectra: vec![transform.make_bins(); channels[0]],
                });
            }
        }
        Self {
            groups,
            own,
            heard: vec![vec![0.0; plan.frames]; channels[1]],
            plain: vec![vec![0.0; plan.frames]; channels[1]],
            spectra: vec![transform.make_bins(); channels[1]],
            predicted: transform.make_bins(),
            weights: (0..bins.end).map(|bin| plan.weight.at(bin as f64 * bin_hz).powi(2)).collect(),
            bins,
            centre: Centre::new(plan.frames),
            transform,
        }
    }

    /// The window at a place; `None` where export or prediction is silent.
    fn window<M: Source, X: Source>(
        &mut self,
        mix: &mut Reel<M>,
        export: &mut Reel<X>,
        timeline: &Timeline,
        path: &Path,
        most_left: f64,
        &(index, start): &(usize, i64),
    ) -> Result<Option<Tuned>, Failed<M::Error, X::Error>> {
        let frames = self.transform.frames();
        export.show(start, start + frames as i64).map_err(Failed::Export)?;
        for (channel, window) in self.heard.iter_mut().enumerate() {
            export.copy(channel, start, window);
        }
        let place = timeline.place(&timeline.segments[index], start as f64);
        for group in &mut self.groups {
            let place = place - group.late;
            group.player.play(mix, place, timeline.step, &mut group.played).map_err(Failed::Mix)?;
        }
        for ((plain, own), gains) in self.plain.iter_mut().zip(&self.own).zip(&path.gains) {
            mapped(&self.groups[*own].played, gains, plain);
        }
        if quiet(&self.plain) || quiet(&self.heard) {
            return Ok(None);
        }
        for group in &mut self.groups {
            for (window, bins) in group.played.iter().zip(&mut group.spectra) {
                self.transform.take(window, bins);
            }
        }
        for (window, bins) in self.heard.iter().zip(&mut self.spectra) {
            self.transform.take(window, bins);
        }
        let sums = self.sums(path);
        let left = Sums::together(&sums).left_over();
        let counts = 1.0 - left.likeness * left.likeness.abs() <= most_left;
        let apart = sums.iter().map(|sums| {
            let own = sums.left_over();
            let is_like = own.likeness >= LEAST_PAIR;
            is_like.then_some(timeline.step * (own.delay_frames - left.delay_frames))
        });
        let export_frame = start as f64 + self.centre.of(&self.heard);
        let place = timeline.place(&timeline.segments[index], export_frame);
        Ok(Some(Tuned {
            anchor: Anchor {
                export: export_frame,
                mix: place - timeline.step * left.delay_frames,
                segment: index,
                likeness: left.likeness,
                gain: left.gain,
                ambiguous: false,
            },
            apart: apart.collect(),
            covariance: counts.then(|| self.covariance()),
        }))
    }

    /// By export channel. The prediction's spectrum is that of the mix's channels through the gains.
    fn sums(&mut self, path: &Path) -> Vec<Sums> {
        let (bins, frames) = (self.bins.clone(), self.transform.frames());
        let channels = self.spectra.iter().zip(&self.own).zip(&path.gains);
        let sums = channels.map(|((heard, own), gains)| {
            let predicted = &mut self.predicted[bins.clone()];
            predicted.fill(Complex64::default());
            for (spectrum, gain) in self.groups[*own].spectra.iter().zip(gains) {
                if *gain != 0.0 {
                    let spectrum = &spectrum[bins.clone()];
                    predicted.iter_mut().zip(spectrum).for_each(|(z, x)| *z += x * gain);
                }
            }
            Sums::of(&self.predicted, heard, &self.weights, bins.clone(), frames)
        });
        sums.collect()
    }

    fn covariance(&self) -> Covariance {
        let mix_channels = self.groups.first().map_or(0, |group| group.spectra.len());
        let mut covariance = Covariance::new([mix_channels, self.spectra.len()]);
        for (channel, (heard, own)) in self.spectra.iter().zip(&self.own).enumerate() {
            let mix = &self.groups[*own].spectra;
            covariance.add_spectra(mix, heard, channel, self.bins.clone());
        }
        covariance
    }
}

/// What a channel's delays against all channels together agree on: nothing where they scatter about
/// none.
fn settled(apart: &mut [f64]) -> f64 {
    if apart.len() < LEAST_PAIRS {
        return 0.0;
    }
    let middle = median(apart).unwrap_or(0.0);
    let mut misses: Vec<f64> = apart.iter().map(|apart| (apart - middle).abs()).collect();
    let scatter = 1.4826 * median(&mut misses).unwrap_or(0.0);
    let error = 1.25 * scatter / (apart.len() as f64).sqrt();
    if middle.abs() > LATE_ERRORS * error + LEAST_LATE { middle } else { 0.0 }
}
