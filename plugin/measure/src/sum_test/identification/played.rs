//! What was played while the meter was read, and what every kind of meter shows of it.

use serde::{Serialize, Serializer};

use super::ranking::Hypothesis;
use crate::detector::MeterKind;
use crate::level::Level;
use crate::sum_test::expectation::expectations;
use crate::sum_test::pattern::NoiseKind;
use crate::sum_test::step_names::STEPS_OF_NOISES;
use crate::sum_test::three_noises::{LONGEST_HOLD_S, SHORTEST_HOLD_S, Shows, shown_of_noise};
use crate::words::{fixed, frequency, list};

/// What a silent step shows, in dB: below the end of any scale.
const SILENT_DB: f64 = -200.0;

/// Where the readings come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Played {
    /// The sum test, step by step.
    #[default]
    Schedule,
    /// Noises of one's own, of a kind that may be unknown.
    Own(Option<NoiseKind>),
    /// The loop, on noise of a kind.
    Loop(NoiseKind),
}

impl Played {
    /// What it is called.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Schedule => "the sum test",
            Self::Own(_) => "a test with noises of one's own",
            Self::Loop(_) => "the loop",
        }
    }

    /// Whether the step of this number is played in it.
    #[must_use]
    pub fn has(self, step: usize) -> bool {
        self == Self::Schedule || step <= STEPS_OF_NOISES
    }

    /// What is taken for granted, in a sentence.
    #[must_use]
    pub fn assumed(self, rate_hz: u32) -> String {
        let rate = frequency(f64::from(rate_hz));
        let held = format!(
            "peaks held for {} to {} s",
            fixed(SHORTEST_HOLD_S, 0),
            fixed(LONGEST_HOLD_S, 0)
        );
        match self {
            Self::Schedule => format!("Taken as steps of the sum test at {rate}."),
            Self::Own(None) => {
                let kinds = NoiseKind::ALL.map(NoiseKind::word);
                format!(
                    "Taken as two noises of one's own at {rate}, both {} (which is not known), a \
                     delay of some 100 ms, {held}.",
                    list(&kinds).replace(" and ", " or ")
                )
            }
            Self::Own(Some(kind)) => format!(
                "Taken as two {} noises of one's own at {rate}, a delay of some 100 ms, {held}.",
                kind.word()
            ),
            Self::Loop(kind) => {
                format!("Taken as the loop on {} noise at {rate}, {held}.", kind.word())
            }
        }
    }

    /// The kinds of noise that it may be; none where they do not matter.
    fn noises(self) -> Vec<NoiseKind> {
        match self {
            Self::Schedule => Vec::new(),
            Self::Own(None) => NoiseKind::ALL.to_vec(),
            Self::Own(Some(kind)) | Self::Loop(kind) => vec![kind],
        }
    }
}

/// `schedule`, `own` or `loop`.
impl Serialize for Played {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(match self {
            Self::Schedule => "schedule",
            Self::Own(_) => "own",
            Self::Loop(_) => "loop",
        })
    }
}

/// What every kind of meter shows in steps, given by their indices; `None` at rates at which nothing
/// can be played.
pub(super) fn hypotheses(rate_hz: u32, played: Played, steps: &[usize]) -> Option<Vec<Hypothesis>> {
    if played == Played::Schedule {
        let of = |model| {
            let shows = |step: &usize| Some(Shows::certain(scheduled_db(rate_hz, *step, model)?));
            let shows = steps.iter().map(shows).collect::<Option<_>>()?;
            Some(Hypothesis { model, noise: None, shows })
        };
        return MeterKind::all().map(of).collect();
    }
    let mut hypotheses = Vec::new();
    for noise in played.noises() {
        for model in MeterKind::all() {
            let of = (model.band_index(), model.detector);
            let shows = |step: &usize| shown_of_noise(rate_hz, noise, *step, of);
            let shows = steps.iter().map(shows).collect::<Option<_>>()?;
            hypotheses.push(Hypothesis { model, noise: Some(noise), shows });
        }
    }
    Some(hypotheses)
}

/// What a kind of meter shows in a step of the sum test, given by its index, in dB.
pub(super) fn scheduled_db(rate_hz: u32, step: usize, model: MeterKind) -> Option<f64> {
    let expectations = expectations(rate_hz)?;
    Some(finite(expectations.level(step, model.band_index(), model.detector, 0.0)))
}

fn finite(level: Level) -> f64 {
    level.finite().unwrap_or(SILENT_DB)
}
