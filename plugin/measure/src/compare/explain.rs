//! What the pass over all samples is explained by, once time, channels and filters are taken out:
//! a bend of the waveform, a gain that moves, and what is left. Numbers only; a simpler story stands
//! before one that has more to it, and none is told that does not explain most of what it is about.

pub(super) mod again;
mod bend;
mod bursts;
mod course;
pub(super) mod dynamics;
pub(super) mod repeats;
mod rest;
pub(super) mod stretches;

pub(super) use bend::Bend;
pub(super) use bursts::Burst;
pub(super) use course::{Change, Course, Fade, Shape};
pub(super) use rest::Rest;

use super::align::Aligned;
use super::align::relate::{Related, Tone};
use super::pass::Passed;
use stretches::Stretches;

/// The stories.
pub(super) struct Stories {
    pub tone: Tone,
    pub bend: Option<Bend>,
    pub course: Course,
    pub rest: Rest,
    pub bursts: Vec<Burst>,
    /// Share of what is left that the sound of a moment ago explains.
    pub lingering: f64,
}

/// Tells them.
pub(super) fn explain(
    aligned: &Aligned,
    passed: &Passed,
    stretches: &Stretches,
    rate_hz: f64,
) -> Stories {
    let bend = bend::find(&passed.curve);
    let course = course::find(&passed.blocks, &stretches.counts);
    Stories {
        tone: aligned.related.as_ref().map(Related::tone).unwrap_or_default(),
        rest: rest::find(&passed.blocks, &stretches.counts, &passed.spectra, &passed.curve),
        bursts: bursts::find(&passed.blocks, rate_hz),
        lingering: passed.spectra.lingering,
        bend,
        course,
    }
}
