//! First round: correlation around the place that is roughly known.

use super::correlate::{Best, Correlator};
use super::{Anchor, Centre, LEAST_PAIR, LEAST_PAIRS, MOST_CHANNELS, Plan, Round, quiet};
use crate::compare::Source;
use crate::compare::align::mapping::Covariance;
use crate::compare::median::median;
use crate::compare::play::{Failed, Player, Reel, in_parts};
use crate::compare::timeline::Timeline;

/// Likeness of a tapered window with the same sound without a taper: mean over root mean square.
const TAPERED: f64 = 0.816_496_58;
/// How near the delays of a channel that is late have to lie, in frames.
const PAIR_FRAMES: f64 = 0.75;

/// Anchors along a rough timeline, and the covariances of the channels at them.
pub(in crate::compare) fn find<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    rough: &Timeline,
    plan: &Plan,
) -> Result<Round, Failed<M::Error, X::Error>> {
    let channels = [mix.channels().min(MOST_CHANNELS), export.channels().min(MOST_CHANNELS)];
    let player = Player::rough(rough.step);
    let each = in_parts(
        mix,
        export,
        &plan.parts(rough),
        || Finder::new(plan, channels, player.clone()),
        |finder, mix, export, windows| {
            let window = |at| finder.window(mix, export, rough, plan, at);
            windows.iter().map(window).collect::<Result<Vec<_>, _>>()
        },
    )?;
    let mut covariance = Covariance::new(channels);
    // By window and export channel.
    let mut found: Vec<Vec<Option<Anchor>>> = Vec::new();
    for window in each.into_iter().flatten().flatten() {
        covariance.add(&window.covariance);
        found.push(window.anchors);
    }
    let (anchors, late) = together(&found, channels[1]);
    Ok(Round { anchors, covariance, late })
}

/// What correlates windows.
struct Finder {
    correlator: Correlator,
    player: Player,
    windows: [Vec<Vec<f64>>; 2],
    taper: Vec<f64>,
    edge: Vec<f64>,
    centre: Centre,
}

/// A window that was correlated.
struct Correlated {
    /// By export channel.
    anchors: Vec<Option<Anchor>>,
    covariance: Covariance,
}

impl Finder {
    fn new(plan: &Plan, channels: [usize; 2], player: Player) -> Self {
        let weight = |hz: f64| plan.weight.at(hz);
        // The edges of a window would be heard in every band that holds little, and there the weights
        // are high.
        let taper = (0..plan.frames)
            .map(|n| {
                let turn = std::f64::consts::TAU * (n as f64 + 0.5) / plan.frames as f64;
                (1.0 - turn.cos()) / 1.5f64.sqrt()
            })
            .collect();
        let edge = (0..plan.search.min(plan.frames / 2))
            .map(|n| {
                let turn = std::f64::consts::PI * (n as f64 + 0.5) / plan.search as f64;
                0.5 - 0.5 * turn.cos()
            })
            .collect();
        Self {
            correlator: Correlator::new(
                plan.frames,
                plan.search,
                channels,
                weight,
                plan.rates_hz[1],
            ),
            player,
            windows: [
                vec![vec![0.0; plan.frames + 2 * plan.search]; channels[0]],
                vec![vec![0.0; plan.frames]; channels[1]],
            ],
            taper,
            edge,
            centre: Centre::new(plan.frames),
        }
    }

    /// The window at a place; `None` where either file is silent.
    fn window<M: Source, X: Source>(
        &mut self,
        mix: &mut Reel<M>,
        export: &mut Reel<X>,
        rough: &Timeline,
        plan: &Plan,
        &(index, start): &(usize, i64),
    ) -> Result<Option<Correlated>, Failed<M::Error, X::Error>> {
        let Self { correlator, player, windows, taper, edge, centre } = self;
        let [mix_window, export_window] = windows;
        export.show(start, start + plan.frames as i64).map_err(Failed::Export)?;
        for (channel, window) in export_window.iter_mut().enumerate() {
            export.copy(channel, start, window);
        }
        let place =
            rough.place(&rough.segments[index], start as f64) - rough.step * plan.search as f64;
        player.play(mix, place, rough.step, mix_window).map_err(Failed::Mix)?;
        if quiet(mix_window) || quiet(export_window) {
            return Ok(None);
        }
        let export_frame = start as f64 + centre.of(export_window);
        for window in export_window.iter_mut() {
            window.iter_mut().zip(taper.iter()).for_each(|(x, taper)| *x *= taper);
        }
        for window in mix_window.iter_mut() {
            let ends = window.len() - edge.len();
            window.iter_mut().zip(edge.iter()).for_each(|(x, edge)| *x *= edge);
            window[ends..].iter_mut().zip(edge.iter().rev()).for_each(|(x, edge)| *x *= edge);
        }
        let best = correlator.best(mix_window, export_window);
        let lags: Vec<usize> =
            best.iter().map(|best| best.map_or(plan.search, |best| best.lag)).collect();
        let anchor = |best: &Option<Best>| {
            let best = (*best)?;
            let lag = best.lag as f64 + best.fraction;
            Some(Anchor {
                export: export_frame,
                // The player may have rounded place and step; it says what it played.
                mix: player.began + player.step * (export_frame - start as f64 + lag),
                segment: index,
                likeness: (best.likeness / TAPERED).min(1.0),
                gain: 1.0,
                ambiguous: best.ambiguous,
            })
        };
        Ok(Some(Correlated {
            anchors: best.iter().map(anchor).collect(),
            covariance: correlator.covariance(&lags),
        }))
    }
}

/// One anchor a window, and by how much each channel is later than it: the channel that is likest
/// over the whole file speaks, and where it is silent, another one in its place.
fn together(found: &[Vec<Option<Anchor>>], channels: usize) -> (Vec<Anchor>, Vec<f64>) {
    let weight = |channel: usize| -> f64 {
        found.iter().filter_map(|window| window[channel]).map(|anchor| anchor.likeness).sum()
    };
    // Channels that are alike must not take turns: a later one has to be clearly likelier.
    let leading = (1..channels).fold(0, |leading, channel| {
        if weight(channel) > 1.02 * weight(leading) { channel } else { leading }
    });
    let mut late = vec![0.0; channels];
    for (channel, late) in late.iter_mut().enumerate() {
        let both = found.iter().filter_map(|window| Some((window[leading]?, window[channel]?)));
        let clear = both.filter(|(lead, own)| {
            lead.likeness.min(own.likeness) >= LEAST_PAIR && !lead.ambiguous && !own.ambiguous
        });
        // What lies later in the export has its place earlier in the mix.
        let mut apart: Vec<f64> = clear.map(|(lead, own)| lead.mix - own.mix).collect();
        if apart.len() < LEAST_PAIRS {
            continue;
        }
        let middle = median(&mut apart).unwrap_or(0.0);
        let near = apart.iter().filter(|apart| (*apart - middle).abs() <= PAIR_FRAMES).count();
        if middle.abs() > PAIR_FRAMES && 2 * near > apart.len() {
            *late = middle;
        }
    }
    let anchors = found
        .iter()
        .filter_map(|window| {
            window[leading].or_else(|| {
                let (channel, anchor) =
                    window.iter().enumerate().find_map(|(n, anchor)| Some((n, (*anchor)?)))?;
                Some(Anchor { mix: anchor.mix + late[channel], ..anchor })
            })
        })
        .collect();
    (anchors, late)
}
