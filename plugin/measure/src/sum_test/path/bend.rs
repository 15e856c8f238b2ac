//! A bus that bends the sound softly, as a stage near its limit does: to x it adds odd orders of x,
//! Chebyshev's polynomials of x/X with X what both feeds' peaks make together, as in step 3. The
//! third of them makes nothing but a third harmonic of a sine as high as X, the fifth a fifth.
//!
//! A bend does more to a loud sum than to its parts, so a sum that is bent in comes out too low, one
//! that is bent out too high. What clips hard leaves over something else. Of all that the odd orders
//! up to the ninth explain, the third alone explains less than 0.89 where clipping takes less than a
//! decibel from a sum of uniform noises, and more than 0.95 of what a saturating curve leaves. The
//! recording's noise is in what all of them leave, so it does not count.

use realfft::RealFftPlanner;
use realfft::num_complex::{Complex32, Complex64};

use super::references::References;
use super::response::{Path, narrow};
use super::sums::{self, Order, SumFit};
use super::takes::Takes;
use super::turns::Turns;
use super::{DB_PER_AMPLITUDE, FITTED_STEPS};
use crate::sum_test::schedule::STEPS;

/// The third order has to explain this share of what all orders do.
const LEAST_EXPLAINED: f64 = 0.92;
/// And to be there for certain, in standard errors.
const CERTAIN: f64 = 4.0;
/// All orders that a bend is told by.
const ORDERS: [usize; 4] = [3, 5, 7, 9];
/// Over uniform noise of the peak the third order's 4x³ follows 4·3/5 of x, over one of half of it a
/// quarter as much.
const OF_SUM: f64 = 1.8;
/// The first so many straighten the sums: a curve that takes nearly a decibel from a sum has a fifth
/// order that makes a tenth of a decibel, and a seventh that makes a hundredth.
const STRAIGHTENED: usize = 2;

/// A soft bend.
#[derive(Debug, Clone)]
pub(in crate::sum_test) struct Bend {
    /// Third harmonic of a sine as high as both feeds' peaks together, over the sine: positive where
    /// loud sounds are bent in, negative where they are bent out.
    pub third_harmonic: f64,
    /// Its standard error.
    pub error: f64,
    /// What the third order makes of the loudest samples, linear.
    pub most: f64,
    /// What it makes of a loud sum and not of its parts, in dB.
    pub of_sum_db: f64,
    /// The sums as they are without it.
    pub sums: Vec<Option<SumFit>>,
}

/// Chebyshev's polynomial of the first kind of an order.
fn chebyshev(order: usize, x: f32) -> f32 {
    let (mut before, mut value) = (1.0, x);
    for _ in 1..order {
        (before, value) = (value, 2.0 * x * value - before);
    }
    value
}

/// Two feeds that are bent on the bus.
struct Bus<'a> {
    feeds: &'a [Option<Path>; 2],
    one: &'a Path,
    two: &'a Path,
    takes: &'a Takes,
    references: &'a References,
}

impl Bus<'_> {
    /// What both feeds' peaks make together: the noises' peak is 1.
    fn peak(&self) -> f64 {
        self.one.gain.abs() + self.two.gain.abs()
    }

    /// What orders of a bend leave in the recording, each for the first seven steps: made on the bus,
    /// by the channels' gains and the delay between them, `finer` times as many samples a second as
    /// it has, and then sent the way that feed 1 goes.
    fn orders(&self, orders: &[usize], finer: usize) -> Vec<Order> {
        let references = self.references;
        let size = references.size;
        let bins = references.a.len();
        let mut planner = RealFftPlanner::<f32>::new();
        let (forward, inverse) =
            (planner.plan_fft_forward(finer * size), planner.plan_fft_inverse(finer * size));
        let later = self.two.delay_frames - self.one.delay_frames;
        let turns: Vec<Complex64> = Turns::new(0, later, size).take(bins).collect();
        let way: Vec<Complex64> = self.one.way(size).take(bins).collect();
        let peak = self.peak();
        let scale = (size as f64 * peak).recip() as f32;
        let mut made: Vec<Order> = vec![Vec::new(); orders.len()];
        for step in &STEPS[..FITTED_STEPS] {
            let mut spectrum = inverse.make_input_vec();
            if let Some((noise, sign)) = references.of(step.feed_1) {
                let gain = (sign * self.one.gain) as f32;
                spectrum.iter_mut().zip(noise).for_each(|(sum, noise)| *sum += noise * gain);
            }
            if let Some((noise, sign)) = references.of(step.feed_2) {
                for ((sum, noise), turn) in spectrum.iter_mut().zip(noise).zip(&turns) {
                    *sum += noise * narrow(turn * (sign * self.two.gain));
                }
            }
            spectrum[0].im = 0.0;
            if let Some(last) = spectrum.last_mut() {
                last.im = 0.0;
            }
            let mut bus = inverse.make_output_vec();
            // Lengths come from the plan, so the transform cannot refuse them.
            let _ = inverse.process(&mut spectrum, &mut bus);
            for (&order, made) in orders.iter().zip(&mut made) {
                let mut time: Vec<f32> =
                    bus.iter().map(|x| peak as f32 * chebyshev(order, x * scale)).collect();
                let _ = forward.process(&mut time, &mut spectrum);
                let sent = spectrum.iter().zip(&way);
                let sent = sent.map(|(bin, way)| bin * narrow(way / finer as f64));
                made.push(Some(sent.collect::<Vec<Complex32>>()));
            }
        }
        made
    }

    fn fit(&self, step: usize, orders: &[Order]) -> Option<SumFit> {
        sums::fit(step, self.feeds, self.takes, self.references, orders)
    }

    /// Third harmonic of a sine as high as the peak, over the sine, where the orders have these
    /// shares beside feed 1's gain. That gain is the best straight line through what the bend makes
    /// of feed 1's uniform noise; at the peak the sine comes out by other ones.
    fn third_harmonic(&self, [third, fifth]: [f64; 2]) -> f64 {
        let squared = (self.one.gain / self.peak()).powi(2);
        // Over a uniform x of the peak r, x³ follows r²·3/5 of x, x⁵ r⁴·3/7 of it.
        let (cubes, fifths) = (0.6 * squared, 3.0 / 7.0 * squared * squared);
        let straight = third * (4.0 * cubes - 3.0) + fifth * (16.0 * fifths - 20.0 * cubes + 5.0);
        -third / (1.0 - straight)
    }
}

/// The bend, if there is one and it explains what the sums leave over, and the takes without it.
/// `plain` are the sums with it.
pub(super) fn bend(
    plain: &[Option<SumFit>],
    feeds: &[Option<Path>; 2],
    takes: &Takes,
    references: &References,
) -> Option<(Bend, Takes)> {
    let [Some(one), Some(two)] = feeds else { return None };
    let bus = Bus { feeds, one, two, takes, references };
    // Where it shows most.
    let step = [2, 4, 5, 6]
        .into_iter()
        .find(|&step| plain[step].is_some_and(|sum| sum.shares[0].is_some()))?;
    let before = plain[step]?;
    // A mixer that computes bends samples, one that does not the waveform between them too.
    let cubed = |finer: usize| {
        let third = bus.orders(&ORDERS[..1], finer);
        let fitted = bus.fit(step, &third)?;
        let (share, error) = fitted.bend[0]?;
        (share.abs() > CERTAIN * error).then_some((fitted.left_ratio, finer, third))
    };
    let found = [1, 2].map(cubed);
    let (left, finer, mut orders) =
        found.into_iter().flatten().min_by(|x, y| x.0.total_cmp(&y.0))?;
    orders.extend(bus.orders(&ORDERS[1..], finer));
    let least = bus.fit(step, &orders)?.left_ratio;
    if before.left_ratio - left < LEAST_EXPLAINED * (before.left_ratio - least) {
        return None;
    }
    let straightened = &orders[..STRAIGHTENED];
    let sums: Vec<Option<SumFit>> =
        (0..FITTED_STEPS).map(|step| bus.fit(step, straightened)).collect();
    let [(third, error), (fifth, _)] = [sums[step]?.bend[0]?, sums[step]?.bend[1]?];
    let third_harmonic = bus.third_harmonic([third, fifth]);
    let bend = Bend {
        third_harmonic,
        error: (error * third_harmonic / third).abs(),
        most: third.abs() * bus.peak(),
        of_sum_db: DB_PER_AMPLITUDE * OF_SUM * third.abs(),
        sums,
    };
    let made = |step: usize| {
        let [thirds, fifths] = [straightened[0][step].as_ref()?, straightened[1][step].as_ref()?];
        let (third, fifth) = (third as f32, fifth as f32);
        let bins = thirds.iter().zip(fifths);
        Some(bins.map(|(thirds, fifths)| thirds * third + fifths * fifth).collect())
    };
    Some((bend, takes.less(made)))
}
