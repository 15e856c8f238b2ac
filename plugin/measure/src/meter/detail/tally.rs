//! What every kind of meter shows of the sum and of the bus, in both bands, since reset, and the
//! fourth moments of their samples.
//!
//! The mean deflection of a needle on a steady sound is its rectified average, whatever its ballistics,
//! so that no needle needs to move here. Programme peak meters do: their followers run side by side,
//! eight signals at a time.

use pulp::{Arch, NullaryFnOnce};

use crate::batch::{BATCH_FRAMES, PairBatch};
use crate::detector::ProgrammeType;

/// Signals of a pair in both bands: whole a, b, a + b, nothing; audible a, b, a + b, nothing.
const LANES: usize = 8;
/// Where the audible band's begin.
const AUDIBLE: usize = 4;
/// Followers of both types of programme meter.
const FOLLOWERS: usize = 3;
/// Below this a follower's value means nothing, and is dropped before it becomes denormal and slow.
const NOTHING: f32 = 1e-20;

type Lanes = [f32; LANES];

/// What the followers of both types are made of: weight, share of a charge, what a fall leaves.
#[derive(Clone, Copy)]
struct Follower {
    weight: f32,
    charge: f32,
    keep: f32,
}

/// The tally of one pair.
#[derive(Clone, Copy, Default)]
struct PairTally {
    values: [Lanes; FOLLOWERS],
    highest: [Lanes; 2],
    rectified: [f64; LANES],
    squares: [f64; LANES],
    fourths: [f64; LANES],
}

/// Sums of one signal over the frames since reset.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Moments {
    pub(crate) squares: f64,
    pub(crate) fourths: f64,
}

pub(crate) struct Tally {
    arch: Arch,
    followers: [Follower; FOLLOWERS],
    /// What a steady sine of amplitude 1 is shown as, by type.
    rest: [f32; 2],
    pairs: Vec<PairTally>,
    halves_pairs: usize,
    frames: u64,
}

impl Tally {
    pub(super) fn new(rate_hz: f64, pairs: usize, halves_pairs: usize) -> Self {
        let types = [ProgrammeType::I, ProgrammeType::II];
        let follower = |programme_type: ProgrammeType, index: usize| {
            let (weight, attack_s, release_s) = programme_type.branches()[index];
            Follower {
                weight: weight as f32,
                charge: -(-1.0 / (rate_hz * attack_s)).exp_m1() as f32,
                keep: (-1.0 / (rate_hz * release_s)).exp() as f32,
            }
        };
        Self {
            arch: Arch::new(),
            followers: [follower(types[0], 0), follower(types[1], 0), follower(types[1], 1)],
            rest: types.map(|programme_type| programme_type.rest_on_sine() as f32),
            pairs: vec![PairTally::default(); pairs],
            halves_pairs,
            frames: 0,
        }
    }

    pub(super) fn reset(&mut self) {
        self.pairs.fill(PairTally::default());
        self.frames = 0;
    }

    /// Takes the first `count` frames of a batch in both bands.
    pub(super) fn take(&mut self, whole: &[PairBatch], audible: &[PairBatch], count: usize) {
        for (tally, (whole, audible)) in self.pairs.iter_mut().zip(whole.iter().zip(audible)) {
            self.arch.dispatch(Take { tally, followers: self.followers, whole, audible, count });
        }
        self.frames += count as u64;
    }

    /// The highest that programme meters of both types have shown, linear: of the sum, then of the
    /// bus.
    pub(crate) fn programme(&self, audible: bool) -> [[f32; 2]; 2] {
        let of = |lanes: &[usize], pairs: &[PairTally]| -> [f32; 2] {
            std::array::from_fn(|index| {
                let shown = pairs
                    .iter()
                    .flat_map(|pair| lanes.iter().map(|lane| pair.highest[index][*lane]));
                shown.fold(0.0, f32::max) / self.rest[index]
            })
        };
        let first = if audible { AUDIBLE } else { 0 };
        let halves = &self.pairs[..self.halves_pairs];
        [of(&[first + 2], halves), of(&[first, first + 1], &self.pairs)]
    }

    /// The rectified average of whichever channel has the highest: of the sum, then of the bus.
    pub(crate) fn rectified(&self, audible: bool) -> [f64; 2] {
        let of = |lanes: &[usize], pairs: &[PairTally]| -> f64 {
            let sums = pairs.iter().flat_map(|pair| lanes.iter().map(|lane| pair.rectified[*lane]));
            sums.fold(0.0, f64::max) / self.frames.max(1) as f64
        };
        let first = if audible { AUDIBLE } else { 0 };
        [of(&[first + 2], &self.pairs[..self.halves_pairs]), of(&[first, first + 1], &self.pairs)]
    }

    /// Moments of the first pair's a, b and a + b.
    pub(crate) fn moments(&self, audible: bool) -> [Moments; 3] {
        let first = if audible { AUDIBLE } else { 0 };
        std::array::from_fn(|lane| Moments {
            squares: self.pairs[0].squares[first + lane],
            fourths: self.pairs[0].fourths[first + lane],
        })
    }
}

struct Take<'a> {
    tally: &'a mut PairTally,
    followers: [Follower; FOLLOWERS],
    whole: &'a PairBatch,
    audible: &'a PairBatch,
    count: usize,
}

impl NullaryFnOnce for Take<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Self { tally, followers, whole, audible, count } = self;
        let count = count.min(BATCH_FRAMES);
        let [mut rectified, mut squares, mut fourths] = [[0f32; LANES]; 3];
        let PairTally { mut values, mut highest, .. } = *tally;
        for frame in 0..count {
            let (a, b) = (whole.a[frame], whole.b[frame]);
            let (audible_a, audible_b) = (audible.a[frame], audible.b[frame]);
            let lanes =
                [a, b, a + b, 0.0, audible_a, audible_b, audible_a + audible_b, 0.0].map(f32::abs);
            let mut shown = [[0f32; LANES]; FOLLOWERS];
            for ((shown, values), follower) in shown.iter_mut().zip(&mut values).zip(followers) {
                for lane in 0..LANES {
                    let (value, magnitude) = (values[lane], lanes[lane]);
                    // Both are worked out: which it will be, no processor can guess.
                    let charged = value + follower.charge * (magnitude - value);
                    let fallen = value * follower.keep;
                    values[lane] = if magnitude > value { charged } else { fallen };
                    shown[lane] = follower.weight * values[lane];
                }
            }
            for lane in 0..LANES {
                highest[0][lane] = highest[0][lane].max(shown[0][lane]);
                highest[1][lane] = highest[1][lane].max(shown[1][lane] + shown[2][lane]);
                let square = lanes[lane] * lanes[lane];
                rectified[lane] += lanes[lane];
                squares[lane] += square;
                fourths[lane] += square * square;
            }
        }
        for value in values.iter_mut().flatten() {
            if *value < NOTHING {
                *value = 0.0;
            }
        }
        (tally.values, tally.highest) = (values, highest);
        for lane in 0..LANES {
            tally.rectified[lane] += f64::from(rectified[lane]);
            tally.squares[lane] += f64::from(squares[lane]);
            tally.fourths[lane] += f64::from(fourths[lane]);
        }
    }
}
