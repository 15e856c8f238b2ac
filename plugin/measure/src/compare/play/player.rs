//! Plays a mix at any place and speed, as the export's clock wants it.

use super::interpolate::{Interpolator, Shifter};
use super::reel::Reel;
use crate::compare::Source;

/// Within this, a rough place may be played without interpolation: a window then smears by less than
/// the search covers.
const NEAR_ONE: f64 = 2e-3;

/// How the places between the mix's samples are had.
#[derive(Clone)]
enum Between {
    /// Not at all: the nearest sample will do.
    Nearest,
    /// All places lie the same fraction behind a sample.
    Shifted(Option<(f64, Shifter)>),
    /// Every place is another.
    Interpolated(Interpolator),
}

/// The player.
#[derive(Clone)]
pub(in crate::compare) struct Player {
    between: Between,
    /// What each channel is evaluated from, between its samples.
    buffers: Vec<Vec<f64>>,
    /// The place at which it really began: a whole frame where it takes the nearest sample.
    pub began: f64,
    /// The step at which it really played.
    pub step: f64,
}

impl Player {
    /// A player that takes the nearest sample where the step is near one.
    pub fn rough(step: f64) -> Self {
        let near = (step - 1.0).abs() < NEAR_ONE;
        if near { Self::with(Between::Nearest) } else { Self::exact(step) }
    }

    /// A player that evaluates the mix between its samples.
    pub fn exact(step: f64) -> Self {
        if step == 1.0 {
            Self::with(Between::Shifted(None))
        } else {
            Self::with(Between::Interpolated(Interpolator::new(step)))
        }
    }

    fn with(between: Between) -> Self {
        Self { between, buffers: Vec::new(), began: 0.0, step: 1.0 }
    }

    /// Up to which frequency a mix at `rate_hz` is kept, in Hz.
    pub fn exact_to(&self, rate_hz: f64) -> f64 {
        match &self.between {
            Between::Nearest => rate_hz / 2.0,
            Between::Shifted(None) => rate_hz / 2.0,
            Between::Shifted(Some(_)) => Shifter::exact_to(rate_hz),
            Between::Interpolated(interpolator) => interpolator.exact_to(rate_hz),
        }
    }

    /// Fills `out[channel][n]` with the mix at `place + step·n`; silence outside of it.
    pub fn play<S: Source>(
        &mut self,
        mix: &mut Reel<S>,
        place: f64,
        step: f64,
        out: &mut [Vec<f64>],
    ) -> Result<(), S::Error> {
        let frames = out.first().map_or(0, Vec::len) as i64;
        let whole = place.floor();
        let fraction = place - whole;
        self.began = place;
        self.step = step;
        match &mut self.between {
            Between::Interpolated(interpolator) => {
                let reach = interpolator.reach() as i64;
                let first = whole as i64 - reach;
                let span = (step * frames as f64).ceil() as i64 + 2 * reach + 2;
                mix.show(first, first + span)?;
                self.buffers.resize(out.len(), Vec::new());
                for (channel, buffer) in self.buffers.iter_mut().enumerate() {
                    buffer.resize(span as usize, 0.0);
                    mix.copy(channel, first, buffer);
                }
                interpolator.fill(&self.buffers, place - first as f64, step, out);
            }
            Between::Shifted(shifter) if fraction != 0.0 => {
                if shifter.as_ref().is_none_or(|(known, _)| *known != fraction) {
                    *shifter = Some((fraction, Shifter::new(fraction)));
                }
                let Some((_, shifter)) = shifter else { return Ok(()) };
                let reach = shifter.reach() as i64;
                let first = whole as i64 - reach;
                let span = frames + 2 * reach + 2;
                mix.show(first, first + span)?;
                self.buffers.resize(out.len(), Vec::new());
                for (channel, (buffer, out)) in self.buffers.iter_mut().zip(out).enumerate() {
                    buffer.resize(span as usize, 0.0);
                    mix.copy(channel, first, buffer);
                    shifter.fill(buffer, reach as usize, out);
                }
            }
            Between::Shifted(_) | Between::Nearest => {
                let first = place.round();
                self.began = first;
                self.step = 1.0;
                mix.show(first as i64, first as i64 + frames)?;
                for (channel, out) in out.iter_mut().enumerate() {
                    mix.copy(channel, first as i64, out);
                }
            }
        }
        Ok(())
    }
}
