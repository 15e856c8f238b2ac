//! Two stretches of a bus beside each other, and whether a level steps from one to the other.

use super::rows::{BANDS, BUS, Powers, SIGNALS, band_width_hz};

/// A change that counts, in dB; of a single octave band, more.
const LEAST_DB: f64 = 0.5;
const LEAST_OF_BAND_DB: f64 = 1.5;
/// By how many of its own standard deviations a change has to exceed nothing.
const LEAST_DEVIATIONS: f64 = 8.0;
const LEAST_OF_BAND_DEVIATIONS: f64 = 14.0;
/// Variance of the powers of 50 ms, against their mean, up to which a sound is steady: 1.2 dB.
pub(super) const MOST_VARIANCE: f64 = 0.09;
/// From here on, the variance over 200 ms against that over 50 ms is one of a level that wanders.
const WANDERS: f64 = 2.0;
/// Power below which everything is silence: −110 dBFS.
const SILENCE: f64 = 1e-11;
/// Signals weaker than this against the bus do not count, in either stretch: −20 dB.
const LEAST_SHARE: f64 = 0.01;
/// Bands weaker than this against the strongest do not count: −20 dB.
const LEAST_BAND: f64 = 0.01;
/// Bands that may step alone hold at least this of their signal: −15 dB.
const LEAST_OF_SIGNAL: f64 = 0.03;
/// A change is sudden where it is at least so many times what the level drifts by before.
const LEAST_OVER_DRIFT: f64 = 2.0;

/// Length of a block, in seconds.
const BLOCK_S: f64 = 0.05;
/// Blocks that are taken together to see whether a level wanders.
const TOGETHER: usize = 4;

/// The mean of something over a stretch and its scatter, against the square of the mean.
#[derive(Debug, Clone, Copy)]
struct Mean {
    power: f64,
    /// Of the powers of 50 ms.
    variance: f64,
    /// What that would be if all scatter were that of 200 ms: more where the level wanders.
    slow: f64,
    count: f64,
}

impl Mean {
    fn of(powers: impl Iterator<Item = f64>) -> Self {
        let powers: Vec<f64> = powers.collect();
        let count = powers.len().max(1) as f64;
        let power = powers.iter().sum::<f64>() / count;
        let scatter = |values: &mut dyn Iterator<Item = f64>| {
            let (mut count, mut squares) = (0.0, 0.0);
            for value in values {
                count += 1.0;
                squares += (value - power) * (value - power);
            }
            squares / f64::max(count - 1.0, 1.0) / (power * power)
        };
        let variance = scatter(&mut powers.iter().copied());
        let groups = powers.chunks_exact(TOGETHER);
        let mut together = groups.map(|group| group.iter().sum::<f64>() / TOGETHER as f64);
        let slow = TOGETHER as f64 * scatter(&mut together);
        Self { power, variance, slow: slow.max(variance), count }
    }

    fn db(&self) -> f64 {
        10.0 * self.power.log10()
    }
}

/// What steps: a weight for each band of a signal.
#[derive(Debug, Clone, Copy)]
pub(super) struct Measure {
    signal: usize,
    part: Part,
}

#[derive(Debug, Clone, Copy)]
enum Part {
    /// All but the lowest band, in which noise wanders.
    AboveLowest,
    /// All bands, each by what it tells.
    Bands([f64; BANDS]),
    Band(usize),
}

impl Measure {
    /// What it says of powers, linear.
    fn power(&self, powers: &[Powers; SIGNALS]) -> f64 {
        let of = &powers[self.signal];
        let power = match &self.part {
            Part::AboveLowest => f64::from(of.above_lowest()),
            Part::Band(band) => f64::from(of.bands[*band]),
            Part::Bands(weights) => {
                let bands = of.bands.iter().zip(weights);
                bands.map(|(power, weight)| f64::from(*power) * weight).sum()
            }
        };
        power + SILENCE
    }

    /// In dB.
    pub(super) fn level(&self, powers: &[Powers; SIGNALS]) -> f64 {
        10.0 * self.power(powers).log10()
    }
}

/// A step of level.
#[derive(Debug, Clone, Copy)]
pub(super) struct Step {
    pub(super) measure: Measure,
    /// Levels before and after, in dB.
    pub(super) levels: [f64; 2],
    deviations: f64,
}

/// How much of a change has to happen between the stretches, and not in them.
const LEAST_SUDDEN: f64 = 0.6;

/// What two levels may leave over, at most, against what a straight line leaves.
const AGAINST_A_LINE: f64 = 0.9;

impl Step {
    /// Whether it happens between the stretches: lines through both, each led on to the middle of the
    /// pause of so many blocks, lie as far apart as their means.
    pub(super) fn is_sudden(
        &self,
        before: &[[Powers; SIGNALS]],
        pause: usize,
        after: &[[Powers; SIGNALS]],
    ) -> bool {
        let ahead = pause as f64 / 2.0;
        let from = line_at(before.iter().rev().map(|block| self.measure.level(block)), ahead);
        let to = line_at(after.iter().map(|block| self.measure.level(block)), ahead);
        let change = self.levels[1] - self.levels[0];
        (to - from) * change.signum() >= LEAST_SUDDEN * change.abs()
            && self.fits_better_than_a_line(before, pause, after)
    }

    /// Whether two levels fit better than one straight line.
    fn fits_better_than_a_line(
        &self,
        before: &[[Powers; SIGNALS]],
        pause: usize,
        after: &[[Powers; SIGNALS]],
    ) -> bool {
        let level = |block: &[Powers; SIGNALS]| self.measure.level(block);
        let (one, other): (Vec<f64>, Vec<f64>) =
            (before.iter().map(level).collect(), after.iter().map(level).collect());
        let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len().max(1) as f64;
        let squares = |values: &[f64], mean: f64| -> f64 {
            values.iter().map(|value| (value - mean) * (value - mean)).sum()
        };
        let step = squares(&one, mean(&one)) + squares(&other, mean(&other));
        let all: Vec<f64> = one.iter().chain(&other).copied().collect();
        let place = |index: usize| (index + if index < one.len() { 0 } else { pause }) as f64;
        let middle = (0..all.len()).map(place).sum::<f64>() / all.len().max(1) as f64;
        let level = mean(&all);
        let (mut product, mut square) = (0.0, 0.0);
        for (index, value) in all.iter().enumerate() {
            let x = place(index) - middle;
            product += x * (value - level);
            square += x * x;
        }
        let line = squares(&all, level) - product * product / square;
        step <= AGAINST_A_LINE * line
    }
}

/// Where the straight line through values stands `ahead` of half a step before the first.
fn line_at(values: impl Iterator<Item = f64> + Clone, ahead: f64) -> f64 {
    let count = values.clone().count().max(1) as f64;
    let mean = values.clone().sum::<f64>() / count;
    let middle = (count - 1.0) / 2.0;
    let (mut products, mut squares) = (0.0, 0.0);
    for (index, value) in values.enumerate() {
        let x = index as f64 - middle;
        products += x * (value - mean);
        squares += x * x;
    }
    let slope = if squares > 0.0 { products / squares } else { 0.0 };
    mean + slope * (-0.5 - ahead - middle)
}

/// The step from one stretch to another that stands out most, if there is one. Each block is of 50 ms.
pub(super) fn step(before: &[[Powers; SIGNALS]], after: &[[Powers; SIGNALS]]) -> Option<Step> {
    if !(0..SIGNALS).any(|signal| moves(before, after, signal)) {
        return None;
    }
    // Where the bus as a whole moves, a part of it that stays for a moment says nothing.
    let stays = |blocks: &[[Powers; SIGNALS]]| {
        let variance = |of: fn(&Powers) -> f32| {
            Mean::of(blocks.iter().map(|block| f64::from(of(&block[BUS])) + SILENCE)).variance
        };
        variance(Powers::above_lowest) <= MOST_VARIANCE || variance(Powers::whole) <= MOST_VARIANCE
    };
    if !stays(before) || !stays(after) {
        return None;
    }
    let total = |blocks: &[[Powers; SIGNALS]], signal: usize| {
        blocks.iter().map(|block| f64::from(block[signal].whole())).sum::<f64>()
            / blocks.len() as f64
    };
    let bus = total(before, BUS).max(total(after, BUS));
    let steps = (0..SIGNALS).filter_map(|signal| {
        let own = total(before, signal).max(total(after, signal));
        (own > SILENCE && own > bus * LEAST_SHARE).then(|| of_signal(before, after, signal))?
    });
    steps.max_by(|one, other| one.deviations.total_cmp(&other.deviations))
}

/// Whether anything of a signal differs by more than noise does now and then. A cheap first look.
fn moves(before: &[[Powers; SIGNALS]], after: &[[Powers; SIGNALS]], signal: usize) -> bool {
    let mean = |blocks: &[[Powers; SIGNALS]]| {
        let mut sum = Powers::default();
        blocks.iter().for_each(|block| sum.add(&block[signal]));
        sum.bands.map(|power| f64::from(power) / blocks.len() as f64 + SILENCE)
    };
    let (one, other) = (mean(before), mean(after));
    let differs =
        |one: f64, other: f64, least_db: f64| (10.0 * (other / one).log10()).abs() >= least_db;
    let above = |bands: &[f64; BANDS]| bands[1..].iter().sum::<f64>();
    let strongest = one.iter().chain(&other).copied().fold(0.0, f64::max);
    differs(above(&one), above(&other), LEAST_DB)
        || (0..BANDS).any(|band| {
            let noise = 1.0 / (band_width_hz(band) * BLOCK_S * after.len() as f64);
            let chance_db = 4.0 * 10.0 / std::f64::consts::LN_10 * noise.sqrt();
            one[band].max(other[band]) > strongest * LEAST_BAND
                && differs(one[band], other[band], LEAST_DB.max(chance_db))
        })
}

fn of_signal(
    before: &[[Powers; SIGNALS]],
    after: &[[Powers; SIGNALS]],
    signal: usize,
) -> Option<Step> {
    let band = |blocks: &[[Powers; SIGNALS]], band: usize| {
        Mean::of(blocks.iter().map(|block| f64::from(block[signal].bands[band]) + SILENCE))
    };
    let bands: [[Mean; 2]; BANDS] = std::array::from_fn(|b| [band(before, b), band(after, b)]);
    let strongest = bands.iter().flatten().map(|mean| mean.power).fold(0.0, f64::max);
    let mut weights = [0.0; BANDS];
    // But for the lowest, in which noise wanders.
    for (weight, [one, other]) in weights.iter_mut().zip(&bands).skip(1) {
        if one.power.max(other.power) > strongest * LEAST_BAND {
            let scatter = one.slow / one.count + other.slow.max(one.slow) / other.count;
            *weight = 1.0 / (scatter + 1e-5) / one.power;
        }
    }
    let parts = [Part::Bands(weights), Part::AboveLowest];
    let together = parts.into_iter().filter_map(|part| {
        told(Measure { signal, part }, before, after, LEAST_DB, LEAST_DEVIATIONS)
    });
    let total: f64 = bands.iter().map(|[one, other]| one.power.max(other.power)).sum();
    let alone = (0..BANDS).filter_map(|band| {
        let [one, other] = &bands[band];
        let counts = one.power.max(other.power) > total * LEAST_OF_SIGNAL;
        let measure = Measure { signal, part: Part::Band(band) };
        let least = (LEAST_OF_BAND_DB, LEAST_OF_BAND_DEVIATIONS);
        counts.then(|| told(measure, before, after, least.0, least.1))?
    });
    together.chain(alone).max_by(|one, other| one.deviations.total_cmp(&other.deviations))
}

fn told(
    measure: Measure,
    before: &[[Powers; SIGNALS]],
    after: &[[Powers; SIGNALS]],
    least_db: f64,
    least_deviations: f64,
) -> Option<Step> {
    let mean = |blocks: &[[Powers; SIGNALS]]| Mean::of(blocks.iter().map(|b| measure.power(b)));
    let (one, other) = (mean(before), mean(after));
    let change = other.db() - one.db();
    if change.abs() < least_db || one.variance.max(other.variance) > MOST_VARIANCE {
        return None;
    }
    // Few blocks can agree by chance: those before, which are more, say how likely that is.
    let scatter = one.slow / one.count + other.slow.max(one.slow) / other.count + 1e-6;
    let deviations = change.abs() / (10.0 / std::f64::consts::LN_10 * scatter.sqrt());
    // How far what wanders will go, a few seconds say badly.
    let wanders = one.slow.max(other.slow) > WANDERS * one.variance.max(other.variance);
    let least_deviations = if wanders { 2.0 * least_deviations } else { least_deviations };
    if deviations < least_deviations {
        return None;
    }
    // What moves all the time does not step.
    let third = (before.len() / 3).max(1);
    let (first, last) = (mean(&before[..third]), mean(&before[before.len() - third..]));
    let half = (after.len() / 2).max(1);
    let (early, late) = (mean(&after[..half]), mean(&after[after.len() - half..]));
    let drift = (last.db() - first.db()).abs().max((late.db() - early.db()).abs());
    let local = (early.db() - last.db()).abs();
    (local >= LEAST_OVER_DRIFT * drift).then_some(Step {
        measure,
        levels: [one.db(), other.db()],
        deviations,
    })
}
